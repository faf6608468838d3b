//! Ratings as people write them: `7`, `7,5`, `7/10`, `3.5 / 5`, `B+`, `2-`, words.

use super::fates::{self, FateRead};
use super::labels;
use super::numbers::{self, DecimalMark, NumberError};
use crate::catalogue::Unit;

/// Words or letters in order, as the study file ranks them.
#[derive(Debug, Clone, Default)]
pub struct Ranking {
    folded: Vec<String>,
}

impl Ranking {
    /// The ranking with the lowest first: the first counts 1, the next 2.
    /// An error names the word that stands there twice.
    pub fn new(lowest_first: &[String]) -> Result<Ranking, String> {
        let mut folded: Vec<String> = Vec::with_capacity(lowest_first.len());
        for word in lowest_first {
            let key = labels::key(word);
            if folded.contains(&key) {
                return Err(word.clone());
            }
            folded.push(key);
        }
        Ok(Ranking { folded })
    }

    pub fn is_empty(&self) -> bool {
        self.folded.is_empty()
    }

    /// How many steps it has: the top of its scale.
    pub fn steps(&self) -> usize {
        self.folded.len()
    }

    /// The rank of a word. `B+` is a third above `B` and `B-` a third below, unless
    /// they are ranked themselves (common practice in averaging letter grades).
    pub fn rank(&self, word: &str) -> Option<f64> {
        let key = labels::key(&word.replace('−', "-"));
        if let Some(rank) = self.rank_of_key(&key) {
            return Some(rank);
        }
        let (letter, step) = match (key.strip_suffix('+'), key.strip_suffix('-')) {
            (Some(letter), _) => (letter, 1.0 / 3.0),
            (_, Some(letter)) => (letter, -1.0 / 3.0),
            _ => return None,
        };
        self.rank_of_key(letter).filter(|_| letter.chars().count() == 1).map(|rank| rank + step)
    }

    fn rank_of_key(&self, key: &str) -> Option<f64> {
        self.folded.iter().position(|word| word == key).map(|at| at as f64 + 1.0)
    }
}

/// How the ratings of a column are to be read.
#[derive(Debug, Clone, Default)]
pub struct RatingRules {
    pub mark: Option<DecimalMark>,
    pub ranking: Ranking,
    /// School marks, 1 best: `2-` is 2.3, `2+` is 1.7 (common practice).
    pub school_marks: bool,
}

/// What a rating cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RatingRead {
    Score {
        score: f64,
        /// `10` in `7/10`.
        out_of: Option<f64>,
        approximate: bool,
    },
    /// `cracked`, `gave to Sam`: not how it played but what became of it.
    Fate(FateRead),
}

/// Why a cell is no rating.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RatingError {
    /// Neither a number nor a word of the ranking.
    UnrankedWord,
    /// `B+` while the study file ranks no letters.
    UnrankedLetter,
    /// `2-` while nothing says that these are school marks.
    SchoolMark,
    /// `7,500`.
    EitherMark,
    /// `12/10`, `7/0`, `-1/5`.
    OutOfScale,
    /// A number with something else around it.
    NotARating,
}

/// Reads a rating. The study file's ranking wins over every other meaning of a word.
pub fn read(cell: &str, rules: &RatingRules) -> Result<RatingRead, RatingError> {
    let cell = cell.trim();
    let score = |score| Ok(RatingRead::Score { score, out_of: None, approximate: false });
    let rank = if rules.ranking.is_empty() { None } else { rules.ranking.rank(cell) };
    if let Some(rank) = rank {
        return score(rank);
    }
    if cell.starts_with(char::is_alphabetic) {
        return word(cell);
    }
    if let Some(mark) = school_mark(cell) {
        return if rules.school_marks { score(mark) } else { Err(RatingError::SchoolMark) };
    }
    number(cell, rules.mark)
}

fn word(cell: &str) -> Result<RatingRead, RatingError> {
    if let Some(fate) = fates::read(cell) {
        return Ok(RatingRead::Fate(fate));
    }
    let mut characters = cell.chars();
    let one_letter = characters.next().is_some_and(char::is_alphabetic)
        && matches!(characters.as_str(), "" | "+" | "-" | "−" | "--" | "++");
    Err(if one_letter { RatingError::UnrankedLetter } else { RatingError::UnrankedWord })
}

/// `2-` and `2+`: a third of a mark worse and better, 0.3 as schools count it (common practice).
fn school_mark(cell: &str) -> Option<f64> {
    let mut characters = cell.chars();
    let mark = f64::from(
        characters.next().and_then(|c| c.to_digit(10)).filter(|mark| (1..=6).contains(mark))?,
    );
    match characters.as_str().trim_start() {
        "-" | "−" | "–" => Some(((mark + 0.3) * 10.0).round() / 10.0),
        "+" => Some(((mark - 0.3) * 10.0).round() / 10.0),
        _ => None,
    }
}

fn number(cell: &str, mark: Option<DecimalMark>) -> Result<RatingRead, RatingError> {
    if let Some((above, below)) = fraction(cell) {
        return out_of(above, below, mark);
    }
    let number = numbers::read(cell, mark).map_err(reason)?;
    match number.unit {
        None => Ok(RatingRead::Score {
            score: number.value,
            out_of: None,
            approximate: number.approximate,
        }),
        Some(Unit::Percent) => Ok(RatingRead::Score {
            score: number.value,
            out_of: Some(100.0),
            approximate: number.approximate,
        }),
        Some(_) => Err(RatingError::NotARating),
    }
}

fn reason(why: NumberError) -> RatingError {
    match why {
        NumberError::EitherMark => RatingError::EitherMark,
        _ => RatingError::NotARating,
    }
}

/// The parts of `7/10`, `3.5 / 5`, `7 out of 10`, `7 von 10`.
fn fraction(cell: &str) -> Option<(&str, &str)> {
    [" out of ", " of ", " von ", "/"].iter().find_map(|joint| cell.split_once(joint))
}

fn out_of(above: &str, below: &str, mark: Option<DecimalMark>) -> Result<RatingRead, RatingError> {
    let above = numbers::read(above, mark).map_err(reason)?;
    let below = numbers::read(below, mark).map_err(reason)?;
    if above.unit.is_some() || below.unit.is_some() {
        return Err(RatingError::NotARating);
    }
    if below.value <= 0.0 || !(0.0..=below.value).contains(&above.value) {
        return Err(RatingError::OutOfScale);
    }
    let approximate = above.approximate || below.approximate;
    Ok(RatingRead::Score { score: above.value, out_of: Some(below.value), approximate })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::study::Fate;

    fn plain() -> RatingRules {
        RatingRules { mark: Some(DecimalMark::Point), ..RatingRules::default() }
    }

    fn ranked(words: &[&str]) -> RatingRules {
        let words: Vec<String> = words.iter().map(|word| (*word).to_owned()).collect();
        RatingRules { ranking: Ranking::new(&words).expect("each word once"), ..plain() }
    }

    fn score(cell: &str, rules: &RatingRules) -> Result<(f64, Option<f64>), RatingError> {
        match read(cell, rules)? {
            RatingRead::Score { score, out_of, .. } => Ok((score, out_of)),
            RatingRead::Fate(fate) => panic!("“{cell}” was read as {fate:?}"),
        }
    }

    #[test]
    fn numbers_are_scores_and_a_fraction_names_its_scale() {
        let cases = [
            ("7", (7.0, None)),
            ("7.5", (7.5, None)),
            ("7/10", (7.0, Some(10.0))),
            ("3.5 / 5", (3.5, Some(5.0))),
            ("7 out of 10", (7.0, Some(10.0))),
            ("80%", (80.0, Some(100.0))),
            ("0/5", (0.0, Some(5.0))),
        ];
        for (cell, expected) in cases {
            assert_eq!(score(cell, &plain()), Ok(expected), "“{cell}”");
        }
        let comma = RatingRules { mark: Some(DecimalMark::Comma), ..RatingRules::default() };
        assert_eq!(score("7,5", &comma), Ok((7.5, None)));
        assert_eq!(score("7,5/10", &comma), Ok((7.5, Some(10.0))));
    }

    #[test]
    fn a_tilde_is_kept_as_a_remark() {
        let expected = RatingRead::Score { score: 7.0, out_of: None, approximate: true };
        assert_eq!(read("~7", &plain()), Ok(expected));
        assert_eq!(read("7?", &plain()), Ok(expected));
    }

    #[test]
    fn words_and_letters_count_once_they_are_ranked() {
        let words = ranked(&["bad", "fair", "good", "Concert!"]);
        assert_eq!(score("BAD", &words), Ok((1.0, None)));
        assert_eq!(score("good", &words), Ok((3.0, None)), "the ranking wins over the fate");
        assert_eq!(score("concert", &words), Ok((4.0, None)));
        assert_eq!(read("splendid", &words), Err(RatingError::UnrankedWord));
        assert_eq!(words.ranking.steps(), 4);
        assert_eq!(read("B+", &plain()), Err(RatingError::UnrankedLetter));
        assert_eq!(read("nice", &plain()), Err(RatingError::UnrankedWord));
    }

    #[test]
    fn plus_and_minus_are_thirds_of_a_letter_unless_ranked_themselves() {
        let letters = ranked(&["D", "C", "B", "A"]);
        assert_eq!(score("B", &letters), Ok((3.0, None)));
        let plus = score("b+", &letters).expect("a third above B").0;
        assert!((plus - 10.0 / 3.0).abs() < 1e-12);
        let minus = score("B−", &letters).expect("a third below B").0;
        assert!((minus - 8.0 / 3.0).abs() < 1e-12);
        assert_eq!(score("B+", &ranked(&["C", "B", "B+", "A"])), Ok((3.0, None)));
        assert_eq!(read("good+", &ranked(&["bad", "good"])), Err(RatingError::UnrankedWord));
    }

    #[test]
    fn school_marks_are_read_only_where_they_are_said_to_be_school_marks() {
        let school = RatingRules { school_marks: true, ..plain() };
        for (cell, mark) in [("2-", 2.3), ("1-", 1.3), ("2+", 1.7), ("2", 2.0), ("2−", 2.3)] {
            assert_eq!(score(cell, &school), Ok((mark, None)), "“{cell}”");
        }
        assert_eq!(read("2-", &plain()), Err(RatingError::SchoolMark));
    }

    #[test]
    fn a_fate_typed_into_a_rating_cell_is_read_as_the_fate() {
        for (cell, expected) in
            [("cracked", Fate::Spoiled), ("gave to Sam", Fate::GivenAway), ("lost", Fate::Lost)]
        {
            match read(cell, &plain()) {
                Ok(RatingRead::Fate(found)) => assert_eq!(found.fate, expected, "“{cell}”"),
                other => panic!("“{cell}” was read as {other:?}"),
            }
        }
    }

    #[test]
    fn what_is_no_rating_is_refused_with_its_reason() {
        let cases = [
            ("12/10", RatingError::OutOfScale),
            ("7/0", RatingError::OutOfScale),
            ("-1/5", RatingError::OutOfScale),
            ("7 mm", RatingError::NotARating),
            ("7 8", RatingError::NotARating),
            ("****", RatingError::NotARating),
            ("7-8", RatingError::NotARating),
            ("=A1", RatingError::NotARating),
        ];
        for (cell, expected) in cases {
            assert_eq!(read(cell, &plain()), Err(expected), "“{cell}”");
        }
        assert_eq!(read("7,500", &RatingRules::default()), Err(RatingError::EitherMark));
    }

    #[test]
    fn a_ranking_with_a_word_twice_is_refused() {
        let words = ["Good".to_owned(), "bad".to_owned(), "good ".to_owned()];
        assert_eq!(Ranking::new(&words).err(), Some("good ".to_owned()));
    }

    proptest! {
        #[test]
        fn any_text_anywhere_never_panics(text in any::<String>(), school in any::<bool>()) {
            let _ = read(&text, &RatingRules { school_marks: school, ..ranked(&["D", "C", "B", "A"]) });
        }

        #[test]
        fn any_text_near_a_rating_never_panics(text in "[~A-F0-9]?[0-9.,]{0,4} ?[/+−-]? ?[0-9é]{0,3}") {
            if let Ok(RatingRead::Score { score, .. }) = read(&text, &RatingRules::default()) {
                prop_assert!(score.is_finite());
            }
        }
    }
}
