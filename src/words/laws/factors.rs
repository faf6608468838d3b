//! The laws for what went with the rating, with losses and with wearing out.

use proptest::prelude::*;

use super::{estimated, holds, intervals, judged, may, outcomes};
use crate::catalogue::Stage;
use crate::finding::{AskedAgain, FactorResult, Interval, Spread, SweetSpot, TrueStep, Verdict};
use crate::words::again;
use crate::words::factors::{self as words, FactorWords, OutcomeWords, excludes_zero};
use crate::words::life::hazards::{self, HazardWords, ToldFactor};
use crate::words::losses::factors::{self as losses, LossWords};
use crate::words::{spread, sweet_spot};

pub fn result(effect: Interval, verdict: Verdict) -> FactorResult {
    FactorResult {
        factor: "scoring".to_owned(),
        stage: Stage::Profile,
        kind: "number".to_owned(),
        level: None,
        verdict,
        estimate: Some(effect.estimate),
        low: Some(effect.low),
        high: Some(effect.high),
        p: Some(0.2),
        q: Some(0.3),
        df: None,
        step: Some(3.0),
        unit: None,
        scope: "within lots".to_owned(),
        between: None,
        p_levels: None,
        sweet_spot: None,
        worst_at: None,
        good_per_ten: None,
        spoilage: None,
        reference: None,
        adjusted_for: Vec::new(),
        tangled_with: if verdict == Verdict::Tangled {
            vec!["shape".to_owned()]
        } else {
            Vec::new()
        },
        kept_share: Some(0.1),
        true_step: None,
        spread: None,
        asked_again: AskedAgain::default(),
        stability: None,
        used: 40,
        left_out: Vec::new(),
        not_modelled: None,
        sentence: String::new(),
    }
}

/// Any factor: number or choice, with and without a unit, in any scope, fitted or not.
fn results() -> impl Strategy<Value = (FactorResult, Interval)> {
    let shape = (any::<bool>(), any::<bool>(), 0..3_usize, 1..3_usize, 0..10_u8);
    (judged(), shape).prop_map(|((effect, verdict), (is_choice, has_unit, scope, used, gone))| {
        let mut one = result(effect, verdict);
        one.scope = ["within lots", "between lots", "no lots"][scope].to_owned();
        one.used = used;
        one.unit = has_unit.then(|| "mm".to_owned());
        if is_choice {
            let (level, reference) = ("crosshatch".to_owned(), "none".to_owned());
            (one.level, one.reference, one.step) = (Some(level), Some(reference), None);
        }
        if gone == 0 {
            (one.estimate, one.low, one.high) = (None, None, None);
            one.not_modelled = Some("fewer than eight rated reeds have it".to_owned());
            one.verdict = Verdict::Open;
        }
        (one, effect)
    })
}

fn factor_words(outcome: OutcomeWords, softer: bool) -> FactorWords<'static> {
    let higher_is = softer.then_some("softer");
    FactorWords { label: "hardness", higher_is, lots: 5, worthwhile: 0.5, outcome }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn what_went_with_the_rating(
        (one, effect) in results(), outcome in outcomes(), softer in any::<bool>()
    ) {
        let told = words::sentence(&one, &factor_words(outcome, softer));
        holds(&told, may(excludes_zero(effect)))?;
        let answer = words::answer(&[(one.clone(), "hardness".to_owned())], outcome);
        holds(&answer, may(one.verdict.stands_out()))?;
        holds(&words::caveats(&[(one, "hardness".to_owned())], &[], words::Lots::TooSmall).join(" "), may(true))?;
    }

    #[test]
    fn a_best_value_in_the_middle(
        (one, _) in results(), outcome in outcomes(), ends in (any::<bool>(), any::<bool>()), drop in intervals()
    ) {
        let spot = SweetSpot {
            at: 10.0,
            low: ends.0.then_some(8.0),
            high: ends.1.then_some(12.0),
            p_bend: 0.001,
            q_bend: None,
            unbounded: !(ends.0 && ends.1),
            spline: None,
            far_end: 4.0,
            change_to_far_end: drop,
        };
        let best = sweet_spot::BestValue { spot, by_spline: ends.0 };
        for turn in [
            sweet_spot::Turn::Best(Box::new(best)),
            sweet_spot::Turn::Worst { at: 10.0 },
            sweet_spot::Turn::Uneven,
        ] {
            holds(&sweet_spot::sentence(&one, &factor_words(outcome, false), &turn), may(true))?;
        }
    }

    #[test]
    fn the_same_question_asked_in_other_ways(
        (one, _) in results(), outcome in outcomes(), other in intervals(), flattered in any::<bool>()
    ) {
        let (asked, other) = (factor_words(outcome, true), estimated(other));
        for told in [
            again::survivors(&one, &asked, other, flattered),
            again::good_is_opposite(&one, &asked, other),
            again::good_is_little(&one, &asked, other),
            again::good_is_more(&one, &asked, other),
            again::imputed_is_open(other),
            again::imputed_is_more(other),
        ] {
            // “flatters what spoils the weak ones” is about which reeds are seen
            holds(&told.replace("may flatter what spoils the weak ones", "…"), may(true))?;
        }
        let step = TrueStep {
            estimate: other.estimate, low: other.low, high: other.high, reliability: 0.8, pieces: 12,
        };
        holds(&spread::corrected(&step, 12), may(false))?;
    }

    #[test]
    fn how_even_the_reeds_are((one, _) in results(), (ratio, width) in (0.1..4.0_f64, 1.01..3.0_f64)) {
        let found = Spread { ratio, low: ratio / width, high: ratio * width, p: 0.01, q: None };
        holds(&spread::sentence(&one, &factor_words(OutcomeWords::default(), true), &found), may(true))?;
    }

    #[test]
    fn what_went_with_losses((one, effect) in results(), odds in 0.1..6.0_f64, lots in 0..3_usize) {
        let odds = estimated(Interval { estimate: odds, low: odds / 2.0, high: odds * 2.0 });
        let asked = LossWords {
            label: "hardness", higher_is: None, lots, lost: 1, odds: one.estimate.map(|_| odds),
        };
        holds(&losses::sentence(&one, &asked), may(excludes_zero(effect)))?;
        holds(&losses::answer(&[(&one, "hardness", None)]), may(one.verdict.stands_out()))?;
    }

    #[test]
    fn what_went_with_wearing_out(
        (one, effect) in results(), in_hours in any::<bool>(), grows in prop::option::of(any::<bool>())
    ) {
        // the estimate is the logarithm of the ratio
        let [estimate, low, high] = [effect.estimate, effect.low, effect.high].map(f64::exp);
        let ratio = one.estimate.map(|_| Interval { estimate, low, high });
        let asked = HazardWords {
            label: "hardness", higher_is: None, lots: 4, retired: 1, ratio, in_hours, grows,
        };
        holds(&hazards::sentence(&one, &asked), may(one.verdict.stands_out()))?;
        let told = ToldFactor { result: &one, label: "hardness", higher_is: None, ratio };
        holds(&hazards::answer(&[told]), may(one.verdict.stands_out()))?;
    }
}
