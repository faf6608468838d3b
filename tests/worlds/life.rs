//! How long reeds last: intervals cover what was planted, and what was not planted is not found.

use std::fmt::Write;

use canewright::finding::{Hazard, LifeSection, Section};
use canewright::intake::{ReadOptions, read};
use canewright::questions::{Options, find};
use canewright::stats::numeric::normal_quantile;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, Exp1, StandardNormal};

use super::super::simulation::Simulation;
use super::asked::alone;
use super::sizes::LIVES;

/// Characteristic hours and shape of a reed's life (Weibull).
const HOURS: f64 = 20.0;
const SHAPE: f64 = 1.6;
/// Reeds are lost from sight at some hour between these, whatever they are like: about four in ten before they are worn out.
const SEEN: [f64; 2] = [5.0, 45.0];

/// What is planted in a log.
#[derive(Clone, Copy)]
struct Planted {
    lots: usize,
    /// Reeds a lot.
    reeds: usize,
    /// Standard deviation of the lots' log hazards.
    lots_differ: f64,
    /// Log hazard of one standard deviation of the density.
    density: f64,
    /// Log hazard of one standard deviation of the hardness, the same all through a lot.
    hardness: f64,
}

const ALIKE: Planted =
    Planted { lots: 6, reeds: 10, lots_differ: 0.0, density: 0.0, hardness: 0.0 };
const DENSE: Planted = Planted { lots: 8, lots_differ: 0.5, density: -0.5, ..ALIKE };
const NOTHING: Planted = Planted { lots: 8, lots_differ: 0.5, ..ALIKE };
const HARD: Planted = Planted { lots: 10, lots_differ: 0.4, hardness: 0.4, ..ALIKE };
/// The spread of the density and of the hardness, in their units.
const DENSITY: f64 = 0.05;
const HARDNESS: f64 = 3.0;

fn log(planted: &Planted, generator: &mut ChaCha12Rng) -> String {
    let mut text = "reed,lot,density_g_cm3,hardness,gouge_center_mm,forming_days,tip_opening_mm,scoring,hours_played,fate\n".to_owned();
    for lot in 0..planted.lots {
        let mut normal = || -> f64 { StandardNormal.sample(&mut *generator) };
        let (of_lot, hardness) = (normal(), normal());
        for reed in 0..planted.reeds {
            let mut normal = || -> f64 { StandardNormal.sample(&mut *generator) };
            let (density, gouge, days, tip) = (normal(), normal(), normal(), normal());
            let hazard = planted.lots_differ * of_lot
                + planted.density * density
                + planted.hardness * hardness;
            let waiting: f64 = Exp1.sample(&mut *generator);
            let life = HOURS * (waiting / hazard.exp()).powf(1.0 / SHAPE);
            let seen = generator.random_range(SEEN[0]..SEEN[1]);
            let fate = if life <= seen { "worn_out" } else { "in_use" };
            let scoring = ["none", "lengthwise"][usize::from(generator.random_bool(0.5))];
            let (density, hardness) = (0.55 + DENSITY * density, 20.0 + HARDNESS * hardness);
            let (gouge, days, tip) =
                (1.3 + 0.03 * gouge, (14.0 + 3.0 * days).round().max(1.0), 0.9 + 0.1 * tip);
            let hours = life.min(seen).max(0.01);
            // a text takes whatever is written to it
            let _ = writeln!(
                text,
                "{lot}-{reed},L{lot},{density:.5},{hardness:.5},{gouge:.4},{days},{tip:.4},{scoring},{hours:.3},{fate}"
            );
        }
    }
    text
}

fn answer(planted: &Planted, generator: &mut ChaCha12Rng) -> Option<LifeSection> {
    let text = log(planted, generator);
    alone(|| {
        let folder = tempfile::tempdir().expect("a folder for the test");
        std::fs::write(folder.path().join("reeds.csv"), text).expect("it can be written to");
        let reading = read(&[folder.path().to_path_buf()], &ReadOptions::default());
        let study = reading.unwrap_or_else(|why| panic!("the log can be read: {why}")).study;
        let finding = (find("life").expect("in the registry").ask)(&study, &Options::default());
        match finding.ok()?.section {
            Section::Life(section) => Some(section),
            _ => None,
        }
    })
}

fn hazard<'a>(section: &'a LifeSection, name: &str) -> Option<&'a Hazard> {
    section.hazards.iter().find(|hazard| hazard.factor == name)
}

/// Whether the interval holds the planted ratio of one step.
fn covers(hazard: &Hazard, per_unit: f64) -> Option<bool> {
    let truth = (per_unit * hazard.step?).exp();
    Some(hazard.low? <= truth && truth <= hazard.high?)
}

fn median_covered(generator: &mut ChaCha12Rng) -> Option<bool> {
    let section = answer(&ALIKE, generator)?;
    let truth = HOURS * 2f64.ln().powf(1.0 / SHAPE);
    let low = section.median_low.unwrap_or(0.0);
    Some(low <= truth && section.median_high.is_none_or(|high| truth <= high))
}

/// Over all lots that could be: the share that outlasts an hour is the mean over the law of the lots, in 400 equal parts.
fn median_of_other_lots_covered(generator: &mut ChaCha12Rng) -> Option<bool> {
    let section = answer(&NOTHING, generator)?;
    let lots = (0..400).map(|part| normal_quantile((f64::from(part) + 0.5) / 400.0));
    let hazards: Vec<f64> = lots.map(|lot| (NOTHING.lots_differ * lot).exp()).collect();
    let outlast = |hours: f64| {
        let each = hazards.iter().map(|hazard| (-hazard * (hours / HOURS).powf(SHAPE)).exp());
        each.sum::<f64>() / 400.0
    };
    let (low, high) =
        (section.median_other_lots_low.unwrap_or(0.0), section.median_other_lots_high);
    Some(outlast(low) >= 0.5 && high.is_none_or(|high| outlast(high) <= 0.5))
}

/// The area under the curve of the law, by Simpson's rule.
fn mean_covered(generator: &mut ChaCha12Rng) -> Option<bool> {
    let section = answer(&ALIKE, generator)?;
    let to = section.restricted_to?;
    let share = |at: usize| (-(to * at as f64 / 1_000.0 / HOURS).powf(SHAPE)).exp();
    let weighted = |at: usize| {
        share(at) * if at.is_multiple_of(1_000) { 1.0 } else { 2.0 + 2.0 * (at % 2) as f64 }
    };
    let truth = (0..=1_000).map(weighted).sum::<f64>() * to / 3_000.0;
    Some(section.restricted_mean_low? <= truth && truth <= section.restricted_mean_high?)
}

fn lots_called_different(generator: &mut ChaCha12Rng) -> Option<bool> {
    Some(answer(&ALIKE, generator)?.lots_differ?.p <= 0.05)
}

fn density_covered(generator: &mut ChaCha12Rng) -> Option<bool> {
    covers(hazard(&answer(&DENSE, generator)?, "density_g_cm3")?, DENSE.density / DENSITY)
}

fn density_found(generator: &mut ChaCha12Rng) -> Option<bool> {
    let section = answer(&Planted { lots: 12, density: -0.7, ..DENSE }, generator)?;
    let density = hazard(&section, "density_g_cm3")?;
    Some(density.verdict.stands_out() && density.high? < 1.0)
}

fn hardness_covered(generator: &mut ChaCha12Rng) -> Option<bool> {
    covers(hazard(&answer(&HARD, generator)?, "hardness")?, HARD.hardness / HARDNESS)
}

fn anything_found(generator: &mut ChaCha12Rng) -> Option<bool> {
    let section = answer(&NOTHING, generator)?;
    Some(section.hazards.iter().any(|hazard| hazard.verdict.stands_out()))
}

fn drift_told(generator: &mut ChaCha12Rng) -> Option<bool> {
    let section = answer(&DENSE, generator)?;
    let drifts = |hazard: &Hazard| hazard.ph_q.is_some_and(|q| q <= 0.05);
    Some(section.hazards.iter().any(drifts))
}

macro_rules! rate {
    ($claim:literal, $nominal:expr, $slack:expr, $attempt:expr) => {
        Simulation {
            claim: $claim,
            nominal: $nominal,
            slack: $slack,
            replicates: LIVES,
            attempt: $attempt,
        }
    };
}

const NEAR_95: (f64, f64) = (0.02, 0.02);

pub const RATES: &[Simulation] = &[
    rate!("life: by when half are worn out is covered", 0.95, NEAR_95, median_covered),
    rate!(
        "life: by when half of other lots' reeds are worn out is covered",
        0.95,
        NEAR_95,
        median_of_other_lots_covered
    ),
    rate!("life: the mean up to a time is covered", 0.95, NEAR_95, mean_covered),
    rate!("life: the ratio of a factor within lots is covered", 0.95, NEAR_95, density_covered),
    // beside the lots' own chance, which is not in its model, it is the marginal ratio that is estimated, nearer to 1
    rate!(
        "life: the ratio of a factor fixed by lot is covered",
        0.95,
        (0.04, 0.03),
        hardness_covered
    ),
    rate!(
        "life: six lots of ten that are alike are called different",
        0.05,
        (0.05, 0.015),
        lots_called_different
    ),
    rate!("life: nothing matters, and a factor stands out", 0.05, (0.05, 0.0), anything_found),
    rate!("life: in step all along, and some drift is told", 0.05, (0.05, 0.02), drift_told),
    rate!("life: a density that halves the risk is found", 0.80, (0.0, 0.20), density_found),
];
