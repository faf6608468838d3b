//! Select: the present practice, the values to hold against it, and how many pieces speak for each.

use std::collections::{BTreeMap, BTreeSet};

use super::super::factors::at_values::{Reeds, Value};
use super::super::present::{LastDays, commonest, middle, recent};
use crate::finding::{CandidateResult, PracticeValue};
use crate::stats::numeric::{inter_quartile_range, quantile};
use crate::study::{Factor, Study};
use crate::whole;

/// So many candidates where the study file names none.
const FEWEST_ROUND: usize = 3;
const MOST_ROUND: usize = 6;
/// Round numbers are looked for between these quantiles.
const MIDDLE: [f64; 2] = [0.1, 0.9];
/// With fewer pieces or lots a candidate is thin.
const FEWEST_PIECES: usize = 5;
const FEWEST_LOTS: usize = 3;
/// More kinds of a choice are not compared.
const MOST_KINDS: usize = 12;

/// How many pieces lie nearer to a candidate than to any other, and in how many lots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Support {
    pub pieces: usize,
    pub lots: usize,
    pub thin: bool,
}

/// What a maker does now, and could do.
pub(super) struct Practice {
    pub values: Vec<Value>,
    /// Place of the present practice among them.
    pub present: usize,
    pub support: Vec<Support>,
    /// Candidates of the study file that the log never saw, as they are written there.
    pub not_seen: Vec<String>,
    /// Names of a choice's kinds.
    pub kinds: Vec<String>,
    /// The smallest and the largest value of a number.
    pub range: Option<[f64; 2]>,
    pub pace: Option<Pace>,
}

/// How fast pieces are started.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pace {
    /// Days that count as the present.
    pub days: u32,
    pub pieces: usize,
}

impl Pace {
    fn of(days: &[Option<i32>], last: LastDays) -> Self {
        let pieces = days.iter().filter(|day| last.holds(**day)).count();
        Self { days: last.days, pieces }
    }

    pub fn a_day(self) -> f64 {
        self.pieces as f64 / f64::from(self.days)
    }

    /// How many pieces lie waiting when each waits so long: `L = lambda W` (Little 1961, Operations Research 9, 383-387).
    pub fn waiting(self, days: f64) -> f64 {
        self.a_day() * days
    }
}

/// The present practice and the candidates; none where no piece has the factor.
pub(super) fn practice(
    study: &Study,
    reeds: &Reeds,
    at: usize,
    factor: &Factor,
) -> Option<Practice> {
    let (cells, kinds) = reeds.values(at);
    let days = study.making_days();
    let last = LastDays::of(days, study.settings().window);
    let all: Vec<Value> = cells.iter().flatten().copied().collect();
    let now = recent(&cells, days, last);
    let asked = study.settings().candidates.get(&factor.name);
    let mut practice = if kinds.is_empty() {
        of_number(&numbers(&all), numbers(&now), asked, factor)?
    } else {
        of_kinds(&all, commonest(codes(&now))?, asked, kinds)
    };
    practice.support = support(&practice.values, &cells, reeds);
    practice.pace = last.map(|last| Pace::of(days, last));
    Some(practice)
}

fn numbers(values: &[Value]) -> Vec<f64> {
    let number = |value: &Value| match value {
        Value::Number(number) => Some(*number),
        Value::Kind(_) => None,
    };
    values.iter().filter_map(number).collect()
}

fn codes(values: &[Value]) -> impl Iterator<Item = u32> {
    values.iter().filter_map(|value| match value {
        Value::Kind(code) => Some(*code),
        Value::Number(_) => None,
    })
}

fn of_number(
    all: &[f64],
    now: Vec<f64>,
    asked: Option<&Vec<String>>,
    factor: &Factor,
) -> Option<Practice> {
    let range = [quantile(all, 0.0).ok()?, quantile(all, 1.0).ok()?];
    let (mut values, mut not_seen) = (Vec::new(), Vec::new());
    match asked.filter(|asked| !asked.is_empty()) {
        Some(asked) => {
            for text in asked {
                let value = text.trim().parse::<f64>().ok().filter(|value| value.is_finite());
                match value.filter(|value| (range[0]..=range[1]).contains(value)) {
                    Some(value) => values.push(value),
                    None => not_seen.push(value_or_text(text)),
                }
            }
        }
        None => values = round_numbers(all),
    }
    let step = factor.step.or_else(|| inter_quartile_range(all).ok()).unwrap_or(0.0);
    let present = middle(now, &values, step)?;
    values.push(present);
    values.sort_by(f64::total_cmp);
    values.dedup();
    let place = values.iter().position(|value| *value == present)?;
    Some(Practice {
        values: values.into_iter().map(Value::Number).collect(),
        present: place,
        support: Vec::new(),
        not_seen,
        kinds: Vec::new(),
        range: Some(range),
        pace: None,
    })
}

/// A number as one writes it, without the digits that a file's format may add.
fn value_or_text(text: &str) -> String {
    text.trim().parse::<f64>().map_or_else(|_| text.to_owned(), crate::words::given::given)
}

fn of_kinds(
    all: &[Value],
    present: u32,
    asked: Option<&Vec<String>>,
    kinds: Vec<String>,
) -> Practice {
    let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
    for value in all {
        if let Value::Kind(code) = value {
            *counts.entry(*code).or_default() += 1;
        }
    }
    let named =
        |text: &String| kinds.iter().position(|kind| kind.trim().eq_ignore_ascii_case(text.trim()));
    let (mut codes, mut not_seen) = (BTreeSet::new(), Vec::new());
    match asked.filter(|asked| !asked.is_empty()) {
        Some(asked) => {
            for text in asked {
                match named(text).map(whole::code).filter(|code| counts.contains_key(code)) {
                    Some(code) => {
                        codes.insert(code);
                    }
                    None => not_seen.push(text.clone()),
                }
            }
        }
        None => {
            let mut order: Vec<u32> = counts.keys().copied().collect();
            order.sort_by_key(|code| std::cmp::Reverse(counts[code]));
            codes.extend(order.into_iter().take(MOST_KINDS));
        }
    }
    codes.insert(present);
    // the present one was just put in
    let place = codes.iter().position(|code| *code == present).unwrap_or(0);
    Practice {
        values: codes.into_iter().map(Value::Kind).collect(),
        present: place,
        support: Vec::new(),
        not_seen,
        kinds,
        range: None,
        pace: None,
    }
}

/// Each value where there are few, else multiples of 1, 2 or 5 times a power of ten inside the middle four fifths of the pieces: the coarsest of which there
/// are three.
fn round_numbers(all: &[f64]) -> Vec<f64> {
    let mut different = all.to_vec();
    different.sort_by(f64::total_cmp);
    different.dedup();
    if different.len() <= MOST_ROUND {
        return different;
    }
    let [Ok(low), Ok(high)] = MIDDLE.map(|share| quantile(all, share)) else { return Vec::new() };
    let (low, high) =
        if high > low { (low, high) } else { (different[0], different[different.len() - 1]) }; // over six values
    let power = whole::small((high - low).log10().floor());
    let units =
        (power - 2..=power + 1).rev().flat_map(|power| [5.0, 2.0, 1.0].map(|by| (by, power)));
    for (by, power) in units {
        let found = multiples(by, power, low, high);
        if found.len() >= FEWEST_ROUND {
            let every = found.len().div_ceil(MOST_ROUND);
            return found.into_iter().step_by(every).collect();
        }
    }
    different
}

/// Written as a quotient where the power is below one, so that 0.3 is 0.3.
fn multiples(by: f64, power: i32, low: f64, high: f64) -> Vec<f64> {
    let scale = 10f64.powi(power.abs());
    let unit = if power < 0 { by / scale } else { by * scale };
    let (first, last) =
        (whole::signed((low / unit - 1e-9).ceil()), whole::signed((high / unit + 1e-9).floor()));
    let number = |times: i64| {
        let whole = times as f64 * by;
        if power < 0 { whole / scale } else { whole * scale }
    };
    (first..=last.min(first + 50)).map(number).collect()
}

/// Each piece speaks for the nearest candidate, the lower one on a tie, and for none where it lies further beyond the last one than half the way to the next.
fn support(values: &[Value], cells: &[Option<Value>], reeds: &Reeds) -> Vec<Support> {
    let mut pieces = vec![0; values.len()];
    let mut lots = vec![BTreeSet::new(); values.len()];
    let numbers = numbers(values);
    let place = |cell: Value| match cell {
        Value::Number(cell) => nearest(&numbers, cell),
        Value::Kind(_) => values.iter().position(|value| *value == cell),
    };
    for (cell, lot) in cells.iter().zip(reeds.lots()) {
        let Some(place) = cell.and_then(place) else { continue };
        pieces[place] += 1;
        lots[place].extend(*lot);
    }
    let of = |(pieces, lots): (usize, BTreeSet<u32>)| Support {
        pieces,
        lots: lots.len(),
        thin: pieces < FEWEST_PIECES || (reeds.has_lots && lots.len() < FEWEST_LOTS),
    };
    pieces.into_iter().zip(lots).map(of).collect()
}

/// The place of each piece's nearest candidate.
pub(super) fn nearest_places(
    study: &Study,
    factor: &str,
    candidates: &[CandidateResult],
) -> Vec<Option<usize>> {
    let kinds: Vec<&String> = candidates
        .iter()
        .filter_map(|one| match &one.value {
            PracticeValue::Kind(kind) => Some(kind),
            PracticeValue::Number(_) => None,
        })
        .collect();
    if !kinds.is_empty() {
        let place = |cell: &str| kinds.iter().position(|kind| *kind == cell);
        return study.words(factor).into_iter().map(|cell| cell.and_then(place)).collect();
    }
    let numbers: Vec<f64> = candidates
        .iter()
        .filter_map(|one| match one.value {
            PracticeValue::Number(number) => Some(number),
            PracticeValue::Kind(_) => None,
        })
        .collect();
    let place = |cell: f64| nearest(&numbers, cell);
    study.numbers(factor).iter().map(|cell| cell.and_then(place)).collect()
}

fn nearest(numbers: &[f64], cell: f64) -> Option<usize> {
    let place = (0..numbers.len())
        .min_by(|&a, &b| (numbers[a] - cell).abs().total_cmp(&(numbers[b] - cell).abs()))?;
    let gaps = numbers.windows(2).map(|pair| pair[1] - pair[0]);
    let reach = match (cell < numbers[0], cell > numbers[numbers.len() - 1]) {
        (true, _) => gaps.clone().next(),
        (_, true) => gaps.clone().next_back(),
        _ => None,
    };
    let is_near = reach.is_none_or(|gap| (numbers[place] - cell).abs() <= gap / 2.0);
    is_near.then_some(place)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_pieces_a_week_that_wait_three_weeks_are_nine_on_the_rack() {
        // 12 pieces in 28 days, the first on day 1 and the last on day 28
        let days: Vec<Option<i32>> = [1, 1, 1, 8, 8, 8, 15, 15, 15, 28, 28, 28].map(Some).to_vec();
        let pace = |window| Pace::of(&days, LastDays::of(&days, window).unwrap());
        assert_eq!(pace(90), Pace { days: 28, pieces: 12 });
        assert!((pace(90).waiting(21.0) - 9.0).abs() < 1e-12);
        // the last week alone holds three
        assert_eq!(pace(7), Pace { days: 7, pieces: 3 });
    }

    #[test]
    fn candidates_are_round_and_as_few_as_three_where_that_will_do() {
        let days: Vec<f64> = (0..=100).map(|day| 5.0 + 0.3 * f64::from(day)).collect();
        // the middle four fifths of 5 to 35 are 8 to 32
        assert_eq!(round_numbers(&days), [10.0, 20.0, 30.0]);
        let gouge: Vec<f64> = (0..=40).map(|step| 1.2 + 0.005 * f64::from(step)).collect();
        assert_eq!(round_numbers(&gouge), [1.25, 1.3, 1.35]);
        assert_eq!(round_numbers(&[7.0, 14.0, 7.0]), [7.0, 14.0]);
    }

    #[test]
    fn a_piece_speaks_for_the_nearest_candidate_and_far_outside_for_none() {
        let at = |days| nearest(&[10.0, 20.0, 40.0], days);
        assert_eq!(at(14.0), Some(0));
        assert_eq!(at(15.0), Some(0), "half way");
        assert_eq!(at(16.0), Some(1));
        assert_eq!(at(5.0), Some(0));
        assert_eq!(at(4.0), None);
        assert_eq!(at(50.0), Some(2));
        assert_eq!(at(51.0), None);
    }
}
