//! What a world is made of.

use super::super::entries::Step;
use super::super::scenario::{PLAYER_ONE, PLAYER_TWO};

/// A kind of workshop. Sizes are in rating points; those of factors are counted in steps of the factor.
#[derive(Debug, Clone, PartialEq)]
pub struct World {
    /// Pieces started of each lot.
    pub lots: Vec<usize>,
    /// Days from the first piece to the last.
    pub days: i32,
    /// Mean quality of a piece with every factor at its centre, in the middle of the log.
    pub base: f64,
    /// Standard deviation between lots, between pieces of a lot by their own luck, and of a rating from day to day.
    pub lot_sd: f64,
    pub reed_sd: f64,
    pub rating_sd: f64,
    /// Skill: points for one more month.
    pub trend: f64,
    /// Points above the average at the best time of the year.
    pub season: f64,
    pub players: Vec<Player>,
    /// In any order; the making goes by their steps.
    pub factors: Vec<Factor>,
    pub loss: Loss,
}

/// Someone who rates reeds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Player {
    pub name: &'static str,
    /// Points above what is heard.
    pub kinder: f64,
    /// Share of the reeds that this player rates, once each.
    pub share: f64,
    /// Share of the log's days that are over when the player comes.
    pub comes: f64,
}

/// The maker, who rates every reed.
pub const MAKER: Player = Player { name: PLAYER_ONE, kinder: 0.0, share: 1.0, comes: 0.0 };
/// A friend, who is kinder.
pub const FRIEND: Player = Player { name: PLAYER_TWO, kinder: 0.5, share: 0.4, comes: 0.0 };

/// A column of the log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factor {
    pub name: &'static str,
    pub made_at: Step,
    /// The middle of the values, one step, the smallest value that there is, and decimals as written.
    pub centre: f64,
    pub step: f64,
    pub lowest: f64,
    pub decimals: u8,
    /// The names of a choice's kinds, for one step less or more; none for a number.
    pub kinds: &'static [&'static str],
    /// Points for one more step, with all other factors as they are.
    pub effect: f64,
    pub bend: Option<Bend>,
    /// Log odds of a loss for one more step, and what comes on top for each standard deviation by which the piece itself is below average.
    pub spoils: f64,
    pub spoils_weak: f64,
    /// Standard deviation within and between lots, steps.
    pub within: f64,
    pub between: f64,
    /// Correlation within lots with the other factors of the same step that have it.
    pub shared: f64,
    /// Steps by which the habit of a lot is higher that is one standard deviation better.
    pub with_quality: f64,
    /// Steps for one more month, and steps above the average at the best time of the year.
    pub drift: f64,
    pub with_season: f64,
    pub follows: Option<Follows>,
    /// Standard deviation of one reading around the true value, steps.
    pub reading: f64,
    /// Share of the pieces that are read three times.
    pub read_again: f64,
    /// Share of the cells that stay empty, whatever would have stood there; of a number.
    pub unread: f64,
    /// Values that the study file asks about under `[decide]`.
    pub candidates: &'static [f64],
}

/// A sweet spot: the points lost grow with the square of the distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// Steps from the centre.
    pub best: f64,
    /// Points lost one step from the best.
    pub lost: f64,
}

/// The value is higher by so many steps for one more step of an earlier factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Follows {
    pub earlier: &'static str,
    pub steps: f64,
}

/// How pieces are lost, at one step of the making.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    pub at: Step,
    pub how: &'static str,
    /// Log odds for an average piece with every factor at its centre.
    pub log_odds: f64,
    /// Further log odds for each standard deviation by which the piece itself is weaker.
    pub weaker: f64,
}

impl Loss {
    /// No piece is ever lost.
    pub const NEVER: Loss =
        Loss { at: Step::Form, how: "cracked", log_odds: f64::NEG_INFINITY, weaker: 0.0 };
    /// About one piece in ten cracks on the pin, whatever it is like.
    pub const ONE_IN_TEN: Loss = Loss { log_odds: -2.2, ..Loss::NEVER };
}

impl Factor {
    /// A number without any effect that varies by one step within lots and half a step between them.
    pub const fn idle(name: &'static str, made_at: Step) -> Factor {
        Factor {
            name,
            made_at,
            centre: 50.0,
            step: 1.0,
            lowest: f64::NEG_INFINITY,
            decimals: 2,
            kinds: &[],
            effect: 0.0,
            bend: None,
            spoils: 0.0,
            spoils_weak: 0.0,
            within: 1.0,
            between: 0.5,
            shared: 0.0,
            with_quality: 0.0,
            drift: 0.0,
            with_season: 0.0,
            follows: None,
            reading: 0.0,
            read_again: 0.0,
            unread: 0.0,
            candidates: &[],
        }
    }

    /// Days on the pin, without any effect: three weeks or so, a week being a step.
    pub const fn forming_days() -> Factor {
        let idle = Factor::idle("forming_days", Step::Form);
        Factor { centre: 21.0, step: 7.0, lowest: 1.0, decimals: 0, ..idle }
    }
}
