//! Has the making moved: logs in which nothing moves, or one step is planted, read and asked as any log is; and how long charts run before they flag by chance.

use std::fs;

use canewright::finding::{DriftSection, Section};
use canewright::intake::{ReadOptions, read};
use canewright::questions::drift::ChartSettings;
use canewright::questions::{Options, find};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, StandardNormal};

use super::super::simulation::Simulation;
use super::sizes::DRIFT;

/// Columns of the making that the log measures.
const MEASURES: [&str; 4] = ["one", "two", "three", "four"];

fn normal(generator: &mut ChaCha12Rng) -> f64 {
    StandardNormal.sample(generator)
}

fn day(days: usize) -> String {
    let first = jiff::civil::date(2020, 1, 1);
    let day = first.checked_add(jiff::Span::new().days(days as i64));
    day.map_or_else(|_| String::new(), |day| day.to_string())
}

/// Measurements of pieces, one a day; `value` adds to what is drawn.
fn asked(
    generator: &mut ChaCha12Rng,
    (pieces, lots, between): (usize, usize, f64),
    measures: &[&str],
    value: impl Fn(usize, usize) -> f64,
    charts: ChartSettings,
) -> Option<DriftSection> {
    let mut text = format!("reed,started_on,lot,{}\n", measures.join(","));
    let levels: Vec<Vec<f64>> = (0..lots.max(1))
        .map(|_| measures.iter().map(|_| between * normal(generator)).collect())
        .collect();
    for piece in 0..pieces {
        let lot = piece * lots.max(1) / pieces;
        let name = if lots > 0 { format!("lot {lot}") } else { String::new() };
        text += &format!("{piece},{},{name}", day(piece));
        for (measure, level) in levels[lot].iter().enumerate() {
            let drawn = level + normal(generator) + value(piece, measure);
            text += &format!(",{:.4}", 50.0 + drawn);
        }
        text += "\n";
    }
    let settings: String = measures
        .iter()
        .map(|name| format!("[columns.{name}]\nis = \"{name}\"\nstage = \"finish\"\nkind = \"number\"\ndecimal = \".\"\n"))
        .collect();
    let folder = tempfile::tempdir().ok()?;
    fs::write(folder.path().join("reeds.csv"), text).ok()?;
    fs::write(folder.path().join("study.toml"), settings).ok()?;
    let study = read(&[folder.path().to_path_buf()], &ReadOptions::default()).ok()?.study;
    let factor = (measures.len() == 1).then(|| measures[0].to_owned());
    let options = Options { charts, factor, seed: generator.random(), ..Options::default() };
    match (find("drift")?.ask)(&study, &options).ok()?.section {
        Section::Drift(section) => Some(section),
        _ => None,
    }
}

fn anything_moved(section: &DriftSection) -> bool {
    section.measures.iter().any(|measure| measure.moved)
}

fn none(_piece: usize, _measure: usize) -> f64 {
    0.0
}

/// The first measurement rises by one standard deviation half way.
fn step(piece: usize, measure: usize) -> f64 {
    if measure == 0 && piece >= 40 { 1.0 } else { 0.0 }
}

const USUAL: fn() -> ChartSettings = ChartSettings::default;

/// Watches one series for so many mean run lengths; a moment among them is drawn at random, and hit is whether the first flag comes after it: as frequent as
/// the mean run length is long, for one that is near exponential.
fn run_is_long(
    generator: &mut ChaCha12Rng,
    watched: usize,
    decision: f64,
    first: impl Fn(&DriftSection) -> Option<usize>,
) -> Option<bool> {
    let charts = ChartSettings {
        target: Some(50.0),
        sigma: Some(1.0),
        decision,
        ..ChartSettings::default()
    };
    let section = asked(generator, (watched, 0, 0.0), &MEASURES[..1], none, charts)?;
    let length = first(&section).map_or(watched, |place| place + 1);
    Some(length as f64 > watched as f64 * generator.random::<f64>())
}

/// The share of the watched points that an exponential run of this mean lasts.
const fn share(mean: f64, watched: f64, left: f64) -> f64 {
    mean / watched * (1.0 - left)
}

fn first_flag(section: &DriftSection, kinds: &[&str]) -> Option<usize> {
    let charts = section.charts.iter().filter(|chart| kinds.contains(&chart.kind.as_str()));
    charts.filter_map(|chart| chart.points.iter().position(|point| point.flag.is_some())).min()
}

macro_rules! rate {
    ($claim:literal, $promised:expr, $slack:expr, $attempt:expr) => {
        Simulation {
            claim: $claim,
            nominal: $promised,
            slack: $slack,
            replicates: DRIFT,
            attempt: $attempt,
        }
    };
}

pub const RATES: &[Simulation] = &[
    rate!(
        "nothing moves, no lots: something is said to have moved",
        0.05,
        (0.05, 0.01),
        |generator| {
            Some(anything_moved(&asked(generator, (80, 0, 0.0), &MEASURES, none, USUAL())?))
        }
    ),
    // ten lots of eight pieces that lie as far apart as pieces within them do
    rate!(
        "nothing moves but lots: something is said to have moved",
        0.05,
        (0.05, 0.02),
        |generator| {
            Some(anything_moved(&asked(generator, (80, 10, 1.0), &MEASURES, none, USUAL())?))
        }
    ),
    rate!(
        "nothing moves, four lots: something is said to have moved",
        0.05,
        (0.05, 0.01),
        |generator| {
            Some(anything_moved(&asked(generator, (80, 4, 1.0), &MEASURES, none, USUAL())?))
        }
    ),
    rate!(
        "one rises by a standard deviation: it is said to have moved",
        0.90,
        (0.0, 0.10),
        |generator| {
            Some(asked(generator, (80, 0, 0.0), &MEASURES, step, USUAL())?.measures.first()?.moved)
        }
    ),
    rate!(
        "one rises by a standard deviation: the change is covered",
        0.95,
        (0.02, 0.02),
        |generator| {
            let section = asked(generator, (120, 0, 0.0), &MEASURES, step, USUAL())?;
            let change = section.measures.first()?.change?;
            Some(change.low <= 1.0 && 1.0 <= change.high)
        }
    ),
    // Montgomery 2009, table 9.3: decision at four and slack of a half, 168 (from memory); five mean run lengths, e^-5 = 0.006738
    rate!(
        "sums with a decision of four flag by chance once in 168",
        share(168.0, 840.0, 0.006_738),
        (0.01, 0.01),
        |generator| {
            run_is_long(generator, 840, 4.0, |section| {
                first_flag(section, &["cusum up", "cusum down"])
            })
        }
    ),
    // the Markov chain of Brook & Evans 1972 with asymptotic limits (see stats::control): 238; the limits of the first points are narrower, so a little less
    rate!(
        "the usual average flags by chance once in 238",
        share(238.0, 952.0, 0.018_316),
        (0.02, 0.01),
        |generator| { run_is_long(generator, 952, 5.0, |section| first_flag(section, &["ewma"])) }
    ),
    // Champ & Woodall 1987, Technometrics 29, 393-399: 91.75 (from memory); six mean run lengths, e^-6 = 0.002479
    rate!(
        "the four rules flag by chance once in 92",
        share(91.75, 550.5, 0.002_479),
        (0.01, 0.01),
        |generator| {
            run_is_long(generator, 550, 5.0, |section| first_flag(section, &["individuals"]))
        }
    ),
];
