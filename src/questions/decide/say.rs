//! Say: the results, their sentences and how they were computed.

use super::super::factors::at_values::Value;
use super::super::outcome_words;
use super::super::trial_plan;
use super::advise::Difference;
use super::practice::Practice;
use super::{Decided, QUESTION, show};
use crate::finding::{
    CandidateResult, DecisionResult, Finding, Interval, LeftOut, Method, PracticeValue,
    Recommendation, Section, TrialNeeded,
};
use crate::problem::Refusal;
use crate::stats::Estimate;
use crate::stats::logistic::logistic;
use crate::stats::numeric::normal_quantile;
use crate::study::Study;
use crate::words::decide::{self as words, DecideWords};
use crate::words::factors as factor_words;
use crate::words::handout::PIECES_OF_A_STUDENT;

/// Days on the pin are the only practice whose value is a waiting time.
const WAITS: &str = "forming_days";
const TEN: f64 = 10.0;

pub(super) fn finding(
    study: &Study,
    decided: &[Decided],
    refusals: &[Refusal],
    seed: u64,
) -> Finding {
    let results: Vec<DecisionResult> = decided.iter().map(|one| result(study, one)).collect();
    let sentences: Vec<String> = results.iter().map(|result| result.sentence.clone()).collect();
    let shown = || decided.iter().zip(&results);
    // one practice at least was decided
    let (answer, more) = sentences
        .split_first()
        .map_or_else(Default::default, |(first, rest)| (first.clone(), rest.to_vec()));
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer,
        more,
        caveats: caveats(decided, refusals),
        charts: shown().map(|(one, result)| show::chart(study, one, result)).collect(),
        tables: shown().flat_map(|(one, result)| show::tables(one, result)).collect(),
        method: method(study, decided, seed),
        used: (decided.first().map_or(0, |one| one.found.reeds), "reeds"),
        left_out: decided.first().map_or(Vec::new(), |one| one.found.left_out.clone()),
        section: Section::Decide(results),
    }
}

fn caveats(decided: &[Decided], refusals: &[Refusal]) -> Vec<String> {
    let mut caveats = Vec::new();
    for one in decided {
        let (label, practice) = (&one.factor.label, &one.practice);
        if !practice.not_seen.is_empty() {
            let unit = one.factor.unit.as_deref();
            caveats.push(words::not_seen(label, &practice.not_seen, practice.range, unit));
        }
        if practice.pace.is_none() {
            caveats.push(words::without_dates(label));
        }
    }
    let refused = refusals.iter().map(|refusal| words::refused(&refusal.found, &refusal.takes));
    caveats.extend(refused);
    caveats.push(words::FROM_A_LOG.to_owned());
    caveats
}

fn method(study: &Study, decided: &[Decided], seed: u64) -> Method {
    let first = decided.first();
    let models = first.map_or_else(Default::default, |one| one.found.words);
    let good_is_mixed = first.is_some_and(|one| one.found.good_is_mixed);
    let bends = first.is_some_and(|one| one.found.bends);
    let adjusted: Vec<String> = first.map_or_else(Vec::new, |one| one.found.adjusted_for.clone());
    let outcome = outcome_words(study);
    Method {
        model: words::model(models, outcome, (bends, good_is_mixed), &adjusted),
        assumptions: words::assumptions(),
        sources: words::sources(),
        seed: Some(seed),
    }
}

/// A value as it goes to the results.
pub(super) fn shown(practice: &Practice, place: usize) -> PracticeValue {
    match practice.values[place] {
        Value::Number(number) => PracticeValue::Number(number),
        Value::Kind(code) => {
            PracticeValue::Kind(practice.kinds.get(code as usize).cloned().unwrap_or_default())
        }
    }
}

/// The trial that `trial plan` would lay out unasked, so that both name the same.
fn trial(study: &Study) -> Option<TrialNeeded> {
    let (pieces, difference) = trial_plan::usual_size(study)?;
    Some(TrialNeeded { pieces: pieces as u64, difference })
}

fn result(study: &Study, one: &Decided) -> DecisionResult {
    let Decided { factor, practice, found, outlook, advice, .. } = one;
    let (present, other) = (practice.present, advice.other);
    let is_about = other != present && advice.recommendation != Recommendation::Stay;
    let is_open = advice.recommendation == Recommendation::TryItFirst;
    let mut result = DecisionResult {
        factor: factor.name.clone(),
        stage: factor.stage,
        unit: factor.unit.clone(),
        current: shown(practice, present),
        recommendation: advice.recommendation,
        to: is_about.then(|| shown(practice, other)),
        regret_switch: outlook.regret[other],
        regret_stay: outlook.regret[present],
        worthwhile: one.worthwhile,
        present_days: practice.pace.map(|pace| pace.days),
        pieces_a_day: practice.pace.map(super::practice::Pace::a_day),
        pieces_in_30_days: practice.pace.map(|pace| 30.0 * pace.a_day()),
        tangled_with: found.tangled_with.clone(),
        kept_share: found.kept_share,
        scope: if one.has_lots { "within lots" } else { "no lots" }.to_owned(),
        candidates: (0..practice.values.len()).map(|place| candidate(one, place)).collect(),
        not_seen: practice.not_seen.clone(),
        adjusted_for: found.adjusted_for.clone(),
        trial: is_open.then(|| trial(study)).flatten(),
        shown_by_a_student: trial_plan::shown_by(study, PIECES_OF_A_STUDENT)
            .map(|difference| TrialNeeded { pieces: PIECES_OF_A_STUDENT as u64, difference }),
        used: found.reeds,
        lots: found.lots,
        pieces: found.good_pieces,
        left_out: left_out(found.left_out.clone()),
        sentence: String::new(),
    };
    let told = DecideWords {
        label: &factor.label,
        outcome: outcome_words(study),
        other,
        present,
        doubt: advice.doubt,
        span: study.settings().scale[1] - study.settings().scale[0],
    };
    result.sentence = words::sentence(&result, &told);
    result
}

fn left_out(left_out: Vec<LeftOut>) -> Vec<LeftOut> {
    left_out.into_iter().filter(|out| out.n > 0).collect()
}

fn candidate(one: &Decided, place: usize) -> CandidateResult {
    let Decided { factor, practice, found, outlook, advice, .. } = one;
    let value = shown(practice, place);
    // what cannot be told from something else has no number of its own
    let told = found.tangled_with.is_empty();
    let rating = found.rating[place].and_then(by_t).filter(|_| told);
    let joint = found.good.as_ref().filter(|_| told);
    let good = joint.and_then(|joint| {
        by_odds(joint.values[place], joint.covariance[place][place].max(0.0).sqrt())
    });
    let difference = advice.rating[place].filter(|_| told);
    let present = joint.map(|joint| joint.values[practice.present]);
    let good_difference = advice.good[place].zip(present).map(|(difference, present)| {
        let Difference { value, low, high } = difference;
        // of ten pieces no more can be lost than are good, and no more gained than are not
        per_ten(Difference { value, low: low.max(-present), high: high.min(1.0 - present) })
    });
    let waiting = match value {
        PracticeValue::Number(days) if factor.name == WAITS => Some(days),
        _ => None,
    };
    let support = practice.support[place];
    CandidateResult {
        thin: support.thin,
        rating: rating.map(|shown| shown.estimate),
        low: rating.map(|shown| shown.low),
        high: rating.map(|shown| shown.high),
        good_per_ten: good.map(|shown| shown.estimate),
        good_low: good.map(|shown| shown.low),
        good_high: good.map(|shown| shown.high),
        difference: difference.map(|shown| shown.value),
        diff_low: difference.map(|shown| shown.low),
        diff_high: difference.map(|shown| shown.high),
        good_difference: good_difference.map(|shown| shown.value),
        good_diff_low: good_difference.map(|shown| shown.low),
        good_diff_high: good_difference.map(|shown| shown.high),
        regret: outlook.regret[place],
        lost: outlook.lost[place],
        p_better: (told && place != practice.present).then_some(outlook.better[place]),
        pieces: support.pieces,
        lots: support.lots,
        waiting_days: waiting,
        on_the_rack: waiting.zip(practice.pace).map(|(days, pace)| pace.waiting(days)),
        value,
    }
}

fn per_ten(difference: Difference) -> Difference {
    let Difference { value, low, high } = difference;
    Difference { value: TEN * value, low: TEN * low, high: TEN * high }
}

fn by_t(estimate: Estimate) -> Option<Interval> {
    let (low, high) = estimate.interval(0.95).ok()?;
    let is_sound = low.is_finite() && high.is_finite();
    is_sound.then_some(Interval { estimate: estimate.value, low, high })
}

/// Good reeds of ten, the interval by the odds so that it stays between none and all.
fn by_odds(share: f64, error: f64) -> Option<Interval> {
    let scale = share * (1.0 - share);
    if !(scale > 0.0 && error.is_finite()) {
        return None;
    }
    let (middle, reach) = ((share / (1.0 - share)).ln(), normal_quantile(0.975) * error / scale);
    let at = |log_odds: f64| TEN * logistic(log_odds);
    Some(Interval { estimate: TEN * share, low: at(middle - reach), high: at(middle + reach) })
}

/// The rating's axis in the picture.
pub(super) fn axis(study: &Study) -> String {
    outcome_words(study).axis()
}

pub(super) fn x_axis(one: &Decided) -> String {
    factor_words::axis(&one.factor.label, one.factor.unit.as_deref())
}
