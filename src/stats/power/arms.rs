//! Several arms with a numeric outcome.

use super::{NeededSize, needed_size, require_positive, require_power, smallest_effect};
use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{f_upper_quantile, mean, noncentral_f_sf, sum_of_squares};

/// How the pieces of several arms are laid out, and what the size of the trial counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ArmsLayout {
    /// Independent pieces; the size counts those of each arm. `k (n - 1)` degrees of freedom.
    Independent,
    /// Complete blocks with `pieces_per_arm` pieces of each arm in every block; the size counts blocks. Blocks and arms add up: `k r b - b - k + 1` degrees
    /// of freedom, `(k - 1)(b - 1)` with one piece an arm.
    Blocked { pieces_per_arm: f64 },
}

/// A trial of several arms, judged by the F test that all arms are equal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArmsTrial {
    /// How the pieces lie.
    pub layout: ArmsLayout,
    /// Number of arms, two or more.
    pub arms: usize,
    /// Chance of a false alarm.
    pub significance: f64,
}

/// Cohen's f: the standard deviation of the arms' true means (divisor `k`) over that within arms (and blocks), without unit (Cohen 1988, section 8.2).
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` for a standard deviation not above 0.
pub fn cohen_f(means: &[f64], standard_deviation: f64) -> Result<f64, StatsError> {
    require_positive("the standard deviation", standard_deviation)?;
    let centre = mean(means)?;
    let deviations: Vec<f64> = means.iter().map(|value| value - centre).collect();
    Ok((sum_of_squares(&deviations) / means.len() as f64).sqrt() / standard_deviation)
}

impl ArmsTrial {
    /// The chance that the F test finds true means with a given [`cohen_f`] (Cohen 1988, chapter 8, exactly): the noncentral F with noncentrality `f^2`
    /// times the number of pieces. Sizes need not be whole.
    ///
    /// # Errors
    /// `TooFewGroups` under two arms; `OutOfRange` for a size not above 0, a negative f, fewer than one piece an arm, the significance level, and a
    /// noncentrality above 1e8; `NoDegreesOfFreedom` for a size too small.
    pub fn power(&self, size: f64, effect: f64) -> Result<f64, StatsError> {
        let df = self.degrees_of_freedom(size)?;
        if effect.is_nan() || effect < 0.0 {
            return Err(StatsError::OutOfRange {
                what: "Cohen's f".into(),
                value: effect,
                expected: "a number of 0 or more".into(),
            });
        }
        let between = self.arms as f64 - 1.0;
        let bound = f_upper_quantile(self.significance, between, df);
        let found = noncentral_f_sf(bound, between, df, effect * effect * self.pieces(size));
        if found.is_finite() {
            return Ok(found);
        }
        Err(StatsError::OutOfRange {
            what: "Cohen's f".into(),
            value: effect,
            expected: "an effect whose square times the pieces is at most 1e8".into(),
        })
    }

    /// The size at which a given [`cohen_f`] is found with the given power.
    ///
    /// # Errors
    /// As [`ArmsTrial::power`]; `OutOfRange` for a power not between the significance level and 1, an effect not above 0 and a size beyond 1e8.
    pub fn size(&self, power: f64, effect: f64) -> Result<NeededSize, StatsError> {
        self.check()?;
        require_power(power, self.significance)?;
        require_positive("the effect to be shown", effect)?;
        let least = match self.layout {
            ArmsLayout::Independent => 2.0,
            // the first whole size with a degree of freedom
            ArmsLayout::Blocked { pieces_per_arm } => {
                let arms = self.arms as f64;
                if arms * pieces_per_arm - arms > 0.0 { 1.0 } else { 2.0 }
            }
        };
        needed_size(power, least, |size| self.power(size, effect))
    }

    /// The smallest [`cohen_f`] that a trial of this size finds with the given power.
    ///
    /// # Errors
    /// As [`ArmsTrial::size`].
    pub fn smallest_effect(&self, size: f64, power: f64) -> Result<f64, StatsError> {
        self.degrees_of_freedom(size)?;
        require_power(power, self.significance)?;
        let root = self.pieces(size).sqrt();
        // the square root of the noncentrality is searched, so that one start fits every size
        Ok(smallest_effect(power, |shift| self.power(size, shift / root))? / root)
    }

    fn pieces(&self, size: f64) -> f64 {
        let an_arm = match self.layout {
            ArmsLayout::Independent => size,
            ArmsLayout::Blocked { pieces_per_arm } => pieces_per_arm * size,
        };
        self.arms as f64 * an_arm
    }

    fn degrees_of_freedom(&self, size: f64) -> Result<f64, StatsError> {
        self.check()?;
        require_positive("the size of the trial", size)?;
        let arms = self.arms as f64;
        let df = match self.layout {
            ArmsLayout::Independent => arms * (size - 1.0),
            ArmsLayout::Blocked { .. } => self.pieces(size) - size - arms + 1.0,
        };
        if df > 0.0 {
            return Ok(df);
        }
        Err(StatsError::NoDegreesOfFreedom { what: format!("a trial of size {size}") })
    }

    fn check(&self) -> Result<(), StatsError> {
        require_level("the significance level", self.significance)?;
        if self.arms < 2 {
            return Err(StatsError::TooFewGroups { found: self.arms, needed: 2 });
        }
        match self.layout {
            ArmsLayout::Blocked { pieces_per_arm }
                if !(pieces_per_arm >= 1.0 && pieces_per_arm.is_finite()) =>
            {
                Err(StatsError::OutOfRange {
                    what: "the pieces of an arm in a block".into(),
                    value: pieces_per_arm,
                    expected: "a finite number of at least 1".into(),
                })
            }
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::numeric::Sides;
    use crate::stats::power::{TwoArmsLayout, TwoArmsTrial};

    fn trial(layout: ArmsLayout, arms: usize) -> ArmsTrial {
        ArmsTrial { layout, arms, significance: 0.05 }
    }

    #[test]
    fn the_tables_of_cohen_are_met() {
        // Cohen 1988, table 8.4, power .80, level .05; and Cohen 1992, Psychological Bulletin 112, 155-159, table 2 (from memory)
        for (arms, effect, n) in
            [(3, 0.1, 322), (3, 0.25, 52), (3, 0.4, 21), (4, 0.25, 45), (4, 0.4, 18), (5, 0.25, 39)]
        {
            let found = trial(ArmsLayout::Independent, arms).size(0.8, effect).unwrap();
            // his tables interpolate, and may be one off
            assert!(found.whole.abs_diff(n) <= 1, "{arms} {effect}: {found:?} {n}");
        }
    }

    #[test]
    fn two_arms_are_the_t_test() {
        let two = TwoArmsTrial {
            layout: TwoArmsLayout::Blocked { pieces_per_arm: 2.0 },
            standard_deviation: 1.5,
            significance: 0.05,
            sides: Sides::Two,
        };
        let effect = cohen_f(&[4.0, 5.0], 1.5).unwrap();
        let arms = trial(ArmsLayout::Blocked { pieces_per_arm: 2.0 }, 2);
        let (a, b) = (two.power(9.0, 1.0).unwrap(), arms.power(9.0, effect).unwrap());
        assert!((a - b).abs() < 1e-9, "{a} {b}");
    }

    #[test]
    fn size_effect_and_power_undo_each_other() {
        for layout in [ArmsLayout::Independent, ArmsLayout::Blocked { pieces_per_arm: 1.0 }] {
            let trial = trial(layout, 4);
            let size = trial.size(0.9, 0.35).unwrap();
            assert!((trial.power(size.exact, 0.35).unwrap() - 0.9).abs() < 1e-9);
            assert!((trial.smallest_effect(size.exact, 0.9).unwrap() - 0.35).abs() < 1e-8);
        }
        let whole = trial(ArmsLayout::Independent, 3);
        assert!((whole.power(8.0, 0.0).unwrap() - 0.05).abs() < 1e-12);
    }

    #[test]
    fn impossible_trials_are_refused() {
        let blocks = trial(ArmsLayout::Blocked { pieces_per_arm: 1.0 }, 3);
        assert!(matches!(blocks.power(1.0, 0.5), Err(StatsError::NoDegreesOfFreedom { .. })));
        assert!(blocks.power(5.0, -0.1).is_err());
        assert!(blocks.power(5.0, f64::NAN).is_err());
        assert!(blocks.power(5.0, 1e9).is_err());
        assert!(blocks.size(0.8, 0.0).is_err());
        let one = trial(ArmsLayout::Independent, 1);
        assert!(matches!(one.power(5.0, 0.3), Err(StatsError::TooFewGroups { .. })));
        assert!(trial(ArmsLayout::Blocked { pieces_per_arm: 0.0 }, 3).power(5.0, 0.3).is_err());
        assert!(cohen_f(&[1.0, 2.0], 0.0).is_err());
    }
}
