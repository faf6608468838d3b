//! A linear mixed model with one random intercept: y = X b + u(group) + e.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::StatsError;
use super::design::Design;
use super::numeric::{mean, minimise, t_quantile};
use super::products::{GroupProducts, group_products};

/// A fit by restricted maximum likelihood.
///
/// The standard deviation of u relative to that of e, theta, is the only parameter searched for; b and the residual
/// variance follow from it (profiling: Bates, Maechler, Bolker & Walker 2015, J. Stat. Software 67(1), eq. 34-42). The work
/// for a theta depends on groups and columns, not on rows. A theta of zero is a fit like any other and is kept.
#[derive(Debug, Clone)]
pub struct MixedFit {
    names: Vec<String>,
    data: Data,
    /// sd(u) / sd(e).
    pub theta: f64,
    /// b, one entry a column.
    pub coefficients: Vec<f64>,
    pub standard_errors: Vec<f64>,
    pub sd_group: f64,
    pub sd_residual: f64,
    /// The restricted log-likelihood at its maximum.
    pub log_likelihood: f64,
    /// Whether the between-group spread was estimated as zero.
    pub boundary: bool,
}

/// A group's mean at average values of the other columns, drawn towards the mean of all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PooledMean {
    pub group: u32,
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    pub half_low: f64,
    pub half_high: f64,
}

#[derive(Debug, Clone)]
struct Data {
    groups: Vec<GroupProducts>,
    rows: usize,
    width: usize,
    /// The outcome's mean, taken out before products are formed.
    centre: f64,
}

/// Everything that follows from one theta.
struct Profile {
    coefficients: DVector<f64>,
    factor: Cholesky<f64, Dyn>,
    residual_variance: f64,
    log_likelihood: f64,
}

/// Fits by restricted maximum likelihood. The first column must be the intercept.
///
/// # Errors
/// Where a value is not finite, a column is a combination of others, there are fewer than two groups, no group has two
/// rows, or the outcome does not vary around the fit.
pub fn random_intercept(
    design: &Design,
    y: &[f64],
    groups: &[u32],
) -> Result<MixedFit, StatsError> {
    let (_, aliased) = design.independent();
    if !aliased.is_empty() {
        return Err(StatsError::Aliased(aliased));
    }
    if y.len() <= design.width() + 1 {
        return Err(StatsError::TooFewRows { rows: y.len(), columns: design.width() + 1 });
    }
    let centre = mean(y);
    let centred: Vec<f64> = y.iter().map(|value| value - centre).collect();
    let groups = group_products(design, &centred, groups)?;
    if groups.len() < 2 || groups.iter().all(|group| group.n < 2) {
        return Err(StatsError::TooFewGroups { wanted: 2, found: groups.len() });
    }
    let data = Data { groups, rows: y.len(), width: design.width(), centre };
    let theta = data.best_theta()?;
    let profile = data.profile(theta)?;
    let sd_residual = profile.residual_variance.sqrt();
    let standard_errors = (0..data.width)
        .map(|at| {
            let mut unit = DVector::zeros(data.width);
            unit[at] = 1.0;
            sd_residual * unit.dot(&profile.factor.solve(&unit)).sqrt()
        })
        .collect();
    let mut coefficients: Vec<f64> = profile.coefficients.iter().copied().collect();
    if let Some(intercept) = coefficients.first_mut() {
        *intercept += centre;
    }
    Ok(MixedFit {
        names: design.names().to_vec(),
        data,
        theta,
        coefficients,
        standard_errors,
        sd_group: theta * sd_residual,
        sd_residual,
        log_likelihood: profile.log_likelihood,
        boundary: theta == 0.0,
    })
}

impl Data {
    fn best_theta(&self) -> Result<f64, StatsError> {
        let deviance =
            |theta: f64| self.profile(theta).map_or(f64::INFINITY, |fit| -fit.log_likelihood);
        self.profile(0.0)?;
        // a coarse look first: the likelihood may rise again from zero
        let places =
            [0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0];
        let best = (0..places.len())
            .min_by(|&a, &b| deviance(places[a]).total_cmp(&deviance(places[b])))
            .unwrap_or(0);
        let low = places[best.saturating_sub(1)];
        let high = places[(best + 1).min(places.len() - 1)];
        let theta = minimise(low, high, 1e-10, deviance);
        Ok(if deviance(0.0) <= deviance(theta) || theta < 1e-6 { 0.0 } else { theta })
    }

    /// theta^2 / (1 + n theta^2): how much of a group's summed residual is taken back.
    fn drawn(theta: f64, n: usize) -> f64 {
        theta * theta / (1.0 + n as f64 * theta * theta)
    }

    fn profile(&self, theta: f64) -> Result<Profile, StatsError> {
        let mut left = DMatrix::zeros(self.width, self.width);
        let mut right = DVector::zeros(self.width);
        let (mut square, mut log_det) = (0.0, 0.0);
        for group in &self.groups {
            let drawn = Data::drawn(theta, group.n);
            left += &group.xx;
            left.ger(-drawn, &group.x_sum, &group.x_sum, 1.0);
            right += &group.xy;
            right.axpy(-drawn * group.y_sum, &group.x_sum, 1.0);
            square += group.yy - drawn * group.y_sum * group.y_sum;
            log_det += (group.n as f64 * theta * theta).ln_1p();
        }
        let factor = Cholesky::new(left).ok_or_else(|| {
            StatsError::NotConverged("the columns are too close to combinations".to_owned())
        })?;
        let coefficients = factor.solve(&right);
        let residual = square - coefficients.dot(&right);
        if residual.is_nan() || residual <= 1e-14 * square.abs().max(f64::MIN_POSITIVE) {
            return Err(StatsError::NoSpread("the outcome around the fit".to_owned()));
        }
        let df = (self.rows - self.width) as f64;
        let half_log_det: f64 = factor.l_dirty().diagonal().iter().map(|entry| entry.ln()).sum();
        let residual_variance = residual / df;
        let log_likelihood = -0.5
            * (df * (1.0 + (2.0 * std::f64::consts::PI * residual_variance).ln())
                + log_det
                + 2.0 * half_log_det);
        Ok(Profile { coefficients, factor, residual_variance, log_likelihood })
    }
}

impl MixedFit {
    pub fn coefficient(&self, name: &str) -> Option<f64> {
        self.names.iter().position(|known| known == name).map(|at| self.coefficients[at])
    }

    /// The share of the variance that lies between groups.
    pub fn intraclass_correlation(&self) -> f64 {
        self.theta * self.theta / (1.0 + self.theta * self.theta)
    }

    /// Conditional means of u, one a group in the order of the groups (Henderson 1975, Biometrics 31, 423-447).
    pub fn group_effects(&self) -> Vec<(u32, f64)> {
        match self.data.profile(self.theta) {
            Ok(profile) => self
                .data
                .groups
                .iter()
                .map(|group| (group.group, effect(group, self.theta, &profile)))
                .collect(),
            Err(_) => Vec::new(),
        }
    }

    /// The mean of each group at `at` (one value a column, 1 for the intercept), with 95 % and 50 % intervals that
    /// hold the uncertainty of b, of u, and of the between-group spread.
    ///
    /// For each theta of a grid the group's mean is t-distributed around its conditional mean with its prediction
    /// error variance (Henderson 1975); the grid is weighted by the restricted likelihood, which is a flat prior on theta
    /// (Gelman 2006, Bayesian Analysis 1, 515-534) cut off at [`LARGEST_THETA`]. Taking theta as known would leave the
    /// intervals too narrow, and at a theta of zero without any spread.
    pub fn pooled_means(&self, at: &[f64]) -> Vec<PooledMean> {
        let at = DVector::from_row_slice(at);
        let grid = self.grid();
        let df = (self.data.rows - self.data.width) as f64;
        self.data
            .groups
            .iter()
            .map(|group| {
                let parts: Vec<Part> = grid
                    .iter()
                    .map(|(weight, theta, profile)| part(*weight, *theta, profile, group, &at))
                    .collect();
                let point = |p: f64| self.data.centre + mixture_quantile(&parts, p, df);
                let total: f64 = parts.iter().map(|part| part.weight).sum();
                let centre: f64 =
                    parts.iter().map(|part| part.weight * part.mean).sum::<f64>() / total;
                PooledMean {
                    group: group.group,
                    estimate: self.data.centre + centre,
                    low: point(0.025),
                    high: point(0.975),
                    half_low: point(0.25),
                    half_high: point(0.75),
                }
            })
            .collect()
    }

    /// Values of theta with their weights; those that the data speak against are left out.
    fn grid(&self) -> Vec<(f64, f64, Profile)> {
        const POINTS: usize = 240;
        let log_at = |theta: f64| {
            self.data.profile(theta).map_or(f64::NEG_INFINITY, |fit| fit.log_likelihood)
        };
        let mut end = LARGEST_THETA;
        while end > 0.1 && log_at(end) < self.log_likelihood - 12.0 {
            end *= 0.8;
        }
        (0..POINTS)
            .filter_map(|point| {
                let theta = end * (point as f64 + 0.5) / POINTS as f64;
                let profile = self.data.profile(theta).ok()?;
                Some(((profile.log_likelihood - self.log_likelihood).exp(), theta, profile))
            })
            .collect()
    }
}

/// A between-group spread of more than three residual standard deviations is not believed; it matters only with three
/// or four groups, which cannot rule it out.
pub const LARGEST_THETA: f64 = 3.0;

fn effect(group: &GroupProducts, theta: f64, profile: &Profile) -> f64 {
    Data::drawn(theta, group.n) * (group.y_sum - group.x_sum.dot(&profile.coefficients))
}

/// One theta's distribution of a group's mean.
struct Part {
    weight: f64,
    mean: f64,
    scale: f64,
}

fn part(
    weight: f64,
    theta: f64,
    profile: &Profile,
    group: &GroupProducts,
    at: &DVector<f64>,
) -> Part {
    let drawn = Data::drawn(theta, group.n);
    let contrast = at - drawn * &group.x_sum;
    let of_b = contrast.dot(&profile.factor.solve(&contrast));
    let of_u = theta * theta / (1.0 + group.n as f64 * theta * theta);
    Part {
        weight,
        mean: at.dot(&profile.coefficients) + effect(group, theta, profile),
        scale: (profile.residual_variance * (of_b + of_u)).sqrt(),
    }
}

/// The point that a weighted mixture of t distributions stays below with probability `p`, by bisection.
fn mixture_quantile(parts: &[Part], p: f64, df: f64) -> f64 {
    use statrs::distribution::{ContinuousCDF, StudentsT};
    let Ok(t) = StudentsT::new(0.0, 1.0, df) else { return f64::NAN };
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    let below = |x: f64| {
        parts.iter().map(|part| part.weight * t.cdf((x - part.mean) / part.scale)).sum::<f64>()
            / total
    };
    let reach = t_quantile(0.9999, df).abs();
    let edge = |side: f64| parts.iter().map(move |part| part.mean + side * reach * part.scale);
    let mut low = edge(-1.0).fold(f64::INFINITY, f64::min);
    let mut high = edge(1.0).fold(f64::NEG_INFINITY, f64::max);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if below(middle) < p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}
