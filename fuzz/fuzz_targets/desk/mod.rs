//! A folder in memory where there is one, in which each input is laid out as a log.

use std::fs;
use std::path::{Path, PathBuf};

use canewright::intake::{self, ReadOptions, Reading};
use canewright::problem::Error;
use tempfile::TempDir;

pub struct Desk(TempDir);

impl Desk {
    pub fn new() -> Desk {
        let memory = Path::new("/dev/shm");
        let folder =
            if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
        Desk(folder.expect("room for a folder"))
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Lays out a log of these files and of nothing else.
    pub fn lay_out(&self, files: &[(&str, &[u8])]) -> PathBuf {
        let log = self.path("log");
        // gone already, at the first input
        let _ = fs::remove_dir_all(&log);
        fs::create_dir(&log).expect("room for a folder");
        for (name, bytes) in files {
            fs::write(log.join(name), bytes).expect("room for a file");
        }
        log
    }
}

/// Reads a log and holds the reading to its own account.
pub fn read(log: PathBuf) -> Result<Reading, Error> {
    let reading = intake::read(&[log], &ReadOptions::default());
    match &reading {
        Ok(reading) => {
            for file in reading.study.files() {
                assert_eq!(file.rows_read, file.rows_used + file.rows_set_aside, "{}", file.name);
            }
            for problem in &reading.problems {
                assert!(!problem.message.is_empty() && !problem.remedy.is_empty(), "{problem:?}");
            }
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
    reading
}
