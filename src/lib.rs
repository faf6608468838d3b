//! Reads a bassoon reed maker's log and says what went with good reeds, which cane lots played well and where pieces are
//! lost.
//!
//! The journey on one screen: files become a [`study::Study`] and a list of [`problem::Problem`]s; a question takes the
//! study and gives a [`finding::Finding`] or a [`problem::Refusal`]; pages are made of findings and of nothing else.
//!
//! Reading a log and asking one question:
//!
//! ```
//! use canewright::{intake, questions, report};
//!
//! let log = [std::path::PathBuf::from("datasets/cake")];
//! let reading = intake::read(&log, &intake::ReadOptions::default())?;
//! for problem in &reading.problems {
//!     eprintln!("{}", problem.message);
//! }
//! let lots = questions::find("lots").expect("lots is a question");
//! match (lots.ask)(&reading.study, &questions::Options::default()) {
//!     Ok(finding) => println!("{}\n{}", finding.answer, report::section_json(&finding.section)),
//!     Err(refusal) => println!("{refusal}"),
//! }
//! # Ok::<(), canewright::problem::Error>(())
//! ```
//!
//! Asking all that a review asks, in memory; each section is the one of `results.json`, by the name of its question:
//!
//! ```
//! use canewright::{intake, questions, report};
//!
//! let log = [std::path::PathBuf::from("tests/results/twelve")];
//! let study = intake::read(&log, &intake::ReadOptions::default())?.study;
//! let options = questions::Options { seed: 7, ..Default::default() };
//! let mut sections = std::collections::BTreeMap::new();
//! for question in questions::REGISTRY.iter().filter(|question| (question.asked_of)(&study)) {
//!     match (question.ask)(&study, &options) {
//!         Ok(finding) => drop(sections.insert(question.name, report::section_json(&finding.section))),
//!         Err(refusal) => println!("{refusal}"),
//!     }
//! }
//! assert!(sections["losses"].contains("\"entered\": 12"));
//! # Ok::<(), canewright::problem::Error>(())
//! ```

// Nothing that a log, a plan or an option holds may end the program, and no number may become another in silence: the few conversions that must round
// or cut are in `whole`, which says how. Only a count may become a double as it is (`cast_precision_loss`): no count here comes near 2^53, and up to
// there each has a double of its own. An index that is not there ends the program too; three modules below are let off, and
// elsewhere single items, each with its reason.
#![cfg_attr(
    not(test),
    warn(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::unreachable,
        clippy::todo,
        clippy::unimplemented,
        clippy::exit,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_possible_wrap,
        clippy::indexing_slicing,
        clippy::string_slice
    )
)]

pub mod catalogue;
pub mod cli;
#[expect(
    clippy::indexing_slicing,
    reason = "the invented workshop reads nothing but its own tables"
)]
pub mod demo;
mod disk;
pub mod finding;
pub mod intake;
pub mod plan;
pub mod plots;
pub mod problem;
#[expect(
    clippy::indexing_slicing,
    reason = "what is asked of pieces is held in columns of one length, read by the piece"
)]
pub mod questions;
pub mod report;
#[expect(clippy::indexing_slicing, reason = "matrices are read by little else than an index")]
pub mod stats;
pub mod study;
pub mod sums;
mod whole;
pub mod words;
