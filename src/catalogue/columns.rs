//! The known columns, one entry each, a file for each stage of making.
//!
//! Ranges and steps are there to catch slips and to give effects a size that a
//! maker can set on the gauge; each entry says where its figures come from.
//! `common practice` is what makers agree on without a source, `from memory`
//! and `planning value` are what they say. The steps are planning values throughout.

mod bind;
mod bookkeeping;
mod cane;
mod finish;
mod form;
mod gouge;
mod play;
mod profile;
mod shape;

use super::{Stage, Unit};

/// What a column's cells hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    Id,
    Number,
    Choice,
    YesNo,
    Date,
    Text,
    Rating,
}

/// A closed range in the column's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    pub low: f64,
    pub high: f64,
}

impl Range {
    /// Whether the value lies within, ends included.
    pub fn holds(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// One known column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// The name in the study file, in results and in the tidy log.
    pub name: &'static str,
    /// What pages call it: `gouge at the centre`.
    pub label: &'static str,
    /// Headers as people type them, in the reader's folded form, without unit and in American spelling.
    pub synonyms: &'static [&'static str],
    pub stage: Stage,
    pub kind: Kind,
    pub unit: Option<Unit>,
    /// Outside: a warning.
    pub usual: Option<Range>,
    /// Outside: an error for that cell.
    pub possible: Option<Range>,
    /// The change that effects are reported for.
    pub step: Option<f64>,
    pub meaning: &'static str,
    /// Where the ranges come from.
    pub provenance: &'static str,
}

const GROUPS: [&[Column]; 9] = [
    &bookkeeping::COLUMNS,
    &cane::COLUMNS,
    &gouge::COLUMNS,
    &shape::COLUMNS,
    &profile::COLUMNS,
    &form::COLUMNS,
    &bind::COLUMNS,
    &finish::COLUMNS,
    &play::COLUMNS,
];

/// All known columns, in the order of the making.
pub const COLUMNS: &[Column] = &joined::<{ count() }>();

#[expect(
    clippy::indexing_slicing,
    reason = "runs when the crate is built, so it can only fail there"
)]
const fn count() -> usize {
    let mut count = 0;
    let mut group = 0;
    while group < GROUPS.len() {
        count += GROUPS[group].len();
        group += 1;
    }
    count
}

/// The groups one behind the other.
#[expect(
    clippy::indexing_slicing,
    reason = "runs when the crate is built, so it can only fail there"
)]
const fn joined<const COUNT: usize>() -> [Column; COUNT] {
    let mut all = [bookkeeping::COLUMNS[0]; COUNT];
    let (mut next, mut group) = (0, 0);
    while group < GROUPS.len() {
        let mut at = 0;
        while at < GROUPS[group].len() {
            all[next] = GROUPS[group][at];
            next += 1;
            at += 1;
        }
        group += 1;
    }
    all
}

/// The column of that catalogue name.
pub fn known(name: &str) -> Option<&'static Column> {
    COLUMNS.iter().find(|column| column.name == name)
}

/// The column that a header, in the reader's folded form, means.
pub fn find(folded_header: &str) -> Option<&'static Column> {
    known(folded_header)
        .or_else(|| COLUMNS.iter().find(|column| column.synonyms.contains(&folded_header)))
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use super::*;

    #[test]
    fn every_name_stands_once_and_in_the_order_of_the_making() {
        let mut stages: Vec<Stage> = COLUMNS.iter().map(|column| column.stage).collect();
        assert!(stages.is_sorted());
        stages.dedup();
        assert_eq!(stages.len(), GROUPS.len());
        for column in COLUMNS {
            let named = COLUMNS.iter().filter(|other| other.name == column.name).count();
            assert_eq!(named, 1, "{}", column.name);
        }
    }

    /// The columns that the log's description promises.
    #[test]
    fn the_promised_columns_are_known_at_their_stages() {
        let promised = [
            (Stage::Bookkeeping, "reed lot tube maker started_on finished_on note"),
            (Stage::Cane, "tube_diameter_mm hardness density_g_cm3 flex_mm"),
            (Stage::Gouge, "gouge_center_mm gouge_edge_mm"),
            (Stage::Shape, "shape shaping shape_tip_mm"),
            (Stage::Profile, "scoring"),
            (Stage::Form, "forming_days forming_rh_pct forming_c soak_min"),
            (Stage::Bind, "wire_mm wire_1_mm tube_mm wrap sealant"),
            (Stage::Finish, "blade_mm length_mm tip_opening_mm scrape_min crow_hz"),
            (
                Stage::Play,
                "rating overall first_played last_played hours_played fate spoiled_at spoiled_by",
            ),
        ];
        for (stage, names) in promised {
            for name in names.split(' ') {
                assert_eq!(known(name).map(|column| column.stage), Some(stage), "{name}");
            }
        }
    }

    /// `formed` is a day in one log and a number of days in another; the cells decide. No other word is shared.
    #[test]
    fn a_synonym_means_one_column_except_where_the_cells_decide() {
        let mut meanings: HashMap<&str, Vec<&str>> = HashMap::new();
        for column in COLUMNS {
            for synonym in column.synonyms {
                meanings.entry(synonym).or_default().push(column.name);
            }
        }
        meanings.retain(|_, names| names.len() > 1);
        assert_eq!(meanings, HashMap::from([("formed", vec!["started_on", "forming_days"])]));
    }

    #[test]
    fn a_name_with_a_unit_ends_in_it() {
        for column in COLUMNS
            .iter()
            .filter(|column| column.name != "forming_days" && column.name != "hours_played")
        {
            if let Some(unit) = column.unit {
                assert!(column.name.ends_with(unit.suffix()), "{}", column.name);
            }
        }
    }

    #[test]
    fn usual_values_are_possible_and_every_figure_says_where_it_comes_from() {
        for column in COLUMNS {
            assert!(!column.provenance.is_empty() && !column.meaning.is_empty(), "{}", column.name);
            if let (Some(usual), Some(possible)) = (column.usual, column.possible) {
                assert!(
                    usual.low < usual.high
                        && possible.holds(usual.low)
                        && possible.holds(usual.high),
                    "{}",
                    column.name
                );
            }
            assert!(column.step.is_none_or(|step| step > 0.0), "{}", column.name);
        }
    }

    #[test]
    fn only_numbers_have_units_ranges_and_steps() {
        for column in COLUMNS.iter().filter(|column| column.kind != Kind::Number) {
            let bare = column.unit.is_none() && column.usual.is_none() && column.possible.is_none();
            assert!(bare && column.step.is_none(), "{}", column.name);
        }
    }

    #[test]
    fn a_range_holds_its_ends_and_no_nan() {
        let range = Range { low: 0.7, high: 1.6 };
        assert!(range.holds(0.7) && range.holds(1.6));
        assert!(!range.holds(1.61) && !range.holds(f64::NAN));
    }
}
