//! Yes and no in the words that people use.

const YES: [&str; 9] = ["yes", "y", "true", "t", "1", "x", "ja", "j", "✓"];
const NO: [&str; 8] = ["no", "n", "false", "f", "0", "nein", "non", "✗"];

/// `yes`, `y`, `true`, `1`, `x`, `ja`, `oui` and their opposites; nothing else.
pub fn read(cell: &str) -> Option<bool> {
    let word = cell.trim().to_lowercase();
    if YES.contains(&word.as_str()) || word == "oui" {
        return Some(true);
    }
    NO.contains(&word.as_str()).then_some(false)
}

/// Words that can mean nothing else.
const CLEAR: [&str; 9] = ["yes", "no", "true", "false", "ja", "nein", "oui", "✓", "✗"];

/// Whether a column's cells are yes and no and nothing else: both occur, one of them in a clear word or all as `y` and `n`.
pub fn are_yes_no<'a>(cells: impl Iterator<Item = &'a str>) -> bool {
    let (mut yes, mut no, mut clear, mut letters) = (false, false, false, true);
    for cell in cells {
        match read(cell) {
            Some(true) => yes = true,
            Some(false) => no = true,
            None => return false,
        }
        let word = cell.trim().to_lowercase();
        clear |= CLEAR.contains(&word.as_str());
        letters &= matches!(word.as_str(), "y" | "n" | "j");
    }
    yes && no && (clear || letters)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn yes_and_no_are_read_in_any_case() {
        for cell in ["Yes", "y", " TRUE", "1", "x", "Ja", "oui"] {
            assert_eq!(read(cell), Some(true), "“{cell}”");
        }
        for cell in ["No", "n", "false", "0", "nein"] {
            assert_eq!(read(cell), Some(false), "“{cell}”");
        }
    }

    #[test]
    fn a_column_is_yes_and_no_when_both_occur_in_words_that_mean_it() {
        let are = |cells: &[&str]| are_yes_no(cells.iter().copied());
        assert!(are(&["y", "n", "Yes", "no"]) && are(&["Y", "n"]) && are(&["x", "nein"]));
        for cells in [&["t", "f"][..], &["x", "x"], &["yes", "maybe", "no"], &["1", "0"], &[]] {
            assert!(!are(cells), "{cells:?}");
        }
    }

    #[test]
    fn anything_else_is_neither() {
        for cell in ["", "maybe", "2", "yes and no", "-"] {
            assert_eq!(read(cell), None, "“{cell}”");
        }
    }
}
