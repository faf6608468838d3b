//! Two nested models against each other.

use super::TermsFit;
use crate::stats::error::StatsError;
use crate::stats::mixed::Criterion;
use crate::stats::numeric::chi_squared_sf;
use crate::stats::resample::replicate;

/// A likelihood-ratio test that the larger of two nested models says no more than the smaller.
#[derive(Debug, Clone, PartialEq)]
pub struct LikelihoodRatio {
    /// Twice the difference of the log-likelihoods.
    pub statistic: f64,
    /// How many parameters the larger model has more.
    pub degrees_of_freedom: usize,
    /// The statistic's distribution: weights of chi-squared variables and their degrees of freedom.
    pub mixture: Vec<(f64, usize)>,
}

impl LikelihoodRatio {
    /// `sum_k w_k P(X_k > statistic)` over the mixture.
    pub fn p_value(&self) -> f64 {
        let tail = |degrees: usize| match degrees {
            0 => f64::from(u8::from(self.statistic <= 0.0)),
            degrees => chi_squared_sf(self.statistic, degrees as f64),
        };
        self.mixture.iter().map(|&(weight, degrees)| weight * tail(degrees)).sum()
    }
}

impl TermsFit {
    /// The likelihood ratio of a larger model of the same rows and outcome against this one.
    ///
    /// Where the larger model has one random coefficient more and the same fixed effects, the variance under test lies at its boundary, and the distribution is
    /// an even mixture of chi-squared with `q` and `q + 1` degrees, `q` the coefficients the term had before (Stram & Lee 1994, Biometrics 50, 1171-1177). In
    /// all other cases it is taken as chi-squared with as many degrees as there are parameters more, which is cautious where variances are among them;
    /// [`TermsFit::bootstrap_comparison`] needs no such distribution.
    ///
    /// # Errors
    /// `NotNested` for models of other rows, another outcome or another criterion, where a term or column is missing in the larger model, where nothing is
    /// added, and where fits by restricted likelihood differ in their fixed effects.
    pub fn compare(&self, larger: &Self) -> Result<LikelihoodRatio, StatsError> {
        self.require_nested(larger)?;
        let columns = larger.names.len() - self.names.len();
        let mut degrees = columns;
        let mut added = Vec::new();
        for term in &larger.terms {
            let before = self.term(&term.name).map_or(0, |own| own.coefficients.len());
            let after = term.coefficients.len();
            degrees += after * (after + 1) / 2 - before * (before + 1) / 2;
            added.extend((before..after).map(|_| before));
        }
        if degrees == 0 {
            return Err(not_nested("the two models are the same"));
        }
        let mixture = match added[..] {
            [before] if columns == 0 => vec![(0.5, before), (0.5, before + 1)],
            _ => vec![(1.0, degrees)],
        };
        let statistic = (2.0 * (larger.log_likelihood - self.log_likelihood)).max(0.0);
        Ok(LikelihoodRatio { statistic, degrees_of_freedom: degrees, mixture })
    }

    /// The likelihood ratio of this model against the plain linear one without any term.
    pub fn compare_with_no_terms(&self) -> LikelihoodRatio {
        let nothing = vec![0.0; self.parameters.len()];
        let deviance = self.model.deviance(&nothing, self.criterion);
        let plain = -0.5 * self.model.in_units(deviance, self.criterion);
        let degrees = self.parameters.len();
        let mixture = if degrees == 1 { vec![(0.5, 0), (0.5, 1)] } else { vec![(1.0, degrees)] };
        let statistic = (2.0 * (self.log_likelihood - plain)).max(0.0);
        LikelihoodRatio { statistic, degrees_of_freedom: degrees, mixture }
    }

    /// P value of the likelihood ratio by samples drawn from this, the smaller, model, to which both are fitted: `(1 + count of ratios as large) / (1 +
    /// samples)` (Davison & Hinkley 1997, section 4.2.3). Samples that cannot be fitted are left out. One ChaCha stream a sample.
    ///
    /// # Errors
    /// As [`TermsFit::compare`]; `NotConverged` where no sample could be fitted.
    pub fn bootstrap_comparison(
        &self,
        larger: &Self,
        samples: usize,
        seed: u64,
    ) -> Result<f64, StatsError> {
        let observed = self.compare(larger)?.statistic;
        let (own, other) = (self.model.projected(), larger.model.projected());
        let draws = replicate(seed, samples, |generator| {
            let outcome = self.draw(generator);
            let small = self.refitted(&own, &outcome)?;
            let large = larger.refitted(&other, &outcome)?;
            Some(small - large)
        });
        let ratios: Vec<f64> = draws.into_iter().flatten().collect();
        if ratios.is_empty() {
            return Err(StatsError::NotConverged { what: "every sample of the comparison".into() });
        }
        // a ratio within rounding of the observed one is as large
        let large = ratios.iter().filter(|&&ratio| ratio >= observed - 1e-9).count();
        Ok((1 + large) as f64 / (1 + ratios.len()) as f64)
    }

    /// The least deviance of another outcome, in the unit of the data.
    fn refitted(&self, projected: &nalgebra::DMatrix<f64>, outcome: &[f64]) -> Option<f64> {
        let sample = self.model.with_outcome(projected, outcome);
        let parameters = sample.best(self.criterion, Some(&self.parameters)).ok()?;
        let deviance = sample.deviance(&parameters, self.criterion);
        Some(sample.in_units(deviance, self.criterion))
    }

    fn term(&self, name: &str) -> Option<&super::TermSpread> {
        self.terms.iter().find(|term| term.name == name)
    }

    fn require_nested(&self, larger: &Self) -> Result<(), StatsError> {
        if self.criterion != larger.criterion {
            return Err(not_nested("the two models were fitted by different criteria"));
        }
        if self.model.fixed.outcome != larger.model.fixed.outcome {
            return Err(not_nested("the two models are of different outcomes"));
        }
        if let Some(missing) = self.names.iter().find(|name| !larger.names.contains(name)) {
            return Err(not_nested(&format!("the larger model has no column {missing}")));
        }
        if self.criterion == Criterion::Reml && self.names.len() != larger.names.len() {
            let reason = "restricted likelihoods of different fixed effects cannot be compared";
            return Err(not_nested(reason));
        }
        for term in &self.terms {
            let other = larger.term(&term.name);
            let known = |name: &String| other.is_some_and(|o| o.coefficients.contains(name));
            if !term.coefficients.iter().all(known) {
                return Err(not_nested(&format!("the larger model holds less of {}", term.name)));
            }
        }
        Ok(())
    }
}

fn not_nested(reason: &str) -> StatsError {
    StatsError::NotNested { reason: reason.into() }
}
