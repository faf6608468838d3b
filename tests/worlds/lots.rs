//! Which lots played well: intervals that cover, the best one named, and less error than plain means.

use canewright::demo::worlds::Drawn;
use canewright::finding::{LotResult, LotsSection};
use rand_chacha::ChaCha12Rng;

use super::asked::{Log, lots};
use super::average::{Average, Of};
use super::oracle;
use super::sizes::LOTS;

/// What the best lot may be named less often than by one who knows the spreads.
const WORSE_THAN_ORACLE: f64 = 0.02;

/// The truth and what is said of it, for each lot with a rated reed.
fn told(log: &Log<LotsSection>) -> Vec<(f64, &LotResult)> {
    let truth = |result: &LotResult| {
        let lot = log.drawn.lot_names.iter().position(|name| *name == result.lot)?;
        log.drawn.lot_mean(&log.world, lot)
    };
    let rated = log.answer.list.iter().filter(|result| result.rated > 0);
    rated.filter_map(|result| Some((truth(result)?, result))).collect()
}

fn covered(log: &Log<LotsSection>) -> Option<(f64, f64)> {
    let told = told(log);
    let covers = |(truth, result): &&(f64, &LotResult)| {
        result.low.is_some_and(|low| low <= *truth)
            && result.high.is_some_and(|high| *truth <= high)
    };
    Some((told.iter().filter(covers).count() as f64, told.len() as f64))
}

/// Squared error of plain means less that of pooled means, averaged over the lots.
fn gained(log: &Log<LotsSection>) -> Option<(f64, f64)> {
    let mut gain = 0.0;
    let told = told(log);
    for (truth, result) in &told {
        gain += (result.raw_mean? - truth).powi(2) - (result.pooled_mean? - truth).powi(2);
    }
    Some((gain / told.len() as f64, 1.0))
}

/// The same against one who knows the spreads: what a method that does not know them cannot fall under.
fn behind_the_oracle(log: &Log<LotsSection>) -> Option<(f64, f64)> {
    let means = oracle::means(&log.world, &log.drawn);
    let mut behind = 0.0;
    let told = told(log);
    for (truth, result) in &told {
        let lot = log.drawn.lot_names.iter().position(|name| *name == result.lot)?;
        behind += (result.pooled_mean? - truth).powi(2) - (means.get(lot)? - truth).powi(2);
    }
    Some((behind / told.len() as f64, 1.0))
}

fn best(values: impl Iterator<Item = f64>) -> Option<usize> {
    values.enumerate().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(place, _)| place)
}

/// Whether ours, the oracle and plain means name the lot that is truly the best of those with a rated reed.
fn named(log: &Log<LotsSection>) -> Option<[f64; 3]> {
    let told = told(log);
    let lots: Option<Vec<usize>> =
        told.iter().map(|(_, result)| place(&log.drawn, result)).collect();
    let means = oracle::means(&log.world, &log.drawn);
    let oracle = lots?.into_iter().map(|lot| means[lot]); // one mean a lot
    let truly = best(told.iter().map(|(truth, _)| *truth));
    // the first of the list is what the page calls the best
    let names = [
        Some(0),
        best(oracle),
        best(told.iter().map(|(_, result)| result.raw_mean.unwrap_or(f64::NAN))),
    ];
    Some(names.map(|name| f64::from(name == truly)))
}

fn place(drawn: &Drawn, result: &LotResult) -> Option<usize> {
    drawn.lot_names.iter().position(|name| *name == result.lot)
}

fn against_the_oracle(log: &Log<LotsSection>) -> Option<(f64, f64)> {
    let [ours, oracle, _] = named(log)?;
    Some((ours - oracle, 1.0))
}

fn against_plain_means(log: &Log<LotsSection>) -> Option<(f64, f64)> {
    let [ours, _, plain] = named(log)?;
    Some((ours - plain, 1.0))
}

type Taken = fn(&Log<LotsSection>) -> Option<(f64, f64)>;

fn of(scenario: &'static str, generator: &mut ChaCha12Rng, take: Taken) -> Option<(f64, f64)> {
    take(lots(scenario, generator)?.as_ref())
}

macro_rules! claim {
    ($claim:literal, $of:expr, $promised:expr, $scenario:literal, $take:expr) => {
        Average {
            claim: $claim,
            promised: $promised,
            logs: LOTS,
            of: $of,
            attempt: |generator| of($scenario, generator, $take),
        }
    };
}

const COVERS: (f64, f64) = (0.93, 0.97);
/// Where lots do not differ at all, no interval that allows for a difference can be as narrow as 95 %.
const COVERS_AT_LEAST: (f64, f64) = (0.93, 1.0);
const AT_LEAST_NOTHING: (f64, f64) = (0.0, f64::INFINITY);
const AS_OFTEN_AS_THE_ORACLE: (f64, f64) = (-WORSE_THAN_ORACLE, f64::INFINITY);

pub const AVERAGES: &[Average] = &[
    claim!(
        "a lot's interval covers its mean: lots are alike",
        Of::Share,
        COVERS_AT_LEAST,
        "lots are alike",
        covered
    ),
    claim!(
        "a lot's interval covers its mean: they differ by 0.3",
        Of::Share,
        COVERS,
        "lots differ by 0.3",
        covered
    ),
    claim!(
        "a lot's interval covers its mean: they differ by 0.6",
        Of::Share,
        COVERS,
        "lots differ by 0.6",
        covered
    ),
    claim!(
        "a lot's interval covers its mean: they differ by 1.0",
        Of::Share,
        COVERS,
        "lots differ by 1.0",
        covered
    ),
    claim!(
        "squared error saved on plain means: lots are alike",
        Of::Difference,
        AT_LEAST_NOTHING,
        "lots are alike",
        gained
    ),
    claim!(
        "squared error saved on plain means: they differ by 0.3",
        Of::Difference,
        AT_LEAST_NOTHING,
        "lots differ by 0.3",
        gained
    ),
    claim!(
        "squared error saved on plain means: they differ by 0.6",
        Of::Difference,
        AT_LEAST_NOTHING,
        "lots differ by 0.6",
        gained
    ),
    claim!(
        "squared error saved on plain means: they differ by 1.0",
        Of::Difference,
        AT_LEAST_NOTHING,
        "lots differ by 1.0",
        gained
    ),
    claim!(
        "squared error above the oracle's: they differ by 0.3",
        Of::Difference,
        (0.0, 0.05),
        "lots differ by 0.3",
        behind_the_oracle
    ),
    claim!(
        "squared error above the oracle's: they differ by 0.6",
        Of::Difference,
        (0.0, 0.05),
        "lots differ by 0.6",
        behind_the_oracle
    ),
    claim!(
        "squared error above the oracle's: they differ by 1.0",
        Of::Difference,
        (0.0, 0.05),
        "lots differ by 1.0",
        behind_the_oracle
    ),
    claim!(
        "best lot named, against the oracle: they differ by 0.3",
        Of::Difference,
        AS_OFTEN_AS_THE_ORACLE,
        "lots differ by 0.3",
        against_the_oracle
    ),
    claim!(
        "best lot named, against the oracle: they differ by 0.6",
        Of::Difference,
        AS_OFTEN_AS_THE_ORACLE,
        "lots differ by 0.6",
        against_the_oracle
    ),
    claim!(
        "best lot named, against the oracle: they differ by 1.0",
        Of::Difference,
        AS_OFTEN_AS_THE_ORACLE,
        "lots differ by 1.0",
        against_the_oracle
    ),
    claim!(
        "best lot named, against plain means: they differ by 0.3",
        Of::Difference,
        AT_LEAST_NOTHING,
        "lots differ by 0.3",
        against_plain_means
    ),
    claim!(
        "best lot named, against plain means: they differ by 0.6",
        Of::Difference,
        AT_LEAST_NOTHING,
        "lots differ by 0.6",
        against_plain_means
    ),
    claim!(
        "best lot named, against plain means: they differ by 1.0",
        Of::Difference,
        AT_LEAST_NOTHING,
        "lots differ by 1.0",
        against_plain_means
    ),
];
