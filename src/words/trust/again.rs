//! Sentences about the same player rating the same reed again.

use crate::finding::{Estimated, Interval, SamePlayer};
use crate::words::digits::{change, level, plural};

fn interval(found: Estimated) -> Interval {
    Interval { estimate: found.estimate, low: found.low, high: found.high }
}

pub fn sentence(found: &SamePlayer) -> String {
    let counted =
        format!("{} rated again, {} ratings", plural(found.n, "reed", "reeds"), found.ratings);
    let Some(apart) = found.repeatability else {
        return format!(
            "Whenever a player rated a reed again the mark was the same ({counted}), so no size is claimed for the difference."
        );
    };
    let mut parts = vec![format!(
        "The same player’s ratings of the same reed lay within {} points of each other in 95 of 100 pairs ({counted}).",
        level(interval(apart))
    )];
    parts.extend(found.change_per_month.map(|moved| month(moved, found.anchors > 0)));
    parts.extend(found.anchors_per_month.map(|moved| anchors(moved, found.anchors)));
    parts.join(" ")
}

fn month(moved: Estimated, has_anchors: bool) -> String {
    let by = change(interval(moved));
    let which = if has_anchors { "of the reeds in use" } else { "of the same reed" };
    if moved.low > 0.0 || moved.high < 0.0 {
        return format!(
            "From one rating to the next {which} by the same player the mark moved by {by} points a month."
        );
    }
    format!("Whether marks {which} by the same player move with time is open: {by} points a month.")
}

fn anchors(moved: Estimated, reeds: usize) -> String {
    let by = change(interval(moved));
    let anchors = plural(reeds, "anchor reed", "anchor reeds");
    if moved.low > 0.0 || moved.high < 0.0 {
        return format!(
            "On {anchors}, which were put away unplayed, it moved by {by} points a month: that is the marking, not the reed."
        );
    }
    format!(
        "Whether the marking itself drifts is open: {by} points a month on {anchors} put away unplayed."
    )
}

/// What a change with time may be.
pub fn caveat(found: &SamePlayer) -> Option<String> {
    let is_told = found.change_per_month.is_some() && found.anchors_per_month.is_none();
    is_told.then(|| {
        "A reed rated again is older, and so is its player’s scale: the log cannot tell the ageing of reeds from a drift of the marking. Two anchor reeds, put away \
         unplayed, rated every month and marked by a column “anchor” with “yes”, would tell them apart."
            .to_owned()
    })
}
