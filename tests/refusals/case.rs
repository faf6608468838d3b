//! One bad input and what must be said of it.

use std::path::Path;

use canewright::intake::{self, ReadOptions, Reading};
use canewright::problem::{Error, Problem};

/// One log with something wrong in it.
pub struct Case {
    /// What is wrong, in words: the name of the case.
    pub claim: &'static str,
    /// The rule that must speak.
    pub code: &'static str,
    pub files: Vec<(&'static str, Vec<u8>)>,
    /// Where it must point; none where the rule speaks of a whole folder.
    pub file: Option<&'static str>,
    pub line: Option<u64>,
    pub column: Option<&'static str>,
    /// The text that the problem must carry, word for word.
    pub text: Option<&'static str>,
    /// Whether the log cannot be read at all.
    pub refused: bool,
    /// How many whole rows must be set aside.
    pub rows_aside: usize,
}

/// A log of one file, `reeds.csv`.
pub fn reeds(code: &'static str, claim: &'static str, text: impl AsRef<[u8]>) -> Case {
    Case {
        claim,
        code,
        files: vec![("reeds.csv", text.as_ref().to_vec())],
        file: Some("reeds.csv"),
        line: None,
        column: None,
        text: None,
        refused: false,
        rows_aside: 0,
    }
}

impl Case {
    /// Another file beside the first; a folder where the name ends with a stroke.
    pub fn with(mut self, name: &'static str, text: impl AsRef<[u8]>) -> Case {
        self.files.push((name, text.as_ref().to_vec()));
        self
    }

    /// Another name for the first file.
    pub fn named(mut self, name: &'static str) -> Case {
        self.files[0].0 = name;
        self.file = Some(name);
        self
    }

    /// The file that must be pointed to, where it is not the first.
    pub fn in_file(mut self, name: &'static str) -> Case {
        self.file = Some(name);
        self
    }

    /// The rule speaks of the folder.
    pub fn in_folder(mut self) -> Case {
        self.file = None;
        self
    }

    pub fn line(mut self, line: u64) -> Case {
        self.line = Some(line);
        self
    }

    pub fn column(mut self, column: &'static str) -> Case {
        self.column = Some(column);
        self
    }

    /// The cell: line, column and its text.
    pub fn cell(self, line: u64, column: &'static str, text: &'static str) -> Case {
        Case { text: Some(text), ..self.line(line).column(column) }
    }

    pub fn refused(mut self) -> Case {
        self.refused = true;
        self
    }

    pub fn rows_aside(mut self, rows: usize) -> Case {
        self.rows_aside = rows;
        self
    }

    /// Writes the log into a folder of its own and reads it.
    pub fn read(&self) -> Result<Reading, Error> {
        let folder = tempfile::tempdir().expect("a folder for the log");
        for (name, bytes) in &self.files {
            if let Some(name) = name.strip_suffix('/') {
                std::fs::create_dir(folder.path().join(name)).expect("a folder in the log");
                continue;
            }
            std::fs::write(folder.path().join(name), bytes).expect("the log is written");
        }
        read(folder.path())
    }

    /// Whether a problem is the one that this case asks for.
    pub fn is_met_by(&self, problem: &Problem) -> bool {
        problem.code == self.code
            && self.file.is_none_or(|file| problem.place.file == file)
            && self.line.is_none_or(|line| problem.place.line == Some(line))
            && self.column.is_none_or(|column| problem.place.column.as_deref() == Some(column))
            && self.text.is_none_or(|text| problem.text == text)
    }
}

pub fn read(path: &Path) -> Result<Reading, Error> {
    intake::read(&[path.to_path_buf()], &ReadOptions::default())
}

/// All problems of a log, whether it could be read or not.
pub fn problems(outcome: &Result<Reading, Error>) -> Vec<Problem> {
    match outcome {
        Ok(reading) => reading.problems.clone(),
        Err(Error::Unreadable(problem)) => vec![(**problem).clone()],
        Err(other) => panic!("not a problem of the log: {other}"),
    }
}
