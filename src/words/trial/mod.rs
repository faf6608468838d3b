//! Sentences about trials.

pub mod read;
