//! What the stages of the making are called in a sentence.

use crate::catalogue::Stage;

/// The stage as something one does: `forming`.
pub fn doing(stage: Stage) -> &'static str {
    match stage {
        Stage::Bookkeeping => "bookkeeping",
        Stage::Cane => "choosing the cane",
        Stage::Gouge => "gouging",
        Stage::Shape => "shaping",
        Stage::Profile => "profiling",
        Stage::Form => "forming",
        Stage::Bind => "binding",
        Stage::Finish => "finishing",
        Stage::Play => "playing",
        Stage::Unplaced => "a stage not named",
    }
}
