//! Names of lots, shapes, players: spelling variants are joined, close names pointed out.

use foldhash::{HashMap, HashMapExt};

use crate::whole;

/// No more levels than this are compared pair by pair.
const MOST_COMPARED: usize = 500;

/// The part of a label that counts: letters and digits without case, spaces and
/// punctuation. A mark between two digits (`1.5`) and a closing `+` or `-` count.
pub fn key(label: &str) -> String {
    let label = label.trim();
    let mut key = String::with_capacity(label.len());
    let mut characters = label.chars().peekable();
    let mut previous = ' ';
    while let Some(c) = characters.next() {
        let next = characters.peek().copied();
        let between_digits =
            previous.is_ascii_digit() && next.is_some_and(|next| next.is_ascii_digit());
        let closing = next.is_none() && matches!(c, '+' | '-');
        if c.is_alphanumeric() {
            key.extend(c.to_lowercase());
        } else if between_digits || closing {
            key.push(if c.is_whitespace() { ' ' } else { c });
        }
        previous = c;
    }
    // a label of signs only is its own key
    if key.is_empty() { label.to_owned() } else { key }
}

/// Whether a label looks like a person's name: one to three words of letters, the first with a capital.
pub fn looks_like_name(label: &str) -> bool {
    let words = label.split_whitespace().count();
    let letters = |c: char| c.is_alphabetic() || matches!(c, ' ' | '.' | '-' | '\'' | '’');
    let short = (1..=3).contains(&words) && label.chars().count() <= 40;
    short && label.trim().starts_with(char::is_uppercase) && label.trim().chars().all(letters)
}

/// Spellings that were joined under one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Joining {
    /// The spelling that stands: the commonest, and of equals the first in the file.
    pub kept: String,
    /// The other spellings and how often each occurs.
    pub others: Vec<(String, usize)>,
}

/// A column of labels with the variants joined.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct JoinedLabels {
    /// One code a cell, in the cells' order.
    pub codes: Vec<Option<u32>>,
    /// The spelling that stands for each code, in order of first occurrence.
    pub levels: Vec<String>,
    pub joinings: Vec<Joining>,
}

impl JoinedLabels {
    /// The place in `levels` of a cell; none where it is missing.
    pub fn level(&self, cell: usize) -> Option<usize> {
        self.codes.get(cell).copied().flatten().map(|code| code as usize)
    }
}

/// One spelling as it stands in the file, without the spaces around it.
struct Spelling<'a> {
    text: &'a str,
    count: usize,
}

/// Joins the labels of a column; `None` is a missing cell.
#[expect(
    clippy::indexing_slicing,
    reason = "codes are places in `spellings`, each of a spelling in its group"
)]
pub fn join<'a>(cells: impl Iterator<Item = Option<&'a str>>) -> JoinedLabels {
    let mut code_of_spelling: HashMap<&str, (u32, usize)> = HashMap::new();
    let mut code_of_key: HashMap<String, u32> = HashMap::new();
    let mut spellings: Vec<Vec<Spelling>> = Vec::new();
    // neighbours are often alike: pieces of a lot mostly stand together
    let mut last: Option<(&str, (u32, usize))> = None;
    let codes = cells
        .map(|cell| {
            let text = cell?.trim();
            if let Some((_, (code, at))) = last.filter(|(before, _)| *before == text) {
                spellings[code as usize][at].count += 1;
                return Some(code);
            }
            let (code, at) = *code_of_spelling.entry(text).or_insert_with(|| {
                let code = *code_of_key.entry(key(text)).or_insert_with(|| {
                    spellings.push(Vec::new());
                    whole::code(spellings.len() - 1)
                });
                let group = &mut spellings[code as usize];
                group.push(Spelling { text, count: 0 });
                (code, group.len() - 1)
            });
            spellings[code as usize][at].count += 1;
            last = Some((text, (code, at)));
            Some(code)
        })
        .collect();
    let joinings = spellings
        .iter()
        .filter(|group| group.len() > 1)
        .filter_map(|group| joining(group))
        .collect();
    let levels =
        spellings.iter().filter_map(|group| Some(commonest(group)?.text.to_owned())).collect();
    JoinedLabels { codes, levels, joinings }
}

/// The commonest spelling, the first of equals. Every group has at least one.
fn commonest<'a, 'b>(group: &'b [Spelling<'a>]) -> Option<&'b Spelling<'a>> {
    group.iter().rev().max_by_key(|spelling| spelling.count)
}

fn joining(group: &[Spelling]) -> Option<Joining> {
    let kept = commonest(group)?.text;
    // no two spellings of a group are the same
    let others = group.iter().filter(|spelling| spelling.text != kept);
    Some(Joining {
        kept: kept.to_owned(),
        others: others.map(|spelling| (spelling.text.to_owned(), spelling.count)).collect(),
    })
}

/// Pairs of levels that are merely close: a letter apart in a word of four or more,
/// or one the beginning of the other at a word's end (`lot b` and `Lot B, '22`).
/// Names that differ in a number or a single letter (`Lot 1`, `Lot 2`) are not close.
/// Looks at no more than the first 500 levels.
pub fn close_pairs(levels: &[String]) -> Vec<(&str, &str)> {
    let words: Vec<(&str, Vec<String>)> =
        levels.iter().take(MOST_COMPARED).map(|level| (level.as_str(), words(level))).collect();
    let mut pairs = Vec::new();
    for (at, (one, left)) in words.iter().enumerate() {
        let later = words.iter().skip(at + 1).filter(|(_, right)| close(left, right));
        pairs.extend(later.map(|(other, _)| (*one, *other)));
    }
    pairs
}

fn words(level: &str) -> Vec<String> {
    let lower = level.to_lowercase();
    lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

fn close(left: &[String], right: &[String]) -> bool {
    if left == right || left.is_empty() || right.is_empty() {
        return false;
    }
    let (short, long) = if left.len() <= right.len() { (left, right) } else { (right, left) };
    if short.len() < long.len() {
        return long.starts_with(short) || nearly_same(&short.concat(), &long.concat());
    }
    let mut different = left.iter().zip(right).filter(|(a, b)| a != b);
    match (different.next(), different.next()) {
        (Some((a, b)), None) => nearly_same(a, b),
        _ => false,
    }
}

/// A letter apart in a word of four or more, two in a word of eight or more; digits must agree.
fn nearly_same(left: &str, right: &str) -> bool {
    let shorter = left.chars().count().min(right.chars().count());
    let longer = left.chars().count().max(right.chars().count());
    let allowed = match shorter {
        0..=3 => return false,
        4..=7 => 1,
        _ => 2,
    };
    let digits = |text: &str| text.chars().filter(char::is_ascii_digit).collect::<String>();
    // the difference in length alone can rule a pair out before the costly count
    longer - shorter <= allowed
        && digits(left) == digits(right)
        && strsim::osa_distance(left, right) <= allowed
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn joined(cells: &[&str]) -> JoinedLabels {
        join(cells.iter().map(|cell| Some(*cell)))
    }

    fn close_of(left: &str, right: &str) -> bool {
        !close_pairs(&[left.to_owned(), right.to_owned()]).is_empty()
    }

    #[test]
    fn labels_that_differ_in_case_spaces_or_punctuation_are_joined_under_the_commonest() {
        let labels = joined(&["lot b", "Lot B", "Lot B", "LOT-B", "Lot C"]);
        assert_eq!(labels.codes, [Some(0), Some(0), Some(0), Some(0), Some(1)]);
        assert_eq!(labels.levels, ["Lot B", "Lot C"]);
        let others = vec![("lot b".to_owned(), 1), ("LOT-B".to_owned(), 1)];
        assert_eq!(labels.joinings, [Joining { kept: "Lot B".to_owned(), others }]);
    }

    #[test]
    fn of_equally_common_spellings_the_first_stands() {
        assert_eq!(joined(&["fox 2", "Fox 2"]).levels, ["fox 2"]);
    }

    #[test]
    fn missing_cells_have_no_code() {
        let labels = join([None, Some("A"), None].into_iter());
        assert_eq!(labels.codes, [None, Some(0), None]);
    }

    #[test]
    fn marks_between_digits_and_closing_signs_keep_labels_apart() {
        assert_eq!(
            joined(&["shape 1.5", "shape 15", "B+", "B-", "B", "A-1", "A1"]).levels.len(),
            6
        );
        assert_eq!(joined(&["A-1", "A1"]).levels, ["A-1"]);
        assert_eq!(joined(&["???", "!!!"]).levels.len(), 2);
    }

    #[test]
    fn close_names_are_pointed_out_and_not_joined() {
        assert_eq!(joined(&["lot b", "Lot B, '22"]).levels.len(), 2);
        assert!(close_of("lot b", "Lot B, '22"));
        assert!(close_of("Rieger", "Reiger"));
        assert!(close_of("crosshatch", "cross hatched"));
        assert!(close_of("Lot Verdun", "Lot Verdum"));
    }

    #[test]
    fn names_that_differ_in_a_number_or_a_single_letter_are_not_close() {
        assert!(!close_of("Lot 1", "Lot 2"));
        assert!(!close_of("Lot 1", "Lot 12"));
        assert!(!close_of("Lot B", "Lot C"));
        assert!(!close_of("Var 2021", "Var 2022"));
        assert!(!close_of("dry", "wet"));
        assert!(!close_of("Ana", "Eva"));
    }

    proptest! {
        #[test]
        fn joining_again_changes_nothing(cells in prop::collection::vec("[aAbB .-]{1,4}", 0..20)) {
            let first = join(cells.iter().map(|cell| Some(cell.as_str())));
            let spelled: Vec<&str> = first.codes.iter().flatten().map(|code| first.levels[*code as usize].as_str()).collect();
            let second = join(spelled.iter().map(|cell| Some(*cell)));
            prop_assert_eq!(&second.codes, &first.codes);
            prop_assert!(second.joinings.is_empty());
        }

        #[test]
        fn every_cell_is_counted_once(cells in prop::collection::vec("[aAbB .-]{1,4}", 0..20)) {
            let labels = join(cells.iter().map(|cell| Some(cell.as_str())));
            prop_assert_eq!(labels.codes.len(), cells.len());
            let others: usize = labels.joinings.iter().flat_map(|joining| &joining.others).map(|(_, count)| count).sum();
            prop_assert!(others <= cells.len());
        }

        #[test]
        fn any_text_anywhere_never_panics(texts in prop::collection::vec(any::<String>(), 0..6)) {
            let labels = join(texts.iter().map(|text| Some(text.as_str())));
            let _ = close_pairs(&labels.levels);
        }
    }
}
