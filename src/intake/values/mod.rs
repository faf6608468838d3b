//! What one cell or one header says: every parser of the reader, each on its own.
//!
//! The parsers here know no files and report no problems. They answer with a
//! value or with the reason why there is none; who called them knows the place
//! and words the problem. What one cell cannot decide (decimal comma, day
//! before month) is found from a whole column by an `Evidence` first.

pub mod dates;
pub mod decimal_marks;
pub mod durations;
pub mod fates;
pub mod folding;
pub mod headers;
pub mod labels;
pub mod missing;
pub mod numbers;
pub mod ratings;
pub mod totals;
pub mod yes_no;
