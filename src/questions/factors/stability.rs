//! Which factors stay when the lots change: the share of 200 half-samples of the lots in which the elastic net keeps a factor (Meinshausen & Buehlmann 2010).
//!
//! In each half the penalty falls until as many factors have come in as may: `sqrt(0.6 p)` of `p`, rounded down. By their theorem 1 at most one idle factor is
//! then expected to be kept in 80 % of the halves or more, where idle factors are alike. A penalty that foretells best would let most idle ones in.
//!
//! With under six lots there are too few halves of lots that differ; then each half holds half of the reeds of every lot.

use rand::{Rng, RngExt};

use super::foretell::{Foretold, GRID};
use super::measured::Measured;
use super::sample::Columns;
use crate::finding::{Chart, ChartKind, ShareShown};
use crate::stats::StatsError;
use crate::stats::penalised::{penalised_fits, penalty_grid};
use crate::stats::products::{GroupProducts, Products};
use crate::stats::resample::{permutation, replicate};
use crate::whole;
use crate::words::foretell as words;

const HALVES: usize = 200;
/// From this share of the halves on a factor is said to stay.
pub(super) const STAYS_FROM: f64 = 0.8;
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
    // of one factor there is nothing to choose
    if measured.factors() < 2 {
        return;
    }
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
    let most = most_kept(measured.factors());
    let halves = replicate(seed, HALVES, |generator| {
        first_kept(measured, &half(&products, &parts.runs, generator), most)
    });
    let halves: Vec<Vec<usize>> = halves.into_iter().collect::<Result<_, StatsError>>()?;
    let share = |factor: &usize| {
        halves.iter().filter(|half| half.contains(factor)).count() as f64 / HALVES as f64
    };
    Ok(measured.factor.iter().map(share).collect())
}

/// How many factors may come in so that at most one idle one is expected to stay.
fn most_kept(factors: usize) -> usize {
    whole::part(((2.0 * STAYS_FROM - 1.0) * factors as f64).sqrt()).max(1)
}

/// The factors of the last step of the path that holds no more of them than may come in.
fn first_kept(measured: &Measured, half: &Products, most: usize) -> Result<Vec<usize>, StatsError> {
    let penalties = match penalty_grid(half, &GRID) {
        Err(StatsError::NoVariation { .. }) => return Ok(Vec::new()),
        other => other?,
    };
    let mut kept = Vec::new();
    for fit in penalised_fits(half, GRID.mixing, &penalties)? {
        let mut found: Vec<usize> =
            fit.kept().into_iter().map(|column| measured.factor[column]).collect();
        found.dedup();
        if found.len() > most {
            break;
        }
        kept = found;
    }
    Ok(kept)
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
        title: words::stays_title(of_lots).to_owned(),
        description: words::stays_description(&shares),
        reading: words::stays_reading(of_lots),
        kind: ChartKind::Shares { shares, x_label: words::halves_axis(of_lots) },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn so_many_come_in_that_one_idle_factor_at_most_is_expected_to_stay() {
        // q^2 / ((2 * 0.8 - 1) p): 9 / 9 of 15 factors, 4 / 6 of 10
        assert_eq!([2, 10, 15, 60].map(most_kept), [1, 2, 3, 6]);
    }

    #[test]
    fn few_lots_are_cut_into_parts_of_their_own() {
        let (part, runs) = dealt_within(&[7, 3, 7, 3, 3], &[3, 7]);
        assert_eq!(part, [3, 0, 4, 1, 2]);
        assert_eq!(runs, [3, 2]);
    }
}
