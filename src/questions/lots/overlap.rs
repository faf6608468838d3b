//! Show: which values of a practice each lot saw.
//!
//! A practice that goes from lot to lot cannot be told from the lots. The grids show it for the practices asked about
//! beforehand and for those that differ most between the lots.

use std::collections::BTreeMap;

use super::super::scores::group_sums;
use super::Rated;
use crate::finding::{Chart, ChartKind, LotResult, OverlapShown};
use crate::stats::numeric::{mean, quantile_of_sorted};
use crate::study::{Factor, FactorKind, Stage, Study};
use crate::words::lots as words;
use rayon::prelude::*;

/// Grids drawn.
const MOST_GRIDS: usize = 3;
/// A practice is tangled enough to be shown where this share of its variance lies between lots.
const TANGLED: f64 = 0.5;
const MOST_PARTS: usize = 6;
const PARTS_OF_A_RANGE: usize = 5;
const MOST_LOTS: usize = 30;

/// A practice's cells, one a rated reed.
enum Cells {
    Number(Vec<Option<f64>>),
    Choice(Vec<Option<u32>>, Vec<String>),
}

/// Which part of the practice's range each reed lies in.
struct Parts {
    names: Vec<[String; 2]>,
    of_reed: Vec<Option<usize>>,
}

pub(super) fn charts(study: &Study, rated: &Rated, results: &[LotResult]) -> Vec<Chart> {
    let mut grids: Vec<(bool, f64, &Factor, Cells)> = study
        .factors()
        .par_iter()
        .filter(|factor| Stage::MAKING.contains(&factor.stage))
        .map(|factor| (factor, cells(study, rated, factor)))
        .map(|(factor, cells)| {
            let between = between(&cells, &rated.lot);
            (factor.asked_beforehand, between, factor, cells)
        })
        .filter(|(beforehand, between, ..)| *beforehand || *between >= TANGLED)
        .collect();
    // those asked about first, then the most tangled; a stable sort keeps the stages' order among equals
    grids.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)));
    grids.truncate(MOST_GRIDS);
    grids
        .into_iter()
        .filter_map(|(_, _, factor, cells)| chart(factor, &parts(&cells), rated, results))
        .collect()
}

fn cells(study: &Study, rated: &Rated, factor: &Factor) -> Cells {
    match factor.kind {
        FactorKind::Number => {
            let cells = study.numbers(&factor.name);
            Cells::Number(rated.piece.iter().map(|&piece| cells[piece]).collect())
        }
        FactorKind::Choice => {
            let labels = study.labels(&factor.name);
            let codes = rated.piece.iter().map(|&piece| labels.codes[piece]).collect();
            Cells::Choice(codes, labels.levels.clone())
        }
    }
}

/// The share of the variance that lies between lots, less what chance would put there; 0 where nothing varies.
fn between(cells: &Cells, lot: &[usize]) -> f64 {
    let Squares { within, total, reeds, lots } = match cells {
        Cells::Number(values) => squares_of_numbers(values, lot),
        Cells::Choice(codes, _) => squares_of_levels(codes, lot),
    };
    let share = 1.0 - (within / total) * ((reeds - 1.0) / (reeds - lots));
    if share.is_finite() { share } else { 0.0 }
}

/// Squares of a practice about the means of the lots, and about its own.
struct Squares {
    within: f64,
    total: f64,
    /// Reeds with a value, and their lots.
    reeds: f64,
    lots: f64,
}

fn squares_of_numbers(values: &[Option<f64>], lot: &[usize]) -> Squares {
    let present = values.iter().zip(lot).filter_map(|(value, lot)| Some(((*value)?, *lot)));
    let (values, lots): (Vec<f64>, Vec<usize>) = present.unzip();
    let sums = group_sums(&values, &lots);
    let centre = mean(&values).unwrap_or(f64::NAN);
    let within = values.iter().zip(&lots).map(|(value, &lot)| {
        let (sum, reeds) = sums[lot]; // every lot of a value has a sum
        (value - sum / reeds as f64).powi(2)
    });
    Squares {
        within: within.sum(),
        total: values.iter().map(|value| (value - centre).powi(2)).sum(),
        reeds: values.len() as f64,
        lots: sums.iter().filter(|(_, reeds)| *reeds > 0).count() as f64,
    }
}

/// Of all levels together, each a column of noughts and ones: of `k` ones among `n` these are `k (1 - k / n)`.
fn squares_of_levels(codes: &[Option<u32>], lot: &[usize]) -> Squares {
    let mut of_lot: Vec<Vec<u32>> = vec![Vec::new(); lot.iter().max().map_or(0, |last| last + 1)];
    for (code, &lot) in codes.iter().zip(lot) {
        of_lot[lot].extend(code); // up to the last lot
    }
    let mut all: Vec<u32> = codes.iter().flatten().copied().collect();
    Squares {
        reeds: all.len() as f64,
        total: squares_of_codes(&mut all),
        lots: of_lot.iter().filter(|codes| !codes.is_empty()).count() as f64,
        within: of_lot.iter_mut().map(|codes| squares_of_codes(codes)).sum(),
    }
}

fn squares_of_codes(codes: &mut [u32]) -> f64 {
    codes.sort_unstable();
    let reeds = codes.len() as f64;
    let alike = codes.chunk_by(|one, next| one == next).map(|alike| alike.len() as f64);
    alike.map(|own| own * (1.0 - own / reeds)).sum()
}

fn parts(cells: &Cells) -> Parts {
    match cells {
        Cells::Number(values) => parts_of_numbers(values),
        Cells::Choice(codes, levels) => parts_of_levels(codes, levels),
    }
}

/// Each value where there are few, else five parts with about as many reeds each, named by the values in them.
fn parts_of_numbers(values: &[Option<f64>]) -> Parts {
    let mut present: Vec<f64> = values.iter().flatten().copied().collect();
    present.sort_by(f64::total_cmp);
    let mut distinct = present.clone();
    distinct.dedup();
    let uppers: Vec<f64> = if distinct.len() <= MOST_PARTS {
        distinct
    } else {
        let upper =
            |part: usize| quantile_of_sorted(&present, (part + 1) as f64 / PARTS_OF_A_RANGE as f64);
        let mut uppers: Vec<f64> = (0..PARTS_OF_A_RANGE).map(upper).collect();
        uppers.dedup();
        uppers
    };
    let part = |value: f64| uppers.partition_point(|&upper| upper < value);
    let names = (0..uppers.len()).map(|at| {
        let inside = || present.iter().copied().filter(|&value| part(value) == at);
        words::part(inside().next(), inside().next_back())
    });
    Parts { names: names.collect(), of_reed: values.iter().map(|value| value.map(part)).collect() }
}

/// The commonest levels, and all others together.
fn parts_of_levels(codes: &[Option<u32>], levels: &[String]) -> Parts {
    let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
    codes.iter().flatten().for_each(|&code| *counts.entry(code).or_default() += 1);
    let mut order: Vec<u32> = counts.keys().copied().collect();
    order.sort_by_key(|code| std::cmp::Reverse(counts[code]));
    let is_long = order.len() > MOST_PARTS;
    if is_long {
        order.truncate(MOST_PARTS - 1);
    }
    let name =
        |code: &u32| [levels.get(*code as usize).cloned().unwrap_or_default(), String::new()];
    let mut names: Vec<[String; 2]> = order.iter().map(name).collect();
    if is_long {
        names.push([words::OTHERS.to_owned(), String::new()]);
    }
    let part = |code: u32| order.iter().position(|&known| known == code).unwrap_or(order.len());
    Parts { names, of_reed: codes.iter().map(|code| code.map(part)).collect() }
}

/// None where the practice never varies among the rated reeds.
fn chart(factor: &Factor, parts: &Parts, rated: &Rated, results: &[LotResult]) -> Option<Chart> {
    if parts.names.len() < 2 {
        return None;
    }
    let mut counts: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (lot, part) in rated.lot.iter().zip(&parts.of_reed) {
        if let Some(part) = part {
            // a part's number is below the number of names
            counts.entry(*lot).or_insert_with(|| vec![0; parts.names.len()])[*part] += 1;
        }
    }
    let mut lots: Vec<OverlapShown> = results
        .iter()
        .filter_map(|result| {
            let reeds = counts.get(&rated.code(&result.lot)?)?.clone();
            Some(OverlapShown { lot: result.lot.clone(), reeds })
        })
        .collect();
    let in_one =
        lots.iter().filter(|lot| lot.reeds.iter().filter(|n| **n > 0).count() == 1).count();
    let description = words::overlap(&factor.label, lots.len(), in_one);
    let more = lots.len().saturating_sub(MOST_LOTS);
    lots.truncate(MOST_LOTS);
    Some(Chart {
        name: format!("overlap_{}", factor.name),
        title: words::overlap_title(&factor.label),
        description,
        reading: words::OVERLAP_READING.to_owned(),
        kind: ChartKind::Overlap {
            label: words::with_unit(&factor.label, factor.unit.as_deref()),
            parts: parts.names.clone(),
            lots,
            more,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_practice_that_is_the_lots_lies_wholly_between_them_and_one_that_every_lot_saw_does_not() {
        let lot = [0, 0, 1, 1, 2, 2];
        let number = |values: [f64; 6]| Cells::Number(values.map(Some).to_vec());
        assert_eq!(between(&number([1.0, 1.0, 2.0, 2.0, 3.0, 3.0]), &lot), 1.0);
        // within 3 * 0.5, total 1.5: nothing between but what chance takes, 1 - 1 * 5 / 3
        assert!((between(&number([1.0, 2.0, 1.0, 2.0, 1.0, 2.0]), &lot) + 2.0 / 3.0).abs() < 1e-12);
        assert_eq!(between(&number([4.0; 6]), &lot), 0.0);
        // a hundred times this number is a little beside their sum
        let lots: Vec<usize> = (0..100).map(|reed| reed / 5).collect();
        assert_eq!(between(&Cells::Number(vec![Some(0.95); 100]), &lots), 0.0);
        let choice =
            Cells::Choice([0, 0, 1, 1, 1, 1].map(Some).to_vec(), vec!["a".into(), "b".into()]);
        assert_eq!(between(&choice, &lot), 1.0);
    }

    #[test]
    fn few_values_are_parts_of_their_own_and_many_are_cut_in_five() {
        let few = parts_of_numbers(&[Some(7.0), None, Some(14.0), Some(7.0)]);
        assert_eq!(few.of_reed, [Some(0), None, Some(1), Some(0)]);
        assert_eq!(few.names.len(), 2);
        let many: Vec<Option<f64>> = (0..50).map(|value| Some(f64::from(value))).collect();
        let many = parts_of_numbers(&many);
        for part in 0..5 {
            assert_eq!(many.of_reed.iter().filter(|at| **at == Some(part)).count(), 10);
        }
    }

    #[test]
    fn rare_levels_stand_together() {
        let levels: Vec<String> = (0..9).map(|level| format!("kind {level}")).collect();
        let codes: Vec<Option<u32>> = (0..9).chain(3..9).map(Some).collect();
        let found = parts_of_levels(&codes, &levels);
        assert_eq!(found.names.len(), 6);
        assert_eq!(found.names[0][0], "kind 3");
        // kinds 0, 1 and 2 once and kind 8 twice
        assert_eq!(found.of_reed.iter().filter(|part| **part == Some(5)).count(), 5);
    }
}
