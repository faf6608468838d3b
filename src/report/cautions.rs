//! The short box that stands where a page suggests making more reeds.

/// Questions whose answers suggest further making.
const SUGGEST_MAKING: [&str; 8] =
    ["factors", "lots", "decide", "life", "blanks", "sort", "trial", "families"];

pub const TITLE: &str = "At the bench";

/// Common practice of the trade's workshops.
pub const SENTENCES: [&str; 6] = [
    "Sharp tools away from the body.",
    "Eye protection when cane may fly.",
    "Fresh air for lacquer and cement.",
    "No breathing of sanding dust.",
    "No sharing of wet reeds.",
    "Follow the makers' instructions and local rules; this is no medical or safety advice.",
];

/// Whether the answer to a question suggests making more reeds.
pub fn belong_to(question: &str) -> bool {
    question.split(' ').next().is_some_and(|first| SUGGEST_MAKING.contains(&first))
}
