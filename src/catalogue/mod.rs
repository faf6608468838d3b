//! Every column the tool knows: its name, what people call it, its making
//! stage, its unit, what values are usual and possible, and where those
//! figures come from.

mod columns;
pub mod conversions;
pub mod spelling;
mod units;

pub use columns::{COLUMNS, Column, Kind, Range, find, known};
pub use units::Unit;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The stages of making, in the order in which they happen to a piece of cane.
///
/// The order decides what an effect is adjusted for: only for what came before.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    Bookkeeping,
    Cane,
    Gouge,
    Shape,
    Profile,
    Form,
    Bind,
    Finish,
    Play,
    /// A column of the maker's own that the study file has not placed.
    Unplaced,
}

impl Stage {
    /// The making stages in order: from choosing the cane to playing the reed.
    pub const MAKING: [Stage; 8] = [
        Stage::Cane,
        Stage::Gouge,
        Stage::Shape,
        Stage::Profile,
        Stage::Form,
        Stage::Bind,
        Stage::Finish,
        Stage::Play,
    ];

    /// The word for the stage in files and on pages.
    pub fn word(self) -> &'static str {
        match self {
            Stage::Bookkeeping => "bookkeeping",
            Stage::Cane => "cane",
            Stage::Gouge => "gouge",
            Stage::Shape => "shape",
            Stage::Profile => "profile",
            Stage::Form => "form",
            Stage::Bind => "bind",
            Stage::Finish => "finish",
            Stage::Play => "play",
            Stage::Unplaced => "unplaced",
        }
    }

    /// The stage of that word.
    pub fn from_word(word: &str) -> Option<Stage> {
        let all = Stage::MAKING.into_iter().chain([Stage::Bookkeeping, Stage::Unplaced]);
        all.into_iter().find(|stage| stage.word() == word)
    }
}
