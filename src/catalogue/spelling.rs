//! Which known word an unknown one was meant to be.

use strsim::damerau_levenshtein;

/// One letter in so many may be wrong.
const LETTERS_A_SLIP: usize = 3;
/// The beginning of a name is taken for the name from so many letters on.
const FEWEST_LETTERS: usize = 3;

/// The known word that resembles an unknown one most; none where all are far from it. Capitals, spaces and the signs between words do not count.
pub fn nearest<'a>(asked: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wanted = letters(asked);
    let away = |word: &'a str| {
        let own = letters(word);
        let slips = damerau_levenshtein(&wanted, &own);
        let most = wanted.chars().count().max(own.chars().count()).div_ceil(LETTERS_A_SLIP);
        let begins = wanted.chars().count() >= FEWEST_LETTERS && own.starts_with(&wanted);
        (slips <= most || begins).then_some((slips, word))
    };
    known.into_iter().filter_map(away).min_by_key(|(slips, _)| *slips).map(|(_, word)| word)
}

fn letters(word: &str) -> String {
    word.chars().filter(|sign| sign.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use super::nearest;

    const KNOWN: [&str; 4] = ["forming_days", "hardness", "gouge_center_mm", "forming_c"];

    #[test]
    fn a_slip_of_a_letter_or_a_few_is_seen_through() {
        for (asked, meant) in [
            ("forming_day", "forming_days"),
            ("fromer_days", "forming_days"),
            ("hardnes", "hardness"),
            ("HARDNESS", "hardness"),
            ("gouge centre mm", "gouge_center_mm"),
            ("gouge", "gouge_center_mm"),
        ] {
            assert_eq!(nearest(asked, KNOWN), Some(meant), "{asked}");
        }
    }

    #[test]
    fn a_word_that_resembles_none_gets_none() {
        for asked in ["scoring", "", "x", "竹", &"days".repeat(2500)] {
            assert_eq!(nearest(asked, KNOWN), None, "{asked}");
        }
        assert_eq!(nearest("hardness", []), None);
    }

    #[test]
    fn of_two_that_are_as_near_the_first_is_taken() {
        assert_eq!(nearest("forming_x", ["forming_a", "forming_b"]), Some("forming_a"));
    }
}
