//! Sentences about whether the making has moved.

use super::digits::{change, count, count_in_words, number, percent, plural};
use super::factors::capitalised;
use super::lists::{few, name};
use super::spelling::did_you_mean;
use crate::finding::{
    BladeWear, DriftSection, Estimated, Interval, LotSpread, MeasureDrift, NotCharted, SkillTrend,
    UnmovedSeries,
};

/// What the reed scores are called among the measurements.
pub const SCORE: &str = "the reed score";
/// So many moved series are told one by one in the answer.
const MOST_NAMED: usize = 3;

fn interval(found: Estimated) -> Interval {
    Interval { estimate: found.estimate, low: found.low, high: found.high }
}

/// The zone rules in words, in their order.
pub fn rule(rule: usize) -> &'static str {
    match rule {
        0 => "beyond a limit",
        1 => "two of three beyond two thirds of the way to a limit",
        2 => "four of five beyond a third of the way to a limit",
        _ => "eight in a row on one side of the centre",
    }
}

pub fn beyond(above: bool) -> &'static str {
    if above { "above the upper limit" } else { "below the lower limit" }
}

/// Why the base period is as long as it is.
pub fn base(base: usize, points: usize, is_given: bool) -> String {
    match () {
        () if is_given => "asked for".to_owned(),
        () if base == points => {
            "too few points to keep some apart, so a movement widens its own limits".to_owned()
        }
        () if base == 30 => {
            "thirty points tell a spread well enough and leave the rest to be judged".to_owned()
        }
        () => "the first half, to be held against the second".to_owned(),
    }
}

pub fn too_few(points: usize) -> String {
    format!("{} a day and a value; it takes ten", plural(points, "piece has", "pieces have"))
}

pub fn no_such(asked: &str, known: Vec<String>) -> String {
    let meant = did_you_mean(asked, &known);
    let known = if known.is_empty() { "none".to_owned() } else { few(&known) };
    format!("There is no measurement “{}” in this log.{meant} It has: {known}.", name(asked))
}

pub fn nothing_charted(pieces: usize, not: &[NotCharted]) -> String {
    let whys: Vec<String> =
        not.iter().take(2).map(|not| format!("{}: {}", name(&not.measure), not.why)).collect();
    let told = if whys.is_empty() { String::new() } else { format!(" ({})", whys.join("; ")) };
    format!(
        "None of the measurements of the {} can be charted{told}.",
        plural(pieces, "piece", "pieces")
    )
}

/// The answer over all series.
pub fn answer(section: &DriftSection, labels: &[String]) -> String {
    let measures = &section.measures;
    let all = measures.len();
    let moved: Vec<(&MeasureDrift, &String)> =
        measures.iter().zip(labels).filter(|(found, _)| found.moved).collect();
    let series = match all {
        1 => labels.first().map_or_else(String::new, |label| name(label)),
        some => format!("the {} series", count_in_words(some)),
    };
    if moved.is_empty() && all == 1 {
        return format!(
            "{} is not shown to have moved: {}.",
            capitalised(&series),
            flags(section.unmoved)
        );
    }
    if moved.is_empty() {
        return format!("None of {series} is shown to have moved: {}.", flags(section.unmoved));
    }
    if let (1, Some((found, _))) = (all, moved.first()) {
        let by = by(found);
        return format!("{} moved farther than chance would have it{by}.", capitalised(&series));
    }
    let named: Vec<String> = moved
        .iter()
        .take(MOST_NAMED)
        .map(|(found, label)| format!("{}{}", name(label), by(found)))
        .collect();
    let more = match moved.len().saturating_sub(MOST_NAMED) {
        0 => String::new(),
        some => format!("; {} more in the table", count_in_words(some)),
    };
    let rest = if section.unmoved.series == 0 {
        String::new()
    } else {
        format!(" Of the others {}.", flags(section.unmoved))
    };
    format!(
        "Of {series} {} moved farther than chance would have it: {}{more}.{rest}",
        if moved.len() == 1 { "one" } else { "these" },
        named.join("; ")
    )
}

/// `the charts flag 57 times, the same pieces in shuffled order about 61`
fn flags(unmoved: UnmovedSeries) -> String {
    let chance = unmoved.flagged_by_chance;
    format!(
        "the charts flag {}, the same pieces in shuffled order about {}; flags come in bursts, so the two may well lie apart",
        plural(unmoved.flagged, "time", "times"),
        number(chance, usize::from(chance < 10.0))
    )
}

/// `, by −0.03 (−0.04 to −0.02) mm since its base period`; empty where the size is not known. What rose and fell again has moved, and may lie where it began.
fn by(found: &MeasureDrift) -> String {
    let unit = found.unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
    found.change.map_or_else(String::new, |moved| {
        let far = change(interval(moved));
        match moved.low > 0.0 || moved.high < 0.0 {
            true => format!(", by {far}{unit} since its base period"),
            false => format!(
                ", though its present practice may lie where it began: {far}{unit} from its base period"
            ),
        }
    })
}

/// One series.
pub fn measure(label: &str, found: &MeasureDrift) -> String {
    let label = name(label);
    let unit = found.unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
    let base = plural(found.base.points, "point", "points");
    let mut flags = format!("{} flagged on three charts", plural(found.flagged, "time", "times"));
    // shuffles of a series that moved mix what lies before and after, and flag for that
    if !found.moved {
        let chance = number(found.flagged_by_chance, usize::from(found.flagged_by_chance < 10.0));
        flags += &format!(", where shuffled order would bring about {chance}");
    }
    let size = found.change.map(|moved| {
        let far = change(interval(moved));
        match moved.low > 0.0 || moved.high < 0.0 {
            true if !found.moved => format!(" Looked at alone, the present practice lies {far}{unit} from the base period of {base}; that is not enough to tell it from chance here."),
            true => format!(" The present practice lies {far}{unit} from the base period of {base}."),
            false => format!(" Whether the present practice lies elsewhere than the base period of {base} is open: {far}{unit}."),
        }
    });
    let target = found.off_target.map(|off| {
        let far = change(interval(off));
        match off.low > 0.0 || off.high < 0.0 {
            true => format!(" All pieces together lie {far}{unit} from the target."),
            false => format!(" Whether all pieces together miss the target is open: {far}{unit}."),
        }
    });
    let how = match found.shuffled.as_str() {
        "within lots" => {
            " (each lot’s mean taken out: with so few lots a change of cane cannot be told from a moving hand)"
        }
        _ => "",
    };
    let verdict = if found.moved {
        "moved farther than chance would have it"
    } else {
        "not shown to have moved"
    };
    format!(
        "{label}: {verdict}{how}; {flags}.{}{}",
        size.unwrap_or_default(),
        target.unwrap_or_default()
    )
}

/// One chart.
pub fn chart(kind: &str, signals: usize, points: usize, chance: f64) -> String {
    let what = match kind {
        "individuals" => "single pieces",
        "ewma" => "weighted average",
        "cusum up" => "sum of what lies above",
        _ => "sum of what lies below",
    };
    format!(
        "{}: {} of {} flagged; in shuffled order about {}.",
        capitalised(what),
        count(signals),
        plural(points, "point", "points"),
        number(chance, usize::from(chance < 10.0))
    )
}

/// What lots have to do with it.
pub fn lots(label: &str, spread: &LotSpread) -> String {
    format!(
        "{}: about {} of the spread lies between the {} lots, and {} of their means lie outside what pieces within a lot allow. A step from lot to lot may be the cane or the \
         maker; the charts cannot tell.",
        name(label),
        percent(spread.share_between),
        count(spread.lots),
        count(spread.beyond)
    )
}

/// Good reeds over time; `few_lots` where lots are several and too few to be told from the hand.
pub fn skill(trend: &SkillTrend, few_lots: bool) -> String {
    let rest = format!(
        "about {} of ten pieces on the first day and {} on the last, {} apart ({} of the {} pieces whose end is known)",
        number(trend.first_per_ten, 1),
        number(trend.last_per_ten, 1),
        plural(trend.days.unsigned_abs() as usize, "day", "days"),
        count(trend.good),
        count(trend.pieces)
    );
    let odds = format!("the odds of a good reed changed by the factor {}", factor(trend.odds));
    let odds = match few_lots {
        true => {
            format!("{odds}. With under five lots the cane cannot be told from the hand")
        }
        false => odds,
    };
    if trend.odds.low > 1.0 {
        return format!("More pieces became good reeds as time went by: {rest}; {odds}.");
    }
    if trend.odds.high < 1.0 {
        return format!("Fewer pieces became good reeds as time went by: {rest}; {odds}.");
    }
    format!("Whether more pieces become good reeds with time is open: {rest}; {odds}.")
}

/// `1.50 (0.80 to 2.9)`: factors are even on the scale of logarithms, so each has the digits of its own size.
fn factor(odds: Estimated) -> String {
    let digits = |value: f64| {
        let decimals = if value < 2.0 { 2 } else { usize::from(value < 10.0) };
        number(value, decimals)
    };
    format!("{} ({} to {})", digits(odds.estimate), digits(odds.low), digits(odds.high))
}

/// A wearing blade.
pub fn wear(label: &str, found: &BladeWear) -> String {
    let unit = found.unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
    let by = change(interval(found.per_ten_pieces));
    let counted = format!(
        "{}, {}",
        plural(found.pieces, "piece", "pieces"),
        plural(found.sharpenings, "sharpening", "sharpenings")
    );
    let shown =
        found.q <= 0.05 && (found.per_ten_pieces.low > 0.0 || found.per_ten_pieces.high < 0.0);
    let label = name(label);
    if shown {
        return format!(
            "Ten more pieces on the same edge went with {by}{unit} in {label} ({counted})."
        );
    }
    format!(
        "Whether {label} changes as the edge wears is open: {by}{unit} for ten more pieces on the same edge ({counted})."
    )
}

/// Said where the pieces are several makers'.
pub const MAKERS_TAKEN_OUT: &str = "Several makers stand in this log. Each maker’s own mean was taken out of what is charted, and makers with fewer than eight pieces left out, so that a change in who made the \
                                    pieces is not taken for a change in how. A movement that came together with a change of makers cannot be told from it.";
/// The same where a series is held against a target.
pub const MAKERS_AS_THEY_ARE: &str = "Several makers stand in this log, and against a target every piece counts as it is: a change in who made the pieces looks like a movement here.";

/// What the charts cannot tell.
///
/// `labels` names the measures.
pub fn caveats(section: &DriftSection, labels: &[String]) -> Vec<String> {
    let mut caveats = Vec::new();
    let few: Vec<String> = section
        .measures
        .iter()
        .zip(labels)
        .filter(|(found, _)| found.base.points == found.n)
        .map(|(_, label)| label.clone())
        .collect();
    if !few.is_empty() {
        caveats.push(format!(
            "{} {} too few points for a base period; the limits come from all points, and a movement widens them.",
            capitalised(&super::lists::few(&few)),
            if few.len() == 1 { "has" } else { "have" }
        ));
    }
    if section.measures.iter().any(|found| found.pieces_a_point > 1) {
        caveats.push(
            "In so large a log each point is the mean of several neighbouring pieces.".to_owned(),
        );
    }
    let within = section.measures.iter().filter(|found| found.shuffled == "within lots").count();
    if within > 0 {
        caveats.push(
            "There are too few lots to tell a change of cane from a moving hand, so each lot’s mean was taken out and only movement within lots is judged.".to_owned(),
        );
    }
    if section.measures.iter().any(|found| found.shuffled == "lots kept together") {
        caveats.push(
            "A lot is one change of cane: several flagged neighbours may be one lot. Shuffling kept the pieces of a lot together, so the flags that lots bring are counted as chance."
                .to_owned(),
        );
    }
    caveats
}

/// How a chart is read.
pub const READING: &str = "Each dot is a piece, on the day it was begun; the thick line is the average that gives the newest piece a weight of its own. Solid is the centre, dashed are the \
                           limits; the base period that they come from has a bar below it. A ring is a flag, and some flags come by chance.";
