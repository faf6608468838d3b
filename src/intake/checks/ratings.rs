//! Rules about ratings, their scale and the outcome.

use crate::catalogue;
use crate::intake::ledger::{Cell, Ledger, Words, problem, quoted};
use crate::intake::records::Table;
use crate::intake::values::headers::fold;
use crate::intake::values::ratings::RatingError;
use crate::problem::{Error, Place, Severity};

use super::cells::rounded;
use super::columns::{self, mark_undecided};
use super::settings::of_column;

rule!(
    RATING_UNREADABLE,
    "rating-unreadable",
    Error,
    "Reads each rating as a number, as `7/10`, or as a word that the study file ranks.",
    "What is no rating cannot be averaged; the cell became missing.",
    "Write a number, and words into the notes."
);
rule!(
    RATING_WORD_UNRANKED,
    "rating-word-unranked",
    Error,
    "Looks for words and letters in rating columns.",
    "Only the rater knows how far `good` lies above `fair`; the cell became missing.",
    "Rank all of them in study.toml, the lowest first: `[words]` and under it `ranking = [\"poor\", \"fair\", \"good\"]`."
);
rule!(
    SCHOOL_MARK_UNSAID,
    "school-mark-unsaid",
    Error,
    "Looks for marks such as `2-` where nothing says that 1 is best.",
    "`2-` is worse than 2 on one scale and may mean nothing on another; the cell became missing.",
    "Say it in study.toml: `best = \"low\"` where 1 is best, or `marks = \"school\"`."
);
rule!(
    RATING_OUT_OF_SCALE,
    "rating-out-of-scale",
    Error,
    "Compares each rating with the ends of the scale.",
    "A 55 on a scale to 10 is a lost decimal mark; the cell became missing.",
    "Correct the rating, or the `scale` in study.toml."
);

/// Says why a cell is no rating.
pub(in crate::intake) fn unreadable(ledger: &mut Ledger, cell: Cell, error: RatingError) {
    let text = quoted(cell.text());
    let (rule, found, expected) = match error {
        RatingError::EitherMark => return mark_undecided(ledger, cell),
        RatingError::UnrankedWord => (
            &RATING_WORD_UNRANKED,
            format!("{text} is a word that the study file does not rank."),
            "a number or a ranked word",
        ),
        RatingError::UnrankedLetter => (
            &RATING_WORD_UNRANKED,
            format!("{text} is a letter that the study file does not rank."),
            "a number or a ranked letter",
        ),
        RatingError::SchoolMark => (
            &SCHOOL_MARK_UNSAID,
            format!("{text} looks like a school mark, and nothing says which end is best."),
            "a number",
        ),
        RatingError::OutOfScale => (
            &RATING_OUT_OF_SCALE,
            format!("{text} lies outside its own scale."),
            "a mark no higher than the best one",
        ),
        RatingError::NotARating => {
            (&RATING_UNREADABLE, format!("{text} is no rating."), "a number such as 7, or 7/10")
        }
    };
    ledger.cell(rule, cell, Words::new(found, expected));
}

/// Says that a score lies outside the scale. A criterion other than the outcome may have
/// a scale of its own: there it is a warning and the score stands.
pub(in crate::intake) fn out_of_scale(
    ledger: &mut Ledger,
    cell: Cell,
    scale: [f64; 2],
    outcome: bool,
) {
    let found = format!("{} lies outside the scale of the ratings.", quoted(cell.text()));
    let expected = format!("{} to {}", rounded(scale[0]), rounded(scale[1]));
    let severity = if outcome { Severity::Error } else { Severity::Warning };
    ledger.cell_as(&RATING_OUT_OF_SCALE, severity, cell, Words::new(found, expected));
}

rule!(
    RATING_OTHER_SCALE,
    "rating-other-scale",
    Error,
    "Compares what a rating says it is out of (`7/10`) with the scale of the others.",
    "How one scale maps onto the other is the rater's to say; the cell became missing.",
    "Write all ratings on one scale and say it in study.toml: `scale = [1, 10]`."
);

/// Says that a rating is out of another number than the scale's top.
pub(in crate::intake) fn other_scale(ledger: &mut Ledger, cell: Cell, out_of: f64, top: f64) {
    let found = format!(
        "{} is out of {}, and the scale ends at {}.",
        quoted(cell.text()),
        rounded(out_of),
        rounded(top)
    );
    ledger.cell(
        &RATING_OTHER_SCALE,
        cell,
        Words::new(found, format!("a rating out of {}", rounded(top))),
    );
}

/// Says that a ranked word stands among numbers while the scale is not said.
pub(in crate::intake) fn word_among_numbers(ledger: &mut Ledger, cell: Cell) {
    let found =
        format!("{} is a word among numbers, and the scale is not said.", quoted(cell.text()));
    let words = Words::new(found, "words or numbers, or a scale that places the words among the numbers")
        .remedy("Say the scale in study.toml, `scale = [1, 10]`: the lowest word then counts as its lower end and the highest as its upper.");
    ledger.cell(&RATING_OTHER_SCALE, cell, words);
}

rule!(
    RATING_ALONE,
    "rating-alone",
    Warning,
    "Looks for a single rating without which the scale that was found would be shorter.",
    "One slip would move the mark from which a reed is good. Far beyond the others it became missing; otherwise it was used.",
    "Correct the rating, or say the scale in study.toml: `scale = [1, 10]`."
);

/// Says that one rating alone would make the scale longer; beyond every other it became missing.
pub(in crate::intake) fn alone(
    ledger: &mut Ledger,
    cell: Cell,
    without: [f64; 2],
    with: [f64; 2],
    beyond: bool,
) {
    let words = |[low, high]: [f64; 2]| format!("from {} to {}", rounded(low), rounded(high));
    let found = format!(
        "Without {} the ratings have a scale {}, with it one {}; {}.",
        quoted(cell.text()),
        words(without),
        words(with),
        if beyond { "it was not used" } else { "it was used" }
    );
    let [low, high] = if beyond { with } else { without };
    let severity = if beyond { Severity::Error } else { Severity::Warning };
    let remedy = format!(
        "Correct the rating, or say the scale in study.toml: `scale = [{}, {}]`.",
        rounded(low),
        rounded(high)
    );
    let expected = format!("a rating {}", words(without));
    ledger.cell_as(&RATING_ALONE, severity, cell, Words::new(found, expected).remedy(remedy));
}

rule!(
    BEST_END_ASSUMED,
    "best-end-assumed",
    Warning,
    "Looks for ratings that are all whole numbers from 1 to 5 or 6 while the study file says neither `scale` nor `best`.",
    "They may be points or school marks: if 1 is best, every answer is upside down.",
    "Say in study.toml `best = \"low\"` where 1 is best, or else the scale, `scale = [1, 5]`."
);

/// Says which end of such ratings was taken as best.
pub(in crate::intake) fn best_end_assumed(ledger: &mut Ledger, file: &str, low: f64, high: f64) {
    let top = if high > 5.0 { 6 } else { 5 };
    let found = format!(
        "All ratings are whole numbers from {} to {}, and nothing says which end is best; the highest was taken as the best.",
        rounded(low),
        rounded(high)
    );
    let remedy = format!(
        "If 1 is best, say in study.toml `best = \"low\"`; if {top} is best, say the scale, `scale = [1, {top}]`."
    );
    let words = Words::new(found, "`scale` or `best` in the study file").remedy(remedy);
    ledger.file(&BEST_END_ASSUMED, Place::file(file), words);
}

/// Refuses ratings of which many look like school marks while nothing says which end is best.
pub(in crate::intake) fn marks_unsaid(file: &str, unsaid: usize, all: usize) -> Error {
    let found = format!(
        "{unsaid} of {all} ratings look like school marks, such as `2-`, and nothing says which end is best."
    );
    let remedy = "Where 1 is best say in study.toml `marks = \"school\"`; otherwise write the marks as numbers and say the scale, `scale = [1, 6]`.";
    let words = Words::new(found, "`marks` or `best` in the study file").remedy(remedy);
    Error::Unreadable(Box::new(problem(&SCHOOL_MARK_UNSAID, Place::file(file), words)))
}

rule!(
    PLAYERS_APART,
    "players-apart",
    Warning,
    "Looks for players of whom not one mark reaches most marks of another.",
    "They may rate on different scales: then points of one are not worth points of the other, and differences between reeds are told in neither.",
    "Nothing, if they rate on one scale and differ so far; otherwise bring their marks onto one scale before they are read."
);

/// Says that two players' marks hardly overlap: each by name and its lowest and highest mark, and how many of the other's lie above all of the first's.
pub(in crate::intake) fn players_apart(
    ledger: &mut Ledger,
    file: &str,
    (low, [from, to]): (String, [f64; 2]),
    (high, [high_from, high_to]): (String, [f64; 2]),
    above: usize,
    of: usize,
) {
    let found = format!(
        "{} rated from {} to {}, and {} from {} to {}: {above} of {of} marks of the latter lie above all of the former.",
        quoted(&low),
        rounded(from),
        rounded(to),
        quoted(&high),
        rounded(high_from),
        rounded(high_to)
    );
    ledger.file(&PLAYERS_APART, Place::file(file), Words::new(found, "marks on one scale"));
}

rule!(
    RATINGS_NOT_FOUND,
    "ratings-not-found",
    Warning,
    "Looks whether the log holds any rating.",
    "Without one, no question about good reeds has an answer; a rating column under an unknown header would be missed.",
    "Say in study.toml which column is the rating: `[columns.\"Header\"]` and under it `is = \"overall\"`, or begin a ratings.csv."
);

/// Says that the log has no rating: none at all, or none that could be read.
pub(in crate::intake) fn no_ratings(ledger: &mut Ledger, table: &Table, some_unread: bool) {
    let headers: Vec<&str> = table.header.iter().map(String::as_str).collect();
    let is_unknown = |header: &&&str| catalogue::find(&fold(header)).is_none();
    let likely = headers.iter().find(|header| columns::may_be_rating(header));
    let likely = likely.or_else(|| headers.iter().rfind(is_unknown));
    let words = if some_unread {
        Words::new("No rating could be read, and a scale cannot be found.", "ratings that can be read")
            .remedy("Look at the cells that are pointed out; words are ranked in study.toml: `[words]` and under it `ranking = [\"poor\", \"fair\", \"good\"]`.")
    } else {
        let setting = of_column(likely.unwrap_or(&"Header"), "is = \"overall\"");
        Words::new("No column of the log holds ratings that are known as such.", "a column `overall` or `rating`, or a file ratings.csv")
            .remedy(format!("If a column is the rating, say so in study.toml, as in {setting}; otherwise begin a ratings.csv."))
    };
    ledger.file(&RATINGS_NOT_FOUND, Place::file(&table.file), words);
}

rule!(
    FATE_IN_RATING,
    "fate-in-rating",
    Remark,
    "Says when a rating cell names what became of the reed (`cracked`, `gave away`).",
    "It was read as the fate, not as a rating.",
    "If it is not so, write the rating; fates have a column of their own, `fate`."
);

/// Says that a rating cell was read as a fate.
pub(in crate::intake) fn fate_in_rating(ledger: &mut Ledger, cell: Cell, fate: &str) {
    let found = format!("{} was read as the fate `{fate}`.", quoted(cell.text()));
    ledger.cell(&FATE_IN_RATING, cell, Words::new(found, "a rating"));
}

rule!(
    OUTCOME_UNDECIDED,
    "outcome-undecided",
    Error,
    "Looks for the criterion that is the rating.",
    "With several criteria and none called `overall` or `rating`, which of them says that a reed is good cannot be known.",
    "Say it in study.toml: `outcome = \"response\"`."
);

/// Refuses a log whose outcome nobody names, or names wrongly.
pub(in crate::intake) fn outcome_undecided(
    file: &str,
    criteria: &[String],
    named: Option<&str>,
) -> Error {
    let list: Vec<String> = criteria.iter().map(|name| format!("`{name}`")).collect();
    let found = match named {
        Some(named) => {
            format!("No criterion is called {}; the log has {}.", quoted(named), list.join(", "))
        }
        None => {
            format!("The log has several criteria and none is the rating: {}.", list.join(", "))
        }
    };
    let words = Words::new(found, format!("`outcome` to be one of {}", list.join(", ")));
    Error::Unreadable(Box::new(problem(&OUTCOME_UNDECIDED, Place::file(file), words)))
}

rule!(
    RATING_ROW_EMPTY,
    "rating-row-empty",
    Warning,
    "Looks for rows of the ratings file that hold no rating.",
    "They say that a reed was played, not how; they were set aside.",
    "Fill in the rating, or delete the row."
);

/// Sets aside a row of the ratings file without any rating.
pub(in crate::intake) fn row_empty(ledger: &mut Ledger, table: &Table, row: usize) {
    let words =
        Words::new("The row holds no usable rating; it was set aside.", "at least one rating");
    ledger.row_aside(&RATING_ROW_EMPTY, table, row, words);
}

rule!(
    RATING_BEFORE_FINISH,
    "rating-before-finish",
    Warning,
    "Compares the day of each rating with the day on which the reed was finished.",
    "A rating of an unfinished reed is a slip in one of the two dates; the rating was used.",
    "Check the two dates."
);

/// Says that a reed was rated before it was finished.
pub(in crate::intake) fn before_finish(
    ledger: &mut Ledger,
    table: &Table,
    row: usize,
    rated: &str,
    finished: &str,
) {
    let found = format!("The reed was rated on {rated} and finished on {finished}.");
    ledger.row(
        &RATING_BEFORE_FINISH,
        table,
        row,
        Words::new(found, "a rating on or after the day of finishing"),
    );
}
