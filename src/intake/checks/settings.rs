//! Rules about the study file and about what counts.

use std::ops::Range;

use crate::catalogue::spelling::nearest;
use crate::intake::encoding::line_breaks;
use crate::intake::excerpt::printable;
use crate::intake::ledger::{Ledger, Words, problem, quoted};
use crate::problem::{Place, Problem};

rule!(
    STUDY_FILE_UNREADABLE,
    "study-file-unreadable",
    Error,
    "Reads the study file as TOML.",
    "What it says of the log would not be known, and the log would be read otherwise than meant.",
    "Mend the line that is named; texts stand in quotes, lists in square brackets."
);
rule!(
    STUDY_KEY_UNKNOWN,
    "study-key-unknown",
    Error,
    "Compares each key of the study file with the known ones.",
    "A misspelled key would be passed over, and the log read otherwise than meant.",
    "Correct the key or take it out."
);

/// Says why a study file is no study file: its syntax, or a key that nobody knows.
pub(in crate::intake) fn not_toml(
    file: &str,
    text: &str,
    message: &str,
    span: Option<Range<usize>>,
) -> Problem {
    let place = at(file, text, span.clone());
    let names: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    if let (true, [unknown, known @ ..]) = (message.starts_with("unknown field"), names.as_slice())
    {
        return key_unknown(place, unknown, known);
    }
    let start = span.as_ref().map_or(0, |span| span.start);
    let another_sort = ["invalid type", "invalid length", "invalid value"];
    if another_sort.iter().any(|words| message.starts_with(words))
        && let Some(span) = span
        && let Some(key) = key_before(text, start)
    {
        return unfit_value(file, text, key, span, taken_by(key));
    }
    let found = if message.contains("duplicate key") {
        let key = line_around(text, start).split('=').next().unwrap_or_default();
        format!("The key {} stands twice.", quoted(key))
    } else {
        format!("{} cannot be read.", quoted(line_around(text, start)))
    };
    let expected = "on each line `key = value`, each key once; texts in quotes, lists in brackets";
    problem(&STUDY_FILE_UNREADABLE, place, Words::new(found, expected))
}

fn key_unknown(place: Place, unknown: &str, known: &[&str]) -> Problem {
    let nearest = nearest(unknown, known.iter().copied());
    let mut words = Words::new(
        format!("There is no key {}.", quoted(unknown)),
        format!("one of {}", known.join(", ")),
    );
    if let Some(nearest) = nearest {
        words = words.remedy(format!(
            "The nearest known key is `{nearest}`: correct the key or take it out."
        ));
    }
    let mut problem = problem(&STUDY_KEY_UNKNOWN, place.in_column(unknown), words);
    problem.text = unknown.to_owned();
    problem
}

/// The line of a study file that a byte lies on.
fn line_around(text: &str, at: usize) -> &str {
    let before = text.get(..at).unwrap_or(text);
    let start = before.rfind('\n').map_or(0, |end| end + 1);
    text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or_default()
}

/// The key whose value begins at a byte; none where it stands on another line.
fn key_before(text: &str, value: usize) -> Option<&str> {
    let before = text.get(..value)?;
    let line = before.rsplit_once('\n').map_or(before, |(_, line)| line);
    let key = line.split('=').next().filter(|_| line.contains('='))?;
    Some(key.trim()).filter(|key| !key.is_empty())
}

/// What a key can take, where its value was of another sort altogether.
fn taken_by(key: &str) -> &'static str {
    match key {
        "scale" => "two numbers in brackets, the lower first: [1, 10]",
        "good_at" | "worthwhile" | "target" | "step" => "a number",
        "window" => "a whole number of days",
        "same_lots" => "true or false, without quotes",
        "missing" | "ranking" | "candidates" => {
            "a list in brackets: [\"poor\", \"fair\", \"good\"]"
        }
        "columns" | "criteria" | "decide" | "words" | "files" | "ratings" => {
            "a heading in brackets with its keys on the lines below"
        }
        _ => "a text in quotes",
    }
}

rule!(
    STUDY_VALUE_UNFIT,
    "study-value-unfit",
    Error,
    "Checks each value of the study file against what its key can take.",
    "With a value that means nothing the log would be read otherwise than meant.",
    "Correct the value, or take the key out to have it found from the data."
);

/// Says that a key's value is not one that it can take.
pub(in crate::intake) fn unfit_value(
    file: &str,
    text: &str,
    key: &str,
    span: Range<usize>,
    expected: &str,
) -> Problem {
    let value = text.get(span.clone()).unwrap_or_default();
    let found = format!("`{key}` cannot be {}.", quoted(value));
    let place = at(file, text, Some(span.clone())).in_column(key);
    let mut problem = problem(&STUDY_VALUE_UNFIT, place, Words::new(found, expected));
    problem.text = value.to_owned();
    problem
}

fn at(file: &str, text: &str, span: Option<Range<usize>>) -> Place {
    let before = span.and_then(|span| text.get(..span.start));
    match before {
        Some(before) => Place::file(file).at_line(line_breaks(before) + 1),
        None => Place::file(file),
    }
}

rule!(
    STUDY_NAME_UNUSED,
    "study-name-unused",
    Warning,
    "Looks for names in the study file that no column, file or criterion of the log has.",
    "A misspelled header leaves its column read otherwise than meant.",
    "Write the name as it stands in the log's header."
);

/// Says that the study file speaks of something that the log does not have.
pub(in crate::intake) fn name_unused(
    ledger: &mut Ledger,
    file: &str,
    name: &str,
    known: &[String],
) {
    let nearest = nearest(name, known.iter().map(String::as_str));
    let found = format!("The log has nothing that is called {}.", quoted(name));
    let expected = match nearest {
        Some(nearest) => format!("a name of the log; the nearest is {}", quoted(nearest)),
        None => "a name of the log".to_owned(),
    };
    ledger.file(&STUDY_NAME_UNUSED, Place::file(file).in_column(name), Words::new(found, expected));
}

rule!(
    SETTING_FOUND,
    "setting-found",
    Remark,
    "Says what was found from the data because the study file does not say it.",
    "Another scale or another mark for a good reed gives other answers.",
    "If it is not so, say it in the study file."
);

/// Says that a setting was found from the data.
pub(in crate::intake) fn found(ledger: &mut Ledger, file: &str, sentence: String, setting: &str) {
    let words = Words::new(sentence, "to be said in the study file")
        .remedy(format!("If it is not so, say it in the study file: `{setting}`."));
    ledger.file(&SETTING_FOUND, Place::file(file), words);
}

/// What to write into the study file about one column: a line `[columns."Mark"]`, the header as it stands, and `is = "overall"` in the next.
pub(in crate::intake) fn of_column(header: &str, setting: &str) -> String {
    format!("`[columns.\"{}\"]` and under it `{setting}`", escaped(header.trim()))
}

/// A text as it stands between quotes in TOML, safe to print.
pub(in crate::intake) fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '"' | '\\' => escaped.extend(['\\', character]),
            shown if printable(shown) == shown => escaped.push(shown),
            hidden => escaped.push_str(&format!("\\u{:04X}", u32::from(hidden))),
        }
    }
    escaped
}
