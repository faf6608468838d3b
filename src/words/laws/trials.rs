//! The laws for a trial that chance assigned: a cause may be named there, and there too only where the interval holds it.

use proptest::prelude::*;

use super::{CAUSES, holds, judged, may};
use crate::finding::{TrialComparison, TrialLook, Verdict};
use crate::words::trial::read::{TrialWords, comparison};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn one_arm_against_another((effect, verdict) in judged(), lower_is_better in any::<bool>()) {
        let look = TrialLook {
            number: 1, planned: 1, early: false, foreseen: true, nominal_level: 0.05, reached: false, false_alarm: None,
        };
        let words = TrialWords {
            factor: "days on the pin",
            worthwhile: 0.5,
            lower_is_better,
            is_distance: false,
            look: &look,
            rated: 1,
            blocks: 1,
            expected: 20.0,
            plan_unchanged: true,
        };
        let one = TrialComparison {
            arm: "28 days".to_owned(),
            instead_of: "14 days".to_owned(),
            estimate: effect.estimate,
            low: effect.low,
            high: effect.high,
            standard_error: 1.0,
            df: 20.0,
            p: 0.1,
            verdict,
            as_made: None,
            after_looks: None,
            good_per_ten: None,
            good_per_ten_over_blocks: None,
            sentence: String::new(),
        };
        let told = comparison(words, &one);
        match verdict {
            Verdict::Open | Verdict::Tangled => holds(&told, may(false))?,
            Verdict::Negligible => prop_assert!(told.contains("no difference worth having"), "{}", told),
            Verdict::Clear | Verdict::Leaning => {
                let cause = CAUSES.find(&told).map(|found| found.as_str());
                let expected = if effect.estimate > 0.0 { "raised" } else { "lowered" };
                prop_assert_eq!(cause, Some(expected), "{}", told);
            }
        }
    }
}
