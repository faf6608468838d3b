//! The invented workshop: a log that nobody kept, for a first look and for tests.
//!
//! One maker, two players, nine lots, fourteen months. [`simulation`] holds the
//! causes and their true sizes, [`making`] the course of a piece, [`scenario`] the calendar and the cane,
//! [`writing`] the tidy files and [`mod@messy`] the same log as a spreadsheet would
//! have exported it. [`worlds`] are other workshops, for tests of the answers. Every number is made up and says so in its title.

pub mod chance;
pub mod entries;
mod gaps;
pub mod instruments;
pub mod making;
pub mod messy;
mod playing;
pub mod scenario;
pub mod simulation;
mod table;
pub mod worlds;
pub mod writing;

#[cfg(test)]
mod tests;

use std::path::Path;

pub use making::simulate;
pub use simulation::truth;

/// The seed of the committed demo.
pub const DEFAULT_SEED: u64 = 2025;

/// The files of one log folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Workshop {
    pub files: Vec<File>,
}

/// One file: bytes, because a spreadsheet does not always write UTF-8.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    pub name: &'static str,
    pub contents: Vec<u8>,
}

impl Workshop {
    /// Writes the files into a folder, which is made if need be; files of the
    /// same names are overwritten.
    ///
    /// # Errors
    /// What the file system says when a file cannot be written.
    pub fn write(&self, folder: &Path) -> std::io::Result<()> {
        std::fs::create_dir_all(folder)?;
        for file in &self.files {
            std::fs::write(folder.join(file.name), &file.contents)?;
        }
        Ok(())
    }
}

/// The demo log as tidy files; the same bytes for the same seed.
pub fn workshop(seed: u64) -> Workshop {
    writing::tidy(&simulate(seed, 1))
}

/// The same log as a spreadsheet would have exported it.
pub fn messy(seed: u64) -> Workshop {
    messy::messy(&simulate(seed, 1))
}

/// Writes the tidy demo log into a folder.
///
/// # Errors
/// What the file system says when a file cannot be written.
pub fn write(folder: &Path, seed: u64) -> std::io::Result<()> {
    workshop(seed).write(folder)
}
