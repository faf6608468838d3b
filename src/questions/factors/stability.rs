//! Which factors stay when the lots change: the share of 200 half-samples of the lots in which the elastic net keeps a factor (Meinshausen & Buehlmann 2010).
//!
//! With under six lots there are too few halves of lots that differ; then each half holds half of the reeds of every lot.

use rand::{Rng, RngExt};

use super::super::rated::distinct;
use super::foretell::{Foretold, GRID, INNER_PARTS, validated};
use super::measured::Measured;
use super::sample::Columns;
use crate::finding::{Chart, ChartKind, ShareShown};
use crate::stats::StatsError;
use crate::stats::penalised::{Folds, penalised_fits};
use crate::stats::products::{GroupProducts, Products};
use crate::stats::resample::{permutation, replicate};
use crate::words::foretell as words;

const HALVES: usize = 200;
/// With fewer lots the halves are of reeds.
const FEWEST_LOTS: usize = 6;
/// More lots, or reeds of a lot, are drawn several together.
const MOST_PARTS: usize = 60;

/// What is drawn into a half or left out of it as a whole.
pub(super) struct Parts<'a> {
    pieces: &'a [usize],
    scores: &'a [f64],
    /// The part of each reed.
    part: Vec<usize>,
    /// Sizes of the runs of parts of which half is drawn each: all lots, or the parts of each lot.
    runs: Vec<usize>,
    of_lots: bool,
}

impl<'a> Parts<'a> {
    pub fn of(pieces: &'a [usize], scores: &'a [f64], lot: &[usize]) -> Self {
        let mut codes = lot.to_vec();
        codes.sort_unstable();
        codes.dedup();
        let of_lots = codes.len() >= FEWEST_LOTS;
        let (part, runs) = if of_lots {
            let parts = codes.len().min(MOST_PARTS);
            // every code of the list is among its distinct codes
            let place = |lot: &usize| codes.binary_search(lot).unwrap_or(0) % parts;
            (lot.iter().map(place).collect(), vec![parts])
        } else {
            dealt_within(lot, &codes)
        };
        Self { pieces, scores, part, runs, of_lots }
    }
}

/// The reeds of each lot dealt in turn to parts of that lot.
fn dealt_within(lot: &[usize], codes: &[usize]) -> (Vec<usize>, Vec<usize>) {
    let mut part = vec![0; lot.len()];
    let mut runs: Vec<usize> = Vec::new();
    for code in codes {
        let reeds: Vec<usize> = (0..lot.len()).filter(|&reed| lot[reed] == *code).collect();
        let parts = reeds.len().min(MOST_PARTS);
        let first: usize = runs.iter().sum();
        for (turn, reed) in reeds.into_iter().enumerate() {
            part[reed] = first + turn % parts;
        }
        runs.push(parts);
    }
    (part, runs)
}

/// Adds the shares, their picture and how they were found.
pub(super) fn stability(columns: &Columns, parts: &Parts, seed: u64, told: &mut Foretold) {
    let Some(measured) = Measured::of(columns, parts.pieces, &parts.part) else { return };
    let Ok(shares) = shares(&measured, parts, seed) else { return };
    for (&factor, share) in measured.factor.iter().zip(shares) {
        told.stability[factor] = Some(share);
    }
    told.method.push(words::halves(parts.of_lots));
    told.charts.push(chart(columns, &told.stability, parts.of_lots));
}

/// For each column the share of the halves that keep its factor, by any of its columns.
fn shares(measured: &Measured, parts: &Parts, seed: u64) -> Result<Vec<f64>, StatsError> {
    let products = Products::new(&measured.design, parts.scores, &parts.part)?;
    let folds = distinct(&parts.part).min(INNER_PARTS);
    let folds = Folds::of_groups(&parts.part, folds, seed)?;
    let penalty = validated(&products, &folds)?.best_penalty();
    let halves = replicate(seed, HALVES, |generator| {
        let half = half(&products, &parts.runs, generator);
        let kept = penalised_fits(&half, GRID.mixing, &[penalty])?.pop();
        Ok(kept.map_or_else(Vec::new, |fit| fit.kept()))
    });
    let halves: Vec<Vec<usize>> = halves.into_iter().collect::<Result<_, StatsError>>()?;
    let keeps = |half: &[usize], factor: usize| {
        half.iter().any(|&column| measured.factor[column] == factor)
    };
    let share = |&factor: &usize| {
        halves.iter().filter(|half| keeps(half, factor)).count() as f64 / HALVES as f64
    };
    Ok(measured.factor.iter().map(share).collect())
}

/// Half of every run of parts, drawn without putting back; of an odd number the middle one goes in or stays out by a coin.
fn half(products: &Products, runs: &[usize], generator: &mut impl Rng) -> Products {
    let mut drawn: Vec<usize> = Vec::new();
    let mut first = 0;
    for &run in runs {
        let count = (run + usize::from(generator.random_bool(0.5))) / 2;
        drawn.extend(permutation(generator, run).into_iter().take(count).map(|part| first + part));
        first += run;
    }
    drawn.sort_unstable();
    // products have a group for every part, by rising code
    let groups: Vec<GroupProducts> =
        drawn.into_iter().filter_map(|part| products.groups.get(part).cloned()).collect();
    Products { names: products.names.clone(), groups }
}

fn chart(columns: &Columns, stability: &[Option<f64>], of_lots: bool) -> Chart {
    let shown = |(at, share): (usize, &Option<f64>)| {
        Some(ShareShown { label: columns.factors[at].0.label.clone(), share: (*share)? })
    };
    let mut shares: Vec<ShareShown> = stability.iter().enumerate().filter_map(shown).collect();
    // a stable sort: of equals the earlier in the making comes first
    shares.sort_by(|a, b| b.share.total_cmp(&a.share));
    Chart {
        name: "factor_stability".to_owned(),
        title: words::STAYS_TITLE.to_owned(),
        description: words::stays_description(&shares),
        reading: words::stays_reading(of_lots),
        kind: ChartKind::Shares { shares, x_label: words::halves_axis(of_lots) },
    }
}
