//! Whole logs from files to a study: what is read, what is said, what is set aside.

use std::fs;
use std::path::PathBuf;

use canewright::intake::{ReadOptions, Reading, read};
use canewright::problem::{Error, Problem, Severity};
use canewright::study::{Better, FactorKind, Fate};
use tempfile::TempDir;

/// A log of these files in a folder that lives as long as the test.
struct Log(TempDir);

impl Log {
    fn of(files: &[(&str, &str)]) -> Log {
        let folder = tempfile::tempdir().expect("a folder for the test");
        for (name, text) in files {
            fs::write(folder.path().join(name), text).expect("the folder can be written to");
        }
        Log(folder)
    }

    fn path(&self) -> PathBuf {
        self.0.path().to_path_buf()
    }

    fn read(&self) -> Reading {
        let reading =
            read(&[self.path()], &ReadOptions::default()).expect("a log that can be read");
        rows_add_up(&reading);
        reading
    }

    fn refusal(&self) -> Problem {
        match read(&[self.path()], &ReadOptions::default()) {
            Err(Error::Unreadable(problem)) => *problem,
            other => panic!("expected a refusal, not {other:?}"),
        }
    }
}

fn rows_add_up(reading: &Reading) {
    for file in reading.study.files() {
        assert_eq!(file.rows_read, file.rows_used + file.rows_set_aside, "{file:?}");
        let whole_rows = |aside: &&canewright::problem::SetAside| {
            aside.file == file.name && aside.column.is_none()
        };
        let listed = reading.study.set_aside().iter().filter(whole_rows).count();
        assert_eq!(file.rows_set_aside, listed, "{}: each row set aside is listed once", file.name);
    }
}

fn codes(reading: &Reading) -> Vec<&'static str> {
    let mut codes: Vec<&str> = reading.problems.iter().map(|problem| problem.code).collect();
    codes.sort_unstable();
    codes.dedup();
    codes
}

fn problem<'a>(reading: &'a Reading, code: &str) -> &'a Problem {
    let found = reading.problems.iter().find(|problem| problem.code == code);
    found.unwrap_or_else(|| panic!("no {code} among {:?}", codes(reading)))
}

const REEDS: &str = "\
reed,lot,started_on,finished_on,gouge_center_mm,hardness,shape,forming_days,fate,spoiled_at,spoiled_by,note
A1,Reedmere,2024-01-02,2024-01-20,1.25,12,narrow,10,in_use,,,
A2,Reedmere,2024-01-04,2024-01-21,1.30,14,wide,12,worn_out,,,played daily
A3,Marsh,2024-01-06,,1.28,13,narrow,,spoiled,form,cracked,
A4,Marsh,2024-01-08,,1.27,15,wide,20,unfinished,,,
";

const RATINGS: &str = "\
reed,date,player,setting,overall,response
A1,2024-02-01,Ann,home,7,6
A1,2024-02-08,Ben,hall,8,7
A2,2024-02-02,Ann,home,5,
";

#[test]
fn a_tidy_log_is_read_as_it_stands_and_nothing_is_set_aside() {
    let log = Log::of(&[
        ("reeds.csv", REEDS),
        ("ratings.csv", RATINGS),
        (
            "lots.csv",
            "lot,bought_on,price_per_piece,pieces_bought\nReedmere,2023-12-01,4.20,30\nMarsh,2023-12-05,3.60,20\n",
        ),
        (
            "profile.csv",
            "reed,from_tip_mm,line,thickness_mm,repeat\nA1,2,spine,0.17,1\nA1,2,spine,0.18,2\n",
        ),
        (
            "readings.csv",
            "reed,measure,value,by,repeat\nA1,hardness,12.5,Ann,1\nA2,gouge_center_mm,1.31,Ben,1\n",
        ),
        ("study.toml", "title = \"Winter\"\nscale = [1, 10]\ngood_at = 7\nworthwhile = 0.5\n"),
    ]);
    let reading = log.read();
    let study = &reading.study;
    assert!(!reading.has_errors(), "{:?}", reading.problems);
    assert!(study.set_aside().is_empty());
    assert_eq!((study.pieces(), study.ratings()), (4, 5));
    assert_eq!(study.ids(), ["A1", "A2", "A3", "A4"]);
    assert_eq!(study.numbers("gouge_center_mm"), [Some(1.25), Some(1.3), Some(1.28), Some(1.27)]);
    assert_eq!(study.labels("lot").levels, ["Marsh", "Reedmere"]);
    let fates = [Fate::InUse, Fate::WornOut, Fate::Spoiled, Fate::Unfinished].map(Some);
    assert_eq!(study.fates(), fates);
    assert_eq!(study.words("spoiled_at")[2].as_deref(), Some("form"));
    assert_eq!(study.words("spoiled_by")[2].as_deref(), Some("cracked"));
    assert_eq!(study.prices(), [("Reedmere".to_owned(), 4.2), ("Marsh".to_owned(), 3.6)]);
    assert_eq!(study.profile().len(), 2);
    assert_eq!(study.readings()[1].measure, "gouge_center_mm");
    assert_eq!(study.reed_scores(), [Some(7.5), Some(5.0), None, None]);
    assert_eq!(study.good(), [Some(true), Some(false), Some(false), None]);
    assert_eq!(study.settings().title, "Winter");
}

#[test]
fn factors_come_in_the_order_of_making_and_books_and_playing_are_none() {
    let reading = Log::of(&[("reeds.csv", REEDS), ("ratings.csv", RATINGS)]).read();
    let factors: Vec<(&str, FactorKind)> =
        reading.study.factors().iter().map(|factor| (factor.name.as_str(), factor.kind)).collect();
    assert_eq!(
        factors,
        [
            ("hardness", FactorKind::Number),
            ("gouge_center_mm", FactorKind::Number),
            ("shape", FactorKind::Choice),
            ("forming_days", FactorKind::Number)
        ]
    );
}

#[test]
fn the_scale_and_the_good_mark_are_found_and_said() {
    let reading = Log::of(&[("reeds.csv", REEDS), ("ratings.csv", RATINGS)]).read();
    let settings = reading.study.settings();
    assert_eq!((settings.scale, settings.best), ([1.0, 10.0], Better::Higher));
    assert!((settings.good_at - 7.3).abs() < 1e-12, "70 % of the way from 1 to 10");
    assert!((settings.worthwhile - 0.45).abs() < 1e-12, "5 % of the scale");
    assert_eq!(problem(&reading, "setting-found").severity, Severity::Remark);
}
