//! How many logs a claim is tried on, everyday and in full.

/// Claims about factors, whose question is quick.
pub const FACTORS: (usize, usize) = (6, 200);
/// Claims about lots, whose intervals are drawn.
pub const LOTS: (usize, usize) = (4, 200);
/// Claims about decisions.
pub const DECISIONS: (usize, usize) = (4, 200);
/// Worlds that are only to be answered or refused.
pub const FEW: (usize, usize) = (2, 20);
/// Claims about unfinished pieces.
pub const BLANKS: (usize, usize) = (4, 200);
/// Claims about dropping pieces, a quick question.
pub const SORTED: (usize, usize) = (12, 400);
