//! What became of a piece, in the words that people use for it.

use crate::catalogue::Stage;
use crate::study::Fate;

/// What spoiled a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cause {
    Cracked,
    Leaked,
    Warped,
    Cut,
    Other,
}

impl Cause {
    /// The word in the tidy log.
    pub fn word(self) -> &'static str {
        match self {
            Cause::Cracked => "cracked",
            Cause::Leaked => "leaked",
            Cause::Warped => "warped",
            Cause::Cut => "cut",
            Cause::Other => "other",
        }
    }
}

/// A fate as read, with what the words say of cause and stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FateRead {
    pub fate: Fate,
    pub spoiled_by: Option<Cause>,
    /// Only where the word names it: `cracked in forming`.
    pub spoiled_at: Option<Stage>,
}

/// Reads a fate: a word of the tidy log or a synonym (English, German), in any case;
/// `gave to Sam` and whatever else starts with gave, given, verschenkt or sold.
pub fn read(_cell: &str) -> Option<FateRead> {
    unimplemented!()
}

/// Reads what spoiled a piece.
pub fn cause(_cell: &str) -> Option<Cause> {
    unimplemented!()
}

/// Reads a making stage: `forming`, `at the gouge`, `Fasson`.
pub fn stage(_cell: &str) -> Option<Stage> {
    unimplemented!()
}
