//! Whole logs from files to a study: what is read, what is said, what is set aside.

mod any_log;
mod columns;
mod logs;
mod parquet;
mod pieces;
mod ratings;

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
