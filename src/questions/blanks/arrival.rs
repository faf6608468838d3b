//! How many of the pieces that stood where an unfinished one stands came to their first note.

use crate::catalogue::Stage;
use crate::study::{Fate, Study};

/// What became of the pieces whose end is known.
pub(super) struct Arrivals {
    /// Pieces that were rated or are played.
    reached: usize,
    /// Pieces spoiled before they were rated, by the stage where it happened: the first stages first.
    lost_at: Vec<Stage>,
    /// The same without a stage in the log.
    lost_somewhere: usize,
}

impl Arrivals {
    /// None where the log could not tell of a loss, or tells of no reed that arrived.
    pub fn of(study: &Study) -> Option<Self> {
        let (fates, scores) = (study.fates(), study.reed_scores());
        let at = study.words("spoiled_at");
        let (mut reached, mut lost_at, mut lost_somewhere) = (0, Vec::new(), 0);
        for (piece, fate) in fates.iter().enumerate() {
            match (scores[piece], fate) {
                (Some(_), _) | (None, Some(Fate::InUse | Fate::WornOut)) => reached += 1,
                (None, Some(Fate::Spoiled)) => match at[piece].and_then(Stage::from_word) {
                    Some(stage) => lost_at.push(stage),
                    None => lost_somewhere += 1,
                },
                // neither arrived nor was lost on the way, as far as the log tells
                (None, _) => {}
            }
        }
        lost_at.sort_unstable();
        let tells = |column: &str| ["fate", "spoiled_at", "spoiled_by"].contains(&column);
        let could_tell = study.understood().iter().any(|column| tells(&column.name));
        let lost = lost_at.len() + lost_somewhere;
        (reached > 0 && (lost > 0 || could_tell)).then_some(Self {
            reached,
            lost_at,
            lost_somewhere,
        })
    }

    /// The share of pieces that came from this stage to their first note: those lost at the stage or later were at risk, those lost before were not. Losses
    /// without a stage are shared out like the others. Half a piece on either side keeps a few pieces from being a certainty (Jeffreys' prior).
    pub fn from(&self, stage: Option<Stage>) -> f64 {
        let stage = stage.unwrap_or(Stage::Cane);
        let earlier = self.lost_at.partition_point(|at| *at < stage);
        let later = (self.lost_at.len() - earlier) as f64;
        let placed = self.lost_at.len() as f64;
        let share = if placed > 0.0 { later / placed } else { 1.0 };
        let lost = later + share * self.lost_somewhere as f64;
        (self.reached as f64 + 0.5) / (self.reached as f64 + lost + 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn losses_before_the_stage_do_not_count_and_those_without_a_stage_count_in_part() {
        let lost_at = vec![Stage::Gouge, Stage::Form, Stage::Form, Stage::Finish];
        let arrivals = Arrivals { reached: 8, lost_at, lost_somewhere: 0 };
        assert_eq!(arrivals.from(Some(Stage::Cane)), 8.5 / 13.0);
        assert_eq!(arrivals.from(Some(Stage::Form)), 8.5 / 12.0);
        assert_eq!(arrivals.from(Some(Stage::Finish)), 8.5 / 10.0);
        // three of four placed losses were at forming or later, so are three of the four others
        let with_others = Arrivals { lost_somewhere: 4, ..arrivals };
        assert_eq!(with_others.from(Some(Stage::Form)), 8.5 / 15.0);
    }
}
