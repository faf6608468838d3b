//! Select: each maker's usual way with every practice, and how far two makers' pieces have it in common.

use std::collections::BTreeMap;

use super::{FEWEST_REEDS, MOST_MAKERS, pieces_of};
use crate::catalogue::Stage;
use crate::finding::{MakerPractice, PracticeByMaker};
use crate::stats::numeric::quantile_of_sorted;
use crate::study::{Factor, FactorKind, Labels, Study};

/// The practices of the making, those in which the makers overlap least first.
pub(super) fn practices(study: &Study, makers: &Labels) -> Vec<(PracticeByMaker, String)> {
    let pieces = pieces_of(makers);
    let is_practice =
        |factor: &&Factor| Stage::MAKING.contains(&factor.stage) && factor.stage != Stage::Play;
    let factors = study.factors().iter().filter(is_practice);
    let mut found: Vec<(PracticeByMaker, String)> = factors
        .map(|factor| (practice(study, makers, &pieces, factor), factor.label.clone()))
        .filter(|(practice, _)| practice.list.len() > 1)
        .collect();
    // of equals the earlier in the making comes first
    let key = |practice: &PracticeByMaker| practice.overlap.unwrap_or(f64::INFINITY);
    found.sort_by(|(a, _), (b, _)| key(a).total_cmp(&key(b)));
    found
}

fn practice(
    study: &Study,
    makers: &Labels,
    pieces: &[Vec<usize>],
    factor: &Factor,
) -> PracticeByMaker {
    let (list, overlap) = match factor.kind {
        FactorKind::Number => numbers(&study.numbers(&factor.name), makers, pieces),
        FactorKind::Choice => choices(study.labels(&factor.name), makers, pieces),
    };
    let kind = if factor.kind == FactorKind::Number { "number" } else { "choice" };
    PracticeByMaker {
        factor: factor.name.clone(),
        stage: factor.stage,
        kind: kind.to_owned(),
        unit: factor.unit.clone(),
        overlap,
        list,
    }
}

type Told = (Vec<MakerPractice>, Option<f64>);

fn numbers(cells: &[Option<f64>], makers: &Labels, pieces: &[Vec<usize>]) -> Told {
    let sorted = |own: &Vec<usize>| {
        let mut values: Vec<f64> = own.iter().filter_map(|&piece| cells[piece]).collect();
        values.sort_by(f64::total_cmp);
        values
    };
    let of_maker: Vec<Vec<f64>> = pieces.iter().map(sorted).collect();
    let counted = of_maker.iter().map(|values| (values.len(), values)).collect();
    let overlap = over_pairs(counted, |one, other| in_common(one, other));
    let named = makers.levels.iter().zip(&of_maker).filter(|(_, values)| !values.is_empty());
    let list = named.map(|(maker, values)| MakerPractice {
        median: Some(quantile_of_sorted(values, 0.5)),
        quarter: Some(quantile_of_sorted(values, 0.25)),
        three_quarters: Some(quantile_of_sorted(values, 0.75)),
        ..nothing(maker, values.len())
    });
    (list.collect(), overlap)
}

/// One less the largest distance between the cumulative shares of two sorted samples (Kolmogorov-Smirnov): the share that they have in common, where their
/// curves cross once.
fn in_common(one: &[f64], other: &[f64]) -> f64 {
    let (mut at, mut farthest) = ([0, 0], 0.0_f64);
    while let (Some(a), Some(b)) = (one.get(at[0]), other.get(at[1])) {
        let value = a.min(*b);
        at[0] += one[at[0]..].iter().take_while(|found| **found <= value).count();
        at[1] += other[at[1]..].iter().take_while(|found| **found <= value).count();
        let share = |at: usize, all: usize| at as f64 / all as f64;
        farthest = farthest.max((share(at[0], one.len()) - share(at[1], other.len())).abs());
    }
    1.0 - farthest
}

fn choices(kinds: &Labels, makers: &Labels, pieces: &[Vec<usize>]) -> Told {
    let counts = |own: &Vec<usize>| {
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for code in own.iter().filter_map(|&piece| kinds.codes[piece]) {
            *counts.entry(code as usize).or_default() += 1;
        }
        counts
    };
    let of_maker: Vec<BTreeMap<usize, usize>> = pieces.iter().map(counts).collect();
    let list = makers.levels.iter().zip(&of_maker).filter_map(|(maker, counts)| {
        // the first by name on a tie
        let (kind, n) = counts.iter().max_by_key(|(kind, n)| (**n, std::cmp::Reverse(**kind)))?;
        let all: usize = counts.values().sum();
        Some(MakerPractice {
            commonest: kinds.levels.get(*kind).cloned(),
            share: Some(*n as f64 / all as f64),
            ..nothing(maker, all)
        })
    });
    let counted = of_maker.iter().map(|counts| (counts.values().sum(), counts)).collect();
    (list.collect(), over_pairs(counted, kinds_in_common))
}

fn nothing(maker: &str, pieces: usize) -> MakerPractice {
    MakerPractice {
        maker: maker.to_owned(),
        pieces,
        median: None,
        quarter: None,
        three_quarters: None,
        commonest: None,
        share: None,
    }
}

/// What two counts of kinds have in common.
fn kinds_in_common(one: &BTreeMap<usize, usize>, other: &BTreeMap<usize, usize>) -> f64 {
    let share = |counts: &BTreeMap<usize, usize>, kind: &usize| {
        let all: usize = counts.values().sum();
        counts.get(kind).map_or(0.0, |n| *n as f64 / all as f64)
    };
    one.keys().map(|kind| share(one, kind).min(share(other, kind))).sum()
}

/// What pairs of makers have in common on average, of those with enough pieces the ones with most; none with fewer than two of them.
fn over_pairs<T>(counted: Vec<(usize, &T)>, in_common: impl Fn(&T, &T) -> f64) -> Option<f64> {
    let mut enough: Vec<(usize, &T)> =
        counted.into_iter().filter(|(pieces, _)| *pieces >= FEWEST_REEDS).collect();
    // a stable sort: of equals the first by name comes first
    enough.sort_by_key(|(pieces, _)| std::cmp::Reverse(*pieces));
    enough.truncate(MOST_MAKERS);
    let pairs = (0..enough.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
    let found: Vec<f64> = pairs.map(|(a, b)| in_common(enough[a].1, enough[b].1)).collect();
    let mean = found.iter().sum::<f64>() / found.len() as f64;
    (!found.is_empty()).then(|| mean.clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-12, "{found}");
    }

    /// Eight of ten and two of ten against two and eight: a fifth and a fifth in common. With a third maker like the first: 0.4, 1 and 0.4.
    #[test]
    fn the_overlap_of_choices_is_what_pairs_have_in_common() {
        let counts = |of: [(usize, usize); 2]| -> BTreeMap<usize, usize> { of.into() };
        let [one, other] = [counts([(0, 8), (1, 2)]), counts([(0, 2), (1, 8)])];
        let of = |list: Vec<(usize, &_)>| over_pairs(list, kinds_in_common);
        close(of(vec![(10, &one), (10, &other)]).unwrap(), 0.4);
        close(of(vec![(10, &one), (10, &other), (10, &one)]).unwrap(), 0.6);
        assert_eq!(of(vec![(10, &one), (7, &other)]), None);
    }

    /// By hand: after 3 all of the first and half of the second; `ks.test(c(1, 2, 3, 3), c(3, 4, 1, 5))` in R has D = 0.5 too.
    #[test]
    fn the_overlap_of_numbers_is_one_less_the_largest_distance() {
        close(in_common(&[1.0, 2.0, 3.0, 3.0], &[1.0, 3.0, 4.0, 5.0]), 0.5);
        close(in_common(&[1.0, 2.0], &[3.0, 4.0, 5.0]), 0.0);
        close(in_common(&[1.0, 2.0, 2.0], &[1.0, 2.0, 2.0]), 1.0);
    }
}
