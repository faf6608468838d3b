//! The keys of the study file, as TOML holds them: a key that is not here is refused.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

/// A value and where it stands in the study file.
pub(super) type At<T> = Option<Spanned<T>>;

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Raw {
    pub title: Option<String>,
    /// A list of any length, so that a third number is refused and not passed over.
    pub scale: At<Vec<f64>>,
    pub good_at: At<f64>,
    pub worthwhile: At<f64>,
    pub outcome: At<String>,
    pub settled: At<String>,
    pub best: At<String>,
    pub window: At<i64>,
    pub decimal: At<String>,
    pub day_order: At<String>,
    pub wire_gauge: At<String>,
    pub marks: At<String>,
    pub missing: Vec<String>,
    pub one_row_is: At<String>,
    pub id_from: At<toml::Value>,
    pub same_lots: bool,
    pub files: FileNames,
    pub columns: BTreeMap<String, RawColumn>,
    pub criteria: BTreeMap<String, RawCriterion>,
    pub decide: BTreeMap<String, RawDecide>,
    pub words: RawWords,
    pub ratings: RawRatings,
}

/// Names of the log's files, where they are not the usual ones.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct FileNames {
    pub reeds: Option<String>,
    pub ratings: Option<String>,
    pub lots: Option<String>,
    pub profile: Option<String>,
    pub readings: Option<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawColumn {
    pub is: At<String>,
    pub unit: At<String>,
    pub decimal: At<String>,
    pub day_order: At<String>,
    pub kind: At<String>,
    pub stage: At<String>,
    pub step: At<f64>,
    pub label: Option<String>,
    pub higher_is: Option<String>,
    pub same: BTreeMap<String, String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawCriterion {
    pub target: At<f64>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawDecide {
    pub candidates: Vec<toml::Value>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawWords {
    pub ranking: At<Vec<String>>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawRatings {
    pub words: RawWords,
}
