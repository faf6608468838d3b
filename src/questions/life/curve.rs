//! Fit: the curve of all reeds and what is read from it.

use crate::finding::{Interval, LifeStep};
use crate::questions::lives::Lives;
use crate::stats::StatsError;
use crate::stats::survival::{LifeQuantile, Lifetimes, SurvivalCurve, kaplan_meier};
use crate::whole;

/// The mean life reaches to the latest time at which so many reeds were at risk.
const FEWEST_AT_RISK: usize = 3;
/// Fewer ends show no error of the mean.
const FEWEST_ENDS: usize = 3;
/// Round times below the picture, about.
const ROUND_TIMES: f64 = 5.0;

/// The curve and what is read from it.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    pub steps: Vec<LifeStep>,
    pub quartile: LifeQuantile,
    pub median: LifeQuantile,
    pub mean: Option<MeanLife>,
    pub until: f64,
    /// Reeds at risk at round times.
    pub at_risk: Vec<(f64, usize)>,
    /// Where reeds stood that had not ended, and the curve's height there.
    pub going: Vec<[f64; 2]>,
}

/// The mean with no reed counted beyond `to`.
#[derive(Debug, Clone, Copy)]
pub(super) struct MeanLife {
    pub life: Interval,
    pub standard_error: f64,
    pub to: f64,
    /// Whether some reeds go on beyond `to`, as far as the curve knows.
    pub goes_on: bool,
}

impl Curve {
    pub fn of(lives: &Lives) -> Option<Self> {
        let all = lives.all().ok()?;
        let curve = kaplan_meier(&all);
        Some(Self {
            steps: steps(&curve).ok()?,
            quartile: curve.quantile(0.25, 0.95).ok()?,
            median: curve.median(0.95).ok()?,
            mean: mean(lives, &all, &curve),
            until: curve.followed_until,
            at_risk: round_times(curve.followed_until)
                .map(|time| (time, all.at_risk(time)))
                .collect(),
            going: going(lives, &curve),
        })
    }
}

/// One step a time, after a first one at 0.
fn steps(curve: &SurvivalCurve) -> Result<Vec<LifeStep>, StatsError> {
    let first = LifeStep { t: 0.0, s: 1.0, low: None, high: None, at_risk: curve.rows, retired: 0 };
    let each = curve.steps.iter().zip(curve.band(0.95)?).map(|(step, band)| LifeStep {
        t: step.time,
        s: step.survival,
        // where the curve runs through rounding, its band must still hold it
        low: band.map(|band| band.0.min(step.survival)),
        high: band.map(|band| band.1.max(step.survival)),
        at_risk: step.at_risk,
        retired: step.events,
    });
    Ok(std::iter::once(first).chain(each).collect())
}

/// None where too few ended, and where all ended at once so that there is no spread.
fn mean(lives: &Lives, all: &Lifetimes, curve: &SurvivalCurve) -> Option<MeanLife> {
    let to = horizon(lives, all)?;
    let found = curve.restricted_mean(to).ok()?;
    let ends = (0..lives.time.len()).filter(|&at| lives.ended[at] && lives.time[at] < to).count();
    if ends < FEWEST_ENDS || found.standard_error <= 0.0 {
        return None;
    }
    let ends = ends as f64;
    let standard_error = found.standard_error * (ends / (ends - 1.0)).sqrt();
    let (low, high) = crate::stats::Estimate { standard_error, ..found }.interval(0.95).ok()?;
    let goes_on = curve.survival_at(to).map_or(1.0, |share| share.value) > 0.0;
    // a mean life lies between 0 and the time it is counted to
    let life = Interval { estimate: found.value, low: low.max(0.0), high: high.min(to) };
    Some(MeanLife { life, standard_error, to, goes_on })
}

/// The latest time with enough reeds at risk, late entries counted.
fn horizon(lives: &Lives, all: &Lifetimes) -> Option<f64> {
    let mut times = lives.time.clone();
    times.sort_by(|a, b| b.total_cmp(a));
    times.into_iter().find(|&time| time > 0.0 && all.at_risk(time) >= FEWEST_AT_RISK)
}

/// Multiples of 1, 2 or 5 times a power of ten.
fn round_times(until: f64) -> impl Iterator<Item = f64> {
    let rough = (until / ROUND_TIMES).max(f64::MIN_POSITIVE);
    let power = 10f64.powf(rough.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|factor| factor * power);
    let step = steps.into_iter().find(|step| *step >= rough * 0.999).unwrap_or(power * 10.0);
    (0..=whole::part(2.0 * ROUND_TIMES))
        .map(move |number| number as f64 * step)
        .filter(move |time| *time <= until)
}

fn going(lives: &Lives, curve: &SurvivalCurve) -> Vec<[f64; 2]> {
    let still = lives.time.iter().zip(&lives.ended).filter(|(_, ended)| !**ended);
    let mut times: Vec<f64> = still.map(|(time, _)| *time).collect();
    times.sort_by(f64::total_cmp);
    let height = |time: f64| Some(curve.survival_at(time).ok()?.value);
    times.into_iter().filter_map(|time| Some([time, height(time)?])).collect()
}

#[cfg(test)]
mod tests {
    use super::round_times;

    #[test]
    fn round_times_are_few_and_reach_to_the_end() {
        assert_eq!(round_times(35.0).collect::<Vec<_>>(), [0.0, 10.0, 20.0, 30.0]);
        assert_eq!(round_times(9.0).collect::<Vec<_>>(), [0.0, 2.0, 4.0, 6.0, 8.0]);
        assert_eq!(round_times(0.0).count(), 1);
    }
}
