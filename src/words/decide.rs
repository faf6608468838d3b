//! Sentences about whether a practice should change.

use super::digits::{change, count, decimals, number, percent, plural};
use super::factors::{ModelWords, OutcomeWords, capitalised};
use super::given::given;
use super::lists::{and, few, name};
use super::spelling::did_you_mean;
use crate::finding::{
    CandidateResult, DecisionResult, Interval, PracticeValue, Recommendation, TrialNeeded,
};
use crate::whole;

/// The axis of the lower panel.
pub const GOOD_AXIS: &str = "good reeds of ten pieces";
/// Stands in the lower panel where it cannot be told of any candidate.
pub const NOT_KNOWN: &str = "not known for any choice";
/// Beside a candidate of which the log knows little.
pub const THIN: &str = "thin";
/// In the key of the picture.
pub const PRESENT: &str = "present practice";
/// What has to stand under `[decide]`, or on the command line.
pub const TAKES_A_FACTOR: &str = "It takes the name of a practice behind the log, as in: canewright decide my_log forming_days; or a \
                                  table such as [decide.gouge_center_mm] in study.toml.";

/// Why the log alone does not settle it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// Not to be told from something else.
    Tangled,
    /// Nothing compares reeds of the same lot.
    NoLots,
    /// All reeds are of one lot.
    OneLot,
    /// The best of the candidates has too few pieces or lots.
    Thin,
    /// The rating and the count of good reeds point to different sides.
    Contradiction,
    /// What goes from lot to lot points the other way than what goes within lots.
    LotsDisagree,
    /// The log is too small for the difference.
    TooLittle,
}

/// What a sentence needs to know beside the result.
#[derive(Debug, Clone, Copy)]
pub struct DecideWords<'a> {
    /// `days on the pin`
    pub label: &'a str,
    pub outcome: OutcomeWords,
    /// Place of the candidate that the sentence holds against the present one.
    pub other: usize,
    pub present: usize,
    pub doubt: Option<Doubt>,
    /// How far apart two ratings can be.
    pub span: f64,
}

/// `28 days`, `“crosshatch”`
pub fn value(value: &PracticeValue, unit: Option<&str>) -> String {
    match (value, unit) {
        (PracticeValue::Number(value), Some(unit)) => {
            let unit = if *value == 1.0 { unit.strip_suffix('s').unwrap_or(unit) } else { unit };
            format!("{} {unit}", given(*value))
        }
        (PracticeValue::Number(value), None) => given(*value),
        (PracticeValue::Kind(kind), _) => format!("“{}”", name(kind)),
    }
}

/// The value alone, for a table or a picture.
pub fn plain_value(value: &PracticeValue) -> String {
    match value {
        PracticeValue::Number(value) => given(*value),
        PracticeValue::Kind(kind) => kind.clone(),
    }
}

pub fn recommendation(recommendation: Recommendation) -> &'static str {
    match recommendation {
        Recommendation::Switch => "switch",
        Recommendation::Stay => "stay",
        Recommendation::TryItFirst => "try it first",
    }
}

/// What to do, by how much, how sure, on how much, at what price, and what would settle it.
pub fn sentence(result: &DecisionResult, words: &DecideWords) -> String {
    let is_tangled = !result.tangled_with.is_empty();
    let parts = [
        Some(advice(result, words)),
        words.doubt.map(|doubt| doubted(doubt, result)),
        evidence(result, words),
        (!is_tangled).then(|| regret(result, words)),
        price(result, words),
        result.trial.map(|trial| settles(&trial, result, words.outcome)),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

fn advice(result: &DecisionResult, words: &DecideWords) -> String {
    let subject = capitalised(words.label);
    let unit = result.unit.as_deref();
    let now = value(&result.current, unit);
    match (result.recommendation, &result.to) {
        (Recommendation::Switch, Some(to)) => {
            format!("{subject}: switch from {now} to {}.", value(to, unit))
        }
        (Recommendation::TryItFirst, Some(to)) => {
            format!("{subject}: try it first, {} against the present {now}.", value(to, unit))
        }
        _ => format!("{subject}: stay at {now}."),
    }
}

fn doubted(doubt: Doubt, result: &DecisionResult) -> String {
    match doubt {
        Doubt::Tangled => format!(
            "It is tangled with {}, so the log cannot say what it does alone.",
            and(&result.tangled_with)
        ),
        Doubt::NoLots => "The log does not compare reeds of the same lot, so the practice cannot be told from the cane."
            .to_owned(),
        Doubt::OneLot => {
            "All rated reeds are of one lot; whether it holds in another the log cannot say.".to_owned()
        }
        Doubt::Thin => "Too few pieces or lots were made that way.".to_owned(),
        Doubt::Contradiction => {
            "The rating and the number of good reeds do not point the same way.".to_owned()
        }
        Doubt::LotsDisagree => {
            "From lot to lot it went the other way than among reeds of the same lot.".to_owned()
        }
        Doubt::TooLittle => "The log alone cannot settle it.".to_owned(),
    }
}

fn interval(estimate: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<Interval> {
    Some(Interval { estimate: estimate?, low: low?, high: high? })
}

/// The chance rests on the marks and the losses together, which may lean another way than the count of good reeds alone.
fn told_chance(chance: f64, counted: Option<f64>) -> String {
    let against = counted.is_some_and(|counted| (counted > 0.0) != (chance > 0.5));
    let though = if against { ", though the count alone leans the other way" } else { "" };
    format!(
        "; by marks and losses together the chance that this gives more good reeds is {}{though}",
        percent(chance)
    )
}

/// How both outcomes moved, how likely it is better, and on how much that rests.
fn evidence(result: &DecisionResult, words: &DecideWords) -> Option<String> {
    let other = result.candidates.get(words.other).filter(|_| words.other != words.present)?;
    let unit = result.unit.as_deref();
    let rating = interval(other.difference, other.diff_low, other.diff_high)?;
    let good = interval(other.good_difference, other.good_diff_low, other.good_diff_high);
    let good = good
        .map_or(String::new(), |good| format!(" and good reeds of ten pieces by {}", change(good)));
    let among = if result.scope == "within lots" { " among reeds of the same lot" } else { "" };
    let chance =
        other.p_better.map_or(String::new(), |chance| told_chance(chance, other.good_difference));
    let rests = format!(
        "That rests on {}; {} made {}, in {}.",
        rests_on(result),
        were(other.pieces),
        about(other, unit),
        plural(other.lots, "lot", "lots"),
    );
    let (now, then) = (value(&result.current, unit), value(&other.value, unit));
    // a range from end to end of the scale is none
    if rating.low <= -words.span && rating.high >= words.span {
        return Some(format!(
            "How far {} moves from {now} to {then} these reeds do not say. {rests}",
            words.outcome.subject()
        ));
    }
    Some(format!(
        "From {now} to {then} {} moved by {}{}{good}{among}{chance}. {rests}",
        words.outcome.subject(),
        change(rating),
        words.outcome.direction(rating),
    ))
}

fn rests_on(result: &DecisionResult) -> String {
    let reeds = plural(result.used, "reed", "reeds");
    if result.lots == 0 {
        reeds
    } else {
        format!("{reeds} in {}", plural(result.lots, "lot", "lots"))
    }
}

fn were(pieces: usize) -> String {
    format!("{} {}", plural(pieces, "piece", "pieces"), if pieces == 1 { "was" } else { "were" })
}

fn about(candidate: &CandidateResult, unit: Option<&str>) -> String {
    match candidate.value {
        PracticeValue::Number(_) => format!("at about {}", value(&candidate.value, unit)),
        PracticeValue::Kind(_) => format!("with {}", value(&candidate.value, unit)),
    }
}

/// `If it is the wrong choice, …`
fn regret(result: &DecisionResult, words: &DecideWords) -> String {
    let reeds = |regret: f64| {
        if regret < 0.05 { "under 0.1".to_owned() } else { number(regret, 1) }
    };
    let worth = match result.recommendation {
        Recommendation::Stay => {
            format!(
                ", less than what would be worth changing for ({})",
                given_or_rounded(result.worthwhile)
            )
        }
        _ => String::new(),
    };
    if words.other == words.present {
        return format!(
            "Staying may lose {} good reeds of ten pieces on average.",
            reeds(result.regret_stay)
        );
    }
    let switching = format!("{} by switching", reeds(result.regret_switch));
    format!(
        "As far as the log tells, {} good reeds of ten pieces are lost on average by staying and {switching}{worth}.",
        reeds(result.regret_stay)
    )
}

fn given_or_rounded(value: f64) -> String {
    if value < 0.05 { "under 0.1".to_owned() } else { number(value, 1) }
}

/// Longer waiting and a fuller rack, for days of forming.
fn price(result: &DecisionResult, words: &DecideWords) -> Option<String> {
    result.to.as_ref()?;
    let (now, then) = (result.candidates.get(words.present)?, result.candidates.get(words.other)?);
    let (days_now, days_then) = (now.waiting_days?, then.waiting_days?);
    let apart = (days_then - days_now).abs();
    let longer = if days_then > days_now { "longer" } else { "less" };
    let waits = format!(
        "A piece then waits {} {longer}",
        value(&PracticeValue::Number(apart), Some("days"))
    );
    let rack = now.on_the_rack.zip(then.on_the_rack).zip(result.pieces_in_30_days).map(|((now, then), pace)| {
        let pace = number(pace, decimals(pace / 5.0).min(1));
        format!(
            ", and at the present {pace} pieces in 30 days about {} lie on the rack instead of about {}",
            count(whole::part(then.round())),
            count(whole::part(now.round()))
        )
    });
    Some(format!("{waits}{}.", rack.unwrap_or_default()))
}

fn settles(trial: &TrialNeeded, result: &DecisionResult, outcome: OutcomeWords) -> String {
    let of_what = if outcome.is_distance { "points of distance" } else { "rating points" };
    format!(
        "A trial of {} in blocks of a lot, half of them each way, would find a difference of {} {of_what} four times in five: \
         canewright trial plan LOG --factor {}.",
        plural(whole::size(trial.pieces), "piece", "pieces"),
        given(trial.difference),
        name(&result.factor)
    )
}

/// What the log cannot speak about.
pub fn not_seen(
    label: &str,
    values: &[String],
    range: Option<[f64; 2]>,
    unit: Option<&str>,
) -> String {
    let unit = unit.map_or(String::new(), |unit| format!(" {unit}"));
    let is_are = if values.len() == 1 { "is" } else { "are" };
    let seen = match range {
        Some([low, high]) => format!("the log saw {} to {}{unit}", given(low), given(high)),
        None => "no piece of the log was made so".to_owned(),
    };
    format!(
        "{}: {} {is_are} not judged: {seen}, and nothing is foretold beyond that.",
        capitalised(label),
        few(values)
    )
}

pub fn without_dates(label: &str) -> String {
    format!(
        "The log has no dates, so the present practice in {label} is the middle of all pieces, and not of the latest."
    )
}

/// What a reader must know about every such answer.
pub const FROM_A_LOG: &str = "From a log one sees what went together. What nobody wrote down may have moved both the practice and the \
                              reeds; a trial in which chance decides is the only way round that.";

pub fn refused(found: &str, takes: &str) -> String {
    format!("{found} {takes}")
}

pub fn no_factor(named: &str, known: &[String]) -> String {
    format!(
        "The log has no practice “{}”.{} It has: {}.",
        name(named),
        did_you_mean(named, known),
        and(known)
    )
}

pub fn played(header: &str) -> String {
    format!("“{}” is noted when the finished reed is played, and nobody decides it.", name(header))
}

pub fn nothing_named() -> String {
    "The study file names no practice under [decide], and the log has no days on the pin."
        .to_owned()
}

pub fn only_the_present(label: &str, present: &str, not_seen: &[String]) -> String {
    let beyond = if not_seen.is_empty() {
        String::new()
    } else {
        format!(
            "; {} {} not seen in the log",
            few(not_seen),
            if not_seen.len() == 1 { "was" } else { "were" }
        )
    };
    format!(
        "{}: there is nothing to hold against the present {present}{beyond}.",
        capitalised(label)
    )
}

/// A sentence from a reason that begins with a label.
pub fn not_modelled(why: &str) -> String {
    format!("{}.", capitalised(why.trim_end_matches('.')))
}

pub fn title(label: &str) -> String {
    format!("{}: what each choice gives", capitalised(label))
}

/// Which of a decision's tables.
pub const AGAINST: &str = "_against_present";
pub const PRICE: &str = "_support";

pub fn table_title(label: &str, what: &str) -> String {
    let what = match what {
        AGAINST => "against the present practice",
        PRICE => "what speaks for each choice, and its price",
        _ => "what each choice gives",
    };
    format!("{}: {what}", capitalised(label))
}

/// The models in words.
pub fn model(
    models: ModelWords,
    outcome: OutcomeWords,
    (bends, good_is_mixed): (bool, bool),
    adjusted_for: &[String],
) -> String {
    let rating = if models.is_mixed { "a linear mixed model" } else { "least squares" };
    let shape = if bends { "a parabola" } else { "a straight line, or one level a kind" };
    let good = if good_is_mixed {
        "a logistic model with lots as random intercepts"
    } else {
        "a logistic model with Firth's penalty"
    };
    let adjusted = if adjusted_for.is_empty() {
        "Nothing else is adjusted for".to_owned()
    } else {
        format!("Adjusted for: {}", and(adjusted_for))
    };
    let lots = if models.within_lots { " as deviations from the mean of the lot" } else { "" };
    format!(
        "{} by {rating}, good or not of each piece by {good}; the practice is {shape}{lots}. {adjusted}. Means are over all pieces \
         started, had each had the value; differences from the present practice hold for all choices together (95 %). What is \
         lost on average is counted in good reeds per ten pieces, over 4 000 joint draws of the effects on the rating and on \
         spoilage, each drawn towards no effect as a correlation of about 0.3 beforehand would.",
        capitalised(outcome.subject())
    )
}

pub fn assumptions() -> Vec<String> {
    vec![
        "What is adjusted for is enough: nothing that was not written down moves both the practice and the reeds.".to_owned(),
        "A piece that is made another way becomes like the pieces that were made so.".to_owned(),
        "Beforehand a practice is as likely to help as to harm, and seldom does much (a planning value).".to_owned(),
    ]
}

pub fn sources() -> Vec<String> {
    [
        "Lane & Nelder 1982, Biometrics 38, 613–621",
        "Dunnett 1955, J. American Statistical Association 50, 1096–1121",
        "Hothorn, Bretz & Westfall 2008, Biometrical Journal 50, 346–363",
        "Lindley & Smith 1972, J. Royal Statistical Society B 34, 1–41",
        "Little 1961, Operations Research 9, 383–387",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// The picture in words.
pub fn description(result: &DecisionResult, label: &str) -> String {
    let unit = result.unit.as_deref();
    let one = |candidate: &CandidateResult| {
        let good = candidate
            .good_per_ten
            .map_or(String::new(), |good| format!(", {} good reeds of ten", number(good, 1)));
        let rating = candidate
            .rating
            .map_or("no estimate".to_owned(), |rating| format!("rating {}", number(rating, 1)));
        format!("{}: {rating}{good}", value(&candidate.value, unit))
    };
    let all: Vec<String> = result.candidates.iter().map(one).collect();
    format!("Expected rating and good reeds of ten pieces by {label}. {}.", all.join("; "))
}

pub const READING: &str = "Above, each grey dot is a rated reed, and the marks show the rating to expect at each choice; below, how many of ten \
                           pieces to expect to become good reeds, spoiled ones counted. The lines are 95 % ranges. The ring is the \
                           present practice; a small pale mark, called thin, stands on too few pieces or lots to be recommended.";
