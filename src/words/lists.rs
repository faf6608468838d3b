//! Lists as people write them.

use super::labels::shortened;

/// Joins with commas and a last “and”: `a, b and c`. Nothing gives an empty text.
pub fn and<T: AsRef<str>>(items: &[T]) -> String {
    joined(items, "and")
}

/// A list of names in a sentence: the first four, each as long as a name may be, and how many more.
pub fn few(names: &[String]) -> String {
    const SHOWN: usize = 4;
    let mut shown: Vec<String> = names.iter().map(|known| name(known)).collect();
    if shown.len() > SHOWN + 1 {
        shown.truncate(SHOWN);
        shown.push(format!("{} more", names.len() - SHOWN));
    }
    and(&shown)
}

/// A name of the log in a sentence; a very long one is cut, and the tables hold all of it.
pub fn name(name: &str) -> String {
    shortened(name, 60)
}

/// `Lot 4`, `lot B`: the word stands before a name that does not say it itself.
pub fn lot(lot: &str) -> String {
    if says_lot(lot) { name(lot) } else { format!("lot {}", name(lot)) }
}

/// The same at the beginning of a sentence.
pub fn capital_lot(lot: &str) -> String {
    if says_lot(lot) {
        super::factors::capitalised(&name(lot))
    } else {
        format!("Lot {}", name(lot))
    }
}

/// Whether a name begins with the word.
pub fn says_lot(lot: &str) -> bool {
    let mut words = lot.split(|sign: char| !sign.is_alphabetic()).filter(|word| !word.is_empty());
    words.next().is_some_and(|word| word.eq_ignore_ascii_case("lot"))
}

/// Joins with commas and a last “or”: `a, b or c`.
pub fn or<T: AsRef<str>>(items: &[T]) -> String {
    joined(items, "or")
}

fn joined<T: AsRef<str>>(items: &[T], last_word: &str) -> String {
    let Some((last, rest)) = items.split_last() else { return String::new() };
    let rest: Vec<&str> = rest.iter().map(AsRef::as_ref).collect();
    match rest.is_empty() {
        true => last.as_ref().to_owned(),
        false => format!("{} {last_word} {}", rest.join(", "), last.as_ref()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lot_is_called_a_lot_once() {
        let called = ["B", "Lot 4", "lot-7", "LOT2", "Lotus", "4", ""].map(lot);
        assert_eq!(called, ["lot B", "Lot 4", "lot-7", "LOT2", "lot Lotus", "lot 4", "lot "]);
        assert_eq!(capital_lot("B"), "Lot B");
    }

    #[test]
    fn the_last_two_are_joined_by_a_word_and_the_others_by_commas() {
        assert_eq!(and::<&str>(&[]), "");
        assert_eq!(and(&["gouge"]), "gouge");
        assert_eq!(and(&["gouge", "shape"]), "gouge and shape");
        assert_eq!(and(&["gouge", "shape", "profile"]), "gouge, shape and profile");
        assert_eq!(or(&["early".to_owned(), "late".to_owned()]), "early or late");
    }
}
