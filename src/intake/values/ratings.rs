//! Ratings as people write them: `7`, `7,5`, `7/10`, `3.5 / 5`, `B+`, `2-`, words.

use super::fates::FateRead;
use super::numbers::DecimalMark;

/// Words or letters in order, as the study file ranks them.
#[derive(Debug, Clone, Default)]
pub struct Ranking {
    folded: Vec<String>,
}

impl Ranking {
    /// The ranking with the lowest first: the first counts 1, the next 2.
    /// An error names the word that stands there twice.
    pub fn new(_lowest_first: &[String]) -> Result<Ranking, String> {
        unimplemented!()
    }

    pub fn is_empty(&self) -> bool {
        self.folded.is_empty()
    }

    /// How many steps it has: the top of its scale.
    pub fn steps(&self) -> usize {
        self.folded.len()
    }

    /// The rank of a word. `B+` is a third above `B` and `B-` a third below, unless
    /// they are ranked themselves (common practice in averaging letter grades).
    pub fn rank(&self, _word: &str) -> Option<f64> {
        unimplemented!()
    }
}

/// How the ratings of a column are to be read.
#[derive(Debug, Clone, Default)]
pub struct RatingRules {
    pub mark: Option<DecimalMark>,
    pub ranking: Ranking,
    /// School marks, 1 best: `2-` is 2.3, `2+` is 1.7 (common practice).
    pub school_marks: bool,
}

/// What a rating cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RatingRead {
    Score {
        score: f64,
        /// `10` in `7/10`.
        out_of: Option<f64>,
        approximate: bool,
    },
    /// `cracked`, `gave to Sam`: not how it played but what became of it.
    Fate(FateRead),
}

/// Why a cell is no rating.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RatingError {
    /// Neither a number nor a word of the ranking.
    UnrankedWord,
    /// `B+` while the study file ranks no letters.
    UnrankedLetter,
    /// `2-` while nothing says that these are school marks.
    SchoolMark,
    /// `7,500`.
    EitherMark,
    /// `12/10`, `7/0`, `-1/5`.
    OutOfScale,
    /// A number with something else around it.
    NotARating,
}

pub fn read(_cell: &str, _rules: &RatingRules) -> Result<RatingRead, RatingError> {
    unimplemented!()
}
