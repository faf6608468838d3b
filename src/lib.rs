pub mod catalogue;
pub mod finding;
pub mod plots;
pub mod problem;
pub mod report;
pub mod study;
pub mod words;
