//! Sentences about what was read.

use super::digits::{count, plural};
use super::given::given;
use super::lists::and;
use crate::catalogue::Unit;
use crate::finding::{LogSummary, SettingsShown};

/// One sentence: is the log sound?
pub fn answer(errors: usize, warnings: usize, log: &LogSummary) -> String {
    let lacks = match (log.pieces, log.ratings) {
        (0, _) => " It holds no piece, so there is nothing to ask it.",
        (_, 0) => {
            " No rating was found in it: if a column holds ratings, say in study.toml which one."
        }
        _ => "",
    };
    let aside = match log.rows_set_aside {
        0 => "no row was".to_owned(),
        1 => "1 row was".to_owned(),
        rows => format!("{} rows were", count(rows)),
    };
    let read = match (errors, warnings) {
        (0, 0) if log.rows_set_aside == 0 => {
            "Every cell was read and every row was used.".to_owned()
        }
        (0, 0) => format!("Every cell was read; {aside} set aside, word for word."),
        (0, _) => format!(
            "The log was read whole, with {} worth a look.",
            plural(warnings, "warning", "warnings")
        ),
        _ => format!(
            "The log was read with {} in cells or rows; {aside} set aside, and nothing was lost.",
            plural(errors, "error", "errors")
        ),
    };
    read + lacks
}

/// `1 error and 21 warnings`
pub fn found(errors: usize, warnings: usize) -> String {
    match (errors, warnings) {
        (0, warnings) => plural(warnings, "warning", "warnings"),
        (errors, 0) => plural(errors, "error", "errors"),
        (errors, warnings) => {
            format!(
                "{} and {}",
                plural(errors, "error", "errors"),
                plural(warnings, "warning", "warnings")
            )
        }
    }
}

/// What the log holds, in one sentence.
pub fn holds(log: &LogSummary) -> String {
    let span = match (&log.first_day, &log.last_day) {
        (Some(first), Some(last)) if first != last => format!(", started from {first} to {last}"),
        (Some(day), _) => format!(", started on {day}"),
        _ => String::new(),
    };
    let lots = if log.lots == 0 {
        "with no lot named".to_owned()
    } else {
        format!("from {}", plural(log.lots, "lot", "lots"))
    };
    format!(
        "It holds {} {lots}{span}; {} carry {}.",
        plural(log.pieces, "piece", "pieces"),
        plural(log.reeds, "reed", "reeds"),
        plural(log.ratings, "rating", "ratings")
    )
}

/// The settings in force, in words that say which were not given.
pub fn settings(settings: &SettingsShown) -> String {
    let assumed = if settings.not_given.is_empty() {
        String::new()
    } else {
        let names: Vec<String> =
            settings.not_given.iter().map(|name| format!("“{name}”")).collect();
        format!(
            " The study file does not give {}: set it there if this is not what you mean.",
            and(&names)
        )
    };
    format!(
        "{}; a difference of {} is worth having.{assumed}",
        judged_by(settings),
        given(settings.worthwhile)
    )
}

fn judged_by(settings: &SettingsShown) -> String {
    let [low, high] = settings.scale;
    let (low_shown, high_shown, good_at) = (given(low), given(high), given(settings.good_at));
    let outcome = &settings.outcome;
    if let Some(target) = settings.target {
        return format!(
            "Reeds are judged by how near “{outcome}” comes to {} on a scale from {low_shown} to {high_shown}; a reed at \
             most {good_at} away is good",
            given(target)
        );
    }
    let (side, best) = if settings.best == "low" {
        ("below", low_shown.clone())
    } else {
        ("above", high_shown.clone())
    };
    format!(
        "Reeds are judged by “{outcome}” on a scale from {low_shown} to {high_shown} where {best} is best; a reed at \
         {good_at} or {side} is good"
    )
}

/// What stands between the cells of a row.
pub fn delimiter(delimiter: Option<char>) -> &'static str {
    match delimiter {
        None => "none",
        Some(',') => "comma",
        Some(';') => "semicolon",
        Some('\t') => "tab",
        Some('|') => "bar",
        Some(_) => "other",
    }
}

/// `gouge_center_mm: thickness at the centre`, or that the column was not used.
pub fn meaning(header: &str, name: &str, meaning: &str) -> String {
    // a header that is the name already needs no repeating
    let name_shown = if header == name && !meaning.is_empty() { "" } else { name };
    match (name_shown, meaning) {
        ("", "") => "not used".to_owned(),
        ("", meaning) => meaning.to_owned(),
        (name, "") => name.to_owned(),
        (name, meaning) => format!("{name}: {meaning}"),
    }
}

/// `thousandths of an inch → mm`; only the unit where nothing was converted.
pub fn unit(read: &str, kept: &str) -> String {
    let is_same = Unit::from_text(read).is_some_and(|unit| unit.symbol() == kept);
    if read.is_empty() || read == kept || is_same {
        kept.to_owned()
    } else {
        format!("{read} → {kept}")
    }
}

/// `1.2 to 1.35`
pub fn range(low: &str, high: &str) -> String {
    match (low, high) {
        ("", "") => String::new(),
        (low, high) if low == high => low.to_owned(),
        (low, high) => format!("{low} to {high}"),
    }
}
