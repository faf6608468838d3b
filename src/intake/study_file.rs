//! The study file: how to read the log, and what counts in it.
//!
//! Every key is optional. An unknown key or a value of the wrong sort stops the
//! reading, with the line and the nearest known key.

use std::collections::BTreeMap;

use toml::Spanned;

use super::checks::settings;
use super::study_keys::{At, FileNames, Raw, RawColumn, RawCriterion, RawDecide};
use super::values::dates::DayOrder;
use super::values::headers::fold;
use super::values::labels;
use super::values::numbers::DecimalMark;
use super::values::ratings::Ranking;
use crate::catalogue::{Kind, Stage, Unit};
use crate::problem::{Error, Problem};
use crate::study::{Better, Settled};

/// What one row of the reeds file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum RowIs {
    #[default]
    Piece,
    Rating,
}

/// Where a piece's id comes from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) enum IdFrom {
    #[default]
    Column,
    /// The headers whose cells together make the id.
    Columns(Vec<String>),
    /// The number of the row.
    Row,
}

/// What the study file says of one column.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct ColumnSetting {
    /// Folded: a catalogue name or a new one.
    pub is: Option<String>,
    /// The unit as written, and what it means where it is a known one.
    pub unit: Option<(String, Option<Unit>)>,
    pub decimal: Option<DecimalMark>,
    pub day_order: Option<DayOrder>,
    pub kind: Option<Kind>,
    pub stage: Option<Stage>,
    pub step: Option<f64>,
    pub label: Option<String>,
    pub higher_is: Option<String>,
    /// Names that mean the same as another: `"lot b" = "Lot B, '22"`, by the part that counts.
    pub same: BTreeMap<String, String>,
}

/// The study file, checked.
#[derive(Debug, Clone, Default)]
pub(super) struct StudyFile {
    /// Its name as problems print it; none where the log has none.
    pub file: Option<String>,
    pub title: Option<String>,
    pub scale: Option<[f64; 2]>,
    pub good_at: Option<f64>,
    pub worthwhile: Option<f64>,
    pub outcome: Option<String>,
    pub settled: Option<Settled>,
    pub best: Option<Better>,
    pub school_marks: bool,
    pub window: Option<u32>,
    pub decimal: Option<DecimalMark>,
    pub day_order: Option<DayOrder>,
    /// AWG or SWG, for `22 gauge`.
    pub wire_gauge: Option<Unit>,
    pub missing: Vec<String>,
    pub row_is: RowIs,
    pub id_from: IdFrom,
    pub same_lots: bool,
    pub files: FileNames,
    /// By header as it stands in the file.
    pub columns: BTreeMap<String, ColumnSetting>,
    /// Ideals of criteria, by folded name.
    pub targets: BTreeMap<String, f64>,
    /// Criteria that the study file names.
    pub criteria: Vec<String>,
    pub candidates: BTreeMap<String, Vec<String>>,
    pub ranking: Ranking,
}

impl StudyFile {
    /// What the study file says of a header: under its own spelling, else under the same folded name.
    pub fn column(&self, header: &str) -> Option<&ColumnSetting> {
        let exact = self.columns.get(header).or_else(|| self.columns.get(header.trim()));
        exact.or_else(|| {
            let folded = fold(header);
            let same = |(key, _): &(&String, _)| fold(key) == folded;
            self.columns.iter().find(same).map(|(_, setting)| setting)
        })
    }
}

/// Reads the text of a study file.
pub(super) fn read(file: &str, text: &str) -> Result<StudyFile, Error> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let raw: Raw = toml::from_str(text).map_err(|error| {
        unreadable(settings::not_toml(file, text, error.message(), error.span()))
    })?;
    Checking { file, text }.study(raw).map_err(Error::Unreadable)
}

fn unreadable(problem: Problem) -> Error {
    Error::Unreadable(Box::new(problem))
}

/// The values of the study file, one after the other, each with its line.
struct Checking<'a> {
    file: &'a str,
    text: &'a str,
}

type Checked<T> = Result<T, Box<Problem>>;

impl Checking<'_> {
    fn study(&self, raw: Raw) -> Checked<StudyFile> {
        let ranking =
            self.ranking(raw.words.ranking.as_ref().or(raw.ratings.words.ranking.as_ref()))?;
        let best = self.best(&raw.best)?;
        let school_marks = self.marks(&raw.marks)? || best == Some(Better::Lower);
        Ok(StudyFile {
            file: Some(self.file.to_owned()),
            title: raw.title,
            scale: self.scale(&raw.scale)?,
            good_at: self.finite("good_at", &raw.good_at)?,
            worthwhile: self.positive("worthwhile", &raw.worthwhile)?,
            outcome: raw.outcome.map(|outcome| fold(outcome.get_ref())),
            settled: self.settled(&raw.settled)?,
            best: best.or(school_marks.then_some(Better::Lower)),
            school_marks,
            window: self.window(&raw.window)?,
            decimal: self.decimal(&raw.decimal)?,
            day_order: self.day_order(&raw.day_order)?,
            wire_gauge: self.wire_gauge(&raw.wire_gauge)?,
            missing: raw.missing,
            row_is: self.row_is(&raw.one_row_is)?,
            id_from: self.id_from(&raw.id_from)?,
            same_lots: raw.same_lots,
            files: raw.files,
            columns: self.columns(raw.columns)?,
            criteria: raw.criteria.keys().map(|name| fold(name)).collect(),
            targets: self.targets(raw.criteria)?,
            candidates: raw
                .decide
                .into_iter()
                .map(|(name, decide)| (fold(&name), candidates(decide)))
                .collect(),
            ranking,
        })
    }

    fn unfit<T>(&self, key: &str, value: &Spanned<T>, expected: &str) -> Box<Problem> {
        Box::new(settings::unfit_value(self.file, self.text, key, value.span(), expected))
    }

    /// One of some words, each with its meaning.
    fn word<T: Copy>(
        &self,
        key: &str,
        value: &At<String>,
        words: &[(&str, T)],
    ) -> Checked<Option<T>> {
        let Some(value) = value else { return Ok(None) };
        let folded = fold(value.get_ref());
        match words.iter().find(|(word, _)| fold(word) == folded) {
            Some((_, meaning)) => Ok(Some(*meaning)),
            None => {
                let words: Vec<String> =
                    words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
                Err(self.unfit(key, value, &words.join(" or ")))
            }
        }
    }

    fn scale(&self, value: &At<Vec<f64>>) -> Checked<Option<[f64; 2]>> {
        let Some(value) = value else { return Ok(None) };
        match value.get_ref().as_slice() {
            &[low, high] if low.is_finite() && high.is_finite() && low < high => {
                Ok(Some([low, high]))
            }
            _ => Err(self.unfit(
                "scale",
                value,
                "the lowest and the highest possible mark, the lower first: [1, 10]",
            )),
        }
    }

    fn finite(&self, key: &str, value: &At<f64>) -> Checked<Option<f64>> {
        match value {
            Some(number) if !number.get_ref().is_finite() => {
                Err(self.unfit(key, number, "a number"))
            }
            number => Ok(number.as_ref().map(|number| *number.get_ref())),
        }
    }

    fn positive(&self, key: &str, value: &At<f64>) -> Checked<Option<f64>> {
        match (self.finite(key, value)?, value) {
            (Some(number), Some(value)) if number <= 0.0 => {
                Err(self.unfit(key, value, "a number above 0"))
            }
            (number, _) => Ok(number),
        }
    }

    fn window(&self, value: &At<i64>) -> Checked<Option<u32>> {
        let Some(value) = value else { return Ok(None) };
        match u32::try_from(*value.get_ref()) {
            Ok(days) if (1..=36_525).contains(&days) => Ok(Some(days)),
            _ => Err(self.unfit("window", value, "a number of days from 1 to 36525")),
        }
    }

    fn settled(&self, value: &At<String>) -> Checked<Option<Settled>> {
        let Some(value) = value else { return Ok(None) };
        let folded = fold(value.get_ref());
        let after =
            folded.strip_prefix("after_").and_then(|rest| rest.split('_').next()?.parse().ok());
        match (folded.as_str(), after) {
            ("all", _) => Ok(Some(Settled::All)),
            ("last", _) => Ok(Some(Settled::Last)),
            (_, Some(first)) => Ok(Some(Settled::After(first))),
            _ => Err(self.unfit("settled", value, "\"all\", \"last\" or \"after 3 ratings\"")),
        }
    }

    fn best(&self, value: &At<String>) -> Checked<Option<Better>> {
        self.word("best", value, &[("high", Better::Higher), ("low", Better::Lower)])
    }

    fn marks(&self, value: &At<String>) -> Checked<bool> {
        let school = self.word("marks", value, &[("points", false), ("school", true)])?;
        Ok(school.unwrap_or(false))
    }

    fn decimal(&self, value: &At<String>) -> Checked<Option<DecimalMark>> {
        let Some(mark) = value else { return Ok(None) };
        match mark.get_ref().trim() {
            "," | "comma" => Ok(Some(DecimalMark::Comma)),
            "." | "point" => Ok(Some(DecimalMark::Point)),
            _ => Err(self.unfit("decimal", mark, "\",\" or \".\"")),
        }
    }

    fn day_order(&self, value: &At<String>) -> Checked<Option<DayOrder>> {
        let words = [("day first", DayOrder::DayFirst), ("month first", DayOrder::MonthFirst)];
        self.word("day_order", value, &words)
    }

    fn wire_gauge(&self, value: &At<String>) -> Checked<Option<Unit>> {
        self.word("wire_gauge", value, &[("awg", Unit::Awg), ("swg", Unit::Swg)])
    }

    fn row_is(&self, value: &At<String>) -> Checked<RowIs> {
        let words = [("piece", RowIs::Piece), ("rating", RowIs::Rating)];
        Ok(self.word("one_row_is", value, &words)?.unwrap_or_default())
    }

    fn id_from(&self, value: &At<toml::Value>) -> Checked<IdFrom> {
        let Some(value) = value else { return Ok(IdFrom::Column) };
        let expected = "\"row\", a header, or headers in brackets: [\"year\", \"reed\"]";
        match value.get_ref() {
            toml::Value::String(word) if word == "row" => Ok(IdFrom::Row),
            toml::Value::String(header) => Ok(IdFrom::Columns(vec![header.clone()])),
            toml::Value::Array(headers) if !headers.is_empty() => {
                let names = headers.iter().map(|header| header.as_str().map(str::to_owned));
                let names: Option<Vec<String>> = names.collect();
                names.map(IdFrom::Columns).ok_or_else(|| self.unfit("id_from", value, expected))
            }
            _ => Err(self.unfit("id_from", value, expected)),
        }
    }

    fn columns(
        &self,
        raw: BTreeMap<String, RawColumn>,
    ) -> Checked<BTreeMap<String, ColumnSetting>> {
        raw.into_iter().map(|(header, column)| Ok((header, self.column(column)?))).collect()
    }

    fn column(&self, raw: RawColumn) -> Checked<ColumnSetting> {
        let kinds = [
            ("number", Kind::Number),
            ("choice", Kind::Choice),
            ("yes_no", Kind::YesNo),
            ("rating", Kind::Rating),
            ("date", Kind::Date),
            ("text", Kind::Text),
        ];
        let stages = Stage::MAKING.map(|stage| (stage.word(), stage));
        let stages = [&stages[..], &[(Stage::Bookkeeping.word(), Stage::Bookkeeping)]].concat();
        Ok(ColumnSetting {
            is: raw.is.map(|name| fold(name.get_ref())),
            unit: raw.unit.map(|unit| (unit.get_ref().clone(), Unit::from_text(unit.get_ref()))),
            decimal: self.decimal(&raw.decimal)?,
            day_order: self.day_order(&raw.day_order)?,
            kind: self.word("kind", &raw.kind, &kinds)?,
            stage: self.word("stage", &raw.stage, &stages)?,
            step: self.positive("step", &raw.step)?,
            label: raw.label,
            higher_is: raw.higher_is,
            same: raw.same.into_iter().map(|(name, other)| (labels::key(&name), other)).collect(),
        })
    }

    fn targets(&self, raw: BTreeMap<String, RawCriterion>) -> Checked<BTreeMap<String, f64>> {
        let mut targets = BTreeMap::new();
        for (name, criterion) in raw {
            if let Some(target) = self.finite("target", &criterion.target)? {
                targets.insert(fold(&name), target);
            }
        }
        Ok(targets)
    }

    fn ranking(&self, value: Option<&Spanned<Vec<String>>>) -> Checked<Ranking> {
        let Some(value) = value else { return Ok(Ranking::default()) };
        Ranking::new(value.get_ref()).map_err(|word| {
            self.unfit(
                "ranking",
                value,
                &format!("each word once, the lowest first (“{word}” stands there twice)"),
            )
        })
    }
}

fn candidates(raw: RawDecide) -> Vec<String> {
    let text = |value: toml::Value| match value {
        toml::Value::String(text) => text,
        toml::Value::Float(number) => number.to_string(),
        other => other.to_string(),
    };
    raw.candidates.into_iter().map(text).collect()
}

#[cfg(test)]
#[path = "study_file_tests.rs"]
mod tests;
