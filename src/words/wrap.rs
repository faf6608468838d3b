//! Breaking text into lines of a width, for terminals and pictures.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Lines of at most `width` columns, broken at spaces; a word longer than a
/// line is broken inside. Never fewer than one line; a width of 0 counts as 1.
pub fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        for part in parts_of_word(word, width) {
            append(&mut lines, &part, width);
        }
    }
    lines
}

fn append(lines: &mut Vec<String>, part: &str, width: usize) {
    match lines.last_mut() {
        Some(line) if line.is_empty() => line.push_str(part),
        Some(line) if line.width() + 1 + part.width() <= width => {
            line.push(' ');
            line.push_str(part);
        }
        _ => lines.push(part.to_owned()),
    }
}

fn parts_of_word(word: &str, width: usize) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut taken = 0;
    for character in word.chars() {
        let columns = character.width().unwrap_or(0);
        if taken + columns > width && taken > 0 {
            parts.push(String::new());
            taken = 0;
        }
        taken += columns;
        if let Some(part) = parts.last_mut() {
            part.push(character);
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lines_break_at_spaces_and_long_words_inside() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("abcdefgh", 3), ["abc", "def", "gh"]);
        assert_eq!(wrapped("", 10), [""]);
    }

    proptest! {
        #[test]
        fn no_line_is_wider_than_asked_and_no_letter_is_lost(text in "[a-z竹 ]{0,80}", width in 2usize..30) {
            let lines = wrapped(&text, width);
            prop_assert!(lines.iter().all(|line| line.width() <= width));
            let kept: String = lines.concat().replace(' ', "");
            prop_assert_eq!(kept, text.replace(' ', ""));
        }
    }
}
