//! Building a design column by column.

use super::{Design, INTERCEPT};
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::mean;
use ndarray::Array2;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// Days in a mean Gregorian year: the period of the season.
const DAYS_IN_A_YEAR: f64 = 365.2425;

/// Collects columns; the first fault is reported by [`DesignBuilder::build`].
#[derive(Debug, Clone)]
pub struct DesignBuilder {
    rows: usize,
    names: Vec<String>,
    columns: Vec<Vec<f64>>,
    fault: Option<StatsError>,
}

impl DesignBuilder {
    pub(super) fn new(rows: usize) -> Self {
        Self { rows, names: Vec::new(), columns: Vec::new(), fault: None }
    }

    /// The column of ones, called `intercept`; add it first.
    pub fn intercept(self) -> Self {
        let ones = vec![1.0; self.rows];
        self.column(INTERCEPT.into(), ones)
    }

    /// A numeric column as it is.
    pub fn number(self, name: &str, values: &[f64]) -> Self {
        self.column(name.into(), values.to_vec())
    }

    /// Treatment contrasts: one column `name: level` of zeros and ones for every level but the reference, in the order of the levels' names.
    ///
    /// Without a named reference the commonest level is taken, the first by name among equals. A factor with one level adds no column.
    pub fn choice(mut self, name: &str, levels: &[String], reference: Option<&str>) -> Self {
        let mut distinct: Vec<&String> = levels.iter().collect();
        distinct.sort_unstable();
        distinct.dedup();
        let base = reference.map_or_else(|| commonest_level(levels), |level| Some(level.into()));
        let Some(base) = base.filter(|base| distinct.contains(&base)) else {
            let factor = name.into();
            let level = reference.unwrap_or("(any)").into();
            return self.fail(StatsError::UnknownLevel { factor, level });
        };
        for level in distinct.into_iter().filter(|&level| *level != base) {
            let column = levels.iter().map(|other| f64::from(other == level));
            let column = column.collect();
            self = self.column(format!("{name}: {level}"), column);
        }
        self
    }

    /// Sum-to-zero contrasts: one column `name: level` for every level but the last by name, 1 on its own rows and -1 on those of the last level. A coefficient
    /// is the level's difference from the unweighted mean of all levels, the last level's is minus their sum; beside an intercept that is then this mean. A
    /// factor with one level adds no column.
    pub fn choice_about_mean(mut self, name: &str, levels: &[String]) -> Self {
        let mut distinct: Vec<&String> = levels.iter().collect();
        distinct.sort_unstable();
        distinct.dedup();
        let Some(last) = distinct.pop() else {
            let (factor, level) = (name.into(), "(any)".into());
            return self.fail(StatsError::UnknownLevel { factor, level });
        };
        for level in distinct {
            let value = |other| f64::from(other == level) - f64::from(other == last);
            let column = levels.iter().map(value).collect();
            self = self.column(format!("{name}: {level}"), column);
        }
        self
    }

    /// The value less the mean of its group: the comparison inside groups (Mundlak 1978, Econometrica 46, 69-85).
    pub fn deviation_from_group_mean(self, name: &str, values: &[f64], groups: &[usize]) -> Self {
        match group_means(values, groups) {
            Ok(means) => {
                let pairs = values.iter().zip(means);
                let column = pairs.map(|(value, mean)| value - mean).collect();
                self.column(name.into(), column)
            }
            Err(fault) => self.fail(fault),
        }
    }

    /// The mean of the group, repeated on its rows: the comparison between groups (Mundlak 1978).
    pub fn group_mean(self, name: &str, values: &[f64], groups: &[usize]) -> Self {
        match group_means(values, groups) {
            Ok(means) => self.column(name.into(), means),
            Err(fault) => self.fail(fault),
        }
    }

    /// The three columns of a natural cubic spline, called `name, straight`, `name, bend 1`, `name, bend 2`; see [`super::NaturalSpline`].
    pub fn natural_spline(mut self, name: &str, spline: &super::NaturalSpline, at: &[f64]) -> Self {
        let basis: Vec<[f64; 3]> = at.iter().map(|&value| spline.basis(value)).collect();
        for (place, part) in ["straight", "bend 1", "bend 2"].iter().enumerate() {
            let column = basis.iter().map(|row| row[place]).collect();
            self = self.column(format!("{name}, {part}"), column);
        }
        self
    }

    /// The first annual harmonic of a day count: `name, sine` and `name, cosine`.
    pub fn annual_harmonic(self, name: &str, days: &[f64]) -> Self {
        let pairs: Vec<[f64; 2]> = days.iter().map(|&day| annual_harmonic(day)).collect();
        let part = |place: usize| pairs.iter().map(|pair| pair[place]).collect();
        let (sine, cosine) = (part(0), part(1));
        self.column(format!("{name}, sine"), sine).column(format!("{name}, cosine"), cosine)
    }

    /// The finished design.
    ///
    /// # Errors
    /// The first fault of any column: `LengthMismatch`, `NotFinite`, `UnknownLevel`, `DuplicateColumn`; `Empty` without columns or rows.
    pub fn build(self) -> Result<Design, StatsError> {
        if let Some(fault) = self.fault {
            return Err(fault);
        }
        let shape = (self.rows, self.columns.len());
        let matrix = Array2::from_shape_fn(shape, |(row, column)| self.columns[column][row]);
        Design::new(self.names, matrix)
    }

    fn column(self, name: String, values: Vec<f64>) -> Self {
        let checked = require_length(&name, self.rows, values.len())
            .and_then(|()| require_finite(&name, &values));
        match checked {
            Ok(()) => self.push(name, values),
            Err(fault) => self.fail(fault),
        }
    }

    fn push(mut self, name: String, values: Vec<f64>) -> Self {
        self.names.push(name);
        self.columns.push(values);
        self
    }

    fn fail(mut self, fault: StatsError) -> Self {
        self.fault.get_or_insert(fault);
        self
    }
}

/// The level that occurs most often, the first by name among equals; `None` without levels.
pub fn commonest_level(levels: &[String]) -> Option<String> {
    let mut counts: BTreeMap<&String, usize> = BTreeMap::new();
    for level in levels {
        *counts.entry(level).or_default() += 1;
    }
    let most = counts.values().copied().max()?;
    let first = counts.into_iter().find(|&(_, count)| count == most);
    first.map(|(level, _)| level.clone())
}

/// For every row the mean of its group, in the unit of the values.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`.
pub fn group_means(values: &[f64], groups: &[usize]) -> Result<Vec<f64>, StatsError> {
    require_length("the list of groups", values.len(), groups.len())?;
    require_finite("the values", values)?;
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by_key(|&row| groups[row]);
    let mut means = vec![0.0; values.len()];
    let mut members = Vec::new();
    for group in order.chunk_by(|&a, &b| groups[a] == groups[b]) {
        members.clear();
        members.extend(group.iter().map(|&row| values[row]));
        let mean = mean(&members)?;
        group.iter().for_each(|&row| means[row] = mean);
    }
    Ok(means)
}

/// `[sin, cos]` of the season at a day count, with the period of the mean Gregorian year (365.2425 days).
pub fn annual_harmonic(day: f64) -> [f64; 2] {
    let angle = TAU * day / DAYS_IN_A_YEAR;
    [angle.sin(), angle.cos()]
}

#[cfg(test)]
mod tests {
    use super::super::NaturalSpline;
    use super::*;
    use proptest::prelude::*;

    fn texts(levels: &[&str]) -> Vec<String> {
        levels.iter().map(|level| (*level).into()).collect()
    }

    #[test]
    fn the_commonest_level_is_the_reference_and_ties_go_by_name() {
        assert_eq!(commonest_level(&texts(&["b", "a", "b"])).unwrap(), "b");
        assert_eq!(commonest_level(&texts(&["b", "a"])).unwrap(), "a");
        assert_eq!(commonest_level(&[]), None);
    }

    #[test]
    fn a_choice_has_one_column_for_each_other_level() {
        let design = Design::builder(4)
            .intercept()
            .choice("knife", &texts(&["c", "a", "b", "a"]), None)
            .build()
            .unwrap();
        assert_eq!(design.names, ["intercept", "knife: b", "knife: c"]);
        assert_eq!(design.matrix.column(2).to_vec(), [1.0, 0.0, 0.0, 0.0]);
    }

    #[test]
    fn a_reference_that_does_not_occur_is_refused() {
        let fault = Design::builder(1).choice("knife", &texts(&["a"]), Some("z")).build();
        assert!(matches!(fault, Err(StatsError::UnknownLevel { .. })));
    }

    #[test]
    fn one_level_adds_no_column() {
        let design =
            Design::builder(2).intercept().choice("knife", &texts(&["a", "a"]), None).build();
        assert_eq!(design.unwrap().names, ["intercept"]);
    }

    #[test]
    fn coefficients_about_the_mean_are_differences_of_level_means() {
        // means 2, 4, 9 of a, b, c: their mean is 5
        let levels = texts(&["a", "a", "b", "c", "c"]);
        let design = Design::builder(5).intercept().choice_about_mean("knife", &levels).build();
        let design = design.unwrap();
        assert_eq!(design.names, ["intercept", "knife: a", "knife: b"]);
        let fit = crate::stats::linear::least_squares(&design, &[1.0, 3.0, 4.0, 8.0, 10.0]);
        for (found, expected) in fit.unwrap().coefficients.iter().zip([5.0, -3.0, -1.0]) {
            assert!((found - expected).abs() < 1e-13);
        }
        let one = Design::builder(1).intercept().choice_about_mean("knife", &texts(&["a"]));
        assert_eq!(one.build().unwrap().names, ["intercept"]);
        assert!(Design::builder(0).choice_about_mean("knife", &[]).build().is_err());
    }

    #[test]
    fn a_short_column_is_refused_by_name() {
        let fault = Design::builder(2).number("x", &[1.0]).build();
        assert!(matches!(fault, Err(StatsError::LengthMismatch { what, .. }) if what == "x"));
    }

    #[test]
    fn deviation_and_group_mean_add_up_to_the_value() {
        let values = [1.0, 3.0, 10.0];
        let groups = [7, 7, 2];
        let design = Design::builder(3)
            .deviation_from_group_mean("within", &values, &groups)
            .group_mean("between", &values, &groups)
            .build()
            .unwrap();
        assert_eq!(design.matrix.column(0).to_vec(), [-1.0, 1.0, 0.0]);
        assert_eq!(design.matrix.column(1).to_vec(), [2.0, 2.0, 10.0]);
    }

    #[test]
    fn the_spline_and_the_season_have_named_columns() {
        let days: Vec<f64> = (0..40).map(f64::from).collect();
        let spline = NaturalSpline::new(&days).unwrap();
        let design = Design::builder(40)
            .natural_spline("date", &spline, &days)
            .annual_harmonic("season", &days)
            .build()
            .unwrap();
        assert_eq!(design.names[1], "date, bend 1");
        assert_eq!(design.names[4], "season, cosine");
    }

    proptest! {
        #[test]
        fn deviations_sum_to_zero_in_every_group(
            rows in prop::collection::vec((-1e3_f64..1e3, 0_usize..4), 1..30)
        ) {
            let (values, groups): (Vec<f64>, Vec<usize>) = rows.into_iter().unzip();
            let means = group_means(&values, &groups).unwrap();
            for group in 0..4 {
                let total: f64 = (0..values.len()).filter(|&row| groups[row] == group)
                    .map(|row| values[row] - means[row]).sum();
                prop_assert!(total.abs() < 1e-9);
            }
        }
    }
}
