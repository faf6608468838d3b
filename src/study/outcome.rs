//! Which ratings speak for a reed, which way is better, and what counts as good.

use super::{Fate, Labels, Study, tables};

/// Which end of the scale is the good one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Better {
    Higher,
    Lower,
}

/// Which of a reed's ratings speak for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Settled {
    /// All of them.
    All,
    /// Each player's last one.
    Last,
    /// All but the first so many of each player, while the reed breaks in.
    After(usize),
}

/// What is modelled: a criterion, or the distance from its ideal.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    pub criterion: String,
    pub better: Better,
    /// The ideal, where it lies in the middle; then the value modelled is the distance from it.
    pub target: Option<f64>,
}

/// The ratings that speak for their reeds, one entry a rating.
#[derive(Debug, Clone, PartialEq)]
pub struct RatingRows {
    /// Row of the piece.
    pub piece: Vec<usize>,
    pub player: Labels,
    pub score: Vec<f64>,
    /// Days since 1970-01-01.
    pub day: Vec<Option<i32>>,
}

impl Study {
    /// The study's main outcome.
    pub fn outcome(&self) -> Outcome {
        self.outcome_of(&self.settings().outcome)
    }

    /// Any criterion as an outcome.
    pub fn outcome_of(&self, criterion: &str) -> Outcome {
        let target = self.settings().targets.get(criterion).copied();
        Outcome { criterion: criterion.to_owned(), better: self.better_of(criterion), target }
    }

    /// All criteria that have a score, in the order in which they first stand in the log.
    pub fn criteria(&self) -> Vec<String> {
        tables::distinct(&self.parts.ratings, "criterion")
    }

    /// The ratings of the main outcome that speak for their reeds, in the file's order.
    pub fn rating_rows(&self) -> &RatingRows {
        self.asked.rating_rows.get_or_init(|| self.rating_rows_of(&self.outcome()))
    }

    /// The ratings of any outcome that speak for their reeds, in the file's order.
    pub fn rating_rows_of(&self, outcome: &Outcome) -> RatingRows {
        tables::rating_rows(&self.parts, outcome)
    }

    /// Each piece's score: the mean of the ratings that speak for it.
    pub fn reed_scores(&self) -> &[Option<f64>] {
        let rows = self.rating_rows();
        self.asked.reed_scores.get_or_init(|| tables::mean_by_piece(rows, self.pieces()))
    }

    /// Whether each piece became a good reed: spoiled before it was rated counts as no; a piece that is
    /// unfinished, or went away unrated, is unknown.
    pub fn good(&self) -> Vec<Option<bool>> {
        let scores = self.reed_scores();
        let fates = self.fates();
        scores
            .iter()
            .zip(fates)
            .map(|(score, fate)| match (score, fate) {
                (Some(score), _) => Some(self.is_good(*score)),
                (None, Some(Fate::Spoiled)) => Some(false),
                (None, _) => None,
            })
            .collect()
    }

    /// Whether a score reaches `good_at`, on the side of the scale that is better.
    pub fn is_good(&self, score: f64) -> bool {
        let settings = self.settings();
        match self.better_of(&settings.outcome) {
            Better::Higher => score >= settings.good_at,
            Better::Lower => score <= settings.good_at,
        }
    }

    /// Of a criterion with an ideal less is better: the distance from it.
    fn better_of(&self, criterion: &str) -> Better {
        let settings = self.settings();
        if settings.targets.contains_key(criterion) { Better::Lower } else { settings.best }
    }
}
