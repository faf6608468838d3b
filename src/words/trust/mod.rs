//! Sentences about how far measurements and ratings can be trusted.

pub mod again;
pub mod measures;
pub mod players;

use super::digits::{count, plural};
use super::lists::{few, name};
use crate::finding::{ReadTooSeldom, TrustSection};

/// The first sentences: the ratings, then the measurements.
pub fn answer(section: &TrustSection, labels: &[String]) -> String {
    let ratings = match &section.players {
        Some(found) => Some(players::share(found)),
        None => section.same_player.as_ref().map(|_| NO_OTHER_PLAYER.to_owned()),
    };
    let measures = measures::worst(&section.measures, labels);
    let parts: Vec<String> = ratings.into_iter().chain(measures).collect();
    parts.join(" ")
}

const NO_OTHER_PLAYER: &str =
    "How far players agree cannot be told: too few reeds were rated by two players.";

/// What must be known beside the answers.
pub fn caveats(
    section: &TrustSection,
    averaged: bool,
    seldom: &[(ReadTooSeldom, String)],
) -> Vec<String> {
    let mut caveats = Vec::new();
    if section.measures.iter().any(|measure| measure.reliability.is_some_and(|share| share > 0.0)) {
        caveats.push(
            "How much an effect shrinks is told for pieces of all lots together. Within a lot pieces differ less, and the same reading error shrinks \
             an effect more; “factors” gives the effect for a true step where it can."
                .to_owned(),
        );
    }
    if let Some(found) = section.players.as_ref().filter(|found| !found.apart.is_empty()) {
        caveats.push(format!(
            "{} rated no reed that ties {} to the other players, so leniency and reeds cannot be told apart there.",
            few(&found.apart),
            if found.apart.len() == 1 { "that player" } else { "them" }
        ));
    }
    if averaged {
        caveats.push(
            "Where a player rated a reed more than once, the mean of those ratings stands for the player's rating when players are compared."
                .to_owned(),
        );
    }
    caveats.extend(section.same_player.iter().flat_map(again::caveat));
    caveats.extend(seldom.iter().map(|(found, label)| {
        format!(
            "{}: only {} read again; it takes 8 before anything is said of it.",
            name(label),
            plural(found.pieces, "piece was", "pieces were")
        )
    }));
    caveats
}

/// What the log would need.
pub fn found(shared: usize, again: usize, pieces: usize) -> String {
    let some = |n: usize, one: &str, many: &str| match n {
        0 => format!("no {one}"),
        n => plural(n, one, many),
    };
    let read = match pieces {
        0 => "no piece was read again by any measure".to_owned(),
        _ => format!(
            "at most {} read again by one measure",
            plural(pieces, "piece was", "pieces were")
        ),
    };
    format!(
        "In this log {} rated by several players, {} rated again by the same player, and {read}.",
        some(shared, "reed was", "reeds were"),
        some(again, "reed was", "reeds were"),
    )
}

/// `41 pieces, 100 readings`
pub(crate) fn counted(n: usize, repeats: usize, of: (&str, &str)) -> String {
    format!("{}, {} readings", plural(n, of.0, of.1), count(repeats))
}

/// How the picture of repeat readings is read.
pub const READING_REPEATS: &str = "Each dot is a piece read twice: across the first reading, up a later one. On the line both are the same; between the dashed \
                                   lines lie 95 of 100 pairs, if errors are alike over the range.";

/// How the picture of two players is read.
pub const READING_PLAYERS: &str = "Each dot is a reed that both players rated. On the line they agree; dots all above it or all below it mean that one marks \
                                   higher throughout, dots scattered widely that they hear different reeds as good.";

/// How the picture of leniency is read.
pub const READING_LENIENCY: &str = "Each row is a player: how much higher or lower than the average of the players the same reeds were marked. The line is the range \
                                    in which it may well lie.";
