//! What is found of a column once, whoever asks first.

use std::sync::OnceLock;

use polars::prelude::DataFrame;

/// A value for each column of a frame, and one for the columns that it does not have.
#[derive(Debug, Clone)]
pub(super) struct ByColumn<T> {
    found: Vec<OnceLock<T>>,
    /// A column that is not there answers alike under any name.
    missing: OnceLock<T>,
}

impl<T> ByColumn<T> {
    pub fn of(frame: &DataFrame) -> ByColumn<T> {
        let found = std::iter::repeat_with(OnceLock::new).take(frame.width()).collect();
        ByColumn { found, missing: OnceLock::new() }
    }

    /// The column's value, which is found if it is not known; `frame` is the one whose columns these are.
    pub fn get(&self, frame: &DataFrame, name: &str, find: impl FnOnce() -> T) -> &T {
        let found = frame.get_column_index(name).and_then(|place| self.found.get(place));
        found.unwrap_or(&self.missing).get_or_init(find)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use polars::prelude::*;

    #[test]
    fn each_column_is_found_once_and_those_that_are_not_there_are_one() {
        let frame = df!["gouge" => [1.25, 1.3], "lot" => ["a", "b"]].expect("two columns");
        let by_column = ByColumn::of(&frame);
        let get = |name: &str, found| *by_column.get(&frame, name, || found);
        assert_eq!((get("gouge", 1), get("lot", 2), get("tip", 3)), (1, 2, 3));
        assert_eq!((get("gouge", 7), get("lot", 7), get("rail", 7)), (1, 2, 3));
    }
}
