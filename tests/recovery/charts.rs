//! Control charts of a process in which nothing happens: how long until the first false alarm.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::normals;
use canewright::stats::control::{
    CusumOptions, EwmaOptions, WESTERN_ELECTRIC, cusum, ewma, run_signals,
};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

/// So many mean run lengths are watched.
const WATCHED: f64 = 5.0;
/// `(1 - e^-5) / 5`: a run length that is near exponential, cut off where watching ends, as a share of the readings watched. A hit is drawn with the chance of
/// that share, so hits are as frequent as the mean run length is long.
const SHARE: f64 = 0.198_652;
/// Three in a hundred of the share: run lengths are not quite exponential, and the tables have three figures.
const SLACK: (f64, f64) = (0.006, 0.006);

pub const SIMULATIONS: &[Simulation] = &[
    // 1 / P(|z| > 3)
    runs("three_sigma_limits_alarm_falsely_once_in_370", |rng| {
        run_is_long(rng, 370.4, |readings| {
            let signals = run_signals(readings, 0.0, 1.0, &WESTERN_ELECTRIC[..1]).ok()?;
            Some(signals.first().map(|signal| signal.place))
        })
    }),
    // Champ & Woodall 1987, Technometrics 29, 393-399: 91.75 (from memory)
    runs("western_electric_rules_alarm_falsely_once_in_92", |rng| {
        run_is_long(rng, 91.75, |readings| {
            let signals = run_signals(readings, 0.0, 1.0, &WESTERN_ELECTRIC).ok()?;
            Some(signals.iter().map(|signal| signal.place).min())
        })
    }),
    // Montgomery 2009, table 9.3: decision at five and slack of a half, 465 (from memory)
    runs("usual_cusum_alarms_falsely_once_in_465", |rng| {
        run_is_long(rng, 465.0, |readings| {
            let chart = cusum(readings, &CusumOptions::usual(0.0, 1.0)).ok()?;
            Some(chart.signals.first().map(|signal| signal.0))
        })
    }),
    // Lucas & Saccucci 1990, Technometrics 32, 1-12: weight 0.1 and width 2.814, 500 (from memory)
    runs("ewma_of_weight_a_tenth_alarms_falsely_once_in_500", |rng| {
        run_is_long(rng, 500.0, |readings| {
            let options = EwmaOptions { weight: 0.1, width: 2.814, centre: 0.0, sigma: 1.0 };
            let chart = ewma(readings, &options).ok()?;
            let beyond =
                |value: &f64| *value > chart.asymptotic_upper || *value < chart.asymptotic_lower;
            Some(chart.averages.iter().position(beyond))
        })
    }),
];

const fn runs(claim: &'static str, attempt: fn(&mut ChaCha12Rng) -> Option<bool>) -> Simulation {
    Simulation { claim, nominal: SHARE, slack: SLACK, replicates: (1_000, 20_000), attempt }
}

/// Draws readings for five mean run lengths, and a moment among them at random: whether the first alarm comes after it.
fn run_is_long(
    rng: &mut ChaCha12Rng,
    mean: f64,
    first_alarm: impl Fn(&[f64]) -> Option<Option<usize>>,
) -> Option<bool> {
    let watched = (WATCHED * mean).round() as usize;
    let readings = normals(rng, watched);
    let length = first_alarm(&readings)?.map_or(watched, |place| place + 1);
    Some((length as f64) > WATCHED * mean * rng.random::<f64>())
}
