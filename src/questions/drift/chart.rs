//! The three charts of a series, and how far its weighted average strays.

use super::settings::ChartSettings;
use crate::stats::StatsError;
use crate::stats::control::{
    CusumChart, CusumOptions, EwmaChart, EwmaOptions, IndividualsChart, MovingRangeCentre, Side,
    WESTERN_ELECTRIC, cusum, ewma, individuals, run_signals,
};
use crate::words::drift as say;

/// Fewer points are not charted.
pub(super) const FEWEST_POINTS: usize = 10;
/// The base period of a long series; below, the first half; of very few all.
const BASE: usize = 30;
const FEWEST_HALVED: usize = 24;

/// How many of the first points give the limits.
pub(super) fn base(points: usize, settings: &ChartSettings) -> usize {
    match settings.base {
        Some(base) => base.clamp(2, points),
        None if points >= 2 * BASE => BASE,
        None if points >= FEWEST_HALVED => points / 2,
        None => points,
    }
}

/// All charts of one series.
#[derive(Debug, Clone)]
pub(super) struct Charts {
    pub individuals: IndividualsChart,
    pub centre: f64,
    pub sigma: f64,
    pub ewma: EwmaChart,
    pub cusum: CusumChart,
    pub decision: f64,
    /// One a point: the first rule that it completes.
    pub rules: Vec<Option<usize>>,
}

/// # Errors
/// Where the base period does not vary, or a setting cannot be used.
pub(super) fn charts(
    values: &[f64],
    base: usize,
    settings: &ChartSettings,
) -> Result<Charts, StatsError> {
    let shewhart = individuals(values, Some(0..base), MovingRangeCentre::Mean);
    // where both are known the base period need not tell
    let individuals = match (shewhart, settings.target.zip(settings.sigma)) {
        (Ok(chart), _) => chart,
        (Err(_), Some(_)) => individuals(values, None, MovingRangeCentre::Mean)?,
        (Err(error), None) => return Err(error),
    };
    let centre = settings.target.unwrap_or(individuals.centre);
    let sigma = settings.sigma.unwrap_or(individuals.sigma);
    let individuals = IndividualsChart {
        centre,
        sigma,
        lower: centre - 3.0 * sigma,
        upper: centre + 3.0 * sigma,
        ..individuals
    };
    let (weight, width) = (settings.weight, settings.width);
    let averaged = ewma(values, &EwmaOptions { weight, width, centre, sigma })?;
    let decision = settings.decision * sigma;
    let summed =
        cusum(values, &CusumOptions { target: centre, slack: settings.slack * sigma, decision })?;
    let mut rules = vec![None; values.len()];
    for signal in run_signals(values, centre, sigma, &WESTERN_ELECTRIC)? {
        // signals come by reading and then by rule
        rules[signal.place] = rules[signal.place].or(Some(signal.rule));
    }
    Ok(Charts { individuals, centre, sigma, ewma: averaged, cusum: summed, decision, rules })
}

impl Charts {
    /// Flagged points of the individuals chart, the weighted average and the sums.
    pub fn flagged(&self) -> [usize; 3] {
        let rules = self.rules.iter().flatten().count();
        [rules, self.ewma.signals.len(), self.cusum.signals.len()]
    }

    /// The words of each point's flag.
    pub fn rule_words(&self) -> Vec<Option<String>> {
        self.rules.iter().map(|rule| rule.map(|rule| say::rule(rule).to_owned())).collect()
    }

    pub fn ewma_words(&self) -> Vec<Option<String>> {
        let mut flags = vec![None; self.ewma.averages.len()];
        for (place, side) in &self.ewma.signals {
            flags[*place] = Some(say::beyond(*side == Side::Above).to_owned());
        }
        flags
    }

    /// Of the sum that goes up, or of the one that goes down.
    pub fn cusum_words(&self, up: bool) -> Vec<Option<String>> {
        let sums = if up { &self.cusum.high } else { &self.cusum.low };
        let flag = |sum: &f64| (*sum > self.decision).then(|| say::beyond(true).to_owned());
        sums.iter().map(flag).collect()
    }

    /// How far the weighted average strays at most, as a multiple of its limit.
    pub fn straying(&self) -> f64 {
        let limits = self.ewma.averages.iter().zip(&self.ewma.upper);
        limits
            .map(|(average, upper)| (average - self.centre).abs() / (upper - self.centre))
            .fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_come_from_thirty_points_or_half_or_all() {
        let settings = ChartSettings::default();
        let bases = [10, 23, 24, 59, 60, 900].map(|points| base(points, &settings));
        assert_eq!(bases, [10, 23, 12, 29, 30, 30]);
        assert_eq!(base(50, &ChartSettings { base: Some(20), ..settings }), 20);
    }
}
