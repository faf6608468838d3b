//! Sentences about dropping pieces by an early measurement.

use super::digits::{change, count_in_words, interval_decimals, number, percent, plural};
use super::factors::capitalised;
use super::given::given;
use super::lists::{few, name};
use super::spelling::did_you_mean;
use crate::finding::{Interval, SortResult, SortVerdict};

pub const TAKES_LOTS: &str =
    "It takes three lots, so that limits chosen on some can be judged on others.";
pub const TAKES_PIECES: &str = "It takes 30 pieces with the measurement, a known end and a lot, five of them good reeds and five not.";
pub const TAKES_MEASURE: &str =
    "It takes a number that is known before the work goes in, such as hardness, density or gouge.";
pub const NO_MEASURE: &str = "The log has no measurement of the cane or the gouge.";
pub const NO_END: &str = "unfinished, or without a rating that counts";
pub const NO_LOT: &str = "finished, but without a lot";
pub const NO_VALUE: &str = "finished, but without the measurement";

pub fn too_few_lots(pieces: usize, lots: usize) -> String {
    format!(
        "The log holds {} with a known end and a lot, in {}.",
        plural(pieces, "piece", "pieces"),
        plural(lots, "lot", "lots")
    )
}

pub fn too_few(labels: &[String]) -> String {
    format!("Too few pieces with a known end have {}.", few(labels))
}

pub fn not_found(named: &str, known: &[String]) -> String {
    match known {
        [] => format!("“{}” is no measurement of the log, which has none.", name(named)),
        known => format!(
            "“{}” is no measurement of the log; it has {}.{}",
            name(named),
            few(known),
            did_you_mean(named, known)
        ),
    }
}

fn amount(value: f64, unit: Option<&str>) -> String {
    match unit {
        Some(unit) => format!("{} {unit}", given(value)),
        None => given(value),
    }
}

/// `from 12.5 to 17`, `from 12.5 up`, `up to 17`
fn limits(result: &SortResult) -> Option<String> {
    let unit = result.unit.as_deref();
    match (result.keep_low, result.keep_high) {
        (Some(low), Some(high)) => Some(format!("from {} to {}", given(low), amount(high, unit))),
        (Some(low), None) => Some(format!("from {} up", amount(low, unit))),
        (None, Some(high)) => Some(format!("up to {}", amount(high, unit))),
        (None, None) => None,
    }
}

/// `Hardness: worth it. Keep pieces from 12.5 to 17. …`
pub fn sentence(result: &SortResult, label: &str) -> String {
    let subject = capitalised(label);
    let verdict = result.verdict.word();
    let Some(limits) = limits(result) else {
        return format!("{subject}: {verdict}. No limits give more good reeds than dropping none.");
    };
    let gain = Interval { estimate: result.gain, low: result.low, high: result.high };
    let shown = interval_decimals(gain).min(1);
    let judged = format!(
        "{} good reeds of ten pieces kept against {} of ten of all, {} of ten, with {} of the pieces dropped",
        number(result.good_per_ten_kept, shown),
        number(result.good_per_ten_all, shown),
        change(gain),
        percent(result.dropped_share),
    );
    let opening = match result.verdict {
        SortVerdict::WorthIt => format!("Keep pieces {limits} and drop the others."),
        SortVerdict::CannotTell => format!("The limits that promise most keep pieces {limits}."),
        SortVerdict::NotWorthIt => {
            format!(
                "Even the limits that promise most ({limits}) add less than one good reed in ten pieces."
            )
        }
    };
    format!(
        "{subject}: {verdict}. {opening} On lots that had no part in choosing limits: {judged}."
    )
}

/// What sorting takes and spares; none where nothing is dropped or known.
pub fn spent(result: &SortResult, label: &str) -> Option<String> {
    let mut parts = Vec::new();
    if let (Some(all), Some(saved)) = (result.minutes_per_good_all, result.minutes_saved_per_good) {
        parts.push(format!(
            "{} minutes of logged work went into a good reed, {} among the pieces kept",
            number(all, 0),
            number(all - saved, 0)
        ));
    }
    if let (Some(all), Some(kept)) = (result.cost_per_good_all, result.cost_per_good_kept) {
        parts.push(format!(
            "its cane cost {} in the money of the log, {} with the dropped cane bought too",
            number(all, 2),
            number(kept, 2)
        ));
    }
    if parts.is_empty() || result.good_share_dropped.is_none() {
        return None;
    }
    let hour = result.hour_worth.filter(|_| result.verdict == SortVerdict::WorthIt);
    let hour = hour.map_or(String::new(), |hour| {
        format!(
            "; by these sums dropping pays where an hour of work is worth more than {}",
            number(hour, 2)
        )
    });
    Some(format!("{}: {}{hour}.", capitalised(label), parts.join("; ")))
}

/// For whom sorting has the greater net benefit.
pub fn exchange(result: &SortResult, label: &str) -> Option<String> {
    let share = result.good_share_dropped?;
    let is_told = result.verdict == SortVerdict::WorthIt && share > 0.0;
    is_told.then(|| {
        format!(
            "By {label} {} of the dropped pieces became good reeds: dropping is for a maker to whom a good reed is worth less than the work on {} pieces.",
            percent(share),
            number(1.0 / share, 1)
        )
    })
}

/// The answer over all measurements: the first in full, the others by their verdicts.
pub fn answer(list: &[(SortResult, String)]) -> String {
    let Some((first, _)) = list.first() else { return String::new() };
    let labels = |verdict: SortVerdict| -> Vec<String> {
        let alike = list.iter().filter(|(result, _)| result.verdict == verdict);
        alike.map(|(_, label)| label.clone()).collect()
    };
    if list.len() > 1 && first.verdict != SortVerdict::WorthIt {
        return none_worth_it(
            &labels(SortVerdict::NotWorthIt),
            &labels(SortVerdict::CannotTell),
            list.len(),
        );
    }
    let of = |verdict: SortVerdict| -> Vec<String> {
        let others = list.iter().skip(1).filter(|(result, _)| result.verdict == verdict);
        others.map(|(_, label)| label.clone()).collect()
    };
    let mut said = first.sentence.clone();
    for (verdict, ending) in [
        (SortVerdict::WorthIt, "worth it too"),
        (SortVerdict::CannotTell, "the log cannot tell"),
        (SortVerdict::NotWorthIt, "not worth it"),
    ] {
        let labels = of(verdict);
        if !labels.is_empty() {
            said += &format!(" {}: {ending}.", capitalised(&few(&labels)));
        }
    }
    said
}

/// `None of the five measurements is shown to be worth dropping pieces by: …`
fn none_worth_it(not: &[String], open: &[String], all: usize) -> String {
    let mut said = vec![];
    if !not.is_empty() {
        said.push(format!("{} would gain less than one good reed of ten", few(not)));
    }
    if !open.is_empty() {
        said.push(format!("of {} the log cannot tell", few(open)));
    }
    let none = if all == 2 { "Neither" } else { "None" };
    format!(
        "{none} of the {} measurements is shown to be worth dropping pieces by: {}.",
        count_in_words(all),
        said.join("; ")
    )
}

pub fn caveats(too_few: &[String], looked_at: usize, makers: usize) -> Vec<String> {
    let mut said = Vec::new();
    if makers > 1 {
        said.push(
            "Several makers stand in this log, and they are not held apart here: a limit may drop one maker’s pieces more than poor cane."
                .to_owned(),
        );
    }
    if !too_few.is_empty() {
        said.push(format!(
            "Not looked at, since too few pieces with a known end have it: {}.",
            few(too_few)
        ));
    }
    if looked_at > 1 {
        said.push("Each measurement is judged by itself; two limits at once would drop more pieces than either.".to_owned());
    }
    said
}

pub fn title(label: &str) -> String {
    format!("Dropping pieces by {label}")
}

pub fn axis(label: &str, unit: Option<&str>) -> String {
    unit.map_or_else(|| label.to_owned(), |unit| format!("{label} ({unit})"))
}

pub const READING: &str = "Each dot above is a piece that became a good reed, each dot below one that did not. The line is the share of good reeds in fifths of the \
                           pieces, with the range it may well have. What lies in the shaded parts would be dropped. Below: good reeds gained of ten pieces worked on, \
                           judged on lots that had no part in choosing the limits.";

pub const MODEL: &str = "Limits at tenths of the values, about half of the pieces kept at least, so chosen that the share of good reeds among the kept is largest. Each lot is judged \
                         by the limits that the other lots chose. The interval of the gain rests on the lots (linearised difference of ratios, its variance raised because the lots share their choosers, t with one degree of freedom fewer \
                         than lots). Worth it: the interval lies above no gain, reaches one good reed in ten, and the adjusted p is at most 0.05. Not worth it: it lies below \
                         one good reed in ten. Spoiled pieces count as no good reed. Net benefit: good reeds less the other pieces worked on, these weighed by the odds of the \
                         chance below which a piece is not worth its work.";

pub fn assumptions() -> Vec<String> {
    [
        "Pieces to come are like those of the log, and their lots like its lots.",
        "A dropped piece costs its cane and none of the work; a rated reed without minutes in the log took as many as the others.",
        "Nobody sorted by this measurement already: pieces that were dropped and never entered are not seen.",
    ]
    .map(str::to_owned)
    .to_vec()
}

pub fn sources() -> Vec<String> {
    [
        "Choosing and judging apart: Stone 1974, JRSS B 36, 111–147",
        "Shared choosers: Nadeau & Bengio 2003, Machine Learning 52, 239–281",
        "Net benefit: Vickers & Elkin 2006, Medical Decision Making 26, 565–574",
        "Several measurements: Benjamini & Hochberg 1995, JRSS B 57, 289–300",
    ]
    .map(str::to_owned)
    .to_vec()
}
