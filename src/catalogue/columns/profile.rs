//! The bark taken off and the blade tapered.

use super::{Column, Kind, Stage};

pub(super) const COLUMNS: [Column; 1] = [Column {
    name: "scoring",
    label: "scoring",
    synonyms: &["scored", "scores", "score_lines", "einkerbung", "einkerben"],
    stage: Stage::Profile,
    kind: Kind::Choice,
    unit: None,
    usual: None,
    possible: None,
    step: None,
    meaning: "cuts in the bark so that the tube rounds: none, lengthwise, crosshatch or both",
    provenance: "no range: it is a name",
}];
