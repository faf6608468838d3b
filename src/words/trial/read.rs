//! Sentences about a trial that was read. What was allocated by chance may be called a cause.

use crate::finding::{Interval, TrialArmResult, TrialComparison, TrialLook, Verdict};
use crate::words::digits::{change, level, number, percent, plural, signed};
use crate::words::given::given;
use crate::words::lists::name;

pub const ASKED: &str = "What did the trial say?";

/// What the sentences need to know beside the numbers.
#[derive(Debug, Clone, Copy)]
pub struct TrialWords<'a> {
    /// `forming time`
    pub factor: &'a str,
    pub worthwhile: f64,
    pub lower_is_better: bool,
    pub is_distance: bool,
    pub look: &'a TrialLook,
    pub rated: usize,
    pub blocks: usize,
    /// Marks expected in all.
    pub expected: f64,
    pub plan_unchanged: bool,
}

impl TrialWords<'_> {
    fn subject(self) -> &'static str {
        if self.is_distance { "the distance from the ideal" } else { "the rating" }
    }

    /// What a change means where the direction is not the usual one.
    fn direction(self, estimate: f64) -> &'static str {
        match (self.lower_is_better, estimate < 0.0) {
            (true, true) => ", which is better here",
            (true, false) => ", which is worse here",
            _ => "",
        }
    }

    /// `31 reeds in 4 lots`
    fn rests_on(self) -> String {
        format!("{} in {}", plural(self.rated, "reed", "reeds"), plural(self.blocks, "lot", "lots"))
    }
}

/// The section's answer: whether the plan held, whether it is early, and the first comparison.
pub fn answer(words: TrialWords, comparisons: &[TrialComparison]) -> String {
    let changed = if words.plan_unchanged {
        ""
    } else {
        "The plan was changed after it was sealed, so this is no longer the trial that was planned. "
    };
    let early = if words.look.early {
        let expected = number(words.expected.max(words.rated as f64), 0);
        format!(
            "Read early, with {} of about {expected} expected marks: ",
            plural(words.rated, "mark", "marks")
        )
    } else {
        String::new()
    };
    let told: Vec<&str> = comparisons.iter().map(|one| one.sentence.as_str()).collect();
    let first = told.first().copied().unwrap_or_default();
    let first = if early.is_empty() { first.to_owned() } else { uncapitalised(first) };
    format!("{changed}{early}{first}")
}

/// The sentence that stands first begins with an arm's name, which keeps its own letters.
fn uncapitalised(sentence: &str) -> String {
    match sentence.strip_prefix("Whether ") {
        Some(rest) => format!("whether {rest}"),
        None => sentence.to_owned(),
    }
}

/// One arm against the one that it is compared with: the size, how sure it is, and the verdict.
pub fn comparison(words: TrialWords, one: &TrialComparison) -> String {
    let effect = Interval { estimate: one.estimate, low: one.low, high: one.high };
    let arms =
        format!("{} instead of {} ({})", name(&one.arm), name(&one.instead_of), words.factor);
    let (subject, rests_on) = (words.subject(), words.rests_on());
    let least = given(words.worthwhile);
    let direction = words.direction(one.estimate);
    match one.verdict {
        Verdict::Clear => format!(
            "{arms} {} {subject} by {}{direction}: clear, by more than the {least} that would be worth having; {rests_on}.",
            verb(effect),
            size(effect)
        ),
        Verdict::Leaning => format!(
            "{arms} {} {subject} by {}{direction}: leaning, it may be less than the {least} that would be worth having; \
             {rests_on}.",
            verb(effect),
            size(effect)
        ),
        Verdict::Negligible => format!(
            "{arms} made no difference worth having to {subject}: {}, within {least} either way; {rests_on}.",
            change(effect)
        ),
        Verdict::Open | Verdict::Tangled
            if !(effect.low.is_finite() && effect.high.is_finite()) =>
        {
            format!("{arms}: open, nothing can be said so early; {rests_on}.")
        }
        Verdict::Open | Verdict::Tangled => format!(
            "{arms}: open, the trial does not settle it. The difference in {subject} is {}; {rests_on}.",
            change(effect)
        ),
    }
}

fn verb(effect: Interval) -> &'static str {
    if effect.estimate < 0.0 { "lowered" } else { "raised" }
}

/// The change without its sign.
fn size(effect: Interval) -> String {
    if effect.estimate < 0.0 {
        level(Interval { estimate: -effect.estimate, low: -effect.high, high: -effect.low })
    } else {
        level(effect)
    }
}

/// What this look may decide, and what it costs.
pub fn look(look: &TrialLook) -> Option<String> {
    if let Some(false_alarm) = look.false_alarm {
        return Some(format!(
            "The plan allows no look before the end. Whoever reads now and again at the end, and stops at the first difference \
             that looks sure, is fooled in {} of trials in which nothing differs, not in {}: make and rate the rest, then read \
             again. The interval is the plain one and does not allow for a second reading.",
            percent(false_alarm),
            percent(look.nominal_level)
        ));
    }
    if look.planned < 2 {
        return None;
    }
    let place = if look.foreseen {
        format!("This is look {} of the {} that the plan allows.", look.number, look.planned)
    } else {
        format!(
            "The plan allows {} looks, none of them at this point; the interval allows for this one too.",
            look.planned
        )
    };
    let level = small_percent(look.nominal_level);
    let decided = match (look.early, look.reached) {
        (true, true) => format!(
            "A difference may end the trial now if its p value is {level} at most, and one is: by the plan the trial may end here."
        ),
        (true, false) => format!(
            "A difference may end the trial now only if its p value is {level} at most, and none is: go on to the end as planned."
        ),
        (false, _) => format!(
            "Because of the earlier looks a difference counts only if its p value is {level} at most, which the interval allows for."
        ),
    };
    Some(format!("{place} {decided}"))
}

/// `0.3 %`: a level far below one in a hundred keeps its digits.
fn small_percent(share: f64) -> String {
    let decimals = if share >= 0.01 { 1 } else { 2 };
    if share < 5e-5 {
        "under 0.01\u{202F}%".to_owned()
    } else {
        format!("{}\u{202F}%", number(100.0 * share, decimals))
    }
}

/// The comparison once more by what was made.
pub fn as_made(one: &TrialComparison) -> Option<String> {
    let made = one.as_made?;
    Some(format!(
        "Counted by what was made and not by what was allocated, {} instead of {} went with {} points. What was made otherwise \
         was not chosen by chance, so the comparison as allocated stands.",
        name(&one.arm),
        name(&one.instead_of),
        change(made)
    ))
}

/// Estimate and interval that allow for having stopped where the trial did.
pub fn after_looks(one: &TrialComparison) -> Option<String> {
    let found = one.after_looks?;
    Some(format!(
        "A trial that may stop early shows its differences too large. Allowing for that, {} instead of {} comes to {} points.",
        name(&one.arm),
        name(&one.instead_of),
        change(found)
    ))
}

/// Good reeds of ten pieces of every arm, and the differences.
pub fn good_reeds(arms: &[TrialArmResult], comparisons: &[TrialComparison]) -> Option<String> {
    let each: Vec<String> = arms
        .iter()
        .filter_map(|arm| Some(format!("{} {}", name(&arm.arm), level(arm.good_per_ten?))))
        .collect();
    if each.is_empty() {
        return None;
    }
    let apart: Vec<String> = comparisons
        .iter()
        .filter_map(|one| {
            let by = change(one.good_per_ten?);
            Some(format!("{} instead of {} {by}", name(&one.arm), name(&one.instead_of)))
        })
        .collect();
    let differences = match apart.len() {
        0 => String::new(),
        _ => format!("; {}", apart.join("; ")),
    };
    Some(format!(
        "Good reeds of ten pieces, spoiled ones counted as not good: {}{differences}.",
        each.join("; ")
    ))
}

/// How the pieces stand.
pub fn pieces(planned: usize, made: usize, rated: usize, spoiled: usize) -> String {
    let not_made = match planned - made.min(planned) {
        0 => String::new(),
        rest => format!(", {rest} not in the log yet"),
    };
    let lost = if spoiled == 0 { String::new() } else { format!(", {spoiled} spoiled") };
    format!(
        "Of {} of the plan {made} are in the log{not_made}: {rated} with a mark{lost}.",
        plural(planned, "piece", "pieces")
    )
}

/// The model in words.
pub fn model(random: bool, comparisons: usize, spoiled: &str) -> String {
    let blocks = if random {
        "lots as random intercepts (restricted maximum likelihood, errors and degrees of freedom by Kenward and Roger)"
    } else {
        "a level for each lot (least squares)"
    };
    let together = if comparisons > 1 {
        " The arms' intervals hold all together (multivariate t of the contrasts with one arm)."
    } else {
        ""
    };
    format!("Reed scores on the allocated arm and {blocks}. Spoiled pieces: {spoiled}.{together}")
}

pub const TITLE_OF_ARMS: &str = "The trial's reeds, by arm";
pub const TITLE_OF_DIFFERENCES: &str = "What each arm changed";
pub const READING_OF_ARMS: &str = "Each dot is a reed, in the arm it was allocated to; the bar above is the arm's mean over the lots, \
                                   thick for 50 % and thin for 95 %.";
pub const READING_OF_DIFFERENCES: &str = "The difference from the arm named after “instead of”; the thin line is what this look and all arms together \
                                          allow. The shaded band is too small to be worth having: an interval that lies wholly beyond \
                                          it settles the question.";

/// What the pictures show, for those who do not see them.
pub fn description(arms: &[TrialArmResult]) -> String {
    let each: Vec<String> = arms
        .iter()
        .map(|arm| {
            let reeds = plural(arm.rated, "mark", "marks");
            match arm.mean {
                Some(mean) => format!("{}: {} from {reeds}", name(&arm.arm), level(mean)),
                None => format!("{}: {reeds}", name(&arm.arm)),
            }
        })
        .collect();
    format!("{}.", each.join("; "))
}

pub fn description_of_differences(comparisons: &[TrialComparison]) -> String {
    let each: Vec<String> = comparisons
        .iter()
        .map(|one| {
            let [estimate, low, high] =
                [one.estimate, one.low, one.high].map(|value| signed(value, 2));
            format!(
                "{} instead of {}: {estimate} ({low} to {high})",
                name(&one.arm),
                name(&one.instead_of)
            )
        })
        .collect();
    format!("{}.", each.join("; "))
}
