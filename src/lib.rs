pub mod catalogue;
pub mod demo;
pub mod finding;
pub mod problem;
pub mod stats;
pub mod study;
