//! Which practice is compared, and which values of it.

use std::collections::BTreeMap;

use super::refusal;
use crate::catalogue::Stage;
use crate::plan::{ARMS, Arm};
use crate::problem::Refusal;
use crate::questions::present::{LastDays, commonest, middle, recent};
use crate::questions::scores::{centred_within, reed_scores};
use crate::stats::numeric::inter_quartile_range;
use crate::study::{Better, Factor, FactorKind, Study};
use crate::words::given::given;
use crate::words::trial::plan as words;

/// Asked where neither the call nor the study file says.
const USUAL: &str = "forming_days";
/// Reeds that a choice needs to be called promising.
const FEWEST_REEDS: usize = 3;

/// The arms, the one that the others are compared with first.
pub(super) struct Chosen {
    pub arms: Vec<Arm>,
    pub why: Why,
    /// Names of arms that no piece of the log was made with.
    pub untried: Vec<String>,
    /// Where the practice is a choice: all kinds that the log holds.
    pub known_kinds: Vec<String>,
    /// The present practice, where it is no arm.
    pub present_elsewhere: Option<String>,
}

/// Why these arms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Why {
    Given,
    /// The log speaks for the other arm, a little.
    Promising,
    /// Nothing in the log speaks for it, and it is far enough to be told apart.
    Apart,
}

pub(super) fn factor<'a>(study: &'a Study, asked: Option<&str>) -> Result<&'a Factor, Refusal> {
    let made = |factor: &&Factor| {
        factor.stage != Stage::Cane
            && Stage::MAKING.contains(&factor.stage)
            && factor.stage != Stage::Play
    };
    let factors = study.factors();
    let is_asked = |factor: &&Factor| match asked {
        Some(asked) => factor.is_called(asked),
        None => factor.asked_beforehand && made(factor),
    };
    let usual = || factors.iter().find(|factor| asked.is_none() && factor.name == USUAL);
    let found = factors.iter().find(is_asked).or_else(usual);
    let names: Vec<String> =
        factors.iter().filter(made).map(|factor| factor.name.clone()).collect();
    match found {
        None => Err(refusal(words::no_factor(asked, &names), words::takes_factor(&names))),
        Some(factor) if !made(&factor) => {
            Err(refusal(words::not_chosen(&factor.label), words::takes_factor(&names)))
        }
        Some(factor) => Ok(factor),
    }
}

pub(super) fn choose(study: &Study, factor: &Factor, asked: &[String]) -> Result<Chosen, Refusal> {
    let cells = Cells::of(study, factor);
    if asked.is_empty() { cells.proposed() } else { cells.given(asked) }
}

/// A value of the practice.
#[derive(Debug, Clone, PartialEq)]
enum Value {
    Number(f64),
    Choice(String),
}

impl Value {
    fn text(&self) -> String {
        match self {
            Value::Number(number) => number.to_string(),
            Value::Choice(level) => level.clone(),
        }
    }

    fn same(&self, other: &Value) -> bool {
        match (self, other) {
            (Value::Number(one), Value::Number(other)) => {
                (one - other).abs() <= 1e-9 * one.abs().max(1.0)
            }
            _ => self == other,
        }
    }
}

/// The log's own use of the practice.
struct Cells<'a> {
    study: &'a Study,
    factor: &'a Factor,
    /// One a piece.
    values: Vec<Option<Value>>,
}

impl<'a> Cells<'a> {
    fn of(study: &'a Study, factor: &'a Factor) -> Self {
        let values = match factor.kind {
            FactorKind::Number => {
                let finite = |value: f64| value.is_finite().then_some(Value::Number(value));
                study.numbers(&factor.name).iter().map(|cell| cell.and_then(finite)).collect()
            }
            FactorKind::Choice => {
                let kind = |cell: &str| Value::Choice(cell.to_owned());
                study.words(&factor.name).into_iter().map(|cell| cell.map(kind)).collect()
            }
        };
        Cells { study, factor, values }
    }

    fn name(&self, value: &Value) -> String {
        match value {
            Value::Number(number) => words::value(*number, self.factor.unit.as_deref()),
            Value::Choice(level) => level.clone(),
        }
    }

    fn given(&self, asked: &[String]) -> Result<Chosen, Refusal> {
        if !ARMS.contains(&asked.len()) {
            return Err(refusal(words::arms_count(asked.len()), words::TAKES_ARMS));
        }
        let mut values: Vec<Value> = Vec::new();
        for text in asked {
            let value = self.read(text)?;
            if values.iter().any(|other| other.same(&value)) {
                return Err(refusal(words::same_arms(&self.name(&value)), words::TAKES_ARMS));
            }
            values.push(value);
        }
        let present = self.present();
        let place = present.as_ref().and_then(|p| values.iter().position(|value| value.same(p)));
        let elsewhere = present.filter(|_| place.is_none()).map(|present| self.name(&present));
        // the others are compared with the first
        values.swap(0, place.unwrap_or(0));
        Ok(Chosen { present_elsewhere: elsewhere, ..self.chosen(&values, Why::Given) })
    }

    fn chosen(&self, values: &[Value], why: Why) -> Chosen {
        let arm = |(place, value): (usize, &Value)| Arm {
            name: self.name(value),
            value: value.text(),
            present: place == 0,
        };
        let untried = values.iter().filter(|value| !self.is_tried(value));
        Chosen {
            arms: values.iter().enumerate().map(arm).collect(),
            why,
            untried: untried.map(|value| self.name(value)).collect(),
            known_kinds: match self.factor.kind {
                FactorKind::Number => Vec::new(),
                FactorKind::Choice => self.study.labels(&self.factor.name).levels.clone(),
            },
            present_elsewhere: None,
        }
    }

    /// Inside the range of the log, or among its choices.
    fn is_tried(&self, value: &Value) -> bool {
        match value {
            Value::Number(number) => {
                let numbers = self.numbers();
                let (low, high) = (numbers.first(), numbers.last());
                low.is_some_and(|low| low <= number) && high.is_some_and(|high| number <= high)
            }
            Value::Choice(_) => self.values.iter().flatten().any(|other| other == value),
        }
    }

    fn read(&self, text: &str) -> Result<Value, Refusal> {
        let text = text.trim();
        if text.is_empty() {
            return Err(refusal(words::EMPTY_ARM, words::TAKES_ARMS));
        }
        match self.factor.kind {
            FactorKind::Number => {
                let unit = self.factor.unit.as_deref().unwrap_or_default();
                let bare = text.strip_suffix(unit).unwrap_or(text).trim();
                let number = bare.parse::<f64>().ok().filter(|number| number.is_finite());
                let found =
                    || refusal(words::no_number(text), words::takes_numbers(&self.factor.label));
                number.map(Value::Number).ok_or_else(found)
            }
            FactorKind::Choice => {
                let known = self.values.iter().flatten().map(Value::text);
                let same = known.into_iter().find(|level| level.eq_ignore_ascii_case(text));
                Ok(Value::Choice(same.unwrap_or_else(|| text.to_owned())))
            }
        }
    }

    /// All numbers of the log, sorted.
    fn numbers(&self) -> Vec<f64> {
        let mut numbers = numbers(&self.values.iter().flatten().cloned().collect::<Vec<_>>());
        numbers.sort_unstable_by(f64::total_cmp);
        numbers
    }

    /// As [`present`](crate::questions::present) has it.
    fn present(&self) -> Option<Value> {
        let days = self.study.making_days();
        let last = LastDays::of(days, self.study.settings().window);
        let recent = recent(&self.values, days, last);
        match self.factor.kind {
            FactorKind::Number => {
                let asked: Vec<f64> = numbers(&self.named());
                middle(numbers(&recent), &asked, self.step()).map(Value::Number)
            }
            FactorKind::Choice => commonest(recent.iter().map(Value::text)).map(Value::Choice),
        }
    }

    /// The candidates of the study file that can be read and were tried.
    fn named(&self) -> Vec<Value> {
        let texts = self.study.settings().candidates.get(&self.factor.name);
        let values = texts.into_iter().flatten().filter_map(|text| self.read(text).ok());
        values.filter(|value| self.is_tried(value)).collect()
    }

    fn proposed(&self) -> Result<Chosen, Refusal> {
        let label = &self.factor.label;
        let unknown = || refusal(words::no_value(label), words::TAKES_GIVEN_ARMS);
        let present = self.present().ok_or_else(unknown)?;
        let candidates = self.candidates(&present);
        let promise = self.promise(&present);
        let best = candidates.into_iter().max_by(|one, other| {
            // the first of those that promise as much
            promise.of(one).total_cmp(&promise.of(other)).then(std::cmp::Ordering::Greater)
        });
        let only =
            || refusal(words::one_value(label, &self.name(&present)), words::TAKES_GIVEN_ARMS);
        let best = best.ok_or_else(only)?;
        let why = if promise.of(&best) > 0.0 { Why::Promising } else { Why::Apart };
        Ok(self.chosen(&[present, best], why))
    }

    /// Other values worth considering: the study file's, else a usual step or two to either side within the log's range; for a choice its other levels.
    fn candidates(&self, present: &Value) -> Vec<Value> {
        let named: Vec<Value> =
            self.named().into_iter().filter(|value| !value.same(present)).collect();
        let Value::Number(at) = present else {
            return if named.is_empty() { self.other_levels(present) } else { named };
        };
        let step = self.step();
        let is_apart = |value: &Value| match value {
            Value::Number(number) => (number - at).abs() >= 0.99 * step,
            Value::Choice(_) => true,
        };
        let far: Vec<Value> = named.iter().filter(|value| is_apart(value)).cloned().collect();
        if !named.is_empty() {
            return if far.is_empty() { named } else { far };
        }
        let steps = [2.0, 1.0, -1.0, -2.0].map(|steps| Value::Number(rounded(at + steps * step)));
        let tried = |value: &Value| self.is_tried(value) && !value.same(present);
        steps.into_iter().filter(tried).collect()
    }

    fn other_levels(&self, present: &Value) -> Vec<Value> {
        let mut levels: Vec<String> = self.values.iter().flatten().map(Value::text).collect();
        levels.sort();
        levels.dedup();
        levels.into_iter().map(Value::Choice).filter(|level| level != present).collect()
    }

    /// The declared step, else the distance between the quartiles.
    fn step(&self) -> f64 {
        let numbers = self.numbers();
        let apart = || inter_quartile_range(&numbers).ok().filter(|range| *range > 0.0);
        self.factor.step.filter(|step| *step > 0.0).or_else(apart).unwrap_or(1.0)
    }

    /// What the log says of values against the present one, among reeds of the same lot; better is above 0.
    fn promise(&self, present: &Value) -> Promise {
        let scores = reed_scores(self.study);
        let lots = &self.study.lots().codes;
        let reeds: Vec<usize> = (0..scores.piece.len())
            .filter(|&reed| self.values[scores.piece[reed]].is_some())
            .collect();
        // reeds without a lot count as of one lot
        let group: Vec<usize> = reeds
            .iter()
            .map(|&reed| lots[scores.piece[reed]].map_or(lots.len(), |lot| lot as usize))
            .collect();
        let sign = if self.study.outcome().better == Better::Higher { 1.0 } else { -1.0 };
        let score: Vec<f64> = reeds.iter().map(|&reed| sign * scores.score[reed]).collect();
        let score = centred_within(&score, &group);
        let values = reeds.iter().filter_map(|&reed| self.values[scores.piece[reed]].as_ref());
        match present {
            Value::Number(at) => {
                let numbers: Vec<f64> = values
                    .map(|value| if let Value::Number(number) = value { *number } else { *at })
                    .collect();
                Promise::Slope {
                    from: *at,
                    slope: slope(&centred_within(&numbers, &group), &score),
                }
            }
            Value::Choice(_) => Promise::Levels {
                means: level_means(values.map(Value::text).zip(score)),
                present: present.text(),
            },
        }
    }
}

/// What the log says of a value, roughly: enough to choose an arm by, and no more.
enum Promise {
    Slope { from: f64, slope: f64 },
    Levels { means: BTreeMap<String, f64>, present: String },
}

impl Promise {
    fn of(&self, value: &Value) -> f64 {
        match (self, value) {
            (Promise::Slope { from, slope }, Value::Number(number)) => slope * (number - from),
            (Promise::Levels { means, present }, Value::Choice(level)) => {
                let mean = |level: &String| means.get(level).copied();
                // what was hardly tried promises nothing
                mean(level).zip(mean(present)).map_or(0.0, |(other, present)| other - present)
            }
            _ => 0.0,
        }
    }
}

fn slope(x: &[f64], y: &[f64]) -> f64 {
    let squares: f64 = x.iter().map(|x| x * x).sum();
    let products: f64 = x.iter().zip(y).map(|(x, y)| x * y).sum();
    if squares > 0.0 { products / squares } else { 0.0 }
}

/// The mean of each level with reeds enough.
fn level_means(scores: impl Iterator<Item = (String, f64)>) -> BTreeMap<String, f64> {
    let mut by_level: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for (level, score) in scores {
        by_level.entry(level).or_default().push(score);
    }
    let enough = by_level.into_iter().filter(|(_, scores)| scores.len() >= FEWEST_REEDS);
    enough
        .map(|(level, scores)| (level, scores.iter().sum::<f64>() / scores.len() as f64))
        .collect()
}

fn numbers(values: &[Value]) -> Vec<f64> {
    let number = |value: &Value| match value {
        Value::Number(number) => Some(*number),
        Value::Choice(_) => None,
    };
    values.iter().filter_map(number).collect()
}

/// Without the last digits that arithmetic leaves: 0.30000000000000004 is 0.3.
fn rounded(value: f64) -> f64 {
    given(value).replace('−', "-").replace('\u{202F}', "").parse().unwrap_or(value)
}
