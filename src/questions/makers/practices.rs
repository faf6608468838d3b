//! Select: each maker's usual way with every practice, and how far two makers' pieces have it in common.

use std::collections::BTreeMap;

use super::{FEWEST_REEDS, pieces_of};
use crate::catalogue::Stage;
use crate::finding::{MakerPractice, PracticeByMaker};
use crate::stats::numeric::quantile;
use crate::study::{Factor, FactorKind, Labels, Study};

/// A number's range is held against that of others in so many parts of equally many pieces.
const PARTS: usize = 5;

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
        FactorKind::Choice => choices(&study.labels(&factor.name), makers, pieces),
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
    let of_maker: Vec<Vec<f64>> =
        pieces.iter().map(|own| own.iter().filter_map(|&piece| cells[piece]).collect()).collect();
    let all: Vec<f64> = of_maker.iter().flatten().copied().collect();
    let cuts: Vec<f64> =
        (1..PARTS).filter_map(|part| quantile(&all, part as f64 / PARTS as f64).ok()).collect();
    let counts = |values: &Vec<f64>| {
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for value in values {
            *counts.entry(cuts.iter().filter(|cut| value > cut).count()).or_default() += 1;
        }
        counts
    };
    let overlap = overlap(&of_maker.iter().map(counts).collect::<Vec<_>>());
    let named = makers.levels.iter().zip(&of_maker).filter(|(_, values)| !values.is_empty());
    let list = named.map(|(maker, values)| MakerPractice {
        median: quantile(values, 0.5).ok(),
        quarter: quantile(values, 0.25).ok(),
        three_quarters: quantile(values, 0.75).ok(),
        ..nothing(maker, values.len())
    });
    (list.collect(), overlap)
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
    (list.collect(), overlap(&of_maker))
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

/// The share in common, averaged over the pairs of makers with enough pieces; none with fewer than two of them.
fn overlap(counts: &[BTreeMap<usize, usize>]) -> Option<f64> {
    let shares: Vec<BTreeMap<usize, f64>> = counts
        .iter()
        .filter_map(|counts| {
            let all: usize = counts.values().sum();
            let share = |n: usize| n as f64 / all as f64;
            (all >= FEWEST_REEDS)
                .then(|| counts.iter().map(|(part, n)| (*part, share(*n))).collect())
        })
        .collect();
    let pairs = (0..shares.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
    let in_common = |(a, b): (usize, usize)| -> f64 {
        let other = |part: &usize| shares[b].get(part).copied().unwrap_or(0.0);
        shares[a].iter().map(|(part, share)| share.min(other(part))).sum()
    };
    let found: Vec<f64> = pairs.map(in_common).collect();
    (!found.is_empty()).then(|| (found.iter().sum::<f64>() / found.len() as f64).min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(of: &[(usize, usize)]) -> BTreeMap<usize, usize> {
        of.iter().copied().collect()
    }

    /// Eight of ten and two of ten against two and eight: a fifth and a fifth in common. With a third maker like the first: 1, 0.4 and 0.4.
    #[test]
    fn the_overlap_is_what_pairs_have_in_common() {
        let [one, other] = [counts(&[(0, 8), (1, 2)]), counts(&[(0, 2), (1, 8)])];
        let close = |found: Option<f64>, expected: f64| {
            assert!((found.unwrap() - expected).abs() < 1e-12, "{found:?}");
        };
        close(overlap(&[one.clone(), other.clone()]), 0.4);
        close(overlap(&[one.clone(), other.clone(), one.clone()]), 0.6);
        assert_eq!(overlap(&[one, counts(&[(0, 7)])]), None);
    }
}
