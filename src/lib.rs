//! Answers from a bassoon reed maker's log.

pub mod demo;
