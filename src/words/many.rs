//! What is told of logs with very many reeds.

use super::digits::count;

/// What became of the reeds that no model takes.
pub const PASSED_OVER: &str = "rated, but passed over because there are very many reeds";

/// How the reeds were chosen.
pub fn chosen(taken: usize, all: usize) -> String {
    format!(
        "There are very many reeds: {} of {} are looked at, chosen evenly over the lots and among the reeds of a lot.",
        count(taken),
        count(all)
    )
}
