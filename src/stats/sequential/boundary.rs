//! The bounds themselves.

use super::process::Going;
use super::spending::Spending;
use crate::stats::error::{StatsError, require_finite, require_length, require_level};
use crate::stats::numeric::{find_root, normal_quantile, normal_sf, t_quantile};

/// Looks nearer to each other than this share of the planned information are refused: the integration would need millions of nodes.
const CLOSEST: f64 = 1e-4;
/// Most looks of one trial.
const MOST_LOOKS: usize = 100;
/// No bound lies beyond, unless nothing at all may be spent.
const FURTHEST: f64 = 37.0;

/// How constant-shaped bounds fall from look to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// `bound_k = c` (Pocock 1977, Biometrika 64, 191-199).
    Pocock,
    /// `bound_k = c / sqrt(t_k / t_K)` (O'Brien & Fleming 1979, Biometrics 35, 549-556).
    OBrienFleming,
}

/// Looks and the bounds at which each stops the trial.
#[derive(Debug, Clone, PartialEq)]
pub struct Boundary {
    pub(super) fractions: Vec<f64>,
    pub(super) bounds: Vec<f64>,
    pub(super) significance: f64,
}

impl Boundary {
    /// The bounds that spend exactly what [`Spending`] allows at each of these information fractions. A look at which less than the smallest number may be
    /// spent has an infinite bound. The last fraction may be below 1: then a part of the significance is kept for later.
    ///
    /// # Errors
    /// `Empty` and `NotFinite` for the fractions; `OutOfRange` unless they rise by at least 1e-4 from above 0 to at most 1, for more than 100 of them, and
    /// unless `0 < significance < 1`; `NotConverged` where a bound cannot be found.
    pub fn spending(
        rule: Spending,
        fractions: &[f64],
        significance: f64,
    ) -> Result<Self, StatsError> {
        check_fractions(fractions)?;
        let mut going = Going::start();
        let (mut before, mut bounds) = (0.0, Vec::with_capacity(fractions.len()));
        for (look, &fraction) in fractions.iter().enumerate() {
            let spent = rule.spent(significance, fraction)?;
            let bound = bound_that_spends(&going, fraction, 0.5 * (spent - before))?;
            going = going.past(0.0, fraction, bound, narrowest_step(fractions, look));
            bounds.push(bound);
            before = spent;
        }
        Ok(Self { fractions: fractions.to_vec(), bounds, significance })
    }

    /// Bounds at which each look, taken alone, has a two-sided false alarm of just what [`Spending`] adds at it. By Bonferroni's inequality all looks together
    /// stay at or below the significance however their statistics hang together, which exact t tests at every look keep (the bounds of
    /// [`Boundary::spending`], carried over to t, do so only about).
    ///
    /// # Errors
    /// As [`Boundary::spending`].
    pub fn each_look_alone(
        rule: Spending,
        fractions: &[f64],
        significance: f64,
    ) -> Result<Self, StatsError> {
        check_fractions(fractions)?;
        let (mut before, mut bounds) = (0.0, Vec::with_capacity(fractions.len()));
        for &fraction in fractions {
            let spent = rule.spent(significance, fraction)?;
            let added = spent - before;
            let is_any = added > 2.0 * normal_sf(FURTHEST);
            bounds.push(if is_any { -normal_quantile(0.5 * added) } else { f64::INFINITY });
            before = spent;
        }
        Ok(Self { fractions: fractions.to_vec(), bounds, significance })
    }

    /// The bounds for estimates with few degrees of freedom: [`Boundary::each_look_alone`] with two looks, where staying strictly below the significance costs
    /// one or two pieces in a hundred; [`Boundary::spending`] with more, where it would cost one in ten.
    ///
    /// # Errors
    /// As [`Boundary::spending`].
    pub fn for_small_trials(
        rule: Spending,
        fractions: &[f64],
        significance: f64,
    ) -> Result<Self, StatsError> {
        match fractions.len() {
            0..=2 => Self::each_look_alone(rule, fractions, significance),
            _ => Self::spending(rule, fractions, significance),
        }
    }

    /// Bounds of a fixed shape whose constant makes the chance of a false alarm over all looks the significance.
    ///
    /// # Errors
    /// As [`Boundary::spending`].
    pub fn constant(
        shape: Shape,
        fractions: &[f64],
        significance: f64,
    ) -> Result<Self, StatsError> {
        check_fractions(fractions)?;
        require_level("the significance level", significance)?;
        let with = |constant: f64| Self {
            fractions: fractions.to_vec(),
            bounds: shaped(shape, fractions, constant),
            significance,
        };
        let excess = |constant: f64| with(constant).crossed(0.0) - significance;
        let constant = find_root(excess, 0.0, FURTHEST).ok_or_else(|| {
            StatsError::NotConverged { what: "the constant of the bounds".into() }
        })?;
        Ok(with(constant))
    }

    /// Bounds as they are given; the significance is what they add up to.
    ///
    /// # Errors
    /// As [`Boundary::spending`]; `LengthMismatch` unless there are as many bounds as fractions; `OutOfRange` for a bound not above 0.
    pub fn given(fractions: &[f64], bounds: &[f64]) -> Result<Self, StatsError> {
        check_fractions(fractions)?;
        require_length("the list of bounds", fractions.len(), bounds.len())?;
        require_finite("the list of bounds", bounds)?;
        if let Some(&value) = bounds.iter().find(|&&bound| bound <= 0.0) {
            let expected = "a number above 0".into();
            return Err(StatsError::OutOfRange { what: "a bound".into(), value, expected });
        }
        let (fractions, bounds) = (fractions.to_vec(), bounds.to_vec());
        let unnamed = Self { fractions, bounds, significance: f64::NAN };
        Ok(Self { significance: unnamed.crossed(0.0), ..unnamed })
    }

    /// Information fractions of the looks.
    pub fn fractions(&self) -> &[f64] {
        &self.fractions
    }

    /// The bound of `|Z|` at each look; infinite where nothing may be spent.
    pub fn bounds(&self) -> &[f64] {
        &self.bounds
    }

    /// The chance of a false alarm on both sides together, over the whole trial.
    pub fn significance(&self) -> f64 {
        self.significance
    }

    /// The two-sided p value, taken as if there were one look, at or below which a look stops the trial.
    pub fn nominal_levels(&self) -> Vec<f64> {
        self.bounds.iter().map(|&bound| 2.0 * normal_sf(bound)).collect()
    }

    /// The bound of one look for a t statistic: the t with the same two-sided nominal level.
    ///
    /// # Errors
    /// `OutOfRange` for a look that is not there (the first is 0) and unless the degrees of freedom are above 0.
    pub fn t_bound(&self, look: usize, degrees_of_freedom: f64) -> Result<f64, StatsError> {
        let bound = self.bounds[self.checked(look)?];
        if degrees_of_freedom.is_nan() || degrees_of_freedom <= 0.0 {
            return Err(StatsError::OutOfRange {
                what: "the degrees of freedom".into(),
                value: degrees_of_freedom,
                expected: "a number above 0".into(),
            });
        }
        // the lower tail keeps the digits of a small level
        Ok(if bound.is_finite() {
            -t_quantile(normal_sf(bound), degrees_of_freedom)
        } else {
            bound
        })
    }

    /// A look that is there, or a refusal.
    pub(super) fn checked(&self, look: usize) -> Result<usize, StatsError> {
        if look < self.bounds.len() {
            return Ok(look);
        }
        Err(StatsError::OutOfRange {
            what: "the look, counted from 0,".into(),
            value: look as f64,
            expected: format!("below {}", self.bounds.len()),
        })
    }
}

/// The smaller of the steps before and after a look.
pub(super) fn narrowest_step(fractions: &[f64], look: usize) -> f64 {
    let before = fractions[look] - if look == 0 { 0.0 } else { fractions[look - 1] };
    fractions.get(look + 1).map_or(before, |next| before.min(next - fractions[look]))
}

fn bound_that_spends(going: &Going, fraction: f64, one_side: f64) -> Result<f64, StatsError> {
    let excess = |bound: f64| going.above(0.0, fraction, bound) - one_side;
    if excess(FURTHEST) >= 0.0 {
        return Ok(f64::INFINITY);
    }
    find_root(excess, 0.0, FURTHEST)
        .ok_or_else(|| StatsError::NotConverged { what: "a bound".into() })
}

fn shaped(shape: Shape, fractions: &[f64], constant: f64) -> Vec<f64> {
    let last = fractions[fractions.len() - 1];
    let bound = |&fraction: &f64| match shape {
        Shape::Pocock => constant,
        Shape::OBrienFleming => constant * (last / fraction).sqrt(),
    };
    fractions.iter().map(bound).collect()
}

fn check_fractions(fractions: &[f64]) -> Result<(), StatsError> {
    let what = "the list of information fractions";
    require_finite(what, fractions)?;
    let refusal = |value: f64, expected: &str| {
        Err(StatsError::OutOfRange { what: what.into(), value, expected: expected.into() })
    };
    if fractions.len() > MOST_LOOKS {
        return refusal(fractions.len() as f64, "at most 100 looks");
    }
    let mut before = 0.0;
    for &fraction in fractions {
        if fraction - before < CLOSEST || fraction > 1.0 {
            return refusal(fraction, "fractions that rise by at least 0.0001, up to 1");
        }
        before = fraction;
    }
    Ok(())
}
