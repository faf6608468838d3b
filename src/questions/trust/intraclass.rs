//! How much of one player's rating is the reed: the intraclass correlation that the ratings carry.

use std::collections::BTreeMap;

use ndarray::Array2;

use super::players::{Cells, FEWEST_REEDS, MOST_PLAYERS};
use crate::finding::{Estimated, IntraclassShown};
use crate::stats::agreement::{
    IntraclassForm, RatingUnit, intraclass, intraclass_one_way, joined_raters, rater_levels,
};

/// Intraclass correlations, in the form that the ratings carry.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Compared {
    pub is_two_way: bool,
    pub why: String,
    pub reeds: usize,
    pub estimate: Option<f64>,
    pub mean: Option<f64>,
    /// None for players who agree on everything: their error cannot be seen.
    pub single: Option<Estimated>,
    pub consistency: Option<Estimated>,
    pub forms: Vec<IntraclassShown>,
}

impl Compared {
    pub fn of(shared: &Cells) -> Self {
        let players = shared.players();
        let is_complete = |count: usize| count == players.len();
        let complete = shared.players_a_reed().filter(|count| is_complete(*count)).count();
        let reeds = shared.reeds();
        if complete >= FEWEST_REEDS && 2 * complete >= reeds {
            let full = shared.rated_by(is_complete);
            let why = crate::words::trust::players::two_way(players.len(), complete, reeds);
            return Self {
                is_two_way: true,
                why,
                reeds: complete,
                ..Self::two_way(&full, players.len())
            };
        }
        let why = crate::words::trust::players::one_way(players.len(), complete, reeds);
        Self { is_two_way: false, why, reeds, ..Self::one_way(shared) }
    }

    /// Cells come by reed and then by player, so they are the rows of the table.
    fn two_way(full: &Cells, players: usize) -> Self {
        let table =
            Array2::from_shape_vec((full.score.len() / players, players), full.score.clone());
        let Some(found) = table.ok().and_then(|table| intraclass(&table).ok()) else {
            return Self::default();
        };
        let coefficient = |form, unit| found.coefficient(form, unit).ok();
        let interval = |form, unit| {
            let (low, high) = found.interval(form, unit, 0.95).ok()?;
            Some(Estimated { estimate: coefficient(form, unit)?, low, high })
        };
        let mut forms = Vec::new();
        for (number, form) in [
            (1, IntraclassForm::OneWay),
            (2, IntraclassForm::TwoWayRandom),
            (3, IntraclassForm::TwoWayMixed),
        ] {
            for (unit, of) in [(RatingUnit::Single, 1), (RatingUnit::Average, players)] {
                let shown = interval(form, unit).filter(holds);
                forms.extend(shown.map(|shown| IntraclassShown {
                    form: format!("ICC({number},{of})"),
                    estimate: shown.estimate,
                    low: shown.low,
                    high: shown.high,
                }));
            }
        }
        Self {
            estimate: coefficient(IntraclassForm::TwoWayRandom, RatingUnit::Single),
            mean: coefficient(IntraclassForm::TwoWayRandom, RatingUnit::Average),
            single: interval(IntraclassForm::TwoWayRandom, RatingUnit::Single).filter(holds),
            consistency: interval(IntraclassForm::TwoWayMixed, RatingUnit::Single).filter(holds),
            forms,
            ..Self::default()
        }
    }

    fn one_way(shared: &Cells) -> Self {
        let Ok(found) = intraclass_one_way(&shared.score, &shared.reed) else {
            return Self::default();
        };
        let single = one_way_interval(&shared.score, &shared.reed);
        let size = shared.score.len() as f64 / shared.reeds().max(1) as f64;
        let shown = single.map(|single| IntraclassShown {
            form: "ICC(1,1)".to_owned(),
            estimate: single.estimate,
            low: single.low,
            high: single.high,
        });
        Self {
            estimate: Some(found.coefficient),
            mean: Some(found.of_mean(size)),
            single,
            consistency: without_leniency(shared)
                .and_then(|scores| one_way_interval(&scores, &shared.reed)),
            forms: shown.into_iter().collect(),
            ..Self::default()
        }
    }
}

fn holds(interval: &Estimated) -> bool {
    let Estimated { estimate, low, high } = *interval;
    [estimate, low, high].iter().all(|value| value.is_finite())
        && low <= estimate
        && estimate <= high
}

pub(super) fn one_way_interval(scores: &[f64], subjects: &[usize]) -> Option<Estimated> {
    let found = intraclass_one_way(scores, subjects).ok()?;
    let (low, high) = found.interval(0.95).ok()?;
    Some(Estimated { estimate: found.coefficient, low, high }).filter(holds)
}

/// None where the reeds do not join all players, or there are too many of them.
fn without_leniency(shared: &Cells) -> Option<Vec<f64>> {
    let players = shared.players();
    let joined = joined_raters(&shared.reed, &shared.player).ok()?;
    if players.len() > MOST_PLAYERS || joined.len() < players.len() {
        return None;
    }
    let found = rater_levels(&shared.score, &shared.reed, &shared.player).ok()?;
    let shift: BTreeMap<usize, f64> =
        found.levels.iter().map(|(player, level)| (*player, level.value)).collect();
    Some(
        shared
            .score
            .iter()
            .zip(&shared.player)
            .map(|(score, player)| score - shift[player])
            .collect(),
    )
}
