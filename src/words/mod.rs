//! From numbers to words: the only place where digits and sentences are made.

pub mod digits;
pub mod labels;
pub mod lists;
pub mod wrap;
