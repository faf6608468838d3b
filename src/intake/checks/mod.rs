//! The checks: one function a rule, one file a family.
//!
//! A check knows how to say what is wrong; the reader knows when to ask it. Each
//! stands beside its [`Rule`], whose three texts are its documentation too.

use crate::problem::Rule;

/// Declares a rule, documented under the three fixed headings.
macro_rules! rule {
    ($name:ident, $code:literal, $severity:ident, $does:literal, $matters:literal, $todo:literal) => {
        #[doc = concat!("## What it does\n", $does, "\n\n## Why it matters\n", $matters, "\n\n## What to do\n", $todo)]
        pub const $name: $crate::problem::Rule = $crate::problem::Rule {
            code: $code,
            severity: $crate::problem::Severity::$severity,
            what_it_does: $does,
            why_it_matters: $matters,
            what_to_do: $todo,
        };
    };
}

pub(super) mod cells;
pub(super) mod columns;
pub(super) mod files;
pub(super) mod ids;
pub(super) mod labels;
pub(super) mod parquet;
pub(super) mod patterns;
pub(super) mod pieces;
pub(super) mod ratings;
pub(super) mod settings;

pub(super) use cells::rounded;

/// Every rule of the reader, family by family.
pub(super) static RULES: &[Rule] = &[
    files::NOT_TEXT,
    files::NUL_BYTE,
    files::EMPTY,
    files::NO_ROWS,
    files::NO_LOG,
    files::OUTSIDE_LOG,
    files::NO_FILE,
    files::ROWS_ABOVE,
    files::QUOTE_OPEN,
    files::TOO_MANY_COLUMNS,
    files::CELL_TOO_LONG,
    files::ROW_SHORT,
    files::ROW_LONG,
    files::ENCODING_ASSUMED,
    files::ENCODINGS_MIXED,
    files::CHARACTERS_LOST,
    files::DELIMITER_DOUBTFUL,
    files::LOG_FILE_CHOSEN,
    files::FILE_NOT_READ,
    parquet::PARQUET_BOTH,
    parquet::PARQUET_DAMAGED,
    parquet::PARQUET_COLUMN,
    parquet::PARQUET_TOO_LARGE,
    parquet::PARQUET_ROW_NUMBERS,
    settings::STUDY_FILE_UNREADABLE,
    settings::STUDY_KEY_UNKNOWN,
    settings::STUDY_VALUE_UNFIT,
    settings::STUDY_NAME_UNUSED,
    settings::SETTING_FOUND,
    columns::HEADER_BLANK,
    columns::HEADER_REPEATED,
    columns::COLUMNS_SAME_MEANING,
    columns::COLUMN_MISSING,
    columns::COLUMN_UNPLACED,
    columns::COLUMN_NOT_USED,
    columns::DECIMAL_MARK_FOUND,
    columns::DECIMAL_MARK_UNDECIDED,
    columns::DECIMAL_MARKS_MIXED,
    columns::DAY_ORDER_FOUND,
    columns::DAY_ORDER_UNDECIDED,
    columns::DAY_ORDERS_MIXED,
    cells::NUMBER_UNREADABLE,
    cells::UNIT_UNKNOWN,
    cells::UNIT_UNFIT,
    cells::NUMBER_APPROXIMATE,
    cells::NUMBER_IMPOSSIBLE,
    cells::NUMBER_UNUSUAL,
    cells::DURATION_UNREADABLE,
    cells::DATE_UNREADABLE,
    cells::DATE_SERIAL,
    cells::DATE_IMPOSSIBLE,
    cells::YEAR_SHORT,
    cells::YES_NO_UNREADABLE,
    cells::FATE_UNREADABLE,
    cells::STAGE_UNREADABLE,
    cells::CAUSE_UNREADABLE,
    ids::ID_MISSING,
    ids::ROW_OF_TOTALS,
    ids::ROW_OF_REMARKS,
    ids::ID_REPEATED,
    ids::ROW_REPEATED,
    ids::PIECE_COLUMNS_DISAGREE,
    ids::REED_UNKNOWN,
    ids::REED_SPELLED_OTHERWISE,
    ids::LOT_REPEATED,
    ids::CELL_NEEDED,
    ids::LINE_UNKNOWN,
    ratings::RATING_UNREADABLE,
    ratings::RATING_WORD_UNRANKED,
    ratings::SCHOOL_MARK_UNSAID,
    ratings::RATING_OUT_OF_SCALE,
    ratings::RATING_OTHER_SCALE,
    ratings::RATING_ALONE,
    ratings::BEST_END_ASSUMED,
    ratings::PLAYERS_APART,
    ratings::RATINGS_NOT_FOUND,
    ratings::FATE_IN_RATING,
    ratings::OUTCOME_UNDECIDED,
    ratings::RATING_ROW_EMPTY,
    ratings::RATING_BEFORE_FINISH,
    labels::LABELS_JOINED,
    labels::LABELS_CLOSE,
    pieces::FATE_IN_NOTE,
    pieces::FATE_ASSUMED,
    pieces::FATES_DISAGREE,
    pieces::SPOILED_WITHOUT_STAGE,
    pieces::DATES_OUT_OF_ORDER,
    pieces::DAY_TO_COME,
    patterns::UNIT_SLIP,
    patterns::ROWS_ALIKE,
];

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_rule_has_a_code_of_its_own_in_words_joined_by_dashes() {
        let codes: BTreeSet<&str> = RULES.iter().map(|rule| rule.code).collect();
        assert_eq!(codes.len(), RULES.len());
        for code in codes {
            let plain = |character: char| character.is_ascii_lowercase() || character == '-';
            assert!(code.chars().all(plain) && code.contains('-'), "{code}");
        }
    }

    #[test]
    fn every_rule_says_what_it_does_why_it_matters_and_what_to_do() {
        for rule in RULES {
            for text in [rule.what_it_does, rule.why_it_matters, rule.what_to_do] {
                assert!(text.len() > 15 && text.ends_with('.'), "{}: {text}", rule.code);
            }
        }
    }
}
