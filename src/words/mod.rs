//! From numbers to sentences and digits: the only place where English is made.

pub mod again;
pub mod blanks;
pub mod check;
pub mod criteria;
pub mod dates;
pub mod decide;
pub mod digits;
pub mod drift;
pub mod factors;
pub mod families;
pub mod foretell;
pub mod given;
pub mod handout;
pub mod labels;
pub mod life;
pub mod lists;
pub mod losses;
pub mod lots;
pub mod makers;
pub mod many;
pub mod products;
pub mod since;
pub mod sort;
pub mod spelling;
pub mod spread;
pub mod stages;
pub mod sweet_spot;
pub mod tables;
pub mod trial;
pub mod trust;
pub mod wrap;

#[cfg(test)]
mod laws;
