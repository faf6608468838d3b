//! Reads a bassoon reed maker's log and says what went with good reeds, which cane lots played well and where pieces are
//! lost.
//!
//! The journey on one screen: files become a [`study::Study`] and a list of [`problem::Problem`]s; a question takes the
//! study and gives a [`finding::Finding`] or a [`problem::Refusal`]; pages are made of findings and of nothing else.
//!
//! ```
//! use canewright::{intake, questions};
//!
//! let log = [std::path::PathBuf::from("datasets/cake")];
//! let reading = intake::read(&log, &intake::ReadOptions::default())?;
//! let lots = questions::find("lots").expect("lots is a question");
//! match (lots.ask)(&reading.study, &questions::Options::default()) {
//!     Ok(finding) => println!("{}", finding.answer),
//!     Err(refusal) => println!("{refusal}"),
//! }
//! # Ok::<(), canewright::problem::Error>(())
//! ```

pub mod catalogue;
pub mod cli;
pub mod demo;
mod disk;
pub mod finding;
pub mod intake;
pub mod plan;
pub mod plots;
pub mod problem;
pub mod questions;
pub mod report;
pub mod stats;
pub mod study;
pub mod words;
