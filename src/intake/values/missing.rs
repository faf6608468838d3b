//! Cells that say that there is no value.

/// The marks that always mean "no value", lower case. `0` is a value and never among them.
const MARKS: [&str; 10] = ["", "na", "n/a", "#n/a", "-", "--", "–", "—", "?", "."];

/// Whether the cell is one of the marks that always mean "no value":
/// empty, `NA`, `n/a`, `#N/A`, `-`, `--` (and the longer dashes), `?`, `.`. Never `0`.
pub fn is_missing(cell: &str) -> bool {
    // no mark begins with a digit, and most cells do
    if cell.as_bytes().first().is_some_and(u8::is_ascii_digit) {
        return false;
    }
    let cell = cell.trim();
    // the longest mark has four bytes; this spares most cells the comparisons
    cell.len() <= 4 && MARKS.iter().any(|mark| mark.eq_ignore_ascii_case(cell))
}

/// The marks of one log: the usual ones and those that its study file adds.
#[derive(Debug, Clone, Default)]
pub struct MissingMarks {
    extra: Vec<String>,
}

impl MissingMarks {
    /// The usual marks and these, in any case.
    pub fn with(extra: &[String]) -> MissingMarks {
        MissingMarks { extra: extra.iter().map(|mark| mark.trim().to_lowercase()).collect() }
    }

    pub fn holds(&self, cell: &str) -> bool {
        if is_missing(cell) {
            return true;
        }
        if self.extra.is_empty() {
            return false;
        }
        let cell = cell.trim().to_lowercase();
        self.extra.contains(&cell)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_marks_are_missing_in_any_case_and_with_spaces() {
        for cell in ["", "  ", "NA", "na", "N/A", "#N/A", "-", "--", " – ", "—", "?", "."] {
            assert!(is_missing(cell), "“{cell}”");
        }
    }

    #[test]
    fn zero_is_a_value_and_so_are_words() {
        for cell in ["0", "0.0", "no", "none", "nan", "x", "-1", "..."] {
            assert!(!is_missing(cell), "“{cell}”");
        }
    }

    #[test]
    fn the_study_file_may_add_marks() {
        let marks = MissingMarks::with(&["lost page".to_owned(), "999".to_owned()]);
        assert!(marks.holds("Lost Page"));
        assert!(marks.holds("999"));
        assert!(marks.holds("n/a"));
        assert!(!marks.holds("99"));
    }
}
