//! Several makers in one log: what each does most is taken out, so that a change in who made the pieces is not taken for a change in how they are made.

use crate::questions::scores::centred_within;
use crate::study::Study;

/// Code of each piece's maker; a piece without a name is one more maker's.
pub(super) struct Makers {
    codes: Vec<usize>,
}

impl Makers {
    /// None where all pieces are one maker's.
    pub fn of(study: &Study) -> Option<Self> {
        let labels = study.labels("maker");
        let nameless = labels.levels.len();
        let codes: Vec<usize> =
            labels.codes.iter().map(|code| code.map_or(nameless, |code| code as usize)).collect();
        let is_several = codes.iter().any(|code| Some(code) != codes.first());
        is_several.then_some(Self { codes })
    }

    /// Values less the mean of their maker, about the mean of all.
    pub fn taken_out(&self, values: &[Option<f64>]) -> Vec<Option<f64>> {
        let known: Vec<(f64, usize)> = values
            .iter()
            .zip(&self.codes)
            .filter_map(|(value, maker)| Some(((*value)?, *maker)))
            .collect();
        let (numbers, makers): (Vec<f64>, Vec<usize>) = known.into_iter().unzip();
        let centre = numbers.iter().sum::<f64>() / numbers.len().max(1) as f64;
        let mut left = centred_within(&numbers, &makers).into_iter();
        let of_piece = |value: &Option<f64>| value.and_then(|_| Some(centre + left.next()?));
        values.iter().map(of_piece).collect()
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
        let makers = Makers { codes: vec![0, 1, 0, 1, 1] };
        let values = [Some(10.0), Some(20.0), Some(12.0), None, Some(24.0)];
        // means 11 and 22, of all 16.5
        let left = makers.taken_out(&values);
        assert_eq!(left, [Some(15.5), Some(14.5), Some(17.5), None, Some(18.5)]);
    }
}
