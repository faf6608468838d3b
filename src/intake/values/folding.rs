//! Folding of text: one form for headers, keys and words that people type.

/// Folds any text to lower-case words joined by `_`, as names of columns and keys are.
pub fn fold(text: &str) -> String {
    let mut folded = String::with_capacity(text.len());
    let mut gap = false;
    for c in text.chars() {
        if ('\u{300}'..='\u{36f}').contains(&c) {
            add_mark(&mut folded, c);
        } else if c.is_alphanumeric() {
            if gap && !folded.is_empty() {
                folded.push('_');
            }
            gap = false;
            c.to_lowercase().for_each(|c| push_plain(&mut folded, c));
        } else if !matches!(c, '\'' | '’') {
            gap = true;
        }
    }
    folded
}

/// A combining mark behind its letter: the dots of `ä` are an `e`, other accents fall away.
fn add_mark(folded: &mut String, mark: char) {
    if mark == '\u{308}' && folded.ends_with(['a', 'o', 'u']) {
        folded.push('e');
    }
}

/// Adds a lower-case letter without its accent.
fn push_plain(folded: &mut String, c: char) {
    match c {
        'ä' | 'æ' => folded.push_str("ae"),
        'ö' | 'œ' => folded.push_str("oe"),
        'ü' => folded.push_str("ue"),
        'ß' => folded.push_str("ss"),
        'à' | 'á' | 'â' | 'ã' | 'å' => folded.push('a'),
        'è' | 'é' | 'ê' | 'ë' => folded.push('e'),
        'ì' | 'í' | 'î' | 'ï' => folded.push('i'),
        'ò' | 'ó' | 'ô' | 'õ' | 'ø' => folded.push('o'),
        'ù' | 'ú' | 'û' => folded.push('u'),
        'ç' => folded.push('c'),
        'ñ' => folded.push('n'),
        // the dot that a lower-case dotted capital I leaves behind
        '\u{307}' => {}
        other => folded.push(other),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn case_accents_and_signs_are_folded() {
        assert_eq!(fold("Härte"), "haerte");
        assert_eq!(fold("Ha\u{308}rte"), "haerte", "dots as a mark of their own");
        assert_eq!(fold("Öffnung weiß"), "oeffnung_weiss");
        assert_eq!(fold("façon"), "facon");
        assert_eq!(fold("Reed #"), "reed");
    }

    proptest! {
        #[test]
        fn folding_twice_is_folding_once(text in any::<String>()) {
            let once = fold(&text);
            prop_assert_eq!(fold(&once), once);
        }
    }
}
