//! Which answers matter most this time?
//!
//! What acting on an answer may bring is counted in good reeds of ten pieces, roughly and only to put the answers in order: the step of a factor that stands out,
//! the best or worst lot against the average, what is lost on average by staying with a practice, half of what the worst stage takes, the unfinished pieces that promise most
//! against their average, and what sorting is judged to gain. Answers that cannot be counted so (how long reeds last, what can be trusted, what has moved) fill up to three.

use crate::finding::{
    BlankResult, DecisionResult, FactorsSection, Finding, InShort, LossesSection, LotsSection,
    Recommendation, Section, SortResult, SortVerdict,
};
use crate::words::labels::first_sentences;

const FEWEST: usize = 3;
const MOST: usize = 5;
const TEN: f64 = 10.0;
/// Of the pieces that a stage takes, the share that care might spare (a planning value).
const SPARED: f64 = 0.5;
/// Less than this is nothing to open a review with.
const WORTH_TELLING: f64 = 0.1;

/// Three to five answers, the one worth most first.
pub fn in_short(findings: &[Finding]) -> Vec<InShort> {
    let asked = findings.iter().filter(|finding| finding.section != Section::Check);
    let (mut counted, mut others) = (Vec::new(), Vec::new());
    for finding in asked {
        let worth = worth(&finding.section).filter(|worth| *worth >= WORTH_TELLING);
        let told = InShort {
            question: finding.question.to_owned(),
            sentence: first_sentences(&finding.answer),
            worth,
        };
        if worth.is_some() { counted.push(told) } else { others.push(told) }
    }
    // of equals the one that a review answers first
    counted.sort_by(|a, b| b.worth.unwrap_or(0.0).total_cmp(&a.worth.unwrap_or(0.0)));
    counted.truncate(MOST);
    let missing = FEWEST.saturating_sub(counted.len());
    counted.extend(others.into_iter().take(missing));
    counted
}

fn worth(section: &Section) -> Option<f64> {
    match section {
        Section::Factors(section) => of_factors(section),
        Section::Lots(section) => of_lots(section),
        Section::Decide(decisions) => decisions.iter().filter_map(of_decision).reduce(f64::max),
        Section::Losses(section) => of_losses(section),
        Section::Blanks(blanks, _) => of_blanks(blanks),
        Section::Sort(measures) => measures.iter().filter_map(of_sorting).reduce(f64::max),
        _ => None,
    }
}

fn of_factors(section: &FactorsSection) -> Option<f64> {
    let standing = section.list.iter().filter(|factor| factor.verdict.stands_out());
    standing.filter_map(|factor| Some(factor.good_per_ten?.estimate.abs())).reduce(f64::max)
}

fn of_lots(section: &LotsSection) -> Option<f64> {
    let known: Vec<f64> = section.list.iter().filter_map(|lot| lot.good_per_ten).collect();
    let average = known.iter().sum::<f64>() / known.len().max(1) as f64;
    let is_told = |advice: &Option<String>| {
        advice.as_deref().is_some_and(|advice| advice == "buy again" || advice == "avoid")
    };
    let told = section.list.iter().filter(|lot| is_told(&lot.advice));
    told.filter_map(|lot| Some((lot.good_per_ten? - average).abs())).reduce(f64::max)
}

fn of_decision(decision: &DecisionResult) -> Option<f64> {
    if !decision.tangled_with.is_empty() {
        return None;
    }
    match decision.recommendation {
        Recommendation::Switch => Some(decision.regret_stay),
        // what is lost even by the better of the two as long as nobody knows
        Recommendation::TryItFirst => Some(decision.regret_stay.min(decision.regret_switch)),
        Recommendation::Stay => None,
    }
}

fn of_losses(section: &LossesSection) -> Option<f64> {
    let started = section.stages.iter().map(|stage| stage.entered).max().filter(|n| *n > 0)?;
    let most = section.stages.iter().map(|stage| stage.lost).max()?;
    Some(SPARED * TEN * most as f64 / started as f64)
}

fn of_blanks(blanks: &[BlankResult]) -> Option<f64> {
    let chances: Vec<f64> = blanks.iter().filter_map(|blank| blank.p_good).collect();
    let most = chances.iter().copied().reduce(f64::max)?;
    Some(TEN * (most - chances.iter().sum::<f64>() / chances.len() as f64))
}

fn of_sorting(measure: &SortResult) -> Option<f64> {
    (measure.verdict == SortVerdict::WorthIt).then_some(measure.gain)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{LossReason, LostInAll, StageResult};
    use crate::study::Stage;

    fn stage(entered: usize, lost: usize) -> StageResult {
        let (share, by) = (lost as f64 / entered as f64, Vec::<LossReason>::new());
        StageResult { stage: Stage::Form, entered, lost, share, low: 0.0, high: 1.0, by }
    }

    fn losses(lost: usize) -> Section {
        Section::Losses(LossesSection {
            overall: LostInAll { pieces: 40, lost, share: 0.0, low: 0.0, high: 1.0 },
            stages: vec![stage(40, 2), stage(38, lost)],
            factors: Vec::new(),
            not_modelled: None,
            worth: None,
        })
    }

    fn finding(question: &'static str, answer: &str, section: Section) -> Finding {
        let example = crate::finding::example::findings().remove(0);
        Finding { question, answer: answer.to_owned(), section, ..example }
    }

    /// Of 40 pieces started the worst stage took 8: two of ten, half of which is one.
    #[test]
    fn losses_count_by_half_of_what_the_worst_stage_takes() {
        assert_eq!(worth(&losses(8)), Some(1.0));
    }

    #[test]
    fn what_is_worth_more_stands_first_and_others_fill_up_to_three() {
        let findings = [
            finding("trust", "They repeat.", Section::Decide(Vec::new())),
            finding("losses", "Few are lost.", losses(4)),
            finding("blanks", "None.", Section::Blanks(Vec::new(), None)),
            finding("other", "More are lost. And so on.", losses(8)),
            finding("check", "Sound.", Section::Check),
        ];
        let told = in_short(&findings);
        let order: Vec<&str> = told.iter().map(|one| one.question.as_str()).collect();
        assert_eq!(order, ["other", "losses", "trust"]);
    }
}
