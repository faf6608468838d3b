pub mod catalogue;
pub mod demo;
pub mod finding;
pub mod problem;
pub mod questions;
pub mod stats;
pub mod study;
pub mod words;
