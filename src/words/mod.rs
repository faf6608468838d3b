//! From numbers to sentences and digits: the only place where English is made.

pub mod check;
pub mod dates;
pub mod digits;
pub mod factors;
pub mod families;
pub mod given;
pub mod labels;
pub mod lists;
pub mod losses;
pub mod lots;
pub mod spread;
pub mod stages;
pub mod sweet_spot;
pub mod wrap;
