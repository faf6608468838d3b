//! The nearest distribution with a single mode.

use crate::stats::numeric::quantile_of_sorted;

/// Places at which the mode is tried.
const MODES: usize = 40;
/// Values nearer than this share of the range are one value.
const SAME: f64 = 1e-9;

/// The distribution with one mode that lies nearest to a sample: its distribution function is convex up to the mode and concave beyond it, so that skewness and
/// heavy tails stay as they are and only what lies between two modes is filled up (the greatest convex minorant and the least concave majorant of Hartigan &
/// Hartigan 1985, Annals of Statistics 13, 70-84). The mode is the one of 40 quantiles at which the largest distance to the sample's own
/// distribution function is least.
///
/// A sample of rounded values, in which most values occur several times, is spread evenly over the step of its rounding first; its quantiles are rounded again.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Unimodal {
    /// Corners of the distribution function, rising.
    values: Vec<f64>,
    shares: Vec<f64>,
    /// Largest distance between the two distribution functions, 0 to 1: large where the sample falls into clumps.
    pub distance: f64,
    rounding: Option<Rounding>,
}

/// The grid of a rounded sample.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Rounding {
    first: f64,
    step: f64,
}

impl Unimodal {
    /// Of at least one finite value.
    pub fn nearest(sample: &[f64]) -> Self {
        let mut values = sample.to_vec();
        values.sort_by(f64::total_cmp);
        let rounding = Rounding::of(&values);
        if let Some(rounding) = rounding {
            rounding.spread(&mut values);
        }
        let size = values.len();
        let shares: Vec<f64> = (0..size).map(|rank| (rank as f64 + 0.5) / size as f64).collect();
        let tried = MODES.min(size);
        let modes: Vec<usize> =
            (0..tried).map(|place| (2 * place + 1) * size / (2 * tried)).collect();
        let apart = |corners: &[usize]| farthest(&values, &shares, corners);
        let before = |mode: usize| apart(&hull(&values, &shares, 0..mode + 1, 1.0));
        let after = |mode: usize| apart(&hull(&values, &shares, mode..size, -1.0));
        // the further the mode, the more must be bent before it and the less after it: the best lies where the two meet
        let meeting = modes.partition_point(|&mode| before(mode) < after(mode));
        // where a mode further to the left leaves no more to bend, that one stands
        let left = meeting.checked_sub(1).map(|last| {
            let least = after(modes[last]);
            modes[..last].partition_point(|&mode| after(mode) > least)
        });
        let (mut corners, mut distance) = (vec![0], f64::INFINITY);
        for &mode in left.into_iter().chain([meeting]).filter_map(|place| modes.get(place)) {
            let found = bent(&values, &shares, mode);
            let here = apart(&found);
            if here < distance {
                (corners, distance) = (found, here);
            }
        }
        Self {
            values: corners.iter().map(|&corner| values[corner]).collect(),
            shares: corners.iter().map(|&corner| shares[corner]).collect(),
            distance,
            rounding,
        }
    }

    /// The value below which a share lies.
    pub fn quantile(&self, share: f64) -> f64 {
        let above = self.shares.partition_point(|&corner| corner < share);
        let value = match (above.checked_sub(1), self.values.get(above)) {
            (None, _) => self.values[0], // there is one
            (Some(below), None) => self.values[below],
            (Some(below), Some(&high)) => {
                let (low, from, to) = (self.values[below], self.shares[below], self.shares[above]);
                low + (high - low) * (share - from) / (to - from)
            }
        };
        self.rounding.map_or(value, |rounding| rounding.nearest(value))
    }
}

impl Rounding {
    /// Of sorted values: none where at most half of them occur again.
    fn of(sorted: &[f64]) -> Option<Self> {
        let (first, last) = (*sorted.first()?, *sorted.last()?);
        let same = SAME * (last - first);
        let gaps: Vec<f64> =
            sorted.windows(2).map(|pair| pair[1] - pair[0]).filter(|gap| *gap > same).collect();
        let mut ordered = gaps;
        ordered.sort_by(f64::total_cmp);
        let is_rounded = !ordered.is_empty() && 2 * (ordered.len() + 1) <= sorted.len();
        // the smallest steps differ by rounding errors of the unit; a tenth of them speaks for all
        is_rounded.then(|| Self { first, step: quantile_of_sorted(&ordered, 0.1) })
    }

    /// Equal values evenly over one step about them.
    fn spread(self, sorted: &mut [f64]) {
        let mut start = 0;
        while start < sorted.len() {
            let value = sorted[start];
            let alike = |other: &&f64| **other - value <= 0.5 * self.step;
            let count = sorted[start..].iter().take_while(alike).count();
            for (place, cell) in sorted[start..start + count].iter_mut().enumerate() {
                *cell = value + ((place as f64 + 0.5) / count as f64 - 0.5) * self.step;
            }
            start += count;
        }
    }

    fn nearest(self, value: f64) -> f64 {
        self.first + ((value - self.first) / self.step).round() * self.step
    }
}

/// Corners of the function that is convex up to the mode and concave from there.
fn bent(values: &[f64], shares: &[f64], mode: usize) -> Vec<usize> {
    let mut corners = hull(values, shares, 0..mode + 1, 1.0);
    corners.extend(hull(values, shares, mode..values.len(), -1.0).into_iter().skip(1));
    corners
}

/// Corners of the lower hull of a stretch; of the upper one where `side` is -1.
fn hull(values: &[f64], shares: &[f64], stretch: std::ops::Range<usize>, side: f64) -> Vec<usize> {
    let mut corners: Vec<usize> = Vec::new();
    for next in stretch {
        while let [.., before, last] = corners[..] {
            let turn = (values[last] - values[before]) * (shares[next] - shares[before])
                - (shares[last] - shares[before]) * (values[next] - values[before]);
            if side * turn > 0.0 {
                break;
            }
            corners.pop();
        }
        corners.push(next);
    }
    corners
}

/// Largest distance of the corners' function from the sample's.
fn farthest(values: &[f64], shares: &[f64], corners: &[usize]) -> f64 {
    let mut most = 0.0_f64;
    for pair in corners.windows(2) {
        let [from, to] = [pair[0], pair[1]]; // windows(2) holds two
        let width = values[to] - values[from];
        if width <= 0.0 {
            continue;
        }
        let slope = (shares[to] - shares[from]) / width;
        for place in from + 1..to {
            let line = shares[from] + slope * (values[place] - values[from]);
            most = most.max((line - shares[place]).abs());
        }
    }
    most
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sample_with_one_mode_is_its_own_nearest() {
        // gaps 4, 2, 1, 1, 2, 4: the density rises and falls
        let sample = [0.0, 4.0, 6.0, 7.0, 8.0, 10.0, 14.0];
        let found = Unimodal::nearest(&sample);
        assert!(found.distance < 1e-12, "{}", found.distance);
        assert!((found.quantile(0.5) - 7.0).abs() < 1e-12);
        assert!((found.quantile(1.5 / 7.0) - 4.0).abs() < 1e-12);
    }

    /// Two clumps at 0, 1 and 9, 10. With the mode at the second value the concave part runs straight from (1, 3/8) to (10, 7/8), so at 9 it is
    /// 3/8 + 8/9 * 1/2 = 59/72, and the sample's own 5/8 = 45/72.
    #[test]
    fn what_lies_between_two_clumps_is_filled_up() {
        let found = Unimodal::nearest(&[0.0, 1.0, 9.0, 10.0]);
        assert!((found.distance - 14.0 / 72.0).abs() < 1e-12, "{}", found.distance);
        let middle = found.quantile(0.5);
        assert!(middle > 1.5 && middle < 8.5, "{middle}");
    }

    /// With the mode anywhere in the left clump the right part runs straight from 3 to 22; the first place leaves that clump as it is.
    #[test]
    fn a_clump_beside_the_gap_stays_as_it_is() {
        let found = Unimodal::nearest(&[0.0, 0.5, 1.0, 1.5, 3.0, 20.0, 21.0, 22.0]);
        assert!((found.quantile(3.5 / 8.0) - 1.5).abs() < 1e-12, "{}", found.quantile(3.5 / 8.0));
    }

    #[test]
    fn rounded_values_are_spread_over_their_step_and_their_quantiles_are_rounded() {
        let mut sample = Vec::new();
        for (value, times) in [(10.0, 2), (10.5, 6), (11.0, 9), (11.5, 6), (12.0, 2)] {
            sample.extend(std::iter::repeat_n(value, times));
        }
        let found = Unimodal::nearest(&sample);
        assert!(found.distance < 0.05, "{}", found.distance);
        for share in 1..50 {
            let value = found.quantile(f64::from(share) / 50.0);
            assert!((2.0 * value).fract() == 0.0 && (10.0..=12.0).contains(&value), "{value}");
        }
    }

    #[test]
    fn no_quantile_leaves_the_sample() {
        let found = Unimodal::nearest(&[1.0, 2.0, 2.5, 3.0, 50.0]);
        assert_eq!((found.quantile(0.0), found.quantile(1.0)), (1.0, 50.0));
        assert_eq!(Unimodal::nearest(&[4.0]).quantile(0.7), 4.0);
        assert_eq!(Unimodal::nearest(&[4.0; 9]).quantile(0.7), 4.0);
    }
}
