//! What holds of every sentence, whatever the numbers: outside of trials nothing is said to cause anything, nothing that is open is said to be nothing, and no
//! direction is claimed that the interval does not hold.

mod changes;
mod factors;
mod measured;
mod trials;

use std::sync::LazyLock;

use proptest::prelude::*;
use regex::Regex;

use crate::finding::{Estimated, Interval, Verdict};
use crate::words::factors::{OutcomeWords, excludes_zero};

/// Verbs and phrases that make one thing the cause of another.
static CAUSES: LazyLock<Regex> = LazyLock::new(|| {
    pattern(
        "makes?|improv\\w*|caus(e|es|ed|ing)|because( of)?|leads? to|led to|due to|thanks to|owing to|raises?|raised|lowers|lowered|increas\\w*|decreas\\w*|\
         reduc(e|es|ed|ing)|worsen\\w*|harms?|harmed|helps|results? in|affects?|influenc\\w*|produces?|prevents?|spoils",
    )
});
/// What only an interval that lies within the smallest difference worth having could say, and not even that one says.
static NOTHING: LazyLock<Regex> = LazyLock::new(|| {
    pattern(
        "no (real )?(difference|effect|change|influence)|do(es)? not (matter|differ|change|move)|did not (matter|differ|change|move)|makes? no odds|is the same|are the same|\
         equally (good|well|long)|unchanged|nothing to do with",
    )
});
/// Words that say which way.
static DIRECTION: LazyLock<Regex> = LazyLock::new(|| {
    pattern(
        "better|worse|higher|longer|less long|more even|less even|more pieces|fewer pieces|outdo\\w*|is best|best value|wins?",
    )
});
/// Where such words claim nothing: a question that is called open, the scale, the step.
static UNCLAIMED: LazyLock<Regex> = LazyLock::new(|| {
    pattern(
        "whether [^.:;]* is open|whether [^.:;]* holds for all or differs|which kind is rated higher is open|lower is better|lower being better|of a higher reading|\
         the same (lot|reeds?|pieces?|player|maker|way)|reading error makes up|waits [0-9.]+ days? longer|more good reeds is|ten more pieces on the same edge|because a simple arch puts it elsewhere",
    )
});

fn pattern(words: &str) -> Regex {
    Regex::new(&format!("(?i)(\\b|^)({words})(\\b|$)")).expect("a pattern")
}

fn without_the_unclaimed(sentence: &str) -> String {
    UNCLAIMED.replace_all(sentence, "…").into_owned()
}

/// What a sentence may say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum May {
    /// Which way, and how far.
    SayWhichWay,
    /// Only that it cannot say.
    LeaveOpen,
}

fn may(says_which_way: bool) -> May {
    if says_which_way { May::SayWhichWay } else { May::LeaveOpen }
}

fn holds(sentence: &str, may: May) -> Result<(), TestCaseError> {
    let claimed = without_the_unclaimed(sentence);
    let found = |words: &Regex| words.find(&claimed).map(|found| found.as_str().to_owned());
    prop_assert_eq!(found(&CAUSES), None, "a cause in: {}", sentence);
    if may == May::LeaveOpen {
        prop_assert_eq!(found(&NOTHING), None, "nothing claimed in: {}", sentence);
        prop_assert_eq!(found(&DIRECTION), None, "a direction in: {}", sentence);
    }
    Ok(())
}

fn intervals() -> impl Strategy<Value = Interval> {
    (-4.0..4.0_f64, 0.01..3.0_f64, 0.01..3.0_f64).prop_map(|(estimate, below, above)| Interval {
        estimate,
        low: estimate - below,
        high: estimate + above,
    })
}

fn estimated(interval: Interval) -> Estimated {
    Estimated { estimate: interval.estimate, low: interval.low, high: interval.high }
}

/// An interval and a verdict that it may have: one that stands out leaves out zero.
fn judged() -> impl Strategy<Value = (Interval, Verdict)> {
    (intervals(), 0..5_usize).prop_map(|(interval, pick)| {
        let all = [
            Verdict::Open,
            Verdict::Negligible,
            Verdict::Tangled,
            Verdict::Leaning,
            Verdict::Clear,
        ];
        let verdict = all[pick];
        let is_held = excludes_zero(interval) || !verdict.stands_out();
        (interval, if is_held { verdict } else { Verdict::Open })
    })
}

fn outcomes() -> impl Strategy<Value = OutcomeWords> {
    prop_oneof![
        Just(OutcomeWords::default()),
        Just(OutcomeWords { lower_is_better: true, is_distance: false }),
        Just(OutcomeWords { lower_is_better: true, is_distance: true }),
    ]
}

#[test]
fn the_laws_know_a_cause_a_nothing_and_a_direction_when_they_see_one() {
    for bad in [
        "Longer forming improves reeds.",
        "Hardness makes the reeds better.",
        "More were lost because of the knife.",
        "Longer on the pin raised the rating by 0.5.",
    ] {
        assert!(holds(bad, May::SayWhichWay).is_err(), "{bad}");
    }
    for bad in [
        "Shape: open. There is no difference.",
        "Shape: open. Broad reeds were rated better.",
        "Shape: open. It does not matter.",
        "Ann rates higher than Ben.",
    ] {
        assert!(holds(bad, May::LeaveOpen).is_err(), "{bad}");
    }
    for good in [
        "Whether Ann rates higher than Ben is open: +0.2 (−0.1 to +0.5) points on the same reeds.",
        "Reading error makes up 10 % of the spread among pieces.",
    ] {
        assert!(holds(good, May::LeaveOpen).is_ok(), "{good}");
    }
}
