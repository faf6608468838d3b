//! Files of the disk: read up to a size, written whole or not at all.

mod reading;
mod unfinished;
mod writing;

pub use reading::read;
pub use unfinished::give_up;
pub use writing::{Fresh, replace};
