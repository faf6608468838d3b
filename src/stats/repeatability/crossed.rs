//! The measurement study: every appraiser measures every part several times.

use super::one_way::rounding_of;
use crate::stats::error::{StatsError, require_count, require_length, require_squarable};
use crate::stats::estimate::JointTest;
use crate::stats::numeric::{mean, sum, sum_of_squares};
use std::collections::BTreeMap;

/// A sum of squares, in squared units, and its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SourceOfSpread {
    /// Sum of squares.
    pub sum_of_squares: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
}

impl SourceOfSpread {
    /// Sum of squares over degrees of freedom; not a number without any.
    pub fn mean_square(&self) -> f64 {
        self.sum_of_squares / self.degrees_of_freedom
    }

    fn pooled(&self, other: &Self) -> Self {
        Self {
            sum_of_squares: self.sum_of_squares + other.sum_of_squares,
            degrees_of_freedom: self.degrees_of_freedom + other.degrees_of_freedom,
        }
    }
}

/// The two-way analysis of variance of a balanced crossed study.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrossedStudy {
    /// Parts `p`.
    pub parts: usize,
    /// Appraisers `a`.
    pub appraisers: usize,
    /// Trials `r` of each appraiser on each part.
    pub trials: usize,
    /// Between parts, `p - 1` degrees of freedom.
    pub part: SourceOfSpread,
    /// Between appraisers, `a - 1`.
    pub appraiser: SourceOfSpread,
    /// What neither explains of the means of the cells, `(p - 1)(a - 1)`.
    pub interaction: SourceOfSpread,
    /// Within cells, `p a (r - 1)`.
    pub repeatability: SourceOfSpread,
    /// Mean squares below this are rounding.
    rounding: f64,
}

/// Whether appraisers may differ on some parts more than on others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Interaction {
    /// The interaction has a variance of its own.
    Kept,
    /// Its sum of squares is pooled with the repeatability: the custom where its test does not show it.
    Pooled,
}

/// A variance by the method of moments, in squared units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VarianceComponent {
    /// The variance, never negative.
    pub variance: f64,
    /// What the mean squares gave; negative where the variance was set to zero.
    pub moment: f64,
}

impl VarianceComponent {
    fn new(moment: f64) -> Self {
        Self { variance: moment.max(0.0), moment }
    }
}

/// The spread of single measurements, split.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasurementComponents {
    /// The same appraiser on the same part.
    pub repeatability: VarianceComponent,
    /// Part by appraiser; zero where it was pooled.
    pub interaction: VarianceComponent,
    /// Between appraisers.
    pub appraiser: VarianceComponent,
    /// Between parts.
    pub part: VarianceComponent,
}

/// Two-way analysis of variance of a balanced study of parts by appraisers by trials (AIAG, Measurement Systems Analysis, 4th ed. 2010, chapter III and
/// appendix A). `parts` and `appraisers` give each value its codes; every appraiser measures every part the same number of times.
///
/// # Errors
/// `LengthMismatch` also for a table that is not balanced; `Empty`, `NotFinite`; `TooFew` under two parts or appraisers.
pub fn crossed_study(
    values: &[f64],
    parts: &[usize],
    appraisers: &[usize],
) -> Result<CrossedStudy, StatsError> {
    require_length("the list of parts", values.len(), parts.len())?;
    require_length("the list of appraisers", values.len(), appraisers.len())?;
    require_squarable("the measurements", values)?;
    let cells = Cells::new(values, &Places::new(parts), &Places::new(appraisers))?;
    cells.analyse(rounding_of(values))
}

/// Codes as places from 0, in the order of the codes.
struct Places {
    places: Vec<usize>,
    count: usize,
}

impl Places {
    fn new(codes: &[usize]) -> Self {
        let mut known: BTreeMap<usize, usize> = codes.iter().map(|&code| (code, 0)).collect();
        known.values_mut().enumerate().for_each(|(place, value)| *value = place);
        let places = codes.iter().filter_map(|code| known.get(code).copied());
        Self { places: places.collect(), count: known.len() }
    }
}

/// The values of every part (rows) by appraiser (columns).
struct Cells {
    values: Vec<Vec<f64>>,
    parts: usize,
    appraisers: usize,
    trials: usize,
}

impl Cells {
    fn new(values: &[f64], parts: &Places, appraisers: &Places) -> Result<Self, StatsError> {
        require_count("parts", 2, parts.count)?;
        require_count("appraisers", 2, appraisers.count)?;
        let cells = parts.count.saturating_mul(appraisers.count);
        // before the table is made: two lists of many codes would make it enormous
        let trials = values.len() / cells;
        require_length("the table of parts and appraisers", cells * trials.max(1), values.len())?;
        let mut table = vec![Vec::with_capacity(trials); cells];
        for ((&value, part), appraiser) in values.iter().zip(&parts.places).zip(&appraisers.places)
        {
            // places lie below their counts
            table[part * appraisers.count + appraiser].push(value);
        }
        for (place, cell) in table.iter().enumerate() {
            let (part, appraiser) = (place / appraisers.count, place % appraisers.count);
            let what = format!("part {} by appraiser {}", part + 1, appraiser + 1);
            require_length(&what, trials, cell.len())?;
        }
        Ok(Self { values: table, parts: parts.count, appraisers: appraisers.count, trials })
    }

    fn analyse(&self, rounding: f64) -> Result<CrossedStudy, StatsError> {
        let (p, a, r) = (self.parts as f64, self.appraisers as f64, self.trials as f64);
        let cell: Vec<f64> = self.values.iter().map(|cell| mean(cell)).collect::<Result<_, _>>()?;
        let centre = mean(&cell)?;
        let effects = |count: usize, of: &dyn Fn(usize) -> usize| -> Vec<f64> {
            let mut totals = vec![Vec::new(); count];
            cell.iter().enumerate().for_each(|(place, mean)| totals[of(place)].push(mean - centre));
            totals.iter().map(|deviations| sum(deviations) / deviations.len() as f64).collect()
        };
        let part = effects(self.parts, &|place| place / self.appraisers);
        let appraiser = effects(self.appraisers, &|place| place % self.appraisers);
        let rest: Vec<f64> = cell
            .iter()
            .enumerate()
            .map(|(i, mean)| {
                mean - centre - part[i / self.appraisers] - appraiser[i % self.appraisers]
            })
            .collect();
        let within: Vec<f64> = self
            .values
            .iter()
            .zip(&cell)
            .flat_map(|(values, mean)| values.iter().map(move |value| value - mean))
            .collect();
        let source = |sum_of_squares, degrees_of_freedom| SourceOfSpread {
            sum_of_squares,
            degrees_of_freedom,
        };
        Ok(CrossedStudy {
            parts: self.parts,
            appraisers: self.appraisers,
            trials: self.trials,
            part: source(a * r * sum_of_squares(&part), p - 1.0),
            appraiser: source(p * r * sum_of_squares(&appraiser), a - 1.0),
            interaction: source(r * sum_of_squares(&rest), (p - 1.0) * (a - 1.0)),
            repeatability: source(sum_of_squares(&within), p * a * (r - 1.0)),
            rounding,
        })
    }
}

impl CrossedStudy {
    /// F test of "appraisers differ by the same on every part": interaction over repeatability.
    ///
    /// # Errors
    /// `NoDegreesOfFreedom` with a single trial; `NoVariation` where the trials repeat exactly.
    pub fn interaction_test(&self) -> Result<JointTest, StatsError> {
        self.require_trials()?;
        if self.repeatability.mean_square() <= self.rounding {
            return Err(StatsError::NoVariation { what: "the trials of a cell".into() });
        }
        Ok(JointTest {
            statistic: self.interaction.mean_square() / self.repeatability.mean_square(),
            numerator: self.interaction.degrees_of_freedom,
            denominator: self.repeatability.degrees_of_freedom,
        })
    }

    /// Variances by the method of moments, all effects random (NIST/SEMATECH e-Handbook, section 2.4; Montgomery & Runger 1993, Quality Engineering 6,
    /// 115-135). Kept: `(MS_part - MS_int) / (a r)`, `(MS_appraiser - MS_int) / (p r)`, `(MS_int - MS_rep) / r`, `MS_rep`. Pooled: the pooled mean square in
    /// place of both. Negative ones are set to zero, and their moment is kept.
    ///
    /// # Errors
    /// `NoDegreesOfFreedom` where the interaction is kept with a single trial; `NoVariation` where all measurements are equal.
    pub fn components(
        &self,
        interaction: Interaction,
    ) -> Result<MeasurementComponents, StatsError> {
        let (p, a, r) = (self.parts as f64, self.appraisers as f64, self.trials as f64);
        let (error, within, inner) = match interaction {
            Interaction::Kept => {
                self.require_trials()?;
                let (between, within) =
                    (self.interaction.mean_square(), self.repeatability.mean_square());
                (between, within, (between - within) / r)
            }
            Interaction::Pooled => {
                let pooled = self.interaction.pooled(&self.repeatability).mean_square();
                (pooled, pooled, 0.0)
            }
        };
        let found = MeasurementComponents {
            repeatability: VarianceComponent::new(within),
            interaction: VarianceComponent::new(inner),
            appraiser: VarianceComponent::new((self.appraiser.mean_square() - error) / (p * r)),
            part: VarianceComponent::new((self.part.mean_square() - error) / (a * r)),
        };
        if found.total() <= self.rounding {
            return Err(StatsError::NoVariation { what: "the measurements".into() });
        }
        Ok(found)
    }

    fn require_trials(&self) -> Result<(), StatsError> {
        if self.trials > 1 {
            return Ok(());
        }
        let what = "the interaction, which takes two trials".into();
        Err(StatsError::NoDegreesOfFreedom { what })
    }
}

impl MeasurementComponents {
    /// Variance of different appraisers on the same part, repeatability apart: appraiser and interaction.
    pub fn reproducibility(&self) -> f64 {
        self.appraiser.variance + self.interaction.variance
    }

    /// Variance of the measuring: repeatability and reproducibility.
    pub fn measurement(&self) -> f64 {
        self.repeatability.variance + self.reproducibility()
    }

    /// Variance of a single measurement of a random part.
    pub fn total(&self) -> f64 {
        self.measurement() + self.part.variance
    }

    /// Standard deviation of the measuring as a share of the total one, 0 to 1. Shares of standard deviations do not add up to 1; those of variances do.
    pub fn measurement_share(&self) -> f64 {
        (self.measurement() / self.total()).sqrt()
    }

    /// Reliability: the parts' share of the total variance, 0 to 1.
    pub fn reliability(&self) -> f64 {
        self.part.variance / self.total()
    }

    /// How many kinds of parts the measuring can tell apart, `1.41 sd_part / sd_measurement` before rounding down (AIAG 2010); infinite without error.
    pub fn distinct_categories(&self) -> f64 {
        1.41 * (self.part.variance / self.measurement()).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn codes(parts: usize, appraisers: usize, trials: usize) -> (Vec<usize>, Vec<usize>) {
        let rows = 0..parts * appraisers * trials;
        rows.map(|row| (row / (appraisers * trials), row / trials % appraisers)).unzip()
    }

    #[test]
    fn appraisers_a_constant_apart_differ_in_that_alone() {
        let (parts, appraisers) = codes(3, 2, 2);
        let rows = parts.iter().zip(&appraisers);
        let values: Vec<f64> = rows.map(|(&part, &by)| 5.0 * part as f64 + by as f64).collect();
        let study = crossed_study(&values, &parts, &appraisers).unwrap();
        assert!((study.appraiser.sum_of_squares - 12.0 * 0.25).abs() < 1e-12);
        assert!(study.interaction.sum_of_squares < 1e-24);
        let found = study.components(Interaction::Kept).unwrap();
        assert!((found.appraiser.variance - 0.5).abs() < 1e-12);
        assert!((found.part.variance - 25.0).abs() < 1e-12);
        assert!(matches!(study.interaction_test(), Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn a_negative_variance_is_set_to_zero_and_said() {
        let (parts, appraisers) = codes(2, 2, 2);
        let values = [1.0, 3.0, 3.0, 1.0, 6.0, 8.0, 8.0, 6.0];
        let found = crossed_study(&values, &parts, &appraisers).unwrap();
        let found = found.components(Interaction::Kept).unwrap();
        assert_eq!(found.interaction.variance, 0.0);
        assert!(found.interaction.moment < 0.0);
    }

    #[test]
    fn a_single_trial_leaves_only_the_pooled_split() {
        let (parts, appraisers) = codes(3, 2, 1);
        let study = crossed_study(&[1.0, 2.0, 4.0, 4.5, 8.0, 9.5], &parts, &appraisers).unwrap();
        let kept = study.components(Interaction::Kept);
        assert!(matches!(kept, Err(StatsError::NoDegreesOfFreedom { .. })));
        assert!(study.components(Interaction::Pooled).is_ok());
        assert!(study.interaction_test().is_err());
    }

    #[test]
    fn a_hole_in_the_table_is_refused_by_its_place() {
        let (mut parts, appraisers) = codes(2, 2, 2);
        parts[0] = 1;
        let fault = crossed_study(&[1.0; 8], &parts, &appraisers).unwrap_err();
        assert_eq!(fault.to_string(), "part 1 by appraiser 1 has 1 values where 2 are needed");
        let (parts, appraisers) = codes(2, 2, 1);
        assert!(crossed_study(&[1.0; 3], &parts[..3], &appraisers[..3]).is_err());
    }

    #[test]
    fn one_appraiser_and_equal_measurements_are_refused() {
        let (parts, appraisers) = codes(4, 1, 2);
        let single = crossed_study(&[1.0; 8], &parts, &appraisers);
        assert!(matches!(single, Err(StatsError::TooFew { found: 1, needed: 2, .. })));
        let (parts, appraisers) = codes(2, 2, 2);
        let flat = crossed_study(&[0.1; 8], &parts, &appraisers).unwrap();
        let found = flat.components(Interaction::Pooled);
        assert!(matches!(found, Err(StatsError::NoVariation { .. })));
        assert!(crossed_study(&[f64::NAN; 8], &parts, &appraisers).is_err());
    }

    #[test]
    fn codes_of_a_hundred_thousand_parts_and_appraisers_make_no_enormous_table() {
        let codes: Vec<usize> = (0..100_000).collect();
        let values = vec![1.0; 100_000];
        assert!(crossed_study(&values, &codes, &codes).is_err());
    }

    proptest! {
        #[test]
        fn the_four_sources_make_up_the_total(
            values in prop::collection::vec(-9.0_f64..9.0, 24)
        ) {
            let (parts, appraisers) = codes(4, 3, 2);
            let study = crossed_study(&values, &parts, &appraisers).unwrap();
            let centre = mean(&values).unwrap();
            let total: f64 = values.iter().map(|value| (value - centre).powi(2)).sum();
            let parts = [study.part, study.appraiser, study.interaction, study.repeatability];
            let found: f64 = parts.iter().map(|part| part.sum_of_squares).sum();
            prop_assert!((found - total).abs() < 1e-9 * (1.0 + total));
            let freedom: f64 = parts.iter().map(|part| part.degrees_of_freedom).sum();
            prop_assert_eq!(freedom, 23.0);
        }
    }
}
