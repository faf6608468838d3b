//! Sentences about trials.

pub mod plan;
