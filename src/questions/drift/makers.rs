//! Several makers in one log: what each does most is taken out, so that a change in who made the pieces is not taken for a change in how they are made.

use std::collections::BTreeMap;

use crate::questions::scores::centred_within;
use crate::study::Study;

/// Of fewer values a maker's mean follows each of them, and little is left to move.
const FEWEST_OF_A_MAKER: usize = 8;

/// Code of each piece's maker; pieces without a name are one more maker's.
pub(super) struct Makers {
    codes: Vec<usize>,
}

impl Makers {
    /// None where the log does not name two makers or more.
    pub fn of(study: &Study) -> Option<Self> {
        let makers = study.several_makers()?;
        let nameless = makers.levels.len();
        let code = |code: &Option<u32>| code.map_or(nameless, |code| code as usize);
        Some(Self { codes: makers.codes.iter().map(code).collect() })
    }

    /// Values less the mean of their maker, about the mean of all; those of a maker who has too few are left out.
    pub fn taken_out(&self, values: &[Option<f64>]) -> Vec<Option<f64>> {
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for (_, &maker) in values.iter().zip(&self.codes).filter(|(value, _)| value.is_some()) {
            *counts.entry(maker).or_default() += 1;
        }
        let is_kept = |maker: usize| counts.get(&maker).is_some_and(|n| *n >= FEWEST_OF_A_MAKER);
        let kept: Vec<Option<f64>> = values
            .iter()
            .zip(&self.codes)
            .map(|(value, &maker)| value.filter(|_| is_kept(maker)))
            .collect();
        let known =
            kept.iter().zip(&self.codes).filter_map(|(value, &maker)| Some(((*value)?, maker)));
        let (numbers, makers): (Vec<f64>, Vec<usize>) = known.unzip();
        let centre = numbers.iter().sum::<f64>() / numbers.len().max(1) as f64;
        let mut left = centred_within(&numbers, &makers).into_iter();
        kept.iter().map(|value| value.and_then(|_| Some(centre + left.next()?))).collect()
    }

    /// Who made a piece.
    pub fn of_piece(&self, piece: usize) -> usize {
        self.codes[piece]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_makers_do_most_goes_and_what_each_of_them_changes_stays() {
        // two makers in turn, ten apart, both rising by one a piece; and one value of a third
        let makers = Makers { codes: (0..16).map(|piece| piece % 2).chain([2]).collect() };
        let rising = (0..16).map(|piece| Some(f64::from(piece / 2 + 10 * (piece % 2))));
        let values: Vec<Option<f64>> = rising.chain([Some(99.0)]).collect();
        let left = makers.taken_out(&values);
        // means 3.5 and 13.5, of all 8.5
        let expected = (0..16).map(|piece| Some(f64::from(piece / 2) - 3.5 + 8.5));
        assert_eq!(left, expected.chain([None]).collect::<Vec<_>>());
    }
}
