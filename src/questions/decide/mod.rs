//! Should a practice change?
//!
//! Longer on the pin, a thicker gouge, another scoring: for each value that the practice could have, what rating and how many good reeds of ten pieces to
//! expect, against what is done now; what may be lost by changing and by not changing; and whether the log can settle it at all.
//!
//! **Method.** The present practice is the middle value (or the commonest kind) of the last days of the log. Candidates are those of the study file, else
//! round numbers. The rating is the mixed model of `factors` with the practice as a parabola (a straight line under 40 reeds), good reeds a logistic model
//! with lots at random, both with the same columns; means are standardised over all pieces started (Lane & Nelder 1982), differences from the present
//! practice hold for all candidates together (Dunnett 1955; Hothorn, Bretz & Westfall 2008). Regret is what is lost on average by a choice that is not the
//! best (Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, from memory), from joint draws of what each value is worth in good reeds per ten
//! pieces (see `outlook`). What to do about it follows from the regrets, see `advise`. Pieces on the rack are Little's law (1961).
//!
//! **Assumptions.** Those of `factors`: what was adjusted for is enough. A piece that takes another value becomes like the pieces that had it.
//!
//! **Refuses** a practice that the log does not have, one that is measured in playing, one with a single value, and fewer than eight rated reeds; a candidate
//! that no piece had is left out by name.

mod advise;
mod outlook;
mod practice;
mod say;
mod show;

use super::factors::at_values::{AtValues, Reeds, Source};
use super::{Options, Question};
use crate::catalogue::Stage;
use crate::finding::{DecisionResult, Finding};
use crate::problem::Refusal;
use crate::study::{Better, Factor, Study, Understood};
use crate::words::decide::{self as words, Doubt};
use crate::words::digits::plural;

use advise::{Advice, advise};
use outlook::{Mark, Outlook};
use practice::{Practice, practice};

pub const QUESTION: Question = Question {
    name: "decide",
    asked: "Should a practice change?",
    help: "which value of a practice to choose, what may be lost by changing it and by not",
    ask,
    asked_of: super::any_log,
};

/// Practices asked about where none is named.
const MOST_PRACTICES: usize = 2;
/// Asked about where the study file names none.
const FORMING: &str = "forming_days";
const FEWEST_REEDS: usize = 8;

/// One practice, answered.
struct Decided<'a> {
    factor: &'a Factor,
    practice: Practice,
    found: AtValues,
    outlook: Outlook,
    advice: Advice,
    /// The smallest difference worth having, in good reeds of ten pieces.
    worthwhile: f64,
    has_lots: bool,
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] where no practice that is asked about can be judged.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let source = Source::of(study);
    refuse_small(&source)?;
    let reeds = Reeds::of(&source);
    let places = match &options.factor {
        Some(named) => vec![place(study, &reeds, named)?],
        None => places(study, &reeds)?,
    };
    let (mut decided, mut refusals) = (Vec::new(), Vec::new());
    for at in places {
        match decide(study, &reeds, at, options.seed) {
            Ok(one) => decided.push(one),
            Err(refusal) => refusals.push(refusal),
        }
    }
    match (decided.is_empty(), refusals.first()) {
        (true, Some(refusal)) => Err(refusal.clone()),
        _ => Ok(say::finding(study, &decided, &refusals, options.seed)),
    }
}

fn refusal(found: String, takes: &str) -> Refusal {
    Refusal { question: QUESTION.name.to_owned(), found, takes: takes.to_owned() }
}

fn refuse_small(source: &Source) -> Result<(), Refusal> {
    let rated = source.rated();
    if rated < FEWEST_REEDS {
        return Err(refusal(
            format!("The log holds {} with a rating.", plural(rated, "reed", "reeds")),
            "It takes eight before anything can be said about a practice, and far more to change one.",
        ));
    }
    if source.all_alike() {
        return Err(refusal(
            "Every rated reed has the same score.".to_owned(),
            "It takes ratings that differ before one practice can be held against another.",
        ));
    }
    Ok(())
}

/// A practice by its name, its header or its label.
fn place(study: &Study, reeds: &Reeds, named: &str) -> Result<usize, Refusal> {
    let folded = |text: &str| text.trim().to_lowercase();
    let wanted = folded(named);
    let factors: Vec<&Factor> = reeds.factors().collect();
    if let Some(at) = factors.iter().position(|factor| factor.is_called(named)) {
        return Ok(at);
    }
    let is_played = |column: &&Understood| {
        let names = [&column.name, &column.header];
        column.stage == Stage::Play && names.into_iter().any(|known| folded(known) == wanted)
    };
    if let Some(column) = study.understood().iter().find(is_played) {
        return Err(refuse_played(&column.header));
    }
    let known: Vec<String> = factors.iter().map(|factor| factor.name.clone()).collect();
    if known.is_empty() {
        return Err(refusal(
            "The log has no column of the making.".to_owned(),
            "It takes a column of a practice, such as forming_days or gouge_center_mm.",
        ));
    }
    Err(refusal(
        words::no_factor(named, &known),
        "It takes one of these, written as it stands there.",
    ))
}

fn refuse_played(header: &str) -> Refusal {
    refusal(
        words::played(header),
        "It takes a practice of the making, such as forming_days or gouge_center_mm.",
    )
}

/// What the study file asks about, else the days on the pin.
fn places(study: &Study, reeds: &Reeds) -> Result<Vec<usize>, Refusal> {
    let asked = |factor: &Factor| study.settings().candidates.contains_key(&factor.name);
    let all = || reeds.factors().enumerate();
    let named = all().filter(|(_, factor)| asked(factor)).map(|(at, _)| at);
    let mut places: Vec<usize> = named.take(MOST_PRACTICES).collect();
    if places.is_empty() {
        places.extend(all().find(|(_, factor)| factor.name == FORMING).map(|(at, _)| at));
    }
    if places.is_empty() {
        return Err(refusal(words::nothing_named(), words::TAKES_A_FACTOR));
    }
    Ok(places)
}

fn decide<'a>(
    study: &Study,
    reeds: &Reeds<'a>,
    at: usize,
    seed: u64,
) -> Result<Decided<'a>, Refusal> {
    let (factor, practice) = select(study, reeds, at)?;
    let found = reeds
        .at(at, &practice.values, seed)
        .map_err(|why| refusal(words::not_modelled(&why.why), TAKES_VALUES))?;
    let settings = study.settings();
    let mark = Mark {
        good_at: settings.good_at,
        lower_is_better: study.outcome().better == Better::Lower,
    };
    let (draws, worth) =
        outlook::draws(&found, mark, (practice.present, settings.worthwhile), seed);
    let may: Vec<bool> = (0..practice.values.len())
        .map(|value| value == practice.present || !practice.support[value].thin)
        .collect();
    let outlook = Outlook::of(&draws, &may, practice.present);
    let worthwhile = if settings.worthwhile_given { worth.max(0.0) } else { advise::ONE_IN_TEN };
    let without_lots = match (reeds.has_lots, reeds.is_of_one_lot) {
        (true, _) => None,
        (false, true) => Some(Doubt::OneLot),
        (false, false) => Some(Doubt::NoLots),
    };
    let advice = advise(&outlook, &found, &practice, (worthwhile, without_lots), mark, seed);
    let has_lots = reeds.has_lots;
    Ok(Decided { factor, practice, found, outlook, advice, worthwhile, has_lots })
}

const TAKES_VALUES: &str =
    "It takes at least eight rated reeds with the practice written down, at values that differ.";

/// Each piece's nearest candidate, as the support of the candidates is counted; none for a piece without a value or far outside.
pub(super) fn nearest_candidates(study: &Study, result: &DecisionResult) -> Vec<Option<usize>> {
    practice::nearest_places(study, &result.factor, &result.candidates)
}

/// The factor with its present practice and candidates, or why there is nothing to decide.
fn select<'a>(
    study: &Study,
    reeds: &Reeds<'a>,
    at: usize,
) -> Result<(&'a Factor, Practice), Refusal> {
    // a place among the factors
    let factor = reeds
        .factors()
        .nth(at)
        .ok_or_else(|| refusal(words::nothing_named(), words::TAKES_A_FACTOR))?;
    let practice = practice(study, reeds, at, factor).ok_or_else(|| {
        let empty = format!("{} is empty for every piece", factor.label);
        refusal(words::not_modelled(&empty), TAKES_VALUES)
    })?;
    if practice.values.len() < 2 {
        let present = say::shown(&practice, practice.present);
        let present = words::value(&present, factor.unit.as_deref());
        return Err(refusal(
            words::only_the_present(&factor.label, &present, &practice.not_seen),
            "It takes pieces that were made in at least two ways; a trial makes them on purpose.",
        ));
    }
    Ok((factor, practice))
}
