//! A table of reeds summed lot by lot, for logs that no machine holds whole: the query that sums it, the file of the sums, and the products that a model
//! takes from them.
//!
//! Sums are of differences from constants near the columns' middles, so that squares of large numbers do not drown small differences.

mod columns;
mod file;
mod query;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use crate::catalogue::{self, Range};
use crate::stats::StatsError;
use crate::stats::products::{GroupSums, Products};

pub use file::read;
pub use query::{Source, sql};

/// The most factors: of more, no engine gives the columns of every two of them.
pub const MOST_FACTORS: usize = 60;
/// Longest name of a column in bytes.
const LONGEST_NAME: usize = 128;

/// Which columns are summed, and about which constants.
#[derive(Debug, Clone, PartialEq)]
pub struct Summed {
    factors: Vec<String>,
    score: String,
    /// One a factor; the score's stands last.
    centres: Vec<f64>,
}

/// The sums of one lot.
#[derive(Debug, Clone, PartialEq)]
pub struct LotSums {
    pub lot: String,
    /// Reeds of the lot, those without a factor or a score too.
    pub reeds: usize,
    /// Over the reeds that have all; the code is the lot's place.
    pub sums: GroupSums,
}

/// A table of reeds, summed.
#[derive(Debug, Clone, PartialEq)]
pub struct Sums {
    pub of: Summed,
    /// The lots with a reed that has all.
    pub lots: Vec<LotSums>,
    /// The other lots, each with its reeds.
    pub unsummed: Vec<(String, usize)>,
    /// Reeds that lack a factor or the score, in any lot.
    pub incomplete: usize,
    /// Reeds of no lot.
    pub without_lot: usize,
}

impl Summed {
    /// Names the columns. A constant that is not `given` is the geometric middle of what is usual of the column, and 0 where that is not known.
    ///
    /// # Errors
    /// A sentence that says what cannot be summed.
    pub fn new(factors: &[String], score: &str, given: &[(String, f64)]) -> Result<Summed, String> {
        if factors.is_empty() {
            return Err("No factor is named; name one column at least.".to_owned());
        }
        if factors.len() > MOST_FACTORS {
            return Err(format!(
                "{} factors are named; at most {MOST_FACTORS} can be summed.",
                factors.len()
            ));
        }
        let names = || factors.iter().map(String::as_str).chain([score]);
        let mut seen = BTreeSet::new();
        for name in names() {
            if !is_name(name) {
                return Err(format!("“{}” is no name of a column.", shown(name)));
            }
            if !seen.insert(name) {
                return Err(format!("“{name}” is named twice."));
            }
        }
        if let Some((name, _)) = given.iter().find(|(name, _)| !seen.contains(name.as_str())) {
            return Err(format!("A constant is given for “{}”, which is not summed.", shown(name)));
        }
        let centre = |name: &str| {
            let given = given.iter().find(|(other, _)| other == name);
            given.map_or_else(|| usual_middle(name), |(_, value)| *value)
        };
        let centres = names().map(centre).collect();
        Ok(Summed { factors: factors.to_vec(), score: score.to_owned(), centres })
    }

    pub fn factors(&self) -> &[String] {
        &self.factors
    }

    pub fn score(&self) -> &str {
        &self.score
    }

    /// One a factor; the score's stands last.
    pub fn centres(&self) -> &[f64] {
        &self.centres
    }

    /// The factors and, last, the score.
    fn names(&self) -> Vec<&str> {
        self.factors.iter().chain([&self.score]).map(String::as_str).collect()
    }
}

impl Sums {
    /// What the models of the linear family take: a group a lot, the intercept before the factors.
    ///
    /// # Errors
    /// `Empty` where no lot has a reed that has all.
    pub fn products(&self) -> Result<Products, StatsError> {
        let groups: Vec<GroupSums> = self.lots.iter().map(|lot| lot.sums.clone()).collect();
        Products::from_sums(&self.of.factors, &self.of.centres, &groups)
    }

    /// Reeds that have all.
    pub fn used(&self) -> usize {
        self.lots.iter().map(|lot| lot.sums.count).sum()
    }

    /// The file's heading and its rows: what the query gives of the same reeds.
    pub fn rows(&self) -> (Vec<String>, Vec<Vec<String>>) {
        file::rows(self)
    }
}

fn usual_middle(name: &str) -> f64 {
    let usual = catalogue::known(name).and_then(|column| column.usual);
    usual.filter(|range| range.low > 0.0).map_or(0.0, |range: Range| {
        // three digits: a constant that a reader can check
        let middle = (range.low * range.high).sqrt();
        format!("{middle:.2e}").parse().unwrap_or(middle)
    })
}

/// What a column or a table can be called.
fn is_name(name: &str) -> bool {
    !name.trim().is_empty() && name.len() <= LONGEST_NAME && !name.chars().any(char::is_control)
}

fn shown(name: &str) -> String {
    name.chars().filter(|character| !character.is_control()).take(60).collect()
}
