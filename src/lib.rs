pub mod catalogue;
pub mod problem;
pub mod study;
