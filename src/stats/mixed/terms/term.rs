//! What a random term is, and its levels.

use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::sum_of_squares;
use crate::whole;

/// One grouping whose levels deviate at random from the fixed part: in their intercept, and where columns are given in their slopes too.
#[derive(Debug, Clone, PartialEq)]
pub struct RandomTerm {
    name: String,
    groups: Vec<usize>,
    slopes: Vec<(String, Vec<f64>)>,
}

impl RandomTerm {
    /// A random intercept: one deviation for each code of `groups` (one code a row). Crossed groupings share codes freely; a nested grouping needs codes of its
    /// own, so that the first sample of one batch is not the first of another.
    pub fn intercept(name: &str, groups: &[usize]) -> Self {
        Self { name: name.into(), groups: groups.to_vec(), slopes: Vec::new() }
    }

    /// Adds a random slope on a column (one value a row), correlated with the term's other coefficients.
    pub fn with_slope(mut self, name: &str, values: &[f64]) -> Self {
        self.slopes.push((name.into(), values.to_vec()));
        self
    }
}

/// A term whose levels are numbered, its slopes brought to unit mean square.
#[derive(Debug, Clone)]
pub(super) struct Grouping {
    pub(super) name: String,
    /// `intercept` and the names of the slopes.
    pub(super) coefficients: Vec<String>,
    /// Codes of the levels, rising.
    pub(super) codes: Vec<usize>,
    /// Rows of each level.
    pub(super) counts: Vec<usize>,
    /// The level of each row.
    pub(super) of_row: Vec<u32>,
    slopes: Vec<Vec<f64>>,
    /// What the coefficients were divided by; 1 for the intercept.
    pub(super) scales: Vec<f64>,
}

impl Grouping {
    pub(super) fn new(term: &RandomTerm, rows: usize) -> Result<Self, StatsError> {
        require_length(&format!("the list of groups of {}", term.name), rows, term.groups.len())?;
        let mut codes = term.groups.clone();
        codes.sort_unstable();
        codes.dedup();
        if codes.len() < 2 {
            return Err(StatsError::TooFewGroups { found: codes.len(), needed: 2 });
        }
        // every row's code is among the codes
        let level = |code: &usize| whole::code(codes.partition_point(|other| other < code));
        let of_row: Vec<u32> = term.groups.iter().map(level).collect();
        let mut counts = vec![0; codes.len()];
        of_row.iter().for_each(|&level| counts[level as usize] += 1);
        let mut grouping = Self {
            name: term.name.clone(),
            coefficients: vec!["intercept".into()],
            codes,
            counts,
            of_row,
            slopes: Vec::new(),
            scales: vec![1.0],
        };
        for (name, values) in &term.slopes {
            grouping.add_slope(name, values)?;
        }
        Ok(grouping)
    }

    fn add_slope(&mut self, name: &str, values: &[f64]) -> Result<(), StatsError> {
        let what = format!("the slope {name} of {}", self.name);
        require_length(&what, self.of_row.len(), values.len())?;
        require_finite(&what, values)?;
        if self.coefficients.iter().any(|other| other == name) {
            return Err(StatsError::DuplicateColumn { name: name.into() });
        }
        if values.windows(2).all(|pair| pair[0] == pair[1]) {
            return Err(StatsError::NoVariation { what });
        }
        let size = (sum_of_squares(values) / values.len() as f64).sqrt();
        if !size.is_normal() {
            let expected = "a number that a double can hold".into();
            return Err(StatsError::OutOfRange { what, value: size, expected });
        }
        self.coefficients.push(name.into());
        self.slopes.push(values.iter().map(|value| value / size).collect());
        self.scales.push(size);
        Ok(())
    }

    /// Coefficients a level.
    pub(super) fn size(&self) -> usize {
        self.scales.len()
    }

    pub(super) fn levels(&self) -> usize {
        self.codes.len()
    }

    /// The multiplier of a coefficient in a row: 1 for the intercept.
    pub(super) fn value(&self, row: usize, coefficient: usize) -> f64 {
        match coefficient.checked_sub(1) {
            None => 1.0,
            Some(slope) => self.slopes[slope][row],
        }
    }

    /// Rows in the order of the levels.
    pub(super) fn rows_by_level(&self) -> Vec<Vec<u32>> {
        let mut rows: Vec<Vec<u32>> =
            self.counts.iter().map(|&count| Vec::with_capacity(count)).collect();
        for (row, &level) in (0..).zip(&self.of_row) {
            rows[level as usize].push(row);
        }
        rows
    }
}
