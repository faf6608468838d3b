//! Whether the results hold what a sentence says.

use std::collections::BTreeSet;

use serde_json::{Map, Value};

use super::numbers::{Printed, Said};

/// Lists with an entry a piece, a point or a step: so many numbers that any two digits are among them.
const SERIES: [&str; 5] = ["curve", "points", "assigned", "net_benefit", "explained"];

/// The part of the results that a sentence speaks of.
#[derive(Default)]
pub struct Scope<'a> {
    /// One an object: its numbers under their names.
    objects: Vec<Vec<(&'a str, f64)>>,
    lengths: Vec<usize>,
    words: Vec<&'a str>,
}

impl<'a> Scope<'a> {
    /// An object with what it holds itself, but for the lists of further results, which have sentences of their own.
    pub fn own(object: &'a Value) -> Scope<'a> {
        let mut scope = Scope::default();
        scope.take(object, false);
        scope
    }

    /// All that is below, series left out.
    pub fn whole(value: &'a Value) -> Scope<'a> {
        let mut scope = Scope::default();
        scope.take(value, true);
        scope
    }

    pub fn and(mut self, value: &'a Value) -> Scope<'a> {
        self.take(value, true);
        self
    }

    /// With the number of factors in a list that were modelled, or could not be told apart from others.
    pub fn counting(mut self, list: &'a Value) -> Scope<'a> {
        let is_modelled = |one: &&Value| {
            one["estimate"].is_number() || one["ratio"].is_number() || one["verdict"] == "tangled"
        };
        let modelled = list.as_array().into_iter().flatten().filter(is_modelled);
        let names: BTreeSet<&str> = modelled.filter_map(|one| one["factor"].as_str()).collect();
        self.lengths.push(names.len());
        self
    }

    /// With the number of errors and of warnings.
    pub fn counting_problems(mut self, problems: &'a [Value]) -> Scope<'a> {
        let of = |severity: &str| problems.iter().filter(|one| one["severity"] == severity).count();
        self.lengths.extend(["error", "warning"].map(of));
        self
    }

    /// With every interval the other way round too, for what is said to be lowered by so much.
    pub fn or_turned_round(mut self) -> Scope<'a> {
        let turned = |(key, value): &(&'a str, f64)| match *key {
            "low" => ("high", -value),
            "high" => ("low", -value),
            key => (key, -value),
        };
        let turned: Vec<Vec<(&str, f64)>> =
            self.objects.iter().map(|object| object.iter().map(turned).collect()).collect();
        self.objects.extend(turned);
        self
    }

    fn take(&mut self, value: &'a Value, is_whole: bool) {
        match value {
            Value::Object(fields) => self.take_fields(fields, is_whole),
            Value::Array(values) => {
                self.lengths.push(values.len());
                let tells_itself = |value: &&Value| value.get("sentence").is_some();
                let own = values.iter().filter(|value| is_whole || !tells_itself(value));
                own.for_each(|value| self.take(value, is_whole));
            }
            Value::String(text) => self.words.push(text),
            Value::Number(number) => self.objects.extend(number.as_f64().map(|it| vec![("", it)])),
            _ => {}
        }
    }

    fn take_fields(&mut self, fields: &'a Map<String, Value>, is_whole: bool) {
        let numbers =
            fields.iter().filter_map(|(key, value)| Some((key.as_str(), value.as_f64()?)));
        self.objects.push(numbers.collect());
        let is_told = |key: &str| ["sentence", "sentences"].contains(&key) || SERIES.contains(&key);
        let series = SERIES.iter().filter_map(|key| fields.get(*key)?.as_array());
        self.lengths.extend(series.map(Vec::len));
        let others = fields.iter().filter(|(key, value)| !is_told(key) && !value.is_number());
        others.for_each(|(_, value)| self.take(value, is_whole));
    }

    /// The sentence without the names and dates that the results hold as words.
    pub fn without_names(&self, sentence: &str) -> String {
        let is_figure = |sign: char| sign.is_ascii_digit();
        let mut names: Vec<&str> = self.words.clone();
        names.retain(|name| name.contains(is_figure) && !name.chars().all(is_figure));
        names.sort_by_key(|name| std::cmp::Reverse(name.len()));
        names.iter().fold(sentence.to_owned(), |text, name| without_name(&text, name))
    }

    pub fn holds(&self, said: &Said) -> bool {
        match said {
            Said::Single(one) => self.holds_number(one),
            Said::Interval([centre, low, high]) => {
                self.objects.iter().any(|object| is_interval(object, [centre, low, high]))
            }
        }
    }

    fn holds_number(&self, one: &Printed) -> bool {
        let mut all = self.objects.iter().flatten();
        // a step may be in percent itself
        let as_unit = Printed { is_percent: false, ..one.clone() };
        let is_unit = one.is_percent && self.words.contains(&"%");
        // what is told as a whole number is one, unless the sentence says “about”
        let fits =
            |value: f64| one.is_about || one.decimals > 0 || one.is_percent || value.fract() == 0.0;
        all.any(|(_, value)| one.tells(*value) && fits(*value) || is_unit && as_unit.tells(*value))
            || self.words.iter().any(|name| name.parse() == Ok(one.value))
            || !one.is_percent && self.lengths.iter().any(|length| one.tells(*length as f64))
    }
}

/// The text without a name wherever it stands alone: in “25-103” there is no “5-10”.
fn without_name(text: &str, name: &str) -> String {
    let mut kept = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once(name) {
        let is_part =
            before.ends_with(char::is_alphanumeric) || after.starts_with(char::is_alphanumeric);
        kept.push_str(before);
        kept.push_str(if is_part { name } else { "…" });
        rest = after;
    }
    kept + rest
}

/// Whether the three stand in one object, the ends under names of one stem: `low` and `high`, `median_low` and `median_high`.
fn is_interval(object: &[(&str, f64)], [centre, low, high]: [&Printed; 3]) -> bool {
    object.iter().any(|(_, value)| centre.tells(*value))
        && object.iter().any(|(key, value)| {
            let stem = key.strip_suffix("low").filter(|_| low.tells(*value));
            stem.is_some_and(|stem| {
                object.iter().any(|(other, value)| {
                    other.strip_suffix("high") == Some(stem) && high.tells(*value)
                })
            })
        })
}

/// Every object below that has a sentence of its own, with that sentence.
pub fn with_sentences(value: &Value) -> Vec<(&str, &Value)> {
    let mut found = Vec::new();
    gather(value, &mut found);
    found
}

fn gather<'a>(value: &'a Value, found: &mut Vec<(&'a str, &'a Value)>) {
    match value {
        Value::Object(fields) => {
            found.extend(fields.get("sentence").and_then(Value::as_str).map(|said| (said, value)));
            fields.values().for_each(|value| gather(value, found));
        }
        Value::Array(values) => values.iter().for_each(|value| gather(value, found)),
        _ => {}
    }
}
