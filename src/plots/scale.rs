//! Axes: ranges that can always be drawn, their ticks, and where a value stands.

use crate::whole;
use crate::words::digits;

/// Values beyond this are drawn at the edge; their difference still is a number.
const LIMIT: f64 = 1e100;
/// A range narrower than this part of its values cannot be told from a point.
const NARROWEST: f64 = 1e-9;

/// A stretch of an axis. Always finite, and `low < high`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    low: f64,
    high: f64,
}

impl Range {
    /// Any two numbers make a range: reversed ones are turned, endless ones
    /// cut, a single point is given room on both sides.
    pub fn new(one: f64, other: f64) -> Range {
        let [one, other] = [one, other].map(|value| match value {
            value if value.is_nan() => 0.0,
            value => value.clamp(-LIMIT, LIMIT),
        });
        let (low, high) = (one.min(other), one.max(other));
        let size = low.abs().max(high.abs());
        if high - low > size * NARROWEST {
            return Range { low, high };
        }
        let room = if size == 0.0 { 1.0 } else { size * 0.05 };
        Range { low: low - room, high: high + room }
    }

    /// The smallest range that holds all finite values; 0 to 1 where there are none.
    pub fn covering(values: impl IntoIterator<Item = f64>) -> Range {
        let finite: Vec<f64> = values.into_iter().filter(|value| value.is_finite()).collect();
        let low = finite.iter().copied().fold(f64::INFINITY, f64::min);
        let high = finite.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if finite.is_empty() { Range { low: 0.0, high: 1.0 } } else { Range::new(low, high) }
    }

    /// The range made wider where a finite value lies outside.
    pub fn including(self, values: impl IntoIterator<Item = f64>) -> Range {
        Range::covering(values.into_iter().chain([self.low, self.high]))
    }

    /// Room at both ends, as a part of the width.
    pub fn padded(self, part: f64) -> Range {
        let room = (self.high - self.low) * part;
        Range { low: self.low - room, high: self.high + room }
    }

    pub fn low(self) -> f64 {
        self.low
    }

    pub fn high(self) -> f64 {
        self.high
    }

    pub fn holds(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// Round values inside the range, about `wanted` of them (from two to three times as many).
    pub fn ticks(self, wanted: usize) -> Ticks {
        let step = round_step((self.high - self.low) / wanted.max(1) as f64);
        let (first, last) = ((self.low / step).ceil(), (self.high / step).floor());
        let number = whole::part((last - first).clamp(0.0, 3.0 * wanted as f64));
        let values = (0..=number).map(|i| (first + i as f64) * step).collect();
        Ticks { values, decimals: whole::part((-step.log10().floor()).clamp(0.0, 8.0)) }
    }
}

/// 1, 2 or 5 times a power of ten, at least as large as asked.
fn round_step(rough: f64) -> f64 {
    let power = 10f64.powf(rough.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .map(|factor| factor * power)
        .into_iter()
        .find(|step| *step >= rough * 0.999)
        .unwrap_or(power * 10.0)
}

/// Tick values and the decimals that tell them apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    pub values: Vec<f64>,
    decimals: usize,
}

impl Ticks {
    pub fn label(&self, value: f64) -> String {
        digits::number(value, self.decimals)
    }

    pub fn signed_label(&self, value: f64) -> String {
        digits::signed(value, self.decimals)
    }
}

/// A range laid along a stretch of the picture.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    pub range: Range,
    /// Where the low and the high end stand.
    pub from: f64,
    pub to: f64,
}

impl Scale {
    /// Where a value stands; values outside stand at the edge, no number at the low end.
    pub fn at(&self, value: f64) -> f64 {
        let part = (value - self.range.low) / (self.range.high - self.range.low);
        let part = if part.is_nan() { 0.0 } else { part.clamp(0.0, 1.0) };
        self.from + part * (self.to - self.from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ticks_are_round_and_labelled_with_the_decimals_that_tell_them_apart() {
        let ticks = Range::new(0.12, 0.48).ticks(4);
        let labels: Vec<String> = ticks.values.iter().map(|v| ticks.label(*v)).collect();
        assert_eq!(labels, ["0.2", "0.3", "0.4"]);
    }

    #[test]
    fn a_range_of_one_point_has_room_on_both_sides() {
        let range = Range::covering([5.0, 5.0]);
        assert!(range.low() < 5.0 && range.high() > 5.0);
        assert_eq!(Range::covering([f64::NAN]), Range { low: 0.0, high: 1.0 });
    }

    proptest! {
        #[test]
        fn any_two_numbers_make_a_range_with_ticks_inside(one in any::<f64>(), other in any::<f64>()) {
            let range = Range::new(one, other);
            prop_assert!(range.low.is_finite() && range.low < range.high);
            let ticks = range.ticks(5);
            prop_assert!(ticks.values.len() <= 16);
            let scale = Scale { range, from: 10.0, to: 90.0 };
            for value in ticks.values.iter().copied().chain([one, other]) {
                prop_assert!((10.0..=90.0).contains(&scale.at(value)));
            }
        }
    }
}
