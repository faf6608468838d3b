//! Counts add up: what a question used and what it left out are all the pieces of the log.

use std::path::PathBuf;
use std::sync::OnceLock;

use canewright::finding::{Finding, LeftOut, Section};
use canewright::intake::{ReadOptions, read};
use canewright::questions::REGISTRY;
use canewright::study::Study;

use super::{ask, reeds, table};

/// An invented log in which something of every sort is missing.
fn patchy() -> Study {
    let text = table(
        "lot,hardness,gouge_center_mm,shape,crow_hz,rating,fate,spoiled_at,spoiled_by",
        60,
        |row| {
            let lot = if row % 17 == 3 { String::new() } else { format!("lot {}", row % 6) };
            let hardness = if row % 11 == 4 { String::new() } else { (10 + row % 7).to_string() };
            let crow = if row % 3 == 0 { "480" } else { "" };
            let rest = match row % 10 {
                0 => ",spoiled,form,cracked",
                1 if row > 30 => ",spoiled,,",
                2 => ",unfinished,,",
                3 => ",in_use,,",
                _ => "9,in_use,,",
            };
            let rest = match rest.strip_prefix('9') {
                Some(after) => format!("{}{after}", 7 + row % 5),
                None => rest.to_owned(),
            };
            format!(
                "{lot},{hardness},1.{},{},{crow},{rest}",
                20 + row % 9,
                ["narrow", "wide", "odd"][(row % 29) / 14]
            )
        },
    );
    reeds(&text, "")
}

/// A log and all that could be answered of it.
struct Log {
    name: &'static str,
    pieces: usize,
    answers: Vec<Finding>,
}

fn logs() -> &'static [Log] {
    static LOGS: OnceLock<Vec<Log>> = OnceLock::new();
    LOGS.get_or_init(|| {
        let tables = ["demo", "cake", "wine"].map(|name| {
            let folder = PathBuf::from("datasets").join(name);
            (name, read(&[folder], &ReadOptions::default()).expect("readable").study)
        });
        let all = tables.into_iter().chain([("patchy", patchy())]);
        all.map(|(name, study)| {
            let answers = REGISTRY.iter().filter_map(|question| ask(question.name, &study).ok());
            Log { name, pieces: study.pieces(), answers: answers.collect() }
        })
        .collect()
    })
}

fn sum(left_out: &[LeftOut]) -> usize {
    left_out.iter().map(|out| out.n).sum()
}

#[test]
fn every_answer_accounts_for_every_piece() {
    for Log { name, pieces, answers } in logs() {
        for answer in answers {
            let counted = answer.used.0 + sum(&answer.left_out);
            let (used, left_out) = (&answer.used, &answer.left_out);
            assert_eq!(counted, *pieces, "{name}, {}: {used:?} {left_out:?}", answer.question);
        }
    }
}

#[test]
fn every_factor_accounts_for_every_piece() {
    for Log { name, pieces, answers } in logs() {
        let sections = answers.iter().filter_map(|answer| match &answer.section {
            Section::Factors(section) => Some(section),
            _ => None,
        });
        for factor in sections.flat_map(|section| &section.list) {
            let counted = factor.used + sum(&factor.left_out);
            let (used, left_out) = (&factor.used, &factor.left_out);
            assert_eq!(counted, *pieces, "{name}, {}: {used} {left_out:?}", factor.factor);
        }
    }
}

#[test]
fn no_reason_for_leaving_out_is_empty_or_counts_nothing() {
    for Log { name, answers, .. } in logs() {
        assert!(!answers.is_empty(), "{name}");
        for answer in answers {
            for out in &answer.left_out {
                assert!(out.n > 0 && out.why.len() > 5, "{name}, {}: {out:?}", answer.question);
            }
        }
    }
}
