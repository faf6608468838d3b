//! The words of the page for a studio: short sentences, no term of statistics, and the range beside every difference.

use super::decide::{plain_value, value};
use super::digits::{change, count, count_in_words, number, plural};
use super::factors::{OutcomeWords, capitalised};
use super::given::given;
use super::lists::{and, few, or};
use crate::finding::{CandidateResult, DecisionResult, Interval, PracticeValue, Recommendation};
use crate::whole;

/// Pieces that one student can make in a term (common practice), and what so few can show.
pub const PIECES_OF_A_STUDENT: usize = 24;

/// What the sentences need beside the result.
#[derive(Debug, Clone, Copy)]
pub struct HandoutWords<'a> {
    /// `days on the pin`
    pub label: &'a str,
    pub outcome: OutcomeWords,
    pub scale: [f64; 2],
    pub good_at: f64,
    pub players: usize,
    /// Rating points that 24 pieces, half of them each way, show eight times in ten.
    pub shown_by_few: Option<f64>,
    pub makers: usize,
    /// Pieces that are neither rated nor known to be spoiled.
    pub unknown: usize,
}

/// More choices are not named one by one.
const MOST_NAMED: usize = 8;
/// So many choices are held against the present one.
const MOST_TOLD: usize = 4;

/// `Days on the pin: 5, 10 or 20?`
pub fn question(result: &DecisionResult, words: &HandoutWords) -> String {
    let values: Vec<String> = result.candidates.iter().map(|one| plain_value(&one.value)).collect();
    let shown = if values.len() > MOST_NAMED { few(&values) } else { or(&values) };
    format!("{}: {shown}?", capitalised(words.label))
}

/// Each other choice against the present one, the range first in line after the size; what is advised comes first.
pub fn answer(result: &DecisionResult, words: &HandoutWords) -> Vec<String> {
    let unit = result.unit.as_deref();
    let now = value(&result.current, unit);
    if !result.tangled_with.is_empty() {
        return vec![format!(
            "These reeds cannot tell the choices apart: the choice went together with {}.",
            and(&result.tangled_with)
        )];
    }
    let is_advised = |one: &&CandidateResult| Some(&one.value) == result.to.as_ref();
    let others = || result.candidates.iter().filter(|one| one.value != result.current);
    let first = others().filter(is_advised);
    let told = first.chain(others().filter(|one| !is_advised(one))).filter_map(|one| {
        let rating = difference(one.difference, one.diff_low, one.diff_high)?;
        let good = difference(one.good_difference, one.good_diff_low, one.good_diff_high);
        let good = good.map_or(String::new(), |good| {
            format!("; good reeds out of ten pieces by {}", change(good))
        });
        Some(format!(
            "With {} instead of {now} {} moved by {}{}{good}.",
            value(&one.value, unit),
            words.outcome.subject(),
            change(rating),
            words.outcome.direction(rating),
        ))
    });
    let mut told: Vec<String> = told.collect();
    let more = told.len().saturating_sub(MOST_TOLD);
    told.truncate(MOST_TOLD);
    if more > 0 {
        told.push(format!(
            "{} further {} in the review.",
            capitalised(&count_in_words(more)),
            if more == 1 { "choice stands" } else { "choices stand" }
        ));
    }
    if told.is_empty() {
        return told;
    }
    let reach = |one: &CandidateResult| one.diff_low.zip(one.diff_high);
    let is_open =
        result.candidates.iter().filter_map(reach).all(|(low, high)| low < 0.0 && high > 0.0);
    let open =
        is_open.then(|| "Each goes from worse to better, so these reeds leave it open.".to_owned());
    let range = "In brackets stands the range of differences that fits these reeds.".to_owned();
    told.into_iter().chain([range]).chain(open).collect()
}

fn difference(estimate: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<Interval> {
    Some(Interval { estimate: estimate?, low: low?, high: high? })
}

pub fn would_do(result: &DecisionResult) -> Vec<String> {
    let unit = result.unit.as_deref();
    let now = value(&result.current, unit);
    let to = result.to.as_ref().map(|to| value(to, unit));
    let first = match (result.recommendation, to) {
        (Recommendation::Switch, Some(to)) => format!(
            "I would change from {now} to {to}, and keep writing every piece down: if the new reeds do not hold up, change back."
        ),
        (Recommendation::TryItFirst, Some(to)) => {
            format!("I would not change yet. I would test {to} against {now} first, as below.")
        }
        _ if !result.tangled_with.is_empty() => {
            format!(
                "I would stay with {now} until the choice can be told from what went with it, as below."
            )
        }
        _ => format!(
            "I would stay with {now}. Nothing that was tried promises enough to change for."
        ),
    };
    vec![first]
}

pub fn cannot_tell(result: &DecisionResult, words: &HandoutWords) -> Vec<String> {
    let mut told = vec![
        format!(
            "Why. Nobody tossed a coin for the {}; whatever else changed along with it may be what you see.",
            words.label
        ),
        match words.makers {
            0 | 1 => "Your reeds. These come from one bench, its cane, its tools and its players."
                .to_owned(),
            makers => format!(
                "Your reeds. These come from the benches of {} makers, their cane, their tools and their players.",
                count_in_words(makers)
            ),
        },
    ];
    if !result.tangled_with.is_empty() {
        told.push(format!(
            "Which of two things it was. The choice went together with {}.",
            and(&result.tangled_with)
        ));
    }
    let thin: Vec<String> = result
        .candidates
        .iter()
        .filter(|one| one.thin)
        .map(|one| value(&one.value, result.unit.as_deref()))
        .collect();
    if !thin.is_empty() {
        told.push(format!("Much about {}: too few pieces were made so.", and(&thin)));
    }
    if words.unknown > 0 {
        told.push(format!(
            "What became of {} that nobody has rated yet.",
            plural(words.unknown, "piece", "pieces")
        ));
    }
    told
}

pub fn copy_it(result: &DecisionResult, words: &HandoutWords) -> Vec<String> {
    let unit = result.unit.as_deref();
    let now = value(&result.current, unit);
    let arms = match other(result) {
        Some(other) => format!("heads {}, tails {now}", value(&other.value, unit)),
        None => "heads the new way, tails the old".to_owned(),
    };
    let few = words.shown_by_few.map_or(String::new(), |points| {
        format!(
            " {} pieces show a gap of {} points, and seldom a smaller one.",
            count(PIECES_OF_A_STUDENT),
            number(points, 1)
        )
    });
    let many = result.trial.map_or(String::new(), |trial| {
        format!(
            " For a gap of {} points it takes about {}.",
            given(trial.difference),
            plural(whole::size(trial.pieces), "piece", "pieces")
        )
    });
    vec![
        format!(
            "Take pieces of one lot, as many as you can.{few}{many} Several students can share a test."
        ),
        format!("Toss a coin for every piece: {arms}. Do all else the same."),
        "Number the reeds. Whoever plays must not know which is which.".to_owned(),
        "Rate each reed at the same age, on the same scale. Write the spoiled ones down too."
            .to_owned(),
        "Draw every reed as a dot. Tell how many there were, and the range.".to_owned(),
    ]
}

/// The one to try, else the most different from the present one.
fn other(result: &DecisionResult) -> Option<&CandidateResult> {
    let tried = result.to.as_ref();
    let mut others = result.candidates.iter().filter(|one| one.value != result.current);
    match tried {
        Some(to) => others.find(|one| one.value == *to),
        None => others.next(),
    }
}

/// `Two players rated “overall” from 1 to 10; a reed is called good from 6.5.`
pub fn rated(words: &HandoutWords) -> String {
    let players = match words.players {
        0 => "The reeds were rated".to_owned(),
        1 => "One player rated the reeds".to_owned(),
        players => format!("{} players rated the reeds", capitalised(&count_in_words(players))),
    };
    let [low, high] = words.scale.map(given);
    let good = if words.outcome.lower_is_better { "up to" } else { "from" };
    let best = match (words.outcome.is_distance, words.outcome.lower_is_better) {
        (true, _) => "; what counts is how far a reed is from the ideal",
        (false, true) => "; lower is better",
        (false, false) => "",
    };
    format!(
        "{players} from {low} to {high}{best}. A reed is called good {good} {}.",
        given(words.good_at)
    )
}

pub fn chart_title(label: &str) -> String {
    format!("{}: every rated reed", capitalised(label))
}

pub fn chart_description(reeds: usize, label: &str) -> String {
    format!("{}, each a dot: {label} across, rating up.", plural(reeds, "reed", "reeds"))
}

pub const CHART_READING: &str = "Every dot is a reed that was rated; where several would lie on each other they stand side by side.";
/// What has to stand in the log.
pub const TAKES_A_PRACTICE: &str =
    "It takes a practice whose values differ, such as forming_days; name it behind the log.";
pub const COUNTS_TITLE: &str = "What became of the pieces";
/// Beside a choice that stands for its neighbours.
pub const ABOUT: &str = "about ";

/// `about 10`, `crosshatch`
pub fn choice(value: &PracticeValue) -> String {
    match value {
        PracticeValue::Number(_) => format!("{ABOUT}{}", plain_value(value)),
        PracticeValue::Kind(_) => plain_value(value),
    }
}

pub fn rests_on(pieces: usize, reeds: usize, lots: usize, days: Option<(&str, &str)>) -> String {
    let from_to =
        days.map_or(String::new(), |(first, last)| format!(", started from {first} to {last}"));
    let lots =
        if lots == 0 { String::new() } else { format!(" of {}", plural(lots, "lot", "lots")) };
    format!(
        "From a log of {}{lots}{from_to}; {} rated.",
        plural(pieces, "piece of cane", "pieces of cane"),
        plural(reeds, "reed", "reeds")
    )
}
