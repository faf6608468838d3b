//! Sentences about how many pieces keep good reeds playing.

use crate::finding::{Interval, Renewal};
use crate::words::digits::{count, level, percent, plural};

pub const A_MONTH: &str = "pieces a month";
pub const FOR_HOURS: &str = "pieces for ten hours of playing";
pub const ASKED: &str = "asked for";
pub const IN_USE: &str = "in use at the end of the log";
pub const TAKEN: &str = "taken as three";

/// `To keep 6 good reeds playing (as many as are in use at the end of the log) takes about 3.1 (2.4 to 4.0) pieces started a month: …`
pub fn sentence(renewal: &Renewal, life: Interval, in_days: bool) -> String {
    let pace = Interval { estimate: renewal.pace, low: renewal.pace_low, high: renewal.pace_high };
    let about = if renewal.at_most { "no more than about" } else { "about" };
    let goes_on = if renewal.at_most {
        "; some reeds last longer than the log could see, so it may well take fewer"
    } else {
        ""
    };
    let opening = if in_days {
        format!(
            "To keep {} playing{} takes {about} {} pieces started a month",
            plural(renewal.keep, "good reed", "good reeds"),
            whence(renewal),
            level(pace)
        )
    } else {
        format!("Ten hours of playing on good reeds take {about} {} pieces started", level(pace))
    };
    format!(
        "{opening}: a reed stays in use for {} {} on average, and {} of {} became good reeds{goes_on}. That takes for granted that good reeds last as long as \
         the others and that playing and making go on as they did.",
        level(life),
        if in_days { "days" } else { "hours" },
        percent(renewal.share_good),
        count(renewal.share_of),
    )
}

fn whence(renewal: &Renewal) -> &'static str {
    match renewal.keep_from.as_str() {
        IN_USE => ", as many as are in use at the end of the log,",
        TAKEN => ", a number taken for want of a better,",
        _ => "",
    }
}
