//! Why a piece has no life that could be counted.

pub const SPOILED: &str = "spoiled before the first note";
pub const UNFINISHED: &str = "unfinished";
pub const NOT_PLAYED: &str = "not played yet, or gone unplayed";
pub const WITHOUT_HOURS: &str = "played, but the log does not say for how many hours";
pub const WITHOUT_DAYS: &str = "played, but the log does not say from which day";
pub const WITHOUT_LAST_DAY: &str = "played, but the log does not say until which day";
pub const NO_HOUR: &str = "worn out at no hours of playing";
pub const BACKWARDS: &str = "last played before it was first played";
pub const LATE: &str = "already playing before the log began";

/// In the order in which they are told.
pub const ALL: [&str; 9] = [
    SPOILED,
    UNFINISHED,
    NOT_PLAYED,
    WITHOUT_HOURS,
    WITHOUT_DAYS,
    WITHOUT_LAST_DAY,
    NO_HOUR,
    BACKWARDS,
    LATE,
];
