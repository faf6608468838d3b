//! `results.json`: that it keeps to its schema, carries the keys that others rely on, and says what the pages say.

mod compatible;
mod keys;
mod pages;
mod rests_on;
mod said;
mod twins;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use serde_json::Value;
use tempfile::TempDir;

/// The logs that are reviewed here: the invented workshop, tidy and messy, two published data sets, twelve pieces.
const LOGS: [&str; 5] = [
    "datasets/demo",
    "datasets/demo_messy",
    "datasets/wine",
    "datasets/cake",
    "tests/results/twelve",
];

/// A review folder; each log is reviewed once.
struct Review {
    folder: TempDir,
    results: Value,
    /// What it printed.
    told: String,
}

impl Review {
    fn of(log: &str) -> Review {
        Review::of_logs(&[Path::new(env!("CARGO_MANIFEST_DIR")).join(log)])
    }

    fn of_logs(logs: &[PathBuf]) -> Review {
        let folder = tempfile::tempdir().expect("a folder for the review");
        let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
        command
            .arg("review")
            .args(logs)
            .arg("--out")
            .arg(folder.path().join("report"))
            .arg("--quiet");
        let output = command.output().expect("the program can be called");
        assert!(matches!(output.status.code(), Some(0 | 1)), "{}", output.status);
        let told = String::from_utf8(output.stdout).expect("the program prints UTF-8");
        let text = fs::read_to_string(folder.path().join("report/results.json")).expect("written");
        let results = serde_json::from_str(&text).expect("JSON");
        Review { folder, results, told }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join("report").join(name)
    }

    fn text(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap_or_else(|why| panic!("{name}: {why}"))
    }
}

static REVIEWS: LazyLock<Vec<Review>> = LazyLock::new(|| LOGS.map(Review::of).into());

/// The invented workshop twice over, as two makers of one studio.
static TWO_MAKERS: LazyLock<Review> = LazyLock::new(|| {
    let studio = tempfile::tempdir().expect("a folder for the logs");
    let makers = [("first", 1), ("second", 2)].map(|(maker, seed)| {
        let log = studio.path().join(maker);
        canewright::demo::write(&log, seed).expect("the log can be written");
        log
    });
    Review::of_logs(&makers)
});

fn review(log: &str) -> &'static Review {
    let at = LOGS.iter().position(|known| *known == log).expect("one of the logs");
    &REVIEWS[at]
}

fn list<'a>(value: &'a Value, key: &str) -> &'a Vec<Value> {
    value[key].as_array().unwrap_or_else(|| panic!("a list under {key} of {value}"))
}
