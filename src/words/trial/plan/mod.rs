//! Sentences about the plan of a trial: what to make, what it would show, and what would do where it cannot work.

mod caveats;
mod refusals;

pub use caveats::caveats;
pub use refusals::*;

use crate::finding::TrialPlanSection;
use crate::whole;
use crate::words::digits::{count, count_in_words, number, percent, plural};
use crate::words::factors::OutcomeWords;
use crate::words::given::given;
use crate::words::lists::{and, name, or};

/// The question in a maker's words.
pub const ASKED: &str = "What should I try next, and how many pieces does it take?";

/// What sentences need to know beside the plan's numbers.
pub struct PlanWords<'a> {
    /// `days on the pin`
    pub label: &'a str,
    pub outcome: OutcomeWords,
    /// Where the lots come from.
    pub lots: LotsWords,
    pub why: WhyWords,
    pub untried: &'a [String],
    /// The kinds of the practice that the log holds, and its lots.
    pub known_kinds: &'a [String],
    pub known_lots: Vec<String>,
    pub present_elsewhere: Option<&'a str>,
    pub has_lots: bool,
}

/// Where the lots come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LotsWords {
    Named,
    AtHand,
    New,
}

/// Why these arms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhyWords {
    Given,
    Promising,
    Apart,
}

/// `14 days`, `1 day`, `1.28 mm`, `3`
pub fn value(value: f64, unit: Option<&str>) -> String {
    let unit = match unit {
        Some("days") if value == 1.0 => "day",
        Some("hours") if value == 1.0 => "hour",
        unit => unit.unwrap_or_default(),
    };
    format!("{} {unit}", given(value)).trim_end().to_owned()
}

/// A lot that is not bought yet.
pub fn new_lot(number: usize) -> String {
    format!("lot {number}")
}

/// `days on the pin: 10 days against 20 days`
pub fn title(study: &str, label: &str, arms: &[String]) -> String {
    let arms: Vec<String> = arms.iter().map(|arm| name(arm)).collect();
    let (present, others) = arms.split_first().map_or(("", &[][..]), |(p, o)| (p.as_str(), o));
    format!("{}: {label}, {present} against {}", name(study), or(others))
}

/// `8 times in 10`, `17 times in 20`
fn times(power: f64) -> String {
    let tenths = power * 10.0;
    let rounded = tenths.round();
    if (tenths - rounded).abs() < 0.05 && (1.0..10.0).contains(&rounded) {
        return format!("{} in 10", plural(whole::part(rounded), "time", "times"));
    }
    format!("with a chance of {}", percent(power))
}

/// `0.5 rating points`, `1 rating point`
fn points(value: f64, text: &str) -> String {
    format!("{text} rating {}", if value == 1.0 { "point" } else { "points" })
}

fn given_points(value: f64) -> String {
    points(value, &given(value))
}

/// What was reckoned has two digits behind the point at most.
fn reckoned_points(value: f64) -> String {
    points(f64::NAN, &number(value, if value < 9.95 { 2 } else { 1 }))
}

/// What to make, and what that would show.
pub fn answer(plan: &TrialPlanSection, words: &PlanWords) -> String {
    let lots = plan.blocks.len();
    let from = match (lots, each(plan)) {
        (1, _) => format!(" from one {}", block_word(plan, 1)),
        (_, Some(each)) => format!(
            ", {} from each of {} {}",
            count(each),
            count_in_words(lots),
            block_word(plan, lots)
        ),
        (_, None) => format!(" from {} {}", count_in_words(lots), block_word(plan, lots)),
    };
    format!(
        "Make {}{from}: {}. If {} by {}, such a trial shows it {}.",
        plural(plan.pieces, "piece", "pieces"),
        shares(plan, &name(words.label)),
        truly_differ(plan),
        given_points(plan.worthwhile),
        times(plan.power),
    )
}

/// `in every lot 6 with 7 days and 6 with 14 days (days on the pin)`
fn shares(plan: &TrialPlanSection, label: &str) -> String {
    let in_each = match (plan.blocks.len(), block_word(plan, 1)) {
        (1, _) => String::new(),
        (_, word) => format!("in every {word} "),
    };
    let arms: Vec<String> = plan.arms.iter().map(|arm| name(&arm.name)).collect();
    let is_whole = |pieces: usize| pieces.is_multiple_of(arms.len().max(1));
    if let Some(pieces) = each(plan).filter(|pieces| is_whole(*pieces)) {
        let with = |arm: &String| format!("{} with {arm}", count(pieces / arms.len().max(1)));
        return format!("{in_each}{} ({label})", and(&arms.iter().map(with).collect::<Vec<_>>()));
    }
    let all_whole = plan.blocks.iter().all(|block| is_whole(block.pieces));
    let about = if all_whole { "" } else { ", give or take one" };
    format!("{in_each}equally many with {} ({label}){about}", and(&arms))
}

fn truly_differ(plan: &TrialPlanSection) -> String {
    match (plan.arms.len(), plan.arms.iter().find(|arm| arm.present)) {
        (3.., Some(present)) => format!("one of them truly differs from {}", name(&present.name)),
        _ => "the two truly differ".to_owned(),
    }
}

fn block_word(plan: &TrialPlanSection, n: usize) -> &'static str {
    let has_makers = plan.blocks.iter().any(|block| block.maker.is_some());
    match (has_makers, n) {
        (false, 1) => "lot",
        (false, _) => "lots",
        (true, 1) => "lot of a maker",
        (true, _) => "lots of their makers",
    }
}

/// Pieces of each block, where they are alike.
fn each(plan: &TrialPlanSection) -> Option<usize> {
    let first = plan.blocks.first()?.pieces;
    plan.blocks.iter().all(|block| block.pieces == first).then_some(first)
}

/// Further sentences, the most useful first.
pub fn more(plan: &TrialPlanSection, words: &PlanWords) -> Vec<String> {
    let sentences = [
        Some(smallest(plan)),
        why(plan, words),
        Some(reeds(plan)),
        Some(scatter(plan, words)),
        smaller(plan),
        looks(plan),
        Some(blind(words)),
    ];
    sentences.into_iter().flatten().collect()
}

fn smallest(plan: &TrialPlanSection) -> String {
    format!(
        "The smallest difference that {} show {} is {}.",
        plural(plan.pieces, "piece", "pieces"),
        times(plan.power_wanted),
        reckoned_points(plan.smallest_difference)
    )
}

fn why(plan: &TrialPlanSection, words: &PlanWords) -> Option<String> {
    let present = plan.arms.iter().find(|arm| arm.present)?;
    let other = name(&plan.arms.iter().find(|arm| !arm.present)?.name);
    let present = format!("The present practice is {}", name(&present.name));
    Some(match words.why {
        WhyWords::Given => return None,
        WhyWords::Promising => format!(
            "{present}; of the values worth considering {other} went with the best ratings among reeds of the same lot so far, which \
             is no proof. `--arms` names others."
        ),
        WhyWords::Apart => format!(
            "{present}; nothing in the log speaks for another value, and {other} differs enough to be told apart. `--arms` \
             names others."
        ),
    })
}

fn reeds(plan: &TrialPlanSection) -> String {
    match plan.spoilage {
        Some(share) if share > 0.0 => format!(
            "About {} of them should play: in this log {} of the pieces were spoiled first. A spoiled piece counts as planned: {}.",
            count(whole::part(plan.reeds_expected.round())),
            percent(share),
            plan.spoiled
        ),
        Some(_) => format!(
            "No piece of this log was spoiled before it was played, and none is reckoned with. A spoiled piece would count: {}.",
            plan.spoiled
        ),
        None => "The log does not tell of spoiled pieces, so none is reckoned with: make a few more if some usually spoil.".to_owned(),
    }
}

fn scatter(plan: &TrialPlanSection, words: &PlanWords) -> String {
    let (reeds, lots) = (plan.sd_reeds, plan.sd_lots);
    let ratings = whole::part(plan.ratings_a_reed.round()).max(1);
    let of = if words.has_lots { "Reeds of one lot scatter" } else { "Reeds scatter" };
    let from = match (words.has_lots, lots) {
        (false, _) => plural(reeds, "reed", "reeds"),
        (true, lots) => {
            format!("{} of {}", plural(reeds, "reed", "reeds"), plural(lots, "lot", "lots"))
        }
    };
    format!(
        "{of} by {} (standard deviation, {from}); rate each reed of the trial as often as in this log (about {}), or they will \
         scatter more or less than that.",
        reckoned_points(plan.sd_within),
        plural(ratings, "rating", "ratings")
    )
}

/// What a smaller trial would show.
fn smaller(plan: &TrialPlanSection) -> Option<String> {
    let smaller = plan.sizes.iter().rfind(|size| 3 * size.pieces <= 2 * plan.pieces)?;
    Some(format!(
        "With {} it would show that difference {}; the smallest that it shows {} is then {}.",
        plural(smaller.pieces, "piece", "pieces"),
        times(smaller.power),
        times(plan.power_wanted),
        reckoned_points(smaller.smallest_difference)
    ))
}

fn looks(plan: &TrialPlanSection) -> Option<String> {
    let on_the_way = plan.looks.len().checked_sub(1).filter(|looks| *looks > 0)?;
    let at: Vec<String> = plan.looks.iter().take(on_the_way).map(|look| percent(*look)).collect();
    Some(format!(
        "It may be read before its end once {} of the reeds are rated; the bounds are set so that looking raises no more false \
         alarms, and the few pieces that this costs are counted in.",
        and(&at)
    ))
}

fn blind(words: &PlanWords) -> String {
    let ideal = if words.outcome.is_distance {
        " What is compared is the distance from the ideal."
    } else {
        ""
    };
    format!(
        "Write on each blank its label and nothing else. Whoever plays sees labels alone: the maker's sheet and key.csv stay out of sight \
         until every reed is rated. If you play your own reeds, put the sheet away once they are made and mix them.{ideal}"
    )
}

/// What stands where, told when the files are written.
pub fn written(folder: &str, kept: &[String]) -> String {
    let kept = match kept {
        [] => String::new(),
        [one] => format!(" {one} was there already and was left as it is."),
        several => format!(" {} were there already and were left as they are.", and(several)),
    };
    format!(
        "The plan is in {folder}: print sheet.html (first the maker's pages, then the player's), keep plan.toml as it is, and keep key.csv \
         closed.{kept}"
    )
}

/// The model of the reading, as the plan records it.
pub fn model(present: &str, arms: usize) -> String {
    let together = if arms > 2 { ", their intervals holding together (Dunnett 1955)" } else { "" };
    format!(
        "Reed scores (the mean of the ratings that count, the players' leniency taken out) on arms and blocks, both as fixed effects; \
         the difference of each arm from {present} by the t test on the residual degrees of freedom{together}."
    )
}

pub fn comparisons(present: &str) -> String {
    format!("each other arm with {present}")
}

/// How the size was found.
pub const METHOD: &str = "The size is the smallest at which the comparison of an arm with the present practice, blocks taken out, finds the \
                          difference worth having with the power asked for (noncentral t; with more than two arms the bound of \
                          Dunnett), at the information that is left when pieces are spoiled; pieces are added so that enough reeds \
                          are left nine times in ten, and until every lot divides evenly.";

pub fn assumptions() -> Vec<String> {
    vec![
        "Reeds of the trial scatter within their lots as those of the log do, whichever way they are made.".to_owned(),
        "Pieces are spoiled independently of each other and as often whichever way they are made.".to_owned(),
    ]
}

pub fn sources() -> Vec<String> {
    [
        "Fisher 1935, The Design of Experiments",
        "Cohen 1988, Statistical Power Analysis for the Behavioral Sciences, 2nd ed., chapter 2",
        "Dunnett 1955, Journal of the American Statistical Association 50, 1096–1121",
        "Lan & DeMets 1983, Biometrika 70, 659–663",
        "Zelen 1974, Journal of Chronic Diseases 27, 365–375",
    ]
    .map(str::to_owned)
    .to_vec()
}

pub const CHART_TITLE: &str = "What trials of growing size would show";
pub const CHART_X: &str = "pieces started";

/// The name of a curve: `0.5 points`.
pub fn curve(difference: f64) -> String {
    format!("{} {}", given(difference), if difference == 1.0 { "point" } else { "points" })
}

pub fn description(plan: &TrialPlanSection) -> String {
    format!(
        "The chance to find a difference, over the number of pieces: {} find {} {}.",
        plural(plan.pieces, "piece", "pieces"),
        given_points(plan.worthwhile),
        times(plan.power)
    )
}

pub const CHART_READING: &str = "Each curve is a true difference between two arms and rises with the size of the trial. The ring is the trial \
                                 planned, the dashed line the chance asked for.";

pub const SIZES_TITLE: &str = "Smaller and larger trials";
pub const BLOCKS_TITLE: &str = "Pieces of each lot";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chance_in_whole_tenths_is_told_as_times() {
        assert_eq!(times(0.8), "8 times in 10");
        assert_eq!(times(0.1), "1 time in 10");
        assert_eq!(times(0.847), "with a chance of 85\u{202F}%");
        assert_eq!(times(0.999), "with a chance of over 99\u{202F}%");
    }

    #[test]
    fn one_of_a_unit_is_singular() {
        assert_eq!(value(1.0, Some("days")), "1 day");
        assert_eq!(value(14.0, Some("days")), "14 days");
        assert_eq!(value(1.28, Some("mm")), "1.28 mm");
        assert_eq!(value(3.0, None), "3");
        assert_eq!(given_points(1.0), "1 rating point");
    }
}
