//! `start`: an empty log that is ready to be filled in.

use std::path::Path;

use super::folder;
use crate::problem::Error;

const FILES: [(&str, &str); 5] = [
    ("HOW_TO.md", include_str!("start/HOW_TO.md")),
    ("reeds.csv", include_str!("start/reeds.csv")),
    ("ratings.csv", include_str!("start/ratings.csv")),
    ("lots.csv", include_str!("start/lots.csv")),
    ("study.toml", include_str!("start/study.toml")),
];

/// Lays out an empty log in a new or empty folder, and says what to do next.
///
/// # Errors
/// When the folder holds anything already, or cannot be written.
pub fn lay_out(dir: &Path) -> Result<String, Error> {
    folder::fill_new(dir, FILES)?;
    Ok(format!(
        "An empty log is ready in {0}. Read HOW_TO.md there and fill in reeds.csv; then run: canewright check {0}\n",
        dir.display()
    ))
}
