//! Text from a log, made fit to be shown; and the marks that stand beside verdicts.
//!
//! A log may hold anything. What it holds is shown, but it never steers a
//! terminal, turns the direction of the text around it, or breaks a line.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::finding::Verdict;

/// Stands for a character that must not be shown as it is.
const REPLACEMENT: char = '\u{FFFD}';

/// Stands below a picture that is read as an earlier one with this title.
pub fn read_like(title: &str) -> String {
    format!("To be read like “{title}” above.")
}

/// The text on one line, without characters that steer a terminal or turn the
/// direction of the text around them. Each character becomes exactly one
/// character, so that positions in the text stay true.
pub fn plain(text: &str) -> String {
    text.chars().map(plain_character).collect()
}

fn plain_character(character: char) -> char {
    match character {
        '\n' | '\r' | '\t' | '\u{2028}' | '\u{2029}' | '\u{85}' => ' ',
        character if character.is_control() || is_invisible_steering(character) => REPLACEMENT,
        character => character,
    }
}

/// Direction marks, overrides and isolates, invisible joiners, tags, the byte order
/// mark, and the two code points that XML does not allow.
fn is_invisible_steering(character: char) -> bool {
    matches!(
        character,
        '\u{061C}'
            | '\u{180E}'
            | '\u{200B}'..='\u{200F}'
            | '\u{202A}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}'
            | '\u{FEFF}'
            | '\u{FFF9}'..='\u{FFFB}'
            | '\u{FFFE}'..='\u{FFFF}'
            | '\u{E0000}'..='\u{E007F}'
    )
}

/// The first sentence, and those after it as long as they stay short together.
pub fn first_sentences(text: &str) -> String {
    const ENOUGH: usize = 110;
    let mut end = 0;
    for (at, stop) in text.match_indices(". ") {
        let begins = text.get(at + stop.len()..).and_then(|rest| rest.chars().next());
        if !begins.is_some_and(|letter| letter.is_uppercase() || letter == '“') {
            continue;
        }
        if end > 0 && at > ENOUGH {
            break;
        }
        end = at + 1;
    }
    match text.get(..end) {
        Some(sentences) if end > 0 && text.len() > ENOUGH => sentences.to_owned(),
        _ => text.to_owned(),
    }
}

/// At most `width` columns of [`plain`] text, the last one an ellipsis where something was cut.
pub fn shortened(text: &str, width: usize) -> String {
    let text = plain(text.trim());
    if text.width() <= width {
        return text;
    }
    let mut kept = String::new();
    let mut taken = 0;
    for character in text.chars() {
        taken += character.width().unwrap_or(0);
        if taken + 1 > width {
            break;
        }
        kept.push(character);
    }
    format!("{}…", kept.trim_end())
}

/// The mark that stands beside a verdict's word wherever it is shown.
pub fn verdict_mark(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Clear => "●",
        Verdict::Leaning => "◐",
        Verdict::Negligible => "≈",
        Verdict::Open => "○",
        Verdict::Tangled => "×",
    }
}

/// `◐ leaning`
pub fn verdict(verdict: Verdict) -> String {
    format!("{} {}", verdict_mark(verdict), verdict.word())
}

/// A name for a file or an anchor: lower-case ASCII letters, digits and single underscores.
pub fn file_stem(name: &str) -> String {
    let mut stem = String::new();
    for character in name.chars().take(80) {
        if character.is_ascii_alphanumeric() {
            stem.push(character.to_ascii_lowercase());
        } else if !stem.ends_with('_') && !stem.is_empty() {
            stem.push('_');
        }
    }
    let stem = stem.trim_end_matches('_');
    if stem.is_empty() { "unnamed".to_owned() } else { stem.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_sentences_end_where_one_does_and_a_decimal_point_is_no_end() {
        let long = "X".repeat(120);
        assert_eq!(first_sentences("One of 3.5 mm. Two."), "One of 3.5 mm. Two.");
        assert_eq!(
            first_sentences(&format!("Try it first. It cannot settle it. {long}. Last.")),
            "Try it first. It cannot settle it."
        );
        assert_eq!(first_sentences(&format!("{long}. Next one. Last.")), format!("{long}."));
        assert_eq!(first_sentences(&long), long);
    }

    #[test]
    fn an_escape_sequence_loses_its_escape_and_keeps_its_length() {
        let text = "a\u{1b}[31mred\u{7}";
        assert_eq!(plain(text), "a\u{FFFD}[31mred\u{FFFD}");
        assert_eq!(plain(text).chars().count(), text.chars().count());
    }

    #[test]
    fn a_direction_override_is_shown_as_a_replacement_and_letters_are_kept() {
        assert_eq!(plain("\u{202e}lot"), "\u{FFFD}lot");
        assert_eq!(plain("קנה"), "קנה");
        assert_eq!(plain("two\nlines"), "two lines");
    }

    #[test]
    fn a_long_label_is_cut_to_the_width_with_an_ellipsis() {
        assert_eq!(shortened("crosshatch", 10), "crosshatch");
        assert_eq!(shortened("crosshatch", 6), "cross…");
        assert!(shortened(&"竹".repeat(300), 9).width() <= 9);
        assert_eq!(shortened("anything", 0), "…");
    }

    #[test]
    fn every_verdict_has_a_mark_of_its_own() {
        let all = [
            Verdict::Clear,
            Verdict::Leaning,
            Verdict::Negligible,
            Verdict::Open,
            Verdict::Tangled,
        ];
        let marks: std::collections::HashSet<_> = all.map(verdict_mark).into_iter().collect();
        assert_eq!(marks.len(), all.len());
    }

    #[test]
    fn a_file_stem_cannot_leave_its_folder() {
        assert_eq!(file_stem("../../etc/Passwd"), "etc_passwd");
        assert_eq!(file_stem("factor_forming_days"), "factor_forming_days");
        assert_eq!(file_stem("竹"), "unnamed");
    }
}
