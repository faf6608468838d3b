//! The laws for decisions, the page for a studio, several makers, and what has changed since.

use proptest::prelude::*;

use super::{holds, intervals, may, outcomes};
use crate::catalogue::Stage;
use crate::finding::{
    CandidateResult, ChangedAnswer, DecisionResult, EffectAcrossMakers, Interval, MakerEffect,
    MakersVerdict, PracticeValue, Recommendation, TrialNeeded,
};
use crate::words::decide::{self, DecideWords, Doubt};
use crate::words::factors::{OutcomeWords, excludes_zero};
use crate::words::handout::{self, HandoutWords};
use crate::words::labels::first_sentences;
use crate::words::makers::{self, EffectLabel};
use crate::words::since::{self, Grown};

fn candidate(value: f64, rating: Interval, good: Interval, pieces: usize) -> CandidateResult {
    CandidateResult {
        value: PracticeValue::Number(value),
        thin: pieces == 0,
        rating: Some(7.0),
        low: Some(6.0),
        high: Some(8.0),
        good_per_ten: Some(6.0),
        good_low: Some(4.0),
        good_high: Some(8.0),
        difference: Some(rating.estimate),
        diff_low: Some(rating.low),
        diff_high: Some(rating.high),
        good_difference: Some(good.estimate),
        good_diff_low: Some(good.low),
        good_diff_high: Some(good.high),
        regret: 0.3,
        lost: 0.2,
        p_better: Some(0.6),
        pieces,
        lots: pieces.min(3),
        waiting_days: Some(value),
        on_the_rack: Some(value / 3.0),
    }
}

fn decision(
    recommendation: Recommendation,
    rating: Interval,
    good: Interval,
    pieces: usize,
) -> DecisionResult {
    // the present practice is not held against itself
    let present = CandidateResult {
        difference: None,
        diff_low: None,
        diff_high: None,
        ..candidate(20.0, rating, good, 9)
    };
    let is_stay = recommendation == Recommendation::Stay;
    DecisionResult {
        factor: "forming_days".to_owned(),
        stage: Stage::Form,
        unit: Some("days".to_owned()),
        current: PracticeValue::Number(20.0),
        recommendation,
        to: (!is_stay).then_some(PracticeValue::Number(10.0)),
        regret_switch: 0.4,
        regret_stay: 0.7,
        worthwhile: 0.9,
        present_days: Some(90),
        pieces_a_day: Some(0.3),
        pieces_in_30_days: Some(9.0),
        tangled_with: vec!["hardness".to_owned()],
        kept_share: 0.3,
        scope: "within lots".to_owned(),
        candidates: vec![candidate(10.0, rating, good, pieces), present],
        not_seen: Vec::new(),
        adjusted_for: Vec::new(),
        trial: Some(TrialNeeded { pieces: 264, difference: 0.5 }),
        shown_by_a_student: None,
        used: 40,
        lots: 5,
        pieces: 50,
        left_out: Vec::new(),
        sentence: String::new(),
    }
}

fn recommendations() -> impl Strategy<Value = Recommendation> {
    prop_oneof![
        Just(Recommendation::Switch),
        Just(Recommendation::Stay),
        Just(Recommendation::TryItFirst)
    ]
}

fn doubts() -> impl Strategy<Value = Option<Doubt>> {
    prop::option::of(prop_oneof![
        Just(Doubt::Tangled),
        Just(Doubt::NoLots),
        Just(Doubt::OneLot),
        Just(Doubt::Thin),
        Just(Doubt::Contradiction),
        Just(Doubt::LotsDisagree),
        Just(Doubt::TooLittle),
    ])
}

fn studio(outcome: OutcomeWords) -> HandoutWords<'static> {
    HandoutWords {
        label: "days on the pin",
        outcome,
        scale: [1.0, 10.0],
        good_at: 7.0,
        players: 2,
        makers: 1,
        shown_by_few: Some(1.2),
        unknown: 1,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn whether_a_practice_should_change(
        recommendation in recommendations(), doubt in doubts(), outcome in outcomes(), rating in intervals(), good in intervals(), pieces in 0..3_usize
    ) {
        let one = decision(recommendation, rating, good, pieces);
        let asked = DecideWords { label: "days on the pin", outcome, other: 0, present: 1, doubt, span: 9.0 };
        let told = decide::sentence(&one, &asked);
        holds(&told, may(excludes_zero(rating)))?;
        // what a review opens with is a part of the answer and adds nothing
        prop_assert!(told.starts_with(&first_sentences(&told)));
    }

    #[test]
    fn the_page_for_a_studio(
        recommendation in recommendations(), outcome in outcomes(), rating in intervals(), good in intervals()
    ) {
        let (one, words) = (decision(recommendation, rating, good, 5), studio(outcome));
        let tangled = handout::answer(&one, &words).join(" ");
        holds(&tangled, may(false))?;
        prop_assert!(!tangled.contains(char::is_numeric), "{}", tangled);
        let one = DecisionResult { tangled_with: Vec::new(), ..one };
        let answer = handout::answer(&one, &words);
        let is_open = !excludes_zero(rating);
        // “each goes from worse to better” says that the range does
        let told = answer.join(" ").replace("Each goes from worse to better", "…");
        holds(&told, may(!is_open))?;
        prop_assert_eq!(answer.iter().any(|told| told.contains("leave it open")), is_open);
        let rest = [
            handout::would_do(&one), handout::cannot_tell(&one, &words), handout::copy_it(&one, &words), vec![handout::rated(&words)],
        ];
        rest.iter().flatten().try_for_each(|told| holds(told, may(false)))?;
    }

    #[test]
    fn what_holds_for_all_makers(
        common in intervals(), each in prop::collection::vec(intervals(), 2..5), verdict in 0..3_usize, outcome in outcomes()
    ) {
        let verdict = match verdict {
            0 => MakersVerdict::Differs,
            1 if excludes_zero(common) => MakersVerdict::HoldsForAll,
            _ => MakersVerdict::CannotTell,
        };
        let of_maker = |(at, own): (usize, &Interval)| MakerEffect {
            maker: format!("maker {at}"),
            estimate: own.estimate,
            low: own.low,
            high: own.high,
            df: 20.0,
            used: 20,
            lots: 3,
        };
        let one = EffectAcrossMakers {
            factor: "hardness".to_owned(),
            unit: None,
            step: 3.0,
            verdict,
            estimate: common.estimate,
            low: common.low,
            high: common.high,
            p: 0.1,
            q: 0.1,
            p_differs: 0.1,
            q_differs: 0.1,
            list: each.iter().enumerate().map(of_maker).collect(),
            sentence: String::new(),
        };
        let label = EffectLabel { label: "hardness".to_owned(), higher_is: None };
        let told = makers::effect(&one, &label, outcome);
        let is_any = excludes_zero(common) || each.iter().any(|own| excludes_zero(*own));
        holds(&told, may(is_any))?;
        holds(&makers::answer(&[], &[(one, label)]), may(verdict != MakersVerdict::CannotTell))?;
    }

    #[test]
    fn what_has_changed_since(more in (-3..4_i64, -3..4_i64), before in 0..5_usize, now in 0..5_usize, many in 0..12_usize) {
        let words = ["clear", "leaning", "negligible", "open", "tangled"];
        let change = ChangedAnswer {
            question: "factors".to_owned(),
            about: "hardness".to_owned(),
            before: words[before].to_owned(),
            now: words[now].to_owned(),
        };
        let grown = Grown {
            last_day: None, more_pieces: more.0, more_reeds: more.1, new_lots: Vec::new(),
        };
        let told = since::sentences(&grown, &[], &vec![change; many]);
        told.iter().try_for_each(|told| holds(told, may(false)))?;
    }
}
