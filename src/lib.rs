pub mod catalogue;
pub mod intake;
pub mod problem;
pub mod study;
