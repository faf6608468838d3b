//! Every factor as columns of one table, for the questions that are asked of all factors together.

use std::collections::BTreeMap;

use super::sample::{Cells, Columns, FEWEST_IN_LEVEL, MOST_MISSING};
use crate::stats::design::Design;

/// From this share of empty cells on, that a cell is empty is a column of its own.
const FLAGGED_FROM: f64 = 0.05;

/// The factors that are known for most reeds, one row a reed.
pub(in crate::questions) struct Measured {
    pub design: Design,
    /// Position in [`Columns::factors`] of each column of the design.
    pub factor: Vec<usize>,
    /// What each column of the design holds.
    holds: Vec<Holds>,
    /// The kinds of a choice that are told apart, the commonest first, by its position.
    kinds: BTreeMap<usize, Vec<u32>>,
}

/// What a column of the design holds of its factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Holds {
    Value,
    Level(u32),
    IsEmpty,
}

impl Measured {
    /// Numbers stand as they are, choices as a 0/1 column for every level but the commonest. The empty cells of a number are filled by the mean of the
    /// reeds that are held out at another time (`part`), so that a reed is foretold from a filling that has not seen its own part; those of a choice
    /// count as the commonest level. None where no factor is known for enough reeds.
    pub fn of(columns: &Columns, pieces: &[usize], part: &[usize]) -> Option<Self> {
        let (mut builder, mut factor) = (Design::builder(pieces.len()), Vec::new());
        let (mut holds, mut kinds) = (Vec::new(), BTreeMap::new());
        for (at, (_, cells)) in columns.factors.iter().enumerate() {
            for (held, column) in columns_of(cells, pieces, part) {
                builder = builder.number(&factor.len().to_string(), &column);
                factor.push(at);
                holds.push(held);
            }
            if let Cells::Choice(codes, _) = cells {
                kinds.insert(at, told_apart(pieces.iter().filter_map(|&piece| codes[piece])));
            }
        }
        Some(Self { design: builder.build().ok()?, factor, holds, kinds })
    }

    /// Positions in [`Columns::factors`] of those that have columns and that this piece has a cell of, a kind that was seen before among choices.
    pub fn known(&self, columns: &Columns, piece: usize) -> Vec<usize> {
        let mut factors = self.factor.clone();
        factors.dedup();
        factors.retain(|at| match &columns.factors[*at].1 {
            Cells::Number(values) => values[piece].is_some(),
            Cells::Choice(codes, _) => {
                codes[piece].is_some_and(|code| self.kinds[at].contains(&code))
            }
        });
        factors
    }

    /// Places in the design of the columns of these factors.
    pub fn places(&self, factors: &[usize]) -> Vec<usize> {
        (0..self.factor.len()).filter(|&place| factors.contains(&self.factor[place])).collect()
    }

    /// The row of a piece in these places of the design; its cells there must be known.
    pub fn row(&self, columns: &Columns, places: &[usize], piece: usize) -> Vec<f64> {
        let cell =
            |&place: &usize| match (self.holds[place], &columns.factors[self.factor[place]].1) {
                (Holds::Value, Cells::Number(values)) => values[piece].unwrap_or(f64::NAN),
                (Holds::Level(level), Cells::Choice(codes, _)) => {
                    f64::from(u8::from(codes[piece] == Some(level)))
                }
                // a known cell is not empty
                _ => 0.0,
            };
        places.iter().map(cell).collect()
    }

    /// How many factors have columns; those of one stand together.
    pub fn factors(&self) -> usize {
        let mut factors = self.factor.clone();
        factors.dedup();
        factors.len()
    }
}

fn columns_of(cells: &Cells, pieces: &[usize], part: &[usize]) -> Vec<(Holds, Vec<f64>)> {
    let empty: Vec<f64> =
        pieces.iter().map(|&piece| f64::from(u8::from(!cells.present(piece)))).collect();
    let share = empty.iter().sum::<f64>() / pieces.len().max(1) as f64;
    if share > MOST_MISSING {
        return Vec::new();
    }
    let mut found = match cells {
        Cells::Number(values) => {
            let values: Vec<Option<f64>> = pieces.iter().map(|&piece| values[piece]).collect();
            vec![(Holds::Value, filled(&values, part))]
        }
        Cells::Choice(codes, _) => {
            levels(&pieces.iter().map(|&piece| codes[piece]).collect::<Vec<_>>())
        }
    };
    if share > FLAGGED_FROM {
        found.push((Holds::IsEmpty, empty));
    }
    found
}

/// Values with the mean of the other parts where they are empty; the mean of all where no other part has any.
fn filled(values: &[Option<f64>], part: &[usize]) -> Vec<f64> {
    let mut sums: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    let mut all = (0.0, 0.0);
    for (value, part) in values.iter().zip(part) {
        let Some(value) = value else { continue };
        let sum = sums.entry(*part).or_default();
        *sum = (sum.0 + value, sum.1 + 1.0);
        all = (all.0 + value, all.1 + 1.0);
    }
    let mean_of_others = |part: &usize| {
        let own = sums.get(part).copied().unwrap_or_default();
        let (sum, count) = if all.1 > own.1 { (all.0 - own.0, all.1 - own.1) } else { all };
        if count > 0.0 { sum / count } else { 0.0 }
    };
    let cell =
        |(value, part): (&Option<f64>, &usize)| value.unwrap_or_else(|| mean_of_others(part));
    values.iter().zip(part).map(cell).collect()
}

/// One 0/1 column for every level with three reeds or more but the commonest (the first by name on a tie).
fn levels(codes: &[Option<u32>]) -> Vec<(Holds, Vec<f64>)> {
    let column =
        |level: u32| codes.iter().map(|code| f64::from(u8::from(*code == Some(level)))).collect();
    let kinds = told_apart(codes.iter().flatten().copied());
    let mut others: Vec<u32> = kinds.into_iter().skip(1).collect();
    others.sort_unstable();
    others.into_iter().map(|level| (Holds::Level(level), column(level))).collect()
}

/// The commonest kind (the first by name on a tie), then those with three reeds or more.
fn told_apart(codes: impl Iterator<Item = u32>) -> Vec<u32> {
    let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
    codes.for_each(|code| *counts.entry(code).or_default() += 1);
    let commonest = counts.iter().max_by_key(|(code, count)| (**count, std::cmp::Reverse(**code)));
    let Some(commonest) = commonest.map(|(code, _)| *code) else { return Vec::new() };
    let often =
        counts.iter().filter(|(_, count)| **count >= FEWEST_IN_LEVEL).map(|(code, _)| *code);
    std::iter::once(commonest).chain(often.filter(|code| *code != commonest)).collect()
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;

    #[test]
    fn an_empty_cell_is_filled_by_the_mean_of_the_other_lots() {
        // lot 0 has 1 and 3, lot 1 has 8 and a gap: the gap is filled by 2, as one who had not seen lot 1 would
        let values = [Some(1.0), Some(3.0), Some(8.0), None];
        assert_eq!(filled(&values, &[0, 0, 1, 1]), [1.0, 3.0, 8.0, 2.0]);
    }

    #[test]
    fn a_gap_where_no_other_lot_was_measured_is_filled_by_its_own_lot() {
        assert_eq!(filled(&[Some(4.0), None, None], &[0, 0, 1]), [4.0, 4.0, 4.0]);
        assert_eq!(filled(&[None, None], &[0, 1]), [0.0, 0.0]);
    }

    #[test]
    fn many_empty_cells_are_a_column_of_their_own_and_too_many_leave_the_factor_out() {
        let pieces: Vec<usize> = (0..10).collect();
        let known = |gaps: usize| {
            let value = |piece| (piece >= gaps).then_some(piece as f64);
            Cells::Number(Arc::new(pieces.iter().map(|&piece| value(piece)).collect()))
        };
        let width = |gaps| columns_of(&known(gaps), &pieces, &pieces).len();
        assert_eq!([width(0), width(1), width(4), width(5)], [1, 2, 2, 0]);
    }

    #[test]
    fn a_choice_is_a_column_for_each_level_but_the_commonest_and_the_rare_ones() {
        let codes: Vec<Option<u32>> =
            [0, 0, 0, 1, 1, 1, 1, 2].into_iter().map(Some).chain([None]).collect();
        assert_eq!(
            levels(&codes),
            [(Holds::Level(0), vec![1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])]
        );
    }
}
