//! Sentences about how a measurement repeats.

use super::counted;
use crate::finding::{Estimated, Interval, MeasureTrust, PeopleWhoRead, PersonLevel};
use crate::words::digits::{change, count_in_words, level, number, percent, plural};
use crate::words::factors::capitalised;
use crate::words::lists::{and, name};

/// The name under which the points of a profile stand.
const PROFILE: &str = "profile_mm";

/// `Hardness: …`; everything about one measurement.
pub fn sentence(label: &str, found: &MeasureTrust) -> String {
    let of = if found.measure == PROFILE { ("point", "points") } else { ("piece", "pieces") };
    let counted = counted(found.n, found.repeats, of);
    let label = capitalised(&name(label));
    if found.within_sd == 0.0 {
        return format!(
            "{label}: every repeat gave the same number ({counted}), so the error is smaller than the tool or the rounding shows, and no size is \
             claimed for it."
        );
    }
    let unit = found.unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
    let apart =
        interval(Some(found.repeatability), found.repeatability_low, found.repeatability_high)
            .map_or_else(|| number(found.repeatability, 3), level);
    let readings = format!(
        "{label}: two readings of one {} differ by less than {apart}{unit} in 95 of 100 pairs ({counted}).",
        of.0
    );
    let mut parts = vec![readings];
    parts.extend(shrinks(found));
    parts.extend(found.people.as_ref().and_then(|people| people_differ(people, &unit)));
    parts.join(" ")
}

fn interval(estimate: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<Interval> {
    Some(Interval { estimate: estimate?, low: low?, high: high? })
}

/// What the error does to an effect.
fn shrinks(found: &MeasureTrust) -> Option<String> {
    let reliability = found.reliability?;
    let among = if found.measure == PROFILE { "pieces at the same point" } else { "pieces" };
    match interval(found.reliability, found.reliability_low, found.reliability_high) {
        Some(share) if share.low <= 0.0 => Some(format!(
            "The {among} differ so little that reading error may be all there is: it makes up {} or more of the spread.",
            percent(1.0 - share.high)
        )),
        Some(share) => Some(format!(
            "Reading error makes up {} ({} to {}) of the spread among {among}: a true effect of 1.0 would show as about {}.",
            percent(1.0 - share.estimate),
            percent(1.0 - share.high),
            percent(1.0 - share.low),
            show(share)
        )),
        None => Some(format!(
            "Reading error makes up about {} of the spread among {among}: a true effect of 1.0 would show as about {}; how sure that is is not known.",
            percent(1.0 - reliability),
            number(reliability, 2)
        )),
    }
}

/// A share with its interval; more than two decimals help nobody.
fn show(share: Interval) -> String {
    let [estimate, low, high] =
        [share.estimate, share.low, share.high].map(|value| number(value, 2));
    format!("{estimate} ({low} to {high})")
}

/// Who reads higher on the same pieces; a difference that is not shown is called open.
fn people_differ(people: &PeopleWhoRead, unit: &str) -> Option<String> {
    let told = match (people.levels.as_slice(), people.difference) {
        ([one, other], Some(by)) => two_people(one, other, by, unit),
        ([], _) => return None,
        (several, _) => {
            let apart: Vec<String> = several
                .iter()
                .filter(|person| person.stands_out)
                .map(|p| person(p, unit))
                .collect();
            match apart.is_empty() {
                true => format!(
                    "Whether one of the {} people reads higher is open.",
                    count_in_words(several.len())
                ),
                false => format!(
                    "Against the average of the {} people, {}.",
                    count_in_words(several.len()),
                    and(&apart)
                ),
            }
        }
    };
    let split = people.crossed.map(|found| {
        format!(
            " Where everybody read the same {}, about {} of the measuring variance lay between people.",
            plural(found.pieces, "piece", "pieces"),
            percent(found.share_between_people)
        )
    });
    Some(told + &split.unwrap_or_default())
}

fn person(found: &PersonLevel, unit: &str) -> String {
    let by = Interval { estimate: found.estimate, low: found.low, high: found.high };
    format!("{} read {}{unit}", name(&found.person), change(by))
}

fn two_people(one: &PersonLevel, other: &PersonLevel, by: Estimated, unit: &str) -> String {
    let (higher, lower) = if one.estimate > other.estimate { (one, other) } else { (other, one) };
    let by = Interval { estimate: by.estimate, low: by.low, high: by.high };
    let names = (name(&higher.person), name(&lower.person));
    if higher.stands_out {
        return format!(
            "On the same pieces {} read higher than {}, by {}{unit}.",
            names.0,
            names.1,
            level(by)
        );
    }
    format!(
        "Whether {} reads higher than {} is open: {}{unit} on the same pieces.",
        names.0,
        names.1,
        change(by)
    )
}

/// Which measurement loses the most to its error.
pub fn worst(measures: &[MeasureTrust], labels: &[String]) -> Option<String> {
    let known = measures
        .iter()
        .zip(labels)
        .filter_map(|(found, label)| Some((found, label, found.reliability?)));
    let (found, label, _) = known.min_by(|a, b| a.2.total_cmp(&b.2))?;
    let told = shrinks(found)?;
    let which = match measures.len() {
        1 => format!("Of {}:", name(label)),
        several => format!(
            "Of the {} measurements that were read again, {} carries the most reading error.",
            count_in_words(several),
            name(label)
        ),
    };
    Some(format!("{which} {}", if measures.len() == 1 { lower_first(&told) } else { told }))
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
