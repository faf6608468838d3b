//! The scale of the ratings, found from them where the study file does not say it.

use super::scores::Score;
use crate::study::Better;

/// Scales that people use, from the shortest; the first that holds all scores is taken.
const COMMON_SCALES: [[f64; 2]; 5] =
    [[1.0, 5.0], [1.0, 10.0], [0.0, 10.0], [0.0, 20.0], [0.0, 100.0]];

/// How many of them are short enough that one mark more is no slip.
const SHORT: usize = 3;

/// School marks where 1 is best and 6 worst (common practice).
const MARK_SCALES: [[f64; 2]; 1] = [[1.0, 6.0]];

/// Fewest other ratings from which one can stand apart.
const FEWEST_OTHERS: usize = 5;

/// The scale, and what its finding showed.
pub(super) struct Found {
    pub scale: [f64; 2],
    /// Whether the ratings say the scale's top themselves: `7/10`.
    pub stated: bool,
    pub alone: Option<Alone>,
    /// Lowest and highest, where all are whole numbers from 1 to 5 or 6: nothing says which end is best.
    pub like_school_marks: Option<[f64; 2]>,
}

/// A rating that alone makes the scale longer than all others do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Alone {
    /// Its place among the scores.
    pub at: usize,
    pub without: [f64; 2],
    pub with: [f64; 2],
    /// Whether the longer scale is so much longer that the rating is a slip; then the shorter stands.
    pub beyond: bool,
}

/// Finds the scale of some scores; `words` is the number of words that the study file ranks.
pub(super) fn find(scores: &[&Score], words: usize, best: Better) -> Found {
    let bare: Vec<(usize, f64)> = scores
        .iter()
        .enumerate()
        .filter(|(_, score)| score.out_of.is_nan())
        .map(|(at, score)| (at, score.score))
        .collect();
    let plain = |scale| Found { scale, stated: false, alone: None, like_school_marks: None };
    if let Some(top) = top(scores, &bare) {
        let low = scores.iter().map(|score| score.score).fold(f64::INFINITY, f64::min);
        let worst = if low < 1.0 { low.min(0.0) } else { 1.0 };
        return Found { stated: true, ..plain([worst, top]) };
    }
    if scores.iter().any(|score| score.ranked) && words > 1 {
        let (low, high) = ends(bare.iter().map(|(_, value)| *value));
        return plain([low.min(1.0), high.max(words as f64)]);
    }
    let alone = alone(&bare, best);
    let beyond = alone.filter(|alone| alone.beyond);
    let rest = bare
        .iter()
        .filter(|(at, _)| beyond.is_none_or(|alone| alone.at != *at))
        .map(|(_, value)| *value);
    let like_school_marks = Some(ends(rest.clone())).filter(|&(low, high)| {
        // of none the lowest is above the highest
        low >= 1.0 && low <= high && high <= 6.0 && rest.clone().all(|value| value.fract() == 0.0)
    });
    Found {
        alone,
        like_school_marks: like_school_marks.map(|(low, high)| [low, high]),
        ..plain(common(rest, best))
    }
}

/// What most ratings that say so are out of; of equals the one that holds the bare numbers, then the larger.
fn top(scores: &[&Score], bare: &[(usize, f64)]) -> Option<f64> {
    let mut counts: Vec<(f64, usize)> = Vec::new();
    for top in scores.iter().map(|score| score.out_of).filter(|top| !top.is_nan()) {
        match counts.iter_mut().find(|(other, _)| *other == top) {
            Some((_, count)) => *count += 1,
            None => counts.push((top, 1)),
        }
    }
    let holds = |top: f64| bare.iter().filter(|(_, value)| *value <= top).count();
    let larger = |one: &(f64, usize), other: &(f64, usize)| {
        let one_key = (one.1, holds(one.0));
        one_key.cmp(&(other.1, holds(other.0))).then(one.0.total_cmp(&other.0))
    };
    counts.into_iter().max_by(larger).map(|(top, _)| top)
}

/// The lowest and the highest; of none an infinite lowest, above the highest.
fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let none = (f64::INFINITY, f64::NEG_INFINITY);
    values.fold(none, |(low, high), value| (low.min(value), high.max(value)))
}

/// The shortest usual scale that holds the values.
fn common(values: impl Iterator<Item = f64>, best: Better) -> [f64; 2] {
    let (low, high) = ends(values);
    if low > high {
        return COMMON_SCALES[1];
    }
    let scales: &[[f64; 2]] = if best == Better::Lower { &MARK_SCALES } else { &COMMON_SCALES };
    match scales.iter().find(|[bottom, top]| low >= *bottom && high <= *top) {
        Some(scale) => *scale,
        None if low < high => [low, high],
        // one value beyond every common scale
        None => [low - 1.0, low + 1.0],
    }
}

/// The one rating at an end without which the scale would be shorter.
fn alone(bare: &[(usize, f64)], best: Better) -> Option<Alone> {
    if bare.len() <= FEWEST_OTHERS {
        return None;
    }
    let values = bare.iter().map(|(_, value)| *value);
    let with = common(values.clone(), best);
    let (low, high) = ends(values.clone());
    [high, low].into_iter().find_map(|end| {
        let (at, _) = bare.iter().find(|(_, value)| *value == end)?;
        let rest = values.clone().filter(|value| *value != end);
        let single = rest.clone().count() + 1 == bare.len();
        let without = common(rest, best);
        let beyond = !COMMON_SCALES.iter().take(SHORT).any(|scale| *scale == with);
        (single && without != with).then_some(Alone { at: *at, without, with, beyond })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::scores::Origin;

    fn found(values: &[(f64, Option<f64>)]) -> Found {
        let origin = Origin { sheet: 0, column: 0, row: 0 };
        let score = |&(score, out_of): &(f64, Option<f64>)| Score {
            piece: 0,
            player: 0,
            setting: 0,
            day: None,
            criterion: 0,
            score,
            out_of: out_of.unwrap_or(f64::NAN),
            ranked: false,
            origin,
        };
        let scores: Vec<Score> = values.iter().map(score).collect();
        find(&scores.iter().collect::<Vec<_>>(), 0, Better::Higher)
    }

    fn of_bare(values: &[f64]) -> Found {
        found(&values.iter().map(|value| (*value, None)).collect::<Vec<_>>())
    }

    #[test]
    fn the_shortest_usual_scale_that_holds_all_is_taken() {
        let cases = [
            (&[3.0, 5.0][..], [1.0, 5.0]),
            (&[3.0, 7.5], [1.0, 10.0]),
            (&[0.0, 7.0], [0.0, 10.0]),
            (&[55.0, 60.0], [0.0, 100.0]),
        ];
        for (values, scale) in cases {
            assert_eq!(of_bare(values).scale, scale, "{values:?}");
        }
        assert_eq!(of_bare(&[]).scale, [1.0, 10.0], "nothing is no sign of a short scale");
    }

    #[test]
    fn the_order_of_fractions_does_not_matter_and_the_commonest_top_stands() {
        let mixed = [(3.5, Some(5.0)), (8.0, None), (7.0, Some(10.0)), (6.0, Some(10.0))];
        for turn in 0..mixed.len() {
            let mut turned = mixed;
            turned.rotate_left(turn);
            assert_eq!(found(&turned).scale, [1.0, 10.0]);
        }
        let equal = [(3.5, Some(5.0)), (8.0, None), (7.0, Some(10.0))];
        assert_eq!(found(&equal).scale, [1.0, 10.0], "it holds the 8");
    }

    #[test]
    fn one_rating_far_beyond_the_others_does_not_make_the_scale() {
        let found = of_bare(&[4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 11.0]);
        assert_eq!(found.scale, [1.0, 10.0]);
        let alone = found.alone.expect("the 11");
        assert_eq!((alone.at, alone.with, alone.beyond), (6, [0.0, 20.0], true));
    }

    #[test]
    fn one_high_mark_on_a_short_scale_is_pointed_out_and_stands() {
        let found = of_bare(&[3.0, 4.0, 3.0, 5.0, 4.0, 8.0]);
        assert_eq!(found.scale, [1.0, 10.0]);
        assert!(found.alone.is_some_and(|alone| !alone.beyond && alone.at == 5));
    }

    #[test]
    fn two_ratings_do_not_stand_alone_and_few_cannot_be_beside_many() {
        let two = of_bare(&[4.0, 5.0, 6.0, 7.0, 8.0, 11.0, 11.0]);
        assert!(two.alone.is_none());
        assert!(of_bare(&[4.0, 5.0, 11.0]).alone.is_none());
    }

    #[test]
    fn whole_numbers_from_one_to_six_may_be_school_marks() {
        let marks = |values: &[f64]| of_bare(values).like_school_marks;
        assert_eq!(marks(&[1.0, 2.0, 6.0]), Some([1.0, 6.0]));
        assert_eq!(marks(&[1.0, 2.5, 4.0]), None);
        assert_eq!(marks(&[1.0, 2.0, 7.0]), None);
        assert_eq!(marks(&[]), None);
    }
}
