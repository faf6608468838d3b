//! The sums of a log that this machine holds: what the query would give of the same reeds.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::questions::scores::reed_scores;
use crate::stats::StatsError;
use crate::stats::design::Design;
use crate::stats::products::Products;
use crate::study::Study;
use crate::sums::{LotSums, Summed, Sums};

/// Sums a log's reeds. Factors are the log's numbers by name; the score is each reed's, players' leniency taken out.
///
/// # Errors
/// Where values are so large that their squares are no numbers.
pub fn sums_of(study: &Study, summed: Summed) -> Result<Sums, StatsError> {
    let reeds = Reeds::of(study, &summed);
    let mut sums = Sums {
        of: summed,
        lots: Vec::new(),
        unsummed: Vec::new(),
        incomplete: reeds.in_lots() - reeds.complete.len(),
        without_lot: study.pieces() - reeds.in_lots(),
    };
    let summed_lots: BTreeSet<usize> = reeds.complete.iter().map(|(lot, _)| *lot).collect();
    sums.unsummed = (0..reeds.lots.len())
        .filter(|lot| reeds.counts[*lot] > 0 && !summed_lots.contains(lot))
        .map(|lot| (reeds.lots[lot].clone(), reeds.counts[lot]))
        .collect();
    if reeds.complete.is_empty() {
        return Ok(sums);
    }
    let groups = reeds.products(&sums.of)?.sums(sums.of.centres())?;
    sums.lots = groups
        .into_iter()
        .map(|group| LotSums {
            lot: reeds.lots[group.code].clone(),
            reeds: reeds.counts[group.code],
            sums: group,
        })
        .collect();
    Ok(sums)
}

struct Reeds {
    lots: Vec<String>,
    /// Of each lot.
    counts: Vec<usize>,
    /// Lot and values, the score last, of each reed that has all.
    complete: Vec<(usize, Vec<f64>)>,
}

impl Reeds {
    fn of(study: &Study, summed: &Summed) -> Reeds {
        let found = reed_scores(study);
        let mut scores = vec![None; study.pieces()];
        for (&piece, &score) in found.piece.iter().zip(&found.score) {
            scores[piece] = Some(score);
        }
        let mut columns: Vec<Arc<Vec<Option<f64>>>> =
            summed.factors().iter().map(|factor| study.numbers(factor)).collect();
        columns.push(Arc::new(scores));
        let lots = study.lots();
        let mut counts = vec![0; lots.levels.len()];
        let mut complete = Vec::new();
        for (piece, lot) in lots.codes.iter().enumerate() {
            let Some(lot) = lot.map(|lot| lot as usize) else { continue };
            counts[lot] += 1;
            let values: Option<Vec<f64>> = columns.iter().map(|column| column[piece]).collect();
            complete.extend(values.map(|values| (lot, values)));
        }
        Reeds { lots: lots.levels.clone(), counts, complete }
    }

    fn in_lots(&self) -> usize {
        self.counts.iter().sum()
    }

    fn products(&self, summed: &Summed) -> Result<Products, StatsError> {
        let column = |place: usize| -> Vec<f64> {
            self.complete.iter().map(|(_, values)| values[place]).collect()
        };
        let mut design = Design::builder(self.complete.len()).intercept();
        for (place, name) in summed.factors().iter().enumerate() {
            design = design.number(name, &column(place));
        }
        let lots: Vec<usize> = self.complete.iter().map(|(lot, _)| *lot).collect();
        // the score stands behind the factors
        Products::new(&design.build()?, &column(summed.factors().len()), &lots)
    }
}
