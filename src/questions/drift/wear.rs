//! The blade wears between two sharpenings: measurements against the pieces since the last one.

use std::collections::{BTreeMap, BTreeSet};

use super::makers::Makers;
use super::series;
use crate::finding::{BladeWear, Estimated};
use crate::questions::scores::centred_within;
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::linear::least_squares;
use crate::stats::multiplicity::benjamini_hochberg;
use crate::study::{Factor, FactorKind, Study};
use crate::words::drift as say;

/// The column that counts, folded as the reader folds headers.
const SINCE: &str = "pieces_since_sharpening";
/// It takes so many pieces and so many sharpenings.
const FEWEST_PIECES: usize = 20;
const FEWEST_SHARPENINGS: usize = 4;

/// Every measurement of the making, each sharpening compared with itself; nothing where the log does not count pieces since sharpening.
pub(super) fn wear(
    study: &Study,
    order: &[(usize, i32)],
    makers: Option<&Makers>,
) -> Vec<BladeWear> {
    let is_counted = study.factor(SINCE).is_some_and(|factor| factor.kind == FactorKind::Number);
    if !is_counted {
        return Vec::new();
    }
    let since = study.numbers(SINCE);
    let edges = edges(&since, order, |piece| makers.map_or(0, |makers| makers.of_piece(piece)));
    let factors = series::factors(study).into_iter().filter(|factor| factor.name != SINCE);
    let found: Vec<(BladeWear, &Factor)> = factors
        .filter_map(|factor| {
            Some((one(factor, &study.numbers(&factor.name), &since, &edges)?, factor))
        })
        .collect();
    let p: Vec<f64> = found.iter().map(|(wear, _)| wear.p).collect();
    let q = benjamini_hochberg(&p).unwrap_or(p);
    let told = found.into_iter().zip(q).map(|((wear, factor), q)| {
        let wear = BladeWear { q, ..wear };
        let sentence = say::wear(&factor.label, &wear);
        BladeWear { sentence, ..wear }
    });
    told.collect()
}

/// Which edge each piece was cut with: a new one begins where its maker's count does not rise.
fn edges(
    since: &[Option<f64>],
    order: &[(usize, i32)],
    maker: impl Fn(usize) -> usize,
) -> Vec<Option<usize>> {
    let mut edges = vec![None; since.len()];
    let mut begun = 0;
    // each maker's edge and the count on it
    let mut at_work: BTreeMap<usize, (usize, f64)> = BTreeMap::new();
    for &(piece, _) in order {
        let Some(count) = since[piece] else { continue };
        let edge = match at_work.get(&maker(piece)) {
            Some(&(edge, last)) if count > last => edge,
            _ => {
                begun += 1;
                begun
            }
        };
        at_work.insert(maker(piece), (edge, count));
        edges[piece] = Some(edge);
    }
    edges
}

fn one(
    factor: &Factor,
    values: &[Option<f64>],
    since: &[Option<f64>],
    edges: &[Option<usize>],
) -> Option<BladeWear> {
    let rows: Vec<(f64, f64, usize)> = (0..values.len())
        .filter_map(|piece| Some((values[piece]?, since[piece]?, edges[piece]?)))
        .collect();
    let edge: Vec<usize> = rows.iter().map(|row| row.2).collect();
    let sharpenings = edge.iter().collect::<BTreeSet<_>>().len();
    if rows.len() < FEWEST_PIECES || sharpenings < FEWEST_SHARPENINGS {
        return None;
    }
    let value: Vec<f64> = rows.iter().map(|row| row.0).collect();
    // for ten pieces
    let pieces: Vec<f64> = rows.iter().map(|row| row.1 / 10.0).collect();
    let design = Design::builder(rows.len()).number("pieces", &centred_within(&pieces, &edge));
    let fit = least_squares(&design.build().ok()?, &centred_within(&value, &edge)).ok()?;
    let slope: Estimate = fit.clustered(&edge).ok()?.contrast(&[1.0]).ok()?;
    let (low, high) = slope.interval(0.95).ok().filter(|_| slope.standard_error > 0.0)?;
    Some(BladeWear {
        measure: factor.name.clone(),
        unit: factor.unit.clone(),
        pieces: rows.len(),
        sharpenings,
        per_ten_pieces: Estimated { estimate: slope.value, low, high },
        p: slope.p_value(),
        q: 1.0,
        sentence: String::new(),
    })
}
