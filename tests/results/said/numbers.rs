//! The numbers in a sentence, as they are printed.

use std::ops::Range;
use std::sync::LazyLock;

use regex::Regex;

/// U+202F, which stands between thousands and before a percent sign.
const THIN: char = '\u{202f}';

/// A printed number: what it is worth and to how many decimals it is told.
#[derive(Debug, Clone, PartialEq)]
pub struct Printed {
    pub value: f64,
    pub decimals: i32,
    pub is_percent: bool,
    /// Whether `about` or `near` stands before it.
    pub is_about: bool,
    /// `under 1 %` and `over 99 %` tell of a share near an end and no more.
    pub bound: Option<Bound>,
    pub at: Range<usize>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    Under,
    Over,
}

/// What a sentence tells in one go.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    Single(Printed),
    /// `6.3 (5.9 to 6.7)`
    Interval([Printed; 3]),
}

impl Said {
    pub fn parts(&self) -> &[Printed] {
        match self {
            Said::Single(one) => std::slice::from_ref(one),
            Said::Interval(three) => three,
        }
    }
}

/// Small counts stand in words; “one” is an article as often as a count.
const WORDS: [&str; 11] =
    ["two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

static WORD: LazyLock<Regex> =
    LazyLock::new(|| Regex::new(&format!("(?i)\\b({})\\b", WORDS.join("|"))).expect("a pattern"));

static NUMBER: LazyLock<Regex> = LazyLock::new(|| {
    Regex::new(&format!(
        "(?P<bound>under |over |[Aa]bout |near )?(?P<sign>[+\u{2212}])?(?P<digits>[0-9]{{1,3}}(?:{THIN}[0-9]{{3}})+|[0-9]+)(?P<fraction>\\.[0-9]+)?(?P<percent>[{THIN} ]?%| of a hundred)?"
    ))
    .expect("a pattern")
});

/// All numbers of a sentence, three that make an interval taken together.
pub fn numbers(sentence: &str) -> Vec<Said> {
    // minutes are told whole, whatever they are
    let is_rounded = sentence.contains(" minutes ");
    let mut found: Vec<Printed> =
        NUMBER.captures_iter(sentence).map(|found| printed(&found)).collect();
    found.iter_mut().for_each(|one| one.is_about |= is_rounded);
    let mut said: Vec<Said> =
        WORD.find_iter(sentence).map(|word| Said::Single(in_words(&word))).collect();
    let mut rest = found.as_slice();
    while let [first, others @ ..] = rest {
        match others {
            [low, high, after @ ..] if is_interval(sentence, first, low, high) => {
                said.push(Said::Interval([first.clone(), low.clone(), high.clone()]));
                rest = after;
            }
            _ => {
                said.push(Said::Single(first.clone()));
                rest = others;
            }
        }
    }
    said
}

fn in_words(found: &regex::Match) -> Printed {
    let word = found.as_str().to_lowercase();
    let place = WORDS.iter().position(|known| *known == word).expect("one of the words");
    Printed {
        value: (place + 2) as f64,
        decimals: 0,
        is_percent: false,
        is_about: false,
        bound: None,
        at: found.range(),
    }
}

fn printed(found: &regex::Captures) -> Printed {
    let part = |name: &str| found.name(name).map_or("", |part| part.as_str());
    let fraction = part("fraction");
    let digits: String = part("digits").chars().filter(char::is_ascii_digit).collect();
    let size: f64 = format!("{digits}{fraction}").parse().expect("digits and a point");
    let is_percent = !part("percent").is_empty();
    Printed {
        value: if part("sign") == "\u{2212}" { -size } else { size },
        decimals: fraction.len().saturating_sub(1) as i32,
        is_percent,
        is_about: ["about ", "About ", "near "].contains(&part("bound")),
        bound: match (is_percent, part("bound"), size) {
            (true, "under ", 1.0) => Some(Bound::Under),
            (true, "over ", 99.0) => Some(Bound::Over),
            _ => None,
        },
        at: found.get(0).expect("the whole").range(),
    }
}

fn is_interval(sentence: &str, first: &Printed, low: &Printed, high: &Printed) -> bool {
    sentence[first.at.end..low.at.start].trim_start_matches(' ') == "("
        && &sentence[low.at.end..high.at.start] == " to "
        && sentence[high.at.end..].starts_with(')')
}

impl Printed {
    /// Whether this is what the value is printed as.
    pub fn tells(&self, value: f64) -> bool {
        let value = if self.is_percent { 100.0 * value } else { value };
        match self.bound {
            Some(Bound::Under) => value > 0.0 && value < 0.5,
            Some(Bound::Over) => value > 99.5 && value < 100.0,
            None => {
                let half = 0.5 * 10f64.powi(-self.decimals);
                (self.value - value).abs() <= half * (1.0 + 1e-9) + 1e-12
            }
        }
    }
}
