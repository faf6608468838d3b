//! Players whose marks hardly overlap: perhaps they rate on scales of their own.

use super::checks::ratings as checks;
use super::context::Context;
use super::scores::Scores;

/// Fewer ratings of a player say nothing of the scale that they are on.
const FEWEST: usize = 5;
/// Of the other's marks so large a share lies above the highest of the one.
const SHARE_ABOVE: f64 = 0.75;

/// One player's marks of the outcome, rising.
struct Marks<'a> {
    player: &'a str,
    marks: Vec<f64>,
}

impl Marks<'_> {
    fn lowest(&self) -> f64 {
        self.marks.first().copied().unwrap_or(f64::NAN)
    }

    fn highest(&self) -> f64 {
        self.marks.last().copied().unwrap_or(f64::NAN)
    }

    fn above(&self, mark: f64) -> usize {
        self.marks.len() - self.marks.partition_point(|own| *own <= mark)
    }
}

/// Points out players of whom none of the marks reaches most marks of another.
pub(super) fn remark(context: &mut Context, scores: &Scores, outcome: &str) {
    let players = of_players(scores, outcome);
    for low in &players {
        let highest = low.highest();
        let farthest = players
            .iter()
            .filter(|high| high.above(highest) as f64 >= SHARE_ABOVE * high.marks.len() as f64)
            .max_by(|a, b| a.highest().total_cmp(&b.highest()));
        if let Some(high) = farthest {
            let told = |marks: &Marks| (marks.player.to_owned(), [marks.lowest(), marks.highest()]);
            checks::players_apart(
                context.ledger,
                &context.study_place(),
                told(low),
                told(high),
                high.above(highest),
                high.marks.len(),
            );
        }
    }
}

fn of_players<'a>(scores: &'a Scores, outcome: &str) -> Vec<Marks<'a>> {
    let of_outcome = scores.criteria.iter().position(|name| name == outcome);
    let mut marks: Vec<Marks> =
        scores.players.iter().map(|player| Marks { player, marks: Vec::new() }).collect();
    for score in &scores.scores {
        let is_own = Some(score.criterion as usize) == of_outcome;
        if let Some(own) = marks.get_mut(score.player as usize).filter(|_| is_own) {
            own.marks.push(score.score);
        }
    }
    marks.retain(|own| own.marks.len() >= FEWEST);
    marks.iter_mut().for_each(|own| own.marks.sort_by(f64::total_cmp));
    // not as they first stand in the file
    marks.sort_by_key(|own| own.player);
    marks
}
