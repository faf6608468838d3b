//! Sentences about trials.

pub mod keeping;
pub mod plan;
pub mod read;
