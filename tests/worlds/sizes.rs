//! How many logs a claim is tried on, everyday and in full.

/// Claims about factors, whose question is quick.
pub const FACTORS: (usize, usize) = (4, 200);
/// Claims about lots, whose intervals are drawn.
pub const LOTS: (usize, usize) = (4, 200);
/// Claims about decisions.
pub const DECISIONS: (usize, usize) = (4, 200);
/// Claims about lives, whose question is quick.
pub const LIVES: (usize, usize) = (6, 400);
/// Worlds that are only to be answered or refused.
pub const FEW: (usize, usize) = (1, 20);
/// Claims about trust, whose logs are small.
pub const TRUST: (usize, usize) = (40, 200);
/// Claims about drift, each log of which is shuffled a thousand times.
pub const DRIFT: (usize, usize) = (8, 200);
/// Claims that one family is one, at 60 and at 200 pieces, and that three families are found, each log asked twice.
pub const FAMILIES: (usize, usize) = (2, 200);
pub const FAMILIES_LARGE: (usize, usize) = (1, 100);
pub const FAMILIES_APART: (usize, usize) = (1, 60);
/// Claims about unfinished pieces.
pub const BLANKS: (usize, usize) = (4, 200);
/// Claims about dropping pieces, a quick question.
pub const SORTED: (usize, usize) = (12, 400);
/// Claims about several makers, whose logs are small.
pub const MAKERS: (usize, usize) = (6, 1200);
