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
    fn anything_else_is_neither() {
        for cell in ["", "maybe", "2", "yes and no", "-"] {
            assert_eq!(read(cell), None, "“{cell}”");
        }
    }
}
