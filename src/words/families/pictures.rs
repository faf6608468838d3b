//! What stands on and under the pictures of kinds.

use crate::finding::FamilyResult;
use crate::words::digits::{count, percent, plural};

pub const ALONG: &str = "distance from the tip, mm";
pub const THICKNESS: &str = "thickness, mm";

pub const CURVES_READING: &str =
    "Each line is the mean of a kind; the band holds the middle half of its pieces.";

/// The name on the map.
pub fn family(number: usize, of: usize) -> String {
    if of > 1 { format!("kind {number}") } else { "one family".to_owned() }
}

/// `component 1 (62 % of the differences)`
pub fn component_axis(number: usize, share: f64) -> String {
    format!("component {number} ({} of the differences)", percent(share))
}

pub fn map_description(families: &[FamilyResult]) -> String {
    if families.len() < 2 {
        return "The pieces as one cloud of dots.".to_owned();
    }
    let each = families
        .iter()
        .map(|family| format!("kind {}, {}", family.family, plural(family.n, "piece", "pieces")));
    format!("The pieces as dots in groups: {}.", each.collect::<Vec<_>>().join("; "))
}

pub fn map_reading(families: usize, shown: usize, pieces: usize) -> String {
    let marks = if families > 1 { " Each kind has its own mark and colour." } else { "" };
    let sampled = if shown < pieces {
        format!(" {} of the {} pieces are shown, drawn by chance.", count(shown), count(pieces))
    } else {
        String::new()
    };
    format!(
        "Each mark is a piece; pieces with like measurements lie near each other. The axes are the two mixtures of all measurements \
         along which the pieces differ most, and have no unit.{marks}{sampled}"
    )
}

/// `1 (31 pieces)`
pub fn curve_label(number: usize, pieces: usize) -> String {
    format!("kind {number} ({})", count(pieces))
}

pub fn curves_title(line: &str) -> String {
    format!("Thickness along the {line}, by kind")
}

pub fn curves_description(line: &str, families: &[FamilyResult]) -> String {
    format!(
        "Mean thickness along the {line} of {} kinds, from the tip to the back.",
        families.len()
    )
}

pub fn component_title(line: &str) -> String {
    format!("The {line}, and how the profiles differ most")
}

pub fn component_description(line: &str, share: f64) -> String {
    format!(
        "Mean thickness along the {line}, and the same with two standard deviations of the first component of the profiles added and \
         taken away; the component holds {} of their variance.",
        percent(share)
    )
}

pub fn component_reading(share: f64) -> String {
    format!(
        "The middle line is the mean profile. The other two show the shape along which the profiles differ most ({} of their variance): about 95 \
         in 100 pieces lie between them along this shape.",
        percent(share)
    )
}

pub fn component_labels() -> [String; 3] {
    ["mean", "plus 2 sd", "minus 2 sd"].map(str::to_owned)
}
