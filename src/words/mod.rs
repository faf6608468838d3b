//! From numbers to sentences and digits: the only place where English is made.

pub mod check;
pub mod dates;
pub mod factors;
pub mod families;
pub mod losses;
pub mod lots;
pub mod stages;
