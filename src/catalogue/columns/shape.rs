//! The outline of the reed.

use super::{Column, Kind, Range, Stage, Unit};

pub(super) const COLUMNS: [Column; 3] = [
    Column {
        name: "shape",
        label: "shape",
        synonyms: &["shaper", "shape_name", "fasson", "facon"],
        stage: Stage::Shape,
        kind: Kind::Choice,
        unit: None,
        usual: None,
        possible: None,
        step: None,
        meaning: "the shaper or outline used",
        provenance: "no range: it is a name",
    },
    Column {
        name: "shaping",
        label: "shaped dry or soaked",
        synonyms: &["shaped", "shaped_how"],
        stage: Stage::Shape,
        kind: Kind::Choice,
        unit: None,
        usual: None,
        possible: None,
        step: None,
        meaning: "whether the cane was shaped dry or soaked",
        provenance: "no range: it is a name",
    },
    Column {
        name: "shape_tip_mm",
        label: "shape width at the tip",
        synonyms: &[
            "shape_tip",
            "shape_width",
            "tip_width",
            "shaper_tip",
            "shape_tip_width",
            "fasson_breite",
            "spitzenbreite",
        ],
        stage: Stage::Shape,
        kind: Kind::Number,
        unit: Some(Unit::Millimetre),
        usual: Some(Range { low: 13.5, high: 15.5 }),
        possible: Some(Range { low: 11.0, high: 18.0 }),
        step: Some(0.25),
        meaning: "width of the shaped piece at the tip",
        provenance: "usual: common practice; possible: planning value",
    },
];
