//! Cells that say that there is no value.

/// Whether the cell is one of the marks that always mean "no value":
/// empty, `NA`, `n/a`, `#N/A`, `-`, `--` (and the longer dashes), `?`, `.`. Never `0`.
pub fn is_missing(_cell: &str) -> bool {
    unimplemented!()
}

/// The marks of one log: the usual ones and those that its study file adds.
#[derive(Debug, Clone, Default)]
pub struct MissingMarks {
    extra: Vec<String>,
}

impl MissingMarks {
    /// The usual marks and these, in any case.
    pub fn with(_extra: &[String]) -> MissingMarks {
        unimplemented!()
    }

    pub fn holds(&self, _cell: &str) -> bool {
        unimplemented!()
    }
}
