//! Counts add up: what a question used and what it left out are all the pieces of the log.

use std::path::PathBuf;

use canewright::finding::LeftOut;
use canewright::intake::{ReadOptions, read};
use canewright::questions::REGISTRY;
use canewright::study::Study;

use super::{ask, factors, reeds, table};

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

fn logs() -> Vec<(String, Study)> {
    let read = |name: &str| {
        let folder = PathBuf::from("datasets").join(name);
        read(&[folder], &ReadOptions::default()).expect("readable").study
    };
    let mut logs: Vec<(String, Study)> =
        ["demo", "cake", "wine"].map(|name| (name.to_owned(), read(name))).into();
    logs.push(("patchy".to_owned(), patchy()));
    logs
}

fn sum(left_out: &[LeftOut]) -> usize {
    left_out.iter().map(|out| out.n).sum()
}

#[test]
fn every_answer_accounts_for_every_piece() {
    for (log, study) in logs() {
        for question in &REGISTRY {
            let Ok(finding) = ask(question.name, &study) else { continue };
            let counted = finding.used.0 + sum(&finding.left_out);
            assert_eq!(
                counted,
                study.pieces(),
                "{log}, {}: {:?} {:?}",
                question.name,
                finding.used,
                finding.left_out
            );
        }
    }
}

#[test]
fn every_factor_accounts_for_every_piece() {
    for (log, study) in logs() {
        for factor in factors(&study).list {
            let counted = factor.used + sum(&factor.left_out);
            assert_eq!(
                counted,
                study.pieces(),
                "{log}, {}: {} {:?}",
                factor.factor,
                factor.used,
                factor.left_out
            );
        }
    }
}

#[test]
fn no_reason_for_leaving_out_is_empty_or_counts_nothing() {
    for (log, study) in logs() {
        for question in &REGISTRY {
            let Ok(finding) = ask(question.name, &study) else { continue };
            for out in &finding.left_out {
                assert!(out.n > 0 && out.why.len() > 5, "{log}, {}: {out:?}", question.name);
            }
        }
    }
}
