//! Sentences about how far players agree.

use crate::finding::{
    Estimated, Interval, PlayerLeniency, PlayersTrust, RatingCeiling, RatingsNeeded,
};
use crate::words::digits::{change, count_in_words, level, percent, plural};
use crate::words::lists::{and, few, name};

fn interval(found: Estimated) -> Interval {
    Interval { estimate: found.estimate, low: found.low, high: found.high }
}

/// Why the two-way form was taken.
pub fn two_way(players: usize, complete: usize, reeds: usize) -> String {
    let all =
        if players == 2 { "both".to_owned() } else { format!("all {}", count_in_words(players)) };
    let rest = match reeds - complete {
        0 => String::new(),
        some => format!(
            "; {} by some of them only were left out",
            plural(some, "reed rated", "reeds rated")
        ),
    };
    format!(
        "{all} players rated the same {}, so differences between players can be told from differences between reeds{rest}",
        plural(complete, "reed", "reeds")
    )
}

/// Why the one-way form was taken.
pub fn one_way(players: usize, complete: usize, reeds: usize) -> String {
    format!(
        "of the {} that several of the {} players rated, {} were rated by all of them, so a rating is taken as one of some player",
        plural(reeds, "reed", "reeds"),
        count_in_words(players),
        match complete {
            0 => "none".to_owned(),
            some => format!("only {some}"),
        }
    )
}

/// How much of a rating is the reed.
pub fn share(found: &PlayersTrust) -> String {
    let reeds = plural(found.reeds, "reed", "reeds");
    let rated = match found.players {
        2 => format!("{reeds} rated by both players"),
        several => {
            format!("{reeds} rated by two of the {} players or more", count_in_words(several))
        }
    };
    match (found.icc_single, found.low, found.high) {
        (Some(estimate), Some(low), Some(high)) if low > 0.0 => format!(
            "One player’s rating is {} reed ({} to {}): so much of the spread of ratings is shared by players of the same reed; the rest is the player, the day \
             and chance ({rated}).",
            percent(estimate),
            percent(low),
            percent(high)
        ),
        (Some(_), Some(_), Some(high)) if high > 0.0 => format!(
            "Whether the players hear the same differences between reeds is open: the reed’s share in one player’s rating may be anything up to {} ({rated}).",
            percent(high)
        ),
        (Some(_), Some(_), Some(_)) => format!(
            "The players do not hear the same differences between reeds: their ratings of one reed differ more than chance would have them ({rated})."
        ),
        (Some(estimate), _, _) if estimate > 0.5 => format!(
            "The players marked every one of the {reeds} alike, so their disagreement is too small to be measured ({rated})."
        ),
        _ => format!(
            "How far the players agree cannot be told, because the ratings hardly differ ({rated})."
        ),
    }
}

/// What follows: leniency, ratings needed.
pub fn more(found: &PlayersTrust) -> Vec<String> {
    let without = found.consistency.filter(|share| share.low > 0.0).map(|share| {
        format!(
            "With each player’s leniency taken out, as the reed scores of the other questions have it, one rating is {} reed ({} to {}).",
            percent(share.estimate),
            percent(share.low),
            percent(share.high)
        )
    });
    let needed = found.ratings_needed.map(needed);
    leniency(&found.leniency, found.difference).into_iter().chain(without).chain(needed).collect()
}

fn needed(found: RatingsNeeded) -> String {
    let range = match found.high {
        Some(high) if high == found.low => String::new(),
        Some(high) => format!(" ({} to {high})", found.low),
        None => format!(" (at least {}; these ratings set no upper end)", found.low),
    };
    let ratings = match found.estimate {
        1 => "one rating".to_owned(),
        some => format!("about {some} ratings by different players"),
    };
    format!(
        "For a reed score that is {} reed it takes {ratings}{range}.",
        percent(found.reliability)
    )
}

fn leniency(levels: &[PlayerLeniency], difference: Option<Estimated>) -> Option<String> {
    match (levels, difference) {
        ([], _) => None,
        ([one, other], Some(by)) => Some(two(one, other, interval(by))),
        (several, _) => {
            let apart: Vec<String> =
                several.iter().filter(|player| player.stands_out).map(player).collect();
            let players = count_in_words(several.len());
            Some(match apart.len() {
                0 => format!(
                    "Whether one of the {players} players rates higher than the others is open."
                ),
                1..=5 => format!(
                    "Against the average of the {players} players, on the same reeds, {}.",
                    and(&apart)
                ),
                _ => format!(
                    "On the same reeds these rated apart from the average of the {players} players: {}.",
                    few(&several
                        .iter()
                        .filter(|p| p.stands_out)
                        .map(|p| p.player.clone())
                        .collect::<Vec<_>>())
                ),
            })
        }
    }
}

fn player(found: &PlayerLeniency) -> String {
    let by = Interval { estimate: found.estimate, low: found.low, high: found.high };
    format!("{} rated {} points", name(&found.player), change(by))
}

fn two(one: &PlayerLeniency, other: &PlayerLeniency, by: Interval) -> String {
    let (higher, lower) = if one.estimate > other.estimate { (one, other) } else { (other, one) };
    let names = (name(&higher.player), name(&lower.player));
    if higher.stands_out {
        return format!(
            "On the same reeds {} rated higher than {}, by {} points.",
            names.0,
            names.1,
            level(by)
        );
    }
    format!(
        "Whether {} rates higher than {} is open: {} points on the same reeds.",
        names.0,
        names.1,
        change(by)
    )
}

/// What rating noise leaves to anything that foretells the scores.
pub fn ceiling(found: &RatingCeiling) -> String {
    let whose = if found.from == ONE_PLAYER { ", even by the one player’s own ear" } else { "" };
    if found.r2.low <= 0.0 {
        return format!(
            "The ratings may be so noisy that nothing could foretell them; at the very best measurements could foretell {} of how reed scores differ{whose}.",
            percent(found.r2.high)
        );
    }
    format!(
        "Rating noise sets a ceiling{whose}: even perfect measurements could foretell only about {} ({} to {}) of how reed scores differ, a correlation of {}.",
        percent(found.r2.estimate),
        percent(found.r2.low),
        percent(found.r2.high),
        level(interval(found.correlation))
    )
}

/// Where the ceiling comes from, as it stands in the results.
pub const SEVERAL: &str = "several players";
pub const ONE_PLAYER: &str = "one player rating again";
