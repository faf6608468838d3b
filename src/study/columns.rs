//! What is found of a column once, whoever asks first.

use std::sync::OnceLock;

use polars::prelude::DataFrame;

/// A value for each column of a frame, and one for the columns that it does not have.
#[derive(Debug, Clone)]
pub(super) struct ByColumn<T> {
    found: Vec<OnceLock<T>>,
}

impl<T> ByColumn<T> {
    pub fn of(frame: &DataFrame) -> ByColumn<T> {
        ByColumn { found: std::iter::repeat_with(OnceLock::new).take(frame.width() + 1).collect() }
    }

    /// The column's value, which is found if it is not known; `frame` is the one whose columns these are.
    pub fn get(&self, frame: &DataFrame, name: &str, find: impl FnOnce() -> T) -> &T {
        // a column that is not there answers alike under any name
        let place = frame.get_column_index(name).unwrap_or(frame.width());
        self.found[place].get_or_init(find)
    }
}
