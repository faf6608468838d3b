//! One file a question, all of one shape: select, refuse, fit, say.
//!
//! Each question takes a [`Study`] and gives a [`Finding`] or a [`Refusal`].
//! The registry below is what the command line, the review and the tests over
//! all questions read; a question that is not in it does not exist.

pub mod blanks;
pub mod check;
pub mod decide;
pub mod drift;
pub mod factors;
pub mod families;
pub mod handout;
mod in_short;
pub mod life;
mod lives;
pub mod losses;
pub mod lots;
pub mod makers;
mod many;
mod piece_set;
mod present;
pub mod products;
mod rated;
mod scores;
mod since;
pub mod sort;
mod summary;
pub mod trial_plan;
pub mod trial_read;
pub mod trust;

use crate::finding::{Finding, GoodLine};
use crate::problem::Refusal;
use crate::study::{Better, Study};
use crate::words::factors::OutcomeWords;

pub use in_short::in_short;
pub use since::since;
pub use summary::{log_summary, problems_shown, rests_on, settings_shown};

/// What every question may be told.
///
/// | option | default | purpose |
/// | --- | --- | --- |
/// | `seed` | 2025 | starts every use of chance; the same seed gives the same bytes |
/// | `adjusted` | false | `lots`: the lots' means with the making taken out stand beside the plain ones |
/// | `factor` | none | `decide`: the practice that is asked about; without one, those that the study file names. `drift`: the one measurement that is charted. `sort`: the measurement; without one, those of cane and gouge |
/// | `keep` | none | `life`: how many good reeds to keep playing; without it, as many as are in use at the end of the log |
/// | `charts` | see [`drift::ChartSettings`] | `drift`: how the control charts are drawn |
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    pub seed: u64,
    pub adjusted: bool,
    pub factor: Option<String>,
    pub keep: Option<usize>,
    pub charts: drift::ChartSettings,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            seed: 2025,
            adjusted: false,
            factor: None,
            keep: None,
            charts: drift::ChartSettings::default(),
        }
    }
}

/// One entry of the registry.
#[derive(Clone, Copy)]
pub struct Question {
    /// The verb on the command line and the key in the results.
    pub name: &'static str,
    /// The question in a maker's words.
    pub asked: &'static str,
    /// One line for the help.
    pub help: &'static str,
    pub ask: fn(&Study, &Options) -> Result<Finding, Refusal>,
    /// Whether a review asks it of the log; where not, it is neither answered nor refused there.
    pub asked_of: fn(&Study) -> bool,
}

/// Most questions are asked of every log, if only to say what an answer would take.
fn any_log(_study: &Study) -> bool {
    true
}

/// The questions in the order in which a review answers them.
pub const REGISTRY: [Question; 11] = [
    factors::QUESTION,
    lots::QUESTION,
    decide::QUESTION,
    losses::QUESTION,
    life::QUESTION,
    trust::QUESTION,
    drift::QUESTION,
    families::QUESTION,
    blanks::QUESTION,
    sort::QUESTION,
    makers::QUESTION,
];

/// Finds what most questions ask for, before they are asked at once. Without it each finds its own.
pub fn prepare(study: &Study) {
    rayon::join(|| study.prepare(), || scores::prepare(study));
}

/// The question of that name.
pub fn find(name: &str) -> Option<&'static Question> {
    REGISTRY.iter().find(|question| question.name == name)
}

/// What sentences about the rating need to know of it.
fn outcome_words(study: &Study) -> OutcomeWords {
    let outcome = study.outcome();
    OutcomeWords {
        lower_is_better: outcome.better == Better::Lower,
        is_distance: outcome.target.is_some(),
    }
}

/// Where a picture draws the line of a good reed; nowhere for a distance from an ideal, which has its own zero.
fn good_line(study: &Study) -> Option<GoodLine> {
    let outcome = study.outcome();
    let line =
        GoodLine { at: study.settings().good_at, lower_is_better: outcome.better == Better::Lower };
    outcome.target.is_none().then_some(line)
}

/// The whole range of scores, so that no picture makes a small difference look large.
fn score_range(study: &Study) -> [f64; 2] {
    let [low, high] = study.settings().scale;
    match study.outcome().target {
        Some(target) => [0.0, (target - low).abs().max((high - target).abs())],
        None => [low, high],
    }
}
