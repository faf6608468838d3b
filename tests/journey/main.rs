//! The program as its user meets it: each verb called as from a shell, in a folder of its own.

mod beginnings;
mod chance;
mod check;
#[cfg(unix)]
mod disk;
mod handout;
mod help;
mod hostile;
#[cfg(unix)]
mod interrupted;
mod manual;
mod monsters;
mod package;
mod parquet;
mod products;
mod progress;
mod questions;
mod review;
#[cfg(unix)]
mod shell;
mod since;
mod spelling;
#[cfg(unix)]
mod surroundings;
mod trial;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use tempfile::TempDir;

/// A folder of its own to work in, which is the current folder, the home and the place of temporary files too.
struct Desk(TempDir);

impl Desk {
    fn new() -> Desk {
        Desk(tempfile::tempdir().expect("a folder for the test"))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Lays a log of these files on the desk.
    fn with_log(name: &str, files: &[(&str, &str)]) -> Desk {
        let desk = Desk::new();
        fs::create_dir_all(desk.path(name)).expect("the desk can be written to");
        for (file, text) in files {
            fs::write(desk.path(name).join(file), text).expect("the desk can be written to");
        }
        desk
    }

    fn call(&self, arguments: &[&str]) -> Command {
        let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
        command.current_dir(self.0.path()).args(arguments);
        for place in ["HOME", "TMPDIR", "XDG_CACHE_HOME", "XDG_CONFIG_HOME"] {
            command.env(place, self.0.path());
        }
        command
    }

    /// What the call prints on standard output, whatever its exit status.
    fn printed(&self, arguments: &[&str]) -> String {
        let output = self.call(arguments).output().expect("the program can be called");
        String::from_utf8(output.stdout).expect("the program prints UTF-8")
    }

    /// Every file on the desk by its path from there.
    fn files(&self) -> BTreeMap<String, Vec<u8>> {
        files(self.0.path())
    }
}

/// Every file below a folder, by its path from there.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(&next).expect("a folder of the test") {
            let path = entry.expect("a folder of the test").path();
            if path.is_dir() {
                open.push(path);
                continue;
            }
            let name = path.strip_prefix(folder).expect("below the folder").display().to_string();
            found.insert(name, fs::read(&path).expect("a file of the test"));
        }
    }
    found
}

fn names(folder: &Path) -> Vec<String> {
    files(folder).into_keys().collect()
}

/// A data set of this repository.
fn dataset(name: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("datasets").join(name).display().to_string()
}

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap_or_else(|why| panic!("not JSON ({why}): {text}"))
}

/// An invented log without a fault: two lots, eight rated reeds, a piece that cracked.
const SOUND: [(&str, &str); 2] = [
    (
        "reeds.csv",
        "\
reed,lot,started_on,hardness,gouge_center_mm,rating,fate,spoiled_at,spoiled_by
1,Alder,2024-01-02,12,1.25,6,in_use,,
2,Alder,2024-01-09,14,1.30,7,in_use,,
3,Alder,2024-01-16,13,1.28,5,in_use,,
4,Alder,2024-01-23,15,1.27,8,in_use,,
5,Birch,2024-02-01,11,1.26,6,in_use,,
6,Birch,2024-02-08,16,1.31,7,in_use,,
7,Birch,2024-02-15,14,1.24,4,in_use,,
8,Birch,2024-02-22,12,1.29,9,in_use,,
9,Birch,2024-02-29,13,1.25,,spoiled,form,cracked
",
    ),
    (
        "study.toml",
        "title = \"Two lots\"\nscale = [1, 10]\ngood_at = 7\nworthwhile = 0.5\noutcome = \"rating\"\n",
    ),
];

/// The same log with a cell that is no number.
fn with_a_bad_cell() -> Vec<(&'static str, String)> {
    let bad = SOUND[0].1.replace("15,1.27", "hard,1.27");
    assert_ne!(bad, SOUND[0].1);
    vec![(SOUND[0].0, bad), (SOUND[1].0, SOUND[1].1.to_owned())]
}

fn bad_desk() -> Desk {
    let files = with_a_bad_cell();
    let files: Vec<(&str, &str)> =
        files.iter().map(|(name, text)| (*name, text.as_str())).collect();
    Desk::with_log("log", &files)
}
