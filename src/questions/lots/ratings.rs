//! Fit: the lots' means from the ratings themselves, one row a rating.
//!
//! A reed with many ratings is known better than one with a single rating, and pieces of one tube are kin. Lots, tubes
//! where every rated reed has one, and reeds where some have several ratings deviate at random; players stand as columns up
//! to ten, beyond that they deviate at random too. Where each reed has one rating and no tube, this is the model of the
//! reeds' scores, and it is not fitted.

use std::collections::BTreeMap;

use super::super::rated::{MOST_FIXED_PLAYERS, RatedRows, distinct};
use super::super::scores::ReedScores;
use super::Rated;
use crate::stats::StatsError;
use crate::stats::design::Design;
use crate::stats::mixed::{Criterion, GroupMean, RandomTerm, TermsFit, fit_mixed_terms};
use crate::study::Study;
use crate::words::lots::RatingWords;

/// Above so many ratings or lots the reeds' scores speak alone: there the two models hardly differ.
const MOST_RATINGS: usize = 20_000;
const MOST_LOTS: usize = 200;

/// The means of the lots in the order of `lots`, and what stood in the model; none where it is not needed or cannot be fitted,
/// or sees no spread between lots.
pub(super) fn means(
    study: &Study,
    scores: &ReedScores,
    rated: &Rated,
    lots: &[GroupMean],
) -> Option<(Vec<GroupMean>, RatingWords)> {
    if lots.len() > MOST_LOTS || rated.reed.len() > MOST_RATINGS {
        return None;
    }
    let rows = RatedRows::of(study, scores).of_reeds(&rated.reed);
    let tubes = tubes(study, rated);
    let needed = rows.repeats() || tubes.is_some();
    if !needed || rows.score.len() > MOST_RATINGS {
        return None;
    }
    // a player whose leniency could not be found must not be told from the lots here either
    let players = scores.leniency.iter().any(|(_, shift)| *shift != 0.0);
    let model = Model { rows, lot: &rated.lot, players };
    let with_tubes = tubes.as_deref().and_then(|tubes| Some((model.fit(Some(tubes)).ok()?, true)));
    let (fitted, tubes) = with_tubes.or_else(|| Some((model.fit(None).ok()?, false)))?;
    if fitted.0.terms.first()?.at_boundary {
        return None;
    }
    let words = RatingWords { tubes, reeds: model.rows.repeats(), players };
    Some((predicted(&fitted, lots)?, words))
}

fn predicted((fit, at): &(TermsFit, Vec<f64>), lots: &[GroupMean]) -> Option<Vec<GroupMean>> {
    let one = |lot: &GroupMean| {
        let found = fit.predict(at, &[("lot", lot.code, &[1.0])]).ok()?;
        Some(GroupMean { mean: found.value, variance: found.variance, ..*lot })
    };
    lots.iter().map(one).collect()
}

/// A code for the tube of each rated reed, where each has one and they are neither the lots nor the reeds again.
fn tubes(study: &Study, rated: &Rated) -> Option<Vec<usize>> {
    let labels = study.labels("tube");
    // a tube of one lot is not the tube of that name in another
    let named: Option<Vec<(usize, u32)>> = rated
        .piece
        .iter()
        .zip(&rated.lot)
        .map(|(&piece, &lot)| Some((lot, (*labels.codes.get(piece)?)?)))
        .collect();
    let named = named?;
    let mut codes = BTreeMap::new();
    let code = |tube: &(usize, u32)| {
        let next = codes.len();
        *codes.entry(*tube).or_insert(next)
    };
    let tubes: Vec<usize> = named.iter().map(code).collect();
    let tells = codes.len() > distinct(&rated.lot) && codes.len() < tubes.len();
    tells.then_some(tubes)
}

struct Model<'a> {
    rows: RatedRows,
    /// By reed.
    lot: &'a [usize],
    players: bool,
}

impl Model<'_> {
    /// The fit, and the row at which lots are compared: the players as they come in the ratings.
    fn fit(&self, tubes: Option<&[usize]>) -> Result<(TermsFit, Vec<f64>), StatsError> {
        let by_row = |by_reed: &[usize]| -> Vec<usize> {
            self.rows.reed.iter().map(|&reed| by_reed[reed]).collect()
        };
        let mut terms = vec![RandomTerm::intercept("lot", &by_row(self.lot))];
        terms.extend(tubes.map(|tubes| RandomTerm::intercept("tube", &by_row(tubes))));
        if self.rows.repeats() {
            terms.push(RandomTerm::intercept("reed", &self.rows.reed));
        }
        let few = self.rows.players <= MOST_FIXED_PLAYERS;
        if self.players && !few {
            terms.push(RandomTerm::intercept("player", &self.rows.player));
        }
        let mut builder = Design::builder(self.rows.score.len()).intercept();
        let columns = if self.players && few { self.rows.player_columns() } else { Vec::new() };
        for (number, column) in columns.iter().enumerate() {
            builder = builder.number(&format!("player {number}"), column);
        }
        let design = builder.build()?.without_aliases().0;
        let fit = fit_mixed_terms(&design, &self.rows.score, &terms, Criterion::Reml)?;
        Ok((fit, design.column_means()))
    }
}
