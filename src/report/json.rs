//! Results as JSON, in full precision, and the JSON Schema they keep to.
//!
//! JSON has no NaN and no infinity; serde_json writes either as `null`, so a
//! number that was not computed is `null` by construction.

use serde::Serialize;

use crate::finding::{Handout, Results, Section};
use crate::problem::Refusal;

/// The text of `results.json`.
pub fn json(results: &Results) -> String {
    written(results)
}

/// The section of one question, as it stands in `results.json`. The soundness
/// of a log has no section of its own and gives `{}`.
pub fn section_json(section: &Section) -> String {
    match section {
        Section::Factors(section) => written(section),
        Section::Lots(section) => written(section),
        Section::Decide(section) => written(section),
        Section::Losses(section) => written(section),
        Section::Life(section) => written(section),
        Section::Trust(section) => written(section),
        Section::Drift(section) => written(section),
        Section::Families(section) => written(section),
        Section::Blanks(section, _) => written(section),
        Section::Sort(section) => written(section),
        Section::Makers(section) => written(section),
        Section::TrialRead(section) => written(section),
        Section::TrialPlan(section) => written(section),
        Section::Products(section) => written(section),
        Section::Check => "{}\n".to_owned(),
    }
}

/// Why a question has no answer.
pub fn refusal_json(refusal: &Refusal) -> String {
    written(refusal)
}

/// The words of the page for a studio.
pub fn handout_json(handout: &Handout) -> String {
    written(&handout.text())
}

/// The JSON Schema (draft 2020-12) of `results.json`.
pub fn schema() -> String {
    written(&schemars::schema_for!(Results))
}

/// serde_json fails on maps whose keys are not text and on a writer that
/// fails; these types hold no maps, a schema's keys are text, and the writer is memory.
fn written(value: &impl Serialize) -> String {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_else(|_| "null".to_owned());
    text.push('\n');
    text
}
