//! Sentences about trials.

pub mod plan;
pub mod read;
