//! What should I try next, and how many pieces does it take?
//!
//! A trial in randomised complete blocks (Fisher 1935, The Design of Experiments): of each lot (and maker) some pieces are made each way, dealt by chance, and
//! rated by somebody who does not know which is which.
//!
//! **Method.** The spread of reeds within a lot and the share spoiled before play come from this log. The size is that at which each arm's comparison with the
//! present practice finds the smallest difference worth having with the power asked for: noncentral t with blocks taken out (Cohen 1988, chapter 2), with the
//! bound of Dunnett (1955) for more than two arms, with pieces added so that enough reeds are left nine times in ten.
//!
//! **Assumptions.** Reeds of the trial scatter within their lots as those of the log; pieces are lost independently of each other and of the arm.
//!
//! **Refuses** a factor that nobody chooses, arms that cannot be told apart, fewer pieces than arms in a lot, more pieces than there is cane, and a log that does
//! not tell how far reeds of a lot scatter; each time with what would do.

mod arms;
mod lots;
mod say;
mod size;
mod spread;

use crate::finding::Finding;
use crate::plan::{Plan, SpoiledCount};
use crate::problem::Refusal;
use crate::study::Study;

/// A size rests on no date.
const ANY_DAY: &str = "2000-01-01";
/// The name in refusals and on pages.
pub const NAME: &str = "trial plan";

/// What a trial may be told.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanOptions {
    /// The practice to compare: its name or its column's header. None: the study file's `[decide]`, else the days on the pin.
    pub factor: Option<String>,
    /// The values to compare. None: the present practice and the most promising other candidate.
    pub arms: Vec<String>,
    /// Names of the lots. None: those with cane at hand, else new ones to be named.
    pub lots: Vec<String>,
    /// Pieces in all. None: as many as the power takes.
    pub pieces: Option<usize>,
    /// Chance to find the worthwhile difference, if it is there.
    pub power: f64,
    /// The smallest difference worth having. None: the study's.
    pub worthwhile: Option<f64>,
    /// How often the trial is looked at, its end included, in equal steps.
    pub looks: usize,
    /// How pieces that are spoiled before play count.
    pub spoiled: SpoiledCount,
    /// Starts the allocation and the labels.
    pub seed: u64,
    /// ISO 8601 date of the plan.
    pub made_on: String,
}

impl PlanOptions {
    /// Everything at its default; the day has none.
    pub fn on(made_on: &str) -> Self {
        PlanOptions {
            factor: None,
            arms: Vec::new(),
            lots: Vec::new(),
            pieces: None,
            power: 0.8,
            worthwhile: None,
            looks: 1,
            spoiled: SpoiledCount::LeftOut,
            seed: 2025,
            made_on: made_on.to_owned(),
        }
    }
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] of a trial that cannot work, with what would.
pub fn ask(study: &Study, options: &PlanOptions) -> Result<(Finding, Plan), Refusal> {
    let wanted = wanted(study, options)?;
    let factor = arms::factor(study, options.factor.as_deref())?;
    let chosen = arms::choose(study, factor, &options.arms)?;
    let spread = spread::of(study, options.spoiled)?;
    let places = lots::places(study, &options.lots, chosen.arms.len())?;
    let trial = size::trial(&spread, &wanted, chosen.arms.len())?;
    let (places, sized) = match options.pieces {
        Some(pieces) => size::of_pieces(&trial, places, pieces)?,
        None => size::for_power(&trial, places)?,
    };
    let told = say::Told {
        study,
        options,
        factor,
        chosen: &chosen,
        spread: &spread,
        places: &places,
        trial: &trial,
        sized: &sized,
    };
    let plan = told.plan();
    Ok((told.finding(&plan), plan))
}

/// Pieces of a trial of two arms with everything at its default, and the difference that it finds; none where no trial can be planned.
pub(super) fn usual_size(study: &Study) -> Option<(usize, f64)> {
    const ARMS: usize = 2;
    let wanted = wanted(study, &PlanOptions::on(ANY_DAY)).ok()?;
    let spread = spread::of(study, SpoiledCount::LeftOut).ok()?;
    let trial = size::trial(&spread, &wanted, ARMS).ok()?;
    let places = lots::places(study, &[], ARMS).ok()?;
    let (_, sized) = size::for_power(&trial, places).ok()?;
    Some((sized.pieces(), wanted.worthwhile))
}

/// The difference that so many pieces of one lot, half of them each way, show eight times in ten; none where no trial can be planned.
pub(super) fn shown_by(study: &Study, pieces: usize) -> Option<f64> {
    const ARMS: usize = 2;
    let wanted = wanted(study, &PlanOptions::on(ANY_DAY)).ok()?;
    let spread = spread::of(study, SpoiledCount::LeftOut).ok()?;
    let trial = size::trial(&spread, &wanted, ARMS).ok()?;
    size::of_about(&trial, 1, pieces).map(|(_, smallest)| smallest)
}

/// What the trial should find, checked.
struct Wanted {
    worthwhile: f64,
    power: f64,
    looks: usize,
}

fn wanted(study: &Study, options: &PlanOptions) -> Result<Wanted, Refusal> {
    let worthwhile = options.worthwhile.unwrap_or(study.settings().worthwhile);
    require(
        worthwhile > 0.0 && worthwhile.is_finite(),
        "The smallest difference worth having must be above 0.",
        "Give one such as `--worthwhile 0.5`, in rating points.",
    )?;
    require(
        options.power > 0.05 && options.power < 0.9999,
        "The power must lie between 0.05 and 0.9999: it is the chance to find what is there.",
        "Usual values are 0.8 and 0.9.",
    )?;
    require(
        (1..=size::MOST_LOOKS).contains(&options.looks),
        "A trial is looked at one to five times, its end included.",
        "Give `--looks 2` for one look on the way.",
    )?;
    require(
        options.made_on.parse::<jiff::civil::Date>().is_ok(),
        "The day of the plan is no date.",
        "Give one such as `--date 2025-11-30`.",
    )?;
    Ok(Wanted { worthwhile, power: options.power, looks: options.looks })
}

fn refusal(found: impl Into<String>, takes: impl Into<String>) -> Refusal {
    Refusal { question: NAME.to_owned(), found: found.into(), takes: takes.into() }
}

fn require(holds: bool, found: &str, takes: &str) -> Result<(), Refusal> {
    if holds { Ok(()) } else { Err(refusal(found, takes)) }
}
