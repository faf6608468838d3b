//! The exponentially weighted moving average, which sees small shifts early.

use super::{Side, beyond, require_number, require_positive};
use crate::stats::error::{StatsError, require_finite};

/// How an EWMA chart is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaOptions {
    /// `lambda`, the weight of the newest reading, over 0 and at most 1.
    pub weight: f64,
    /// `L`, half the width of the limits in standard deviations of the average.
    pub width: f64,
    /// Centre and starting value, in the unit of the readings.
    pub centre: f64,
    /// Standard deviation of single readings.
    pub sigma: f64,
}

impl EwmaOptions {
    /// Weight 0.2 and width 2.7: a false alarm in about 238 readings, a lasting shift of one standard deviation seen in about 9 (run lengths with the
    /// asymptotic limits by the Markov chain of Brook & Evans 1972, Biometrika 59, 539-549; a width of 2.86 makes that 370 and 10).
    pub fn usual(centre: f64, sigma: f64) -> Self {
        Self { weight: 0.2, width: 2.7, centre, sigma }
    }
}

/// An EWMA chart, all in the unit of the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct EwmaChart {
    /// `z_i`, one a reading.
    pub averages: Vec<f64>,
    /// Lower limit of each.
    pub lower: Vec<f64>,
    /// Upper limit of each.
    pub upper: Vec<f64>,
    /// What the lower limit tends to.
    pub asymptotic_lower: f64,
    /// What the upper limit tends to.
    pub asymptotic_upper: f64,
    /// Places beyond the limits of their reading, from 0.
    pub signals: Vec<(usize, Side)>,
}

/// `z_i = lambda x_i + (1 - lambda) z_{i-1}`, `z_0` the centre, with limits `centre -/+ L sigma sqrt(lambda / (2 - lambda) (1 - (1 - lambda)^{2 i}))`
/// (Roberts 1959, Technometrics 1, 239-250; NIST/SEMATECH e-Handbook, section 6.3.2.4). Centre and sigma come from a baseline, as of
/// [`super::individuals()`], or are known.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` for options that are not as described.
pub fn ewma(readings: &[f64], options: &EwmaOptions) -> Result<EwmaChart, StatsError> {
    require_finite("the readings", readings)?;
    options.check()?;
    let EwmaOptions { weight, width, centre, sigma } = *options;
    let kept = 1.0 - weight;
    let limit = width * sigma * (weight / (2.0 - weight)).sqrt();
    let mut chart = EwmaChart {
        averages: Vec::with_capacity(readings.len()),
        lower: Vec::with_capacity(readings.len()),
        upper: Vec::with_capacity(readings.len()),
        asymptotic_lower: centre - limit,
        asymptotic_upper: centre + limit,
        signals: Vec::new(),
    };
    let (mut average, mut forgotten) = (centre, 1.0);
    for (place, reading) in readings.iter().enumerate() {
        average = weight * reading + kept * average;
        forgotten *= kept * kept;
        let half = limit * (1.0_f64 - forgotten).sqrt();
        chart.averages.push(average);
        chart.lower.push(centre - half);
        chart.upper.push(centre + half);
        chart.signals.extend(beyond(average, centre - half, centre + half).map(|s| (place, s)));
    }
    Ok(chart)
}

impl EwmaOptions {
    fn check(&self) -> Result<(), StatsError> {
        require_positive("the weight of the newest reading", self.weight)?;
        if self.weight > 1.0 {
            return Err(StatsError::OutOfRange {
                what: "the weight of the newest reading".into(),
                value: self.weight,
                expected: "at most 1".into(),
            });
        }
        require_positive("the width of the limits", self.width)?;
        require_positive("the standard deviation of the readings", self.sigma)?;
        require_number("the centre", self.centre)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::replicate;
    use rand_distr::{Distribution, StandardNormal};

    #[test]
    fn a_weight_of_one_is_the_plain_chart() {
        let options = EwmaOptions { weight: 1.0, width: 3.0, centre: 0.0, sigma: 1.0 };
        let found = ewma(&[0.5, 3.5, -4.0], &options).unwrap();
        assert_eq!(found.averages, [0.5, 3.5, -4.0]);
        assert_eq!(found.upper, [3.0; 3]);
        assert_eq!(found.signals, [(1, Side::Above), (2, Side::Below)]);
    }

    #[test]
    fn a_series_on_its_centre_stays_there() {
        let found = ewma(&[7.0; 50], &EwmaOptions::usual(7.0, 1.0)).unwrap();
        assert!(found.averages.iter().all(|average| (average - 7.0).abs() < 1e-12));
        assert!(found.signals.is_empty());
        assert!((found.upper[49] - found.asymptotic_upper).abs() < 1e-8);
    }

    #[test]
    fn the_usual_chart_sees_a_shift_of_one_deviation_in_about_nine_readings() {
        // 8.77 with asymptotic limits: Markov chain of 401 states, numpy; the narrower limits of the first readings see it a little sooner
        let lengths = replicate(5, 400, |generator| {
            let noise = StandardNormal.sample_iter(generator);
            let readings: Vec<f64> = noise.take(300).map(|z: f64| z + 1.0).collect();
            let found = ewma(&readings, &EwmaOptions::usual(0.0, 1.0)).unwrap();
            found.signals.first().map_or(300.0, |signal| signal.0 as f64 + 1.0)
        });
        let average = lengths.iter().sum::<f64>() / 400.0;
        assert!((7.3..9.5).contains(&average), "{average}");
    }

    #[test]
    fn options_that_make_no_chart_are_refused() {
        let good = EwmaOptions::usual(0.0, 1.0);
        for bad in [
            EwmaOptions { weight: 0.0, ..good },
            EwmaOptions { weight: 1.1, ..good },
            EwmaOptions { width: -1.0, ..good },
            EwmaOptions { sigma: 0.0, ..good },
            EwmaOptions { sigma: f64::NAN, ..good },
            EwmaOptions { centre: f64::INFINITY, ..good },
        ] {
            assert!(matches!(ewma(&[1.0], &bad), Err(StatsError::OutOfRange { .. })));
        }
        assert!(ewma(&[], &good).is_err());
        assert!(ewma(&[f64::NAN], &good).is_err());
    }
}
