//! Sentences about what lost pieces took, and what sparing some would be worth.

use crate::catalogue::Stage;
use crate::finding::{LossWorth, SparedInAQuarter};
use crate::whole;
use crate::words::digits::{number, plural};
use crate::words::lists::and;
use crate::words::stages::doing;

/// Money as it stands in a sentence.
fn money(amount: f64) -> String {
    number(amount, 2)
}

fn minutes(amount: f64) -> String {
    let rounded = whole::part(amount.round());
    plural(rounded, "minute", "minutes")
}

/// What was lost, then what one lost piece fewer in ten would spare.
pub fn sentences(worth: &LossWorth) -> Vec<String> {
    let cane = worth.cane.map(|cane| cane_lost(worth, cane));
    let time = worth.minutes.map(|time| {
        let whose = of_lost(worth.timed, worth.lost, "with their minutes in the log");
        format!("Scraping took {} that went into {whose}.", minutes(time))
    });
    let quarter = worth.quarter.as_ref().and_then(spared);
    cane.into_iter().chain(time).chain(quarter).collect()
}

fn cane_lost(worth: &LossWorth, cane: f64) -> String {
    let whose = of_lost(worth.priced, worth.lost, "whose lot has a price");
    let per_good = worth.cane_per_good.map_or(String::new(), |each| {
        let reeds = match worth.good {
            1 => "the one good reed".to_owned(),
            some => format!("each of the {some} good reeds"),
        };
        format!(", {} for {reeds}", money(each))
    });
    format!("The cane of {whose} cost {} in the money of the log{per_good}.", money(cane))
}

/// `the 18 lost pieces`, `the 12 of 18 lost pieces whose lot has a price`
fn of_lost(known: usize, lost: usize, which: &str) -> String {
    match (known == lost, lost) {
        (true, 1) => "the one lost piece".to_owned(),
        (true, _) => format!("the {lost} lost pieces"),
        (false, _) => format!("the {known} of {lost} lost pieces {which}"),
    }
}

/// None where less than half a piece would be spared.
fn spared(quarter: &SparedInAQuarter) -> Option<String> {
    let about = quarter.pieces.round();
    if about < 1.0 {
        return None;
    }
    let mut kept = vec![format!("about {}", plural(whole::part(about), "piece", "pieces"))];
    kept.extend(quarter.cane.map(|cane| format!("cane for {}", money(cane))));
    kept.extend(quarter.minutes.map(|time| format!("{} of scraping", minutes(time))));
    let price = if quarter.cane.is_some() { ", at their mean price" } else { "" };
    let time = if quarter.minutes.is_some() {
        ", and that a spared piece saves the minutes that a lost one had taken"
    } else {
        ""
    };
    Some(format!(
        "One lost piece fewer in ten would spare {} a quarter. That takes for granted that making goes on as in the last {} days of the log ({} \
         started{price}){time}.",
        and(&kept),
        quarter.days,
        plural(quarter.started, "piece", "pieces")
    ))
}

/// A stage as the table names it.
pub fn stage(stage: Option<Stage>) -> String {
    stage.map_or("no stage in the log", doing).to_owned()
}
