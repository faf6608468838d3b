//! Fit: how the families were rated, by a mixed model of the ratings.
//!
//! Families stand as columns; lots deviate at random, and so do reeds where some have several ratings; players, and makers where there are several, stand as
//! columns up to ten, beyond that they deviate at random too. A family's mean is that of an average lot and of the players and makers as they come in the ratings.
//! Differences between families are told with the intervals of all pairs together at 95 % (Bonferroni). A family with fewer than three rated reeds has no mean, and
//! none has one where players or makers account for a family: what is theirs and what is the family's cannot be told apart.

use super::super::rated::{MOST_FIXED_PLAYERS, RatedRows, columns_but_the_commonest, distinct};
use super::super::scores::reed_scores;
use super::kinds::Kinds;
use super::measure::Measured;
use crate::finding::{Estimated, FamilyDifference, Interval};
use crate::stats::StatsError;
use crate::stats::design::Design;
use crate::stats::estimate::Estimate;
use crate::stats::linear::{LinearFit, least_squares};
use crate::stats::mixed::{Criterion, MixedFit, RandomTerm, TermsFit, fit_mixed, fit_mixed_terms};
use crate::study::Study;
use crate::words::families::RatingWords;

const FEWEST_RATED: usize = 3;
/// Above so many ratings or lots each reed counts once, by its score: there the two models hardly differ.
const MOST_RATINGS: usize = 20_000;
const MOST_LOTS: usize = 200;

/// What the ratings say of each family.
#[derive(Default)]
pub(super) struct FamilyRatings {
    /// Reeds of each family that were rated.
    pub rated: Vec<usize>,
    pub means: Vec<Option<Interval>>,
    pub differences: Vec<FamilyDifference>,
    /// What stood in the model; none where there was nothing to fit.
    pub words: Option<RatingWords>,
    /// Whether the families cannot be told from who made or played their reeds.
    pub is_tangled: bool,
}

pub(super) fn ratings(study: &Study, measured: &Measured, kinds: &Kinds) -> FamilyRatings {
    let scores = reed_scores(study);
    let families = kinds.number();
    let mut family_of = vec![None; study.pieces()];
    for (&piece, &family) in measured.pieces.iter().zip(&kinds.labels) {
        family_of[piece] = Some(family);
    }
    let mut rated = vec![0; families];
    for &piece in &scores.piece {
        if let Some(family) = family_of[piece] {
            rated[family] += 1;
        }
    }
    let told: Vec<usize> = (0..families).filter(|&at| rated[at] >= FEWEST_RATED).collect();
    let is_told =
        |reed: &usize| family_of[scores.piece[*reed]].is_some_and(|family| told.contains(&family));
    let reeds: Vec<usize> = (0..scores.piece.len()).filter(is_told).collect();
    let mut answer =
        FamilyRatings { rated, means: vec![None; families], ..FamilyRatings::default() };
    let lots = study.lots();
    // a piece without a lot is a lot of its own
    let lot_of = |&reed: &usize| {
        let piece = scores.piece[reed];
        lots.codes[piece].map_or(lots.levels.len() + piece, |lot| lot as usize)
    };
    let lot: Vec<usize> = reeds.iter().map(lot_of).collect();
    let rows = RatedRows::of(study, &scores).of_reeds(&reeds);
    let is_large = rows.score.len() > MOST_RATINGS || distinct(&lot) > MOST_LOTS;
    let rows = if is_large { RatedRows::once_a_reed(&scores).of_reeds(&reeds) } else { rows };
    let model = Model {
        players: rows.players > 1,
        rows,
        lot,
        maker: makers(study, reeds.iter().map(|&reed| scores.piece[reed])),
        family: reeds.iter().filter_map(|&reed| family_of[scores.piece[reed]]).collect(),
        told,
    };
    if let Ok(fitted) = model.fit() {
        model.read(&fitted, &mut answer);
    }
    answer
}

/// The maker of each of the pieces; none where one made them all.
fn makers(study: &Study, pieces: impl Iterator<Item = usize>) -> Option<Vec<usize>> {
    let makers = study.several_makers()?;
    // a piece without a name counts as one more maker's
    let of = |piece: usize| makers.codes[piece].map_or(makers.levels.len(), |code| code as usize);
    let makers: Vec<usize> = pieces.map(of).collect();
    (distinct(&makers) > 1).then_some(makers)
}

struct Model {
    rows: RatedRows,
    /// By reed.
    lot: Vec<usize>,
    maker: Option<Vec<usize>>,
    family: Vec<usize>,
    /// Families with enough rated reeds, rising.
    told: Vec<usize>,
    players: bool,
}

enum Fit {
    Plain(Box<LinearFit>),
    Lots(Box<MixedFit>),
    Terms(Box<TermsFit>),
}

struct Fitted {
    fit: Fit,
    names: Vec<String>,
    averages: Vec<f64>,
}

impl Model {
    fn fit(&self) -> Result<Fitted, StatsError> {
        let design = self.design()?;
        let lots = self.by_row(&self.lot);
        let mut terms = Vec::new();
        if self.has_lots() {
            terms.push(RandomTerm::intercept("lot", &lots));
        }
        if self.rows.repeats() {
            terms.push(RandomTerm::intercept("reed", &self.rows.reed));
        }
        if self.players && self.rows.players > MOST_FIXED_PLAYERS {
            terms.push(RandomTerm::intercept("player", &self.rows.player));
        }
        let makers = self.maker.as_ref().map(|makers| self.by_row(makers));
        if let Some(makers) = makers.as_ref().filter(|makers| !is_few(makers)) {
            terms.push(RandomTerm::intercept("maker", makers));
        }
        let score = &self.rows.score;
        let fit = match terms.len() {
            0 => Fit::Plain(Box::new(least_squares(&design, score)?)),
            1 if self.has_lots() => {
                Fit::Lots(Box::new(fit_mixed(&design, score, &lots, Criterion::Reml)?))
            }
            _ => Fit::Terms(Box::new(fit_mixed_terms(&design, score, &terms, Criterion::Reml)?)),
        };
        Ok(Fitted { fit, averages: design.column_means(), names: design.names })
    }

    /// Whether there are lots to tell apart from each other and from their reeds.
    fn has_lots(&self) -> bool {
        let lots = distinct(&self.lot);
        lots > 1 && lots < self.lot.len()
    }

    fn by_row(&self, by_reed: &[usize]) -> Vec<usize> {
        self.rows.reed.iter().map(|&reed| by_reed[reed]).collect()
    }

    /// The families last, so that it is they that are found to be combinations of the others.
    fn design(&self) -> Result<Design, StatsError> {
        let mut builder = Design::builder(self.rows.score.len()).intercept();
        if self.players && self.rows.players <= MOST_FIXED_PLAYERS {
            for (number, column) in self.rows.player_columns().iter().enumerate() {
                builder = builder.number(&format!("player {number}"), column);
            }
        }
        let makers = self.maker.as_ref().map(|makers| self.by_row(makers));
        let makers = makers.filter(|makers| is_few(makers));
        let makers = makers.map_or(Vec::new(), |makers| columns_but_the_commonest(&makers));
        for (number, column) in makers.iter().enumerate() {
            builder = builder.number(&format!("maker {number}"), column);
        }
        for &family in self.told.iter().skip(1) {
            let is_own = |&reed: &usize| f64::from(u8::from(self.family[reed] == family));
            let column: Vec<f64> = self.rows.reed.iter().map(is_own).collect();
            builder = builder.number(&column_of(family), &column);
        }
        Ok(builder.build()?.without_aliases().0)
    }

    fn read(&self, fitted: &Fitted, answer: &mut FamilyRatings) {
        let column =
            |family: usize| fitted.names.iter().position(|name| *name == column_of(family));
        let others = self.told.get(1..).unwrap_or(&[]);
        if others.iter().any(|&family| column(family).is_none()) {
            answer.is_tangled = true;
            return;
        }
        // all at their average but the families, of which the row is in one
        let at = |family: usize| {
            let mut row = fitted.averages.clone();
            for &other in others {
                if let Some(cell) = column(other).and_then(|at| row.get_mut(at)) {
                    *cell = f64::from(u8::from(other == family));
                }
            }
            row
        };
        for &family in &self.told {
            answer.means[family] = fitted.interval(&at(family), 0.95);
        }
        let pairs = self.told.len() * self.told.len().saturating_sub(1) / 2;
        let level = 1.0 - 0.05 / pairs.max(1) as f64;
        for (place, &family) in self.told.iter().enumerate() {
            for &against in &self.told[place + 1..] {
                let apart: Vec<f64> =
                    at(family).iter().zip(at(against)).map(|(a, b)| a - b).collect();
                let interval = fitted.interval(&apart, level);
                answer.differences.extend(interval.map(|Interval { estimate, low, high }| {
                    let difference = Estimated { estimate, low, high };
                    FamilyDifference { family: family + 1, against: against + 1, difference }
                }));
            }
        }
        answer.words = Some(RatingWords {
            lots: self.has_lots(),
            reeds: self.rows.repeats(),
            players: self.players,
            makers: self.maker.is_some(),
        });
    }
}

/// Whether so many players or makers stand as columns of their own.
fn is_few(codes: &[usize]) -> bool {
    distinct(codes) <= MOST_FIXED_PLAYERS
}

fn column_of(family: usize) -> String {
    format!("family {family}")
}

impl Fitted {
    fn interval(&self, contrast: &[f64], level: f64) -> Option<Interval> {
        let estimate: Estimate = match &self.fit {
            Fit::Plain(fit) => fit.classical(contrast),
            Fit::Lots(fit) => fit.contrast(contrast),
            Fit::Terms(fit) => fit.contrast(contrast),
        }
        .ok()?;
        let (low, high) = estimate.interval(level).ok()?;
        let is_sound = low.is_finite() && high.is_finite();
        is_sound.then_some(Interval { estimate: estimate.value, low, high })
    }
}
