//! Run rules: patterns inside the limits that chance rarely makes.

use super::{Side, require_number, require_positive};
use crate::stats::error::{StatsError, require_finite};

/// One pattern of neighbouring readings. Distances are in standard deviations from the centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RunRule {
    /// `needed` of `window` readings, the last among them, more than `sigmas` from the centre on the same side.
    SameSide { needed: usize, window: usize, sigmas: f64 },
    /// `readings` in a row, each above the one before, or each below.
    Trend { readings: usize },
    /// `readings` in a row that go up and down in turn.
    Alternating { readings: usize },
    /// `readings` in a row no more than `sigmas` from the centre: suspiciously calm.
    Calm { readings: usize, sigmas: f64 },
    /// `readings` in a row more than `sigmas` from the centre, on either side.
    Scattered { readings: usize, sigmas: f64 },
}

const fn same_side(needed: usize, window: usize, sigmas: f64) -> RunRule {
    RunRule::SameSide { needed, window, sigmas }
}

/// The four zone rules of the Western Electric Statistical Quality Control Handbook (1956): one reading beyond 3 sigma, two of three beyond 2, four of five
/// beyond 1, eight in a row on one side. Together they alarm falsely about once in 92 normal readings (Champ & Woodall 1987, Technometrics 29, 393-399, from
/// memory), the first alone once in 370.
pub const WESTERN_ELECTRIC: [RunRule; 4] =
    [same_side(1, 1, 3.0), same_side(2, 3, 2.0), same_side(4, 5, 1.0), same_side(8, 8, 0.0)];

/// The eight tests of Nelson (1984, Journal of Quality Technology 16, 237-239), in his order.
pub const NELSON: [RunRule; 8] = [
    same_side(1, 1, 3.0),
    same_side(9, 9, 0.0),
    RunRule::Trend { readings: 6 },
    RunRule::Alternating { readings: 14 },
    same_side(2, 3, 2.0),
    same_side(4, 5, 1.0),
    RunRule::Calm { readings: 15, sigmas: 1.0 },
    RunRule::Scattered { readings: 8, sigmas: 1.0 },
];

/// Parts of sigma that are told apart.
const ON_THE_LINE: f64 = 1e9;

/// A pattern that was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunSignal {
    /// Place of the rule in the list that was asked.
    pub rule: usize,
    /// Place of the reading that completes the pattern, from 0.
    pub place: usize,
    /// On which side, or in which direction; none for a pattern without one.
    pub side: Option<Side>,
}

/// Where the rules signal, by reading and then by rule. A pattern that goes on signals at every reading. A reading exactly on a line is inside it; one that lies
/// off it by no more than a thousand-millionth of sigma is on it, so that no signal hangs on the unit of the readings.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` for a centre that is no number, a sigma that is not positive, or a rule of no readings, negative distance, or more needed
/// than its window holds.
pub fn run_signals(
    readings: &[f64],
    centre: f64,
    sigma: f64,
    rules: &[RunRule],
) -> Result<Vec<RunSignal>, StatsError> {
    require_finite("the readings", readings)?;
    require_number("the centre", centre)?;
    require_positive("the standard deviation of the readings", sigma)?;
    rules.iter().try_for_each(RunRule::check)?;
    let place = |reading: &f64| ((reading - centre) / sigma * ON_THE_LINE).round() / ON_THE_LINE;
    let scaled: Vec<f64> = readings.iter().map(place).collect();
    let mut signals: Vec<RunSignal> = Vec::new();
    for (number, rule) in rules.iter().enumerate() {
        let seen = rule.completed(&scaled).into_iter();
        signals.extend(seen.map(|(place, side)| RunSignal { rule: number, place, side }));
    }
    signals.sort_by_key(|signal| (signal.place, signal.rule));
    Ok(signals)
}

/// A reading that completes a pattern.
type Completed = (usize, Option<Side>);

impl RunRule {
    fn check(&self) -> Result<(), StatsError> {
        let (needed, window, sigmas) = match *self {
            Self::SameSide { needed, window, sigmas } => (needed, window, sigmas),
            Self::Trend { readings } | Self::Alternating { readings } => (readings, readings, 0.0),
            Self::Calm { readings, sigmas } | Self::Scattered { readings, sigmas } => {
                (readings, readings, sigmas)
            }
        };
        if needed >= 1 && needed <= window && sigmas >= 0.0 && sigmas.is_finite() {
            return Ok(());
        }
        Err(StatsError::OutOfRange {
            what: "a run rule".into(),
            value: if needed >= 1 && needed <= window { sigmas } else { needed as f64 },
            expected: "at least one reading, no more than the window, and a distance from 0".into(),
        })
    }

    fn completed(&self, scaled: &[f64]) -> Vec<Completed> {
        match *self {
            Self::SameSide { needed, window, sigmas } => {
                let above = of_window(scaled, needed, window, |z| z > sigmas);
                let below = of_window(scaled, needed, window, |z| z < -sigmas);
                let upper = above.into_iter().map(|place| (place, Some(Side::Above)));
                upper.chain(below.into_iter().map(|place| (place, Some(Side::Below)))).collect()
            }
            Self::Trend { readings } => steps(scaled, readings, false),
            Self::Alternating { readings } => {
                steps(scaled, readings, true).into_iter().map(|(place, _)| (place, None)).collect()
            }
            Self::Calm { readings, sigmas } => in_a_row(scaled, readings, |z| z.abs() <= sigmas),
            Self::Scattered { readings, sigmas } => {
                in_a_row(scaled, readings, |z| z.abs() > sigmas)
            }
        }
    }
}

/// Places where `needed` of the last `window` readings are in the zone, this one among them.
fn of_window(
    scaled: &[f64],
    needed: usize,
    window: usize,
    in_zone: impl Fn(f64) -> bool,
) -> Vec<usize> {
    let zone: Vec<usize> = scaled.iter().map(|&z| usize::from(in_zone(z))).collect();
    let mut held = 0;
    let mut places = Vec::new();
    for (place, &inside) in zone.iter().enumerate() {
        held += inside;
        // what entered `window` readings ago leaves; it was counted when it came
        held -= place.checked_sub(window).map_or(0, |old| zone[old]);
        if inside == 1 && held >= needed {
            places.push(place);
        }
    }
    places
}

fn in_a_row(scaled: &[f64], readings: usize, holds: impl Fn(f64) -> bool) -> Vec<Completed> {
    let places = of_window(scaled, readings, readings, holds);
    places.into_iter().map(|place| (place, None)).collect()
}

/// Places that end `readings` in a row whose steps all go one way, or turn each time. A step of zero breaks the row.
fn steps(scaled: &[f64], readings: usize, turning: bool) -> Vec<Completed> {
    let mut places = Vec::new();
    let mut length = 1;
    let mut last = None;
    for (place, pair) in scaled.windows(2).enumerate() {
        // windows(2) gives two readings each
        let side = beyond_last(pair[0], pair[1]);
        let goes_on = side.is_some() && last.is_some() && ((side == last) != turning);
        length = match side {
            None => 1,
            Some(_) if goes_on => length + 1,
            Some(_) => 2,
        };
        last = side;
        if length >= readings && side.is_some() {
            places.push((place + 1, side));
        }
    }
    places
}

fn beyond_last(before: f64, now: f64) -> Option<Side> {
    super::beyond(now, before, before)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(scaled: &[f64], rule: RunRule) -> Vec<usize> {
        let found = run_signals(scaled, 0.0, 1.0, &[rule]).unwrap();
        found.iter().map(|signal| signal.place).collect()
    }

    #[test]
    fn one_beyond_three_sigma_signals_on_its_side() {
        let found = run_signals(&[10.0, 13.5, 6.0], 10.0, 1.0, &WESTERN_ELECTRIC[..1]).unwrap();
        let side = |place, side| RunSignal { rule: 0, place, side: Some(side) };
        assert_eq!(found, [side(1, Side::Above), side(2, Side::Below)]);
    }

    #[test]
    fn two_of_three_count_on_one_side_only_and_end_with_the_second() {
        assert_eq!(places(&[2.5, 0.0, 2.1, 0.0], WESTERN_ELECTRIC[1]), [2]);
        assert!(places(&[2.5, 0.0, -2.1, 0.0, 0.0, -2.1], WESTERN_ELECTRIC[1]).is_empty());
        assert!(places(&[2.5, 0.0, 0.0, 2.1], WESTERN_ELECTRIC[1]).is_empty());
    }

    #[test]
    fn four_of_five_beyond_one_sigma() {
        assert_eq!(places(&[1.1, 1.2, 0.0, 1.3, 1.4, 0.0], WESTERN_ELECTRIC[2]), [4]);
    }

    #[test]
    fn eight_on_one_side_signal_and_a_reading_on_the_centre_breaks_them() {
        assert_eq!(places(&[0.1; 9], WESTERN_ELECTRIC[3]), [7, 8]);
        let mut broken = [0.1; 12];
        broken[6] = 0.0;
        assert!(places(&broken, WESTERN_ELECTRIC[3]).is_empty());
        assert_eq!(places(&[-0.1; 9], NELSON[1]), [8]);
    }

    /// 0.1 + 0.2 is not 0.3, and yet on the line.
    #[test]
    fn rounding_does_not_put_a_reading_off_the_centre() {
        let rule = [same_side(8, 8, 0.0)];
        let readings = [0.1 + 0.2; 8];
        assert_eq!(run_signals(&readings, 0.3, 0.1, &rule), Ok(Vec::new()));
    }

    #[test]
    fn six_rising_or_falling_readings_are_a_trend() {
        assert_eq!(places(&[0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.4], NELSON[2]), [5]);
        assert_eq!(places(&[0.5, 0.4, 0.3, 0.2, 0.1, 0.0], NELSON[2]), [5]);
        assert!(places(&[0.0, 0.1, 0.2, 0.2, 0.3, 0.4, 0.5], NELSON[2]).is_empty());
    }

    #[test]
    fn fourteen_in_turn_alternate() {
        let turns: Vec<f64> = (0..14).map(|i| f64::from(i % 2)).collect();
        assert_eq!(places(&turns, NELSON[3]), [13]);
        assert!(places(&turns[1..], NELSON[3]).is_empty());
    }

    #[test]
    fn fifteen_calm_and_eight_scattered_readings_signal() {
        assert_eq!(places(&[0.9; 15], NELSON[6]), [14]);
        let both: Vec<f64> = (0..8).map(|i| if i % 3 == 0 { 1.5 } else { -1.5 }).collect();
        assert_eq!(places(&both, NELSON[7]), [7]);
    }

    #[test]
    fn signals_come_by_reading_and_then_by_rule() {
        let found = run_signals(&[4.0, 4.0], 0.0, 1.0, &WESTERN_ELECTRIC).unwrap();
        let order: Vec<(usize, usize)> = found.iter().map(|s| (s.place, s.rule)).collect();
        assert_eq!(order, [(0, 0), (1, 0), (1, 1)]);
    }

    #[test]
    fn a_series_shorter_than_every_window_says_nothing() {
        assert!(run_signals(&[0.5], 0.0, 1.0, &NELSON).unwrap().is_empty());
    }

    #[test]
    fn nonsense_is_refused() {
        let asked = |sigma, rule| run_signals(&[1.0, 2.0], 0.0, sigma, &[rule]);
        assert!(matches!(asked(0.0, NELSON[0]), Err(StatsError::OutOfRange { .. })));
        assert!(asked(f64::NAN, NELSON[0]).is_err());
        assert!(asked(1.0, same_side(3, 2, 1.0)).is_err());
        assert!(asked(1.0, RunRule::Trend { readings: 0 }).is_err());
        assert!(asked(1.0, RunRule::Calm { readings: 3, sigmas: f64::NAN }).is_err());
        assert!(run_signals(&[], 0.0, 1.0, &NELSON).is_err());
        assert!(run_signals(&[f64::NAN], 0.0, 1.0, &NELSON).is_err());
    }
}
