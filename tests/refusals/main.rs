//! Bad inputs: each ends in a message that says where, what was found, what was
//! expected and what to do; none panics, and no row is lost.

mod case;
mod cells;
mod columns;
mod files;
mod hostile;
mod pieces;
mod ratings;
mod rows;
mod settings;

use std::collections::BTreeSet;

use canewright::intake;
use canewright::problem::{Problem, Severity};
use canewright::study::Study;

use case::{Case, problems};

fn all() -> Vec<Case> {
    let families = [
        files::cases(),
        settings::cases(),
        columns::cases(),
        cells::cases(),
        rows::cases(),
        ratings::cases(),
        pieces::cases(),
        hostile::cases(),
    ];
    families.into_iter().flatten().collect()
}

/// Looks at every case and lists all that is amiss, so that one run shows all of it.
fn expect_of_all(check: impl Fn(&Case) -> Result<(), String>) {
    let amiss: Vec<String> = all()
        .iter()
        .filter_map(|case| {
            check(case).err().map(|why| format!("{} ({}): {why}", case.claim, case.code))
        })
        .collect();
    assert!(amiss.is_empty(), "{} amiss:\n{}", amiss.len(), amiss.join("\n"));
}

#[test]
fn there_are_at_least_sixty_bad_inputs() {
    assert!(all().len() >= 60, "{}", all().len());
}

#[test]
fn every_rule_has_a_bad_input() {
    let tried: BTreeSet<&str> = all().iter().map(|case| case.code).collect();
    let untried: Vec<&str> =
        intake::rules().iter().map(|rule| rule.code).filter(|code| !tried.contains(code)).collect();
    assert!(untried.is_empty(), "no bad input for {untried:?}");
}

#[test]
fn every_bad_input_is_pointed_out_where_it_stands() {
    expect_of_all(|case| {
        let outcome = case.read();
        if case.refused != outcome.is_err() {
            return Err(format!("refused: {}", outcome.is_err()));
        }
        let problems = problems(&outcome);
        if problems.iter().any(|problem| case.is_met_by(problem)) {
            return Ok(());
        }
        let found: Vec<String> = problems
            .iter()
            .map(|problem| {
                format!(
                    "  {} at {}: {:?} {}",
                    problem.code, problem.place, problem.text, problem.message
                )
            })
            .collect();
        Err(format!(
            "wanted {:?} {:?} {:?} {:?}, found\n{}",
            case.file,
            case.line,
            case.column,
            case.text,
            found.join("\n")
        ))
    });
}

#[test]
fn every_message_says_what_was_found_what_was_expected_and_what_to_do() {
    expect_of_all(|case| problems(&case.read()).iter().try_for_each(complete));
}

/// Words of the parsers and the system beneath, which no keeper of a log need know.
const JARGON: [&str; 14] = [
    "os error",
    "entity",
    "invalid type",
    "invalid length",
    "TOML parse",
    "failed to parse",
    "unexpected",
    "digit integer",
    "serde",
    "utf-8 sequence",
    "spanned",
    "missing field",
    "newline",
    "unwrap",
];

#[test]
fn no_message_speaks_the_language_of_a_parser_or_counts_one_as_many() {
    expect_of_all(|case| {
        for problem in problems(&case.read()) {
            let text = format!("{} {} {}", problem.message, problem.expected, problem.remedy);
            let jargon = JARGON.iter().find(|word| text.contains(*word));
            let plural = [" 1 cells", " 1 rows", " 1 values", " 1 rating points", "(1 pieces"];
            if let Some(word) =
                jargon.or(plural.iter().find(|word| format!(" {text}").contains(**word)))
            {
                return Err(format!("{word:?} in {text}"));
            }
        }
        Ok(())
    });
}

fn complete(problem: &Problem) -> Result<(), String> {
    let rule = intake::rules().iter().find(|rule| rule.code == problem.code);
    let rule = rule.ok_or_else(|| format!("{} is no rule", problem.code))?;
    for (part, text) in
        [("found", &problem.message), ("expected", &problem.expected), ("remedy", &problem.remedy)]
    {
        if text.trim().len() < 2 || text.chars().any(is_unsafe) {
            return Err(format!("{part} of {}: {text:?}", rule.code));
        }
    }
    if problem.place.file.is_empty() || problem.place.line == Some(0) {
        return Err(format!("place of {}: {:?}", rule.code, problem.place));
    }
    excerpt_fits(problem)
}

/// What a terminal would obey instead of printing: control characters, and marks that turn the direction of writing.
fn is_unsafe(character: char) -> bool {
    character.is_control() || matches!(character, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The underlined part lies within the line, and the line is safe to print.
fn excerpt_fits(problem: &Problem) -> Result<(), String> {
    let Some(excerpt) = &problem.excerpt else { return Ok(()) };
    let length = excerpt.line.chars().count();
    let safe = !excerpt.line.chars().any(is_unsafe);
    if safe && length <= 400 && excerpt.start + excerpt.length <= length {
        return Ok(());
    }
    Err(format!("excerpt of {}: {excerpt:?}", problem.code))
}

#[test]
fn no_row_is_lost() {
    expect_of_all(|case| match case.read() {
        Ok(reading) => rows_add_up(&reading.study, Some(case.rows_aside)),
        Err(_) => Ok(()),
    });
}

/// Rows read are rows used and rows set aside, and each of these is kept word for word.
fn rows_add_up(study: &Study, expected: Option<usize>) -> Result<(), String> {
    let mut all_aside = 0;
    for file in study.files() {
        if file.rows_read != file.rows_used + file.rows_set_aside {
            return Err(format!("{file:?}"));
        }
        let listed = study
            .set_aside()
            .iter()
            .filter(|row| row.file == file.name && row.column.is_none())
            .count();
        if listed != file.rows_set_aside {
            return Err(format!(
                "{listed} rows listed as set aside, {} counted",
                file.rows_set_aside
            ));
        }
        all_aside += listed;
    }
    match expected {
        Some(expected) if expected != all_aside => {
            Err(format!("{all_aside} rows set aside, not {expected}"))
        }
        _ => Ok(()),
    }
}

#[test]
fn every_cell_in_error_is_listed_word_for_word() {
    expect_of_all(|case| {
        let Ok(reading) = case.read() else { return Ok(()) };
        let of_cells = |problem: &&Problem| {
            problem.severity == Severity::Error
                && problem.place.column.is_some()
                && problem.place.line > Some(1)
        };
        for problem in reading.problems.iter().filter(of_cells) {
            let listed = reading.study.set_aside().iter().any(|cell| {
                Some(cell.line) == problem.place.line
                    && cell.column == problem.place.column
                    && cell.code == problem.code
            });
            if !listed {
                return Err(format!(
                    "{} at {} is not in what was set aside",
                    problem.code, problem.place
                ));
            }
        }
        Ok(())
    });
}
