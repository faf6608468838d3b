//! The invented workshop's truth is asked back from its own files: causes in, rating out, answer compared.

use canewright::demo::{simulate, truth, writing};
use canewright::finding::{FactorResult, FactorsSection, Verdict};
use canewright::intake::{ReadOptions, read};
use canewright::stats::numeric::t_quantile;

use std::sync::OnceLock;

use super::{factor, factors, per_unit};

const SEEDS: [u64; 5] = [101, 102, 103, 104, 105];

/// The factors of simulated workshops of the demo's size, one a seed.
fn small() -> impl Iterator<Item = (u64, &'static FactorsSection)> {
    static FOUND: [OnceLock<FactorsSection>; SEEDS.len()] = [const { OnceLock::new() }; 5];
    SEEDS.into_iter().zip(&FOUND).map(|(seed, slot)| (seed, slot.get_or_init(|| found(seed, 1))))
}

/// The same of five times its size.
fn large() -> impl Iterator<Item = (u64, &'static FactorsSection)> {
    static FOUND: [OnceLock<FactorsSection>; SEEDS.len()] = [const { OnceLock::new() }; 5];
    SEEDS.into_iter().zip(&FOUND).map(|(seed, slot)| (seed, slot.get_or_init(|| found(seed, 5))))
}

/// The factors of a simulated workshop of so many times the demo's pieces, read from its tidy files.
fn found(seed: u64, times: usize) -> FactorsSection {
    let folder = tempfile::tempdir().expect("a folder for the test");
    writing::tidy(&simulate(seed, times)).write(folder.path()).expect("the log is written");
    let reading = read(&[folder.path().to_path_buf()], &ReadOptions::default()).expect("readable");
    factors(&reading.study)
}

/// Standard error for one unit, from the interval as it is given out.
fn error(result: &FactorResult) -> f64 {
    let half = (result.high.expect("fitted") - result.low.expect("fitted")) / 2.0;
    half / t_quantile(0.975, result.df.expect("fitted")) / result.step.expect("a number")
}

/// What least squares on one reading of hardness and on density gives for one unit of each, within lots.
///
/// The reading errs by 1.0 and density goes along with true hardness, so part of the true effect moves from the one to
/// the other: the coefficients of true hardness on the two are solved by hand from the variances (Carroll, Ruppert,
/// Stefanski & Crainiceanu 2006, Measurement Error in Nonlinear Models, section 3.3).
fn expected() -> (f64, f64) {
    let hardness = truth::HARDNESS_WITHIN_SD.powi(2);
    let reading = hardness + truth::HARDNESS_READING_SD.powi(2);
    let slope = truth::DENSITY_PER_HARDNESS;
    let density = slope * slope * hardness + truth::DENSITY_SD.powi(2);
    let common = slope * hardness;
    let determinant = reading * density - common * common;
    let of_reading = (hardness * density - common * common) / determinant;
    let of_density = (reading * common - common * hardness) / determinant;
    (truth::HARDNESS * of_reading, truth::HARDNESS * of_density)
}

#[test]
fn the_slope_of_hardness_within_lots_comes_back_from_large_workshops() {
    let (truth, _) = expected();
    assert!((-0.16..-0.12).contains(&truth), "{truth}");
    let near = large().filter(|(seed, section)| {
        let hardness = factor(section, "hardness");
        assert_eq!(hardness.scope, "within lots");
        let off = (per_unit(hardness) - truth) / error(hardness);
        println!("seed {seed}: {} off by {off} standard errors", per_unit(hardness));
        off.abs() <= 3.0 && hardness.high.is_some_and(|high| high < 0.0)
    });
    assert!(near.count() >= 4, "of five");
}

/// Density does nothing for the rating; the little that the error of the hardness reading lays on it (1.2 points a
/// g/cm³, 0.06 a usual step) lies within what a log of the demo's size cannot see.
#[test]
fn density_which_does_nothing_covers_zero_in_most_workshops_of_the_demos_size() {
    let (_, laid_on_it) = expected();
    assert!((0.0..1.5).contains(&laid_on_it), "{laid_on_it}");
    let covers = small().filter(|(seed, section)| {
        let density = factor(section, "density_g_cm3");
        assert_ne!(density.verdict, Verdict::Clear, "seed {seed}");
        density.low.expect("fitted") <= 0.0 && 0.0 <= density.high.expect("fitted")
    });
    assert!(covers.count() >= 4, "of five");
}

/// A millimetre of gouge costs 7.5 points, all of it by way of scraping, which comes later and is not adjusted for. Of the
/// true gouge the dial knows a part and the edge, measured in the same stage, another: with independent errors the true
/// value is expected at the readings weighted by one over their variances (the centre of all draws counts as a reading), so
/// 0.83 of the 7.5 points stand beside the dial's reading.
#[test]
fn the_whole_effect_of_the_gouge_comes_back_from_large_workshops() {
    const EDGE_SD: f64 = 0.02;
    let weights = [truth::GOUGE_READING_SD, EDGE_SD, truth::GOUGE_SD].map(|sd| sd.powi(-2));
    let truth = truth::GOUGE_IN_ALL * weights[0] / weights.iter().sum::<f64>();
    let (mut sum, mut squares) = (0.0, 0.0);
    for (_, section) in large() {
        let gouge = factor(section, "gouge_center_mm");
        assert!(!gouge.adjusted_for.contains(&"scraping time".to_owned()));
        assert!(gouge.adjusted_for.contains(&"gouge at the edge".to_owned()));
        sum += per_unit(gouge);
        squares += error(gouge).powi(2);
    }
    let (mean, error) = (sum / 5.0, squares.sqrt() / 5.0);
    assert!((mean - truth).abs() <= 3.0 * error, "{mean} ({error}), the truth is {truth}");
    assert!(mean + 3.0 * error < 0.0, "{mean} ({error}): five workshops see it");
}

/// Shape, shaping, scoring, wire place, length, tube diameter and room temperature do nothing at all.
#[test]
fn what_does_nothing_is_seldom_said_to_stand_out() {
    let idle =
        ["shape", "shaping", "scoring", "wire_1_mm", "length_mm", "tube_diameter_mm", "forming_c"];
    let mut looked_at = 0;
    let mut standing_out = Vec::new();
    for (seed, section) in small() {
        for factor in section.list.iter().filter(|factor| idle.contains(&factor.factor.as_str())) {
            looked_at += 1;
            if matches!(factor.verdict, Verdict::Clear | Verdict::Leaning) {
                standing_out.push((seed, &factor.factor));
            }
        }
    }
    assert!(looked_at >= 35, "{looked_at}");
    assert!(standing_out.len() <= 2, "{standing_out:?} of {looked_at}");
}
