//! Sentences about what has changed since an earlier review.

use super::digits::{count, plural};
use super::given::given;
use super::lists::{and, few, name};
use crate::finding::ChangedAnswer;
use crate::whole;

/// What stands for advice where lots are not ranked.
pub const NOT_RANKED: &str = "not ranked";
/// So many changes are told; `results.json` holds all.
const TOLD: usize = 8;

/// What has come to the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grown {
    pub last_day: Option<String>,
    pub more_pieces: i64,
    pub more_reeds: i64,
    pub new_lots: Vec<String>,
}

pub fn shown(value: f64) -> String {
    given(value)
}

/// `shape`, `scoring “crosshatch”`
pub fn factor(factor: &str, level: Option<&str>) -> String {
    level.map_or_else(|| factor.to_owned(), |level| format!("{factor} “{}”", name(level)))
}

/// `switch to 10`
pub fn advice(recommendation: &str, to: Option<&str>) -> String {
    to.map_or_else(|| recommendation.to_owned(), |to| format!("{recommendation} ({})", name(to)))
}

pub fn sentences(
    grown: &Grown,
    settings: &[ChangedAnswer],
    changes: &[ChangedAnswer],
) -> Vec<String> {
    let mut told = vec![come(grown)];
    if !settings.is_empty() {
        let each: Vec<String> = settings.iter().map(setting).collect();
        told.push(format!(
            "The two reviews were not judged alike: {}. What reads otherwise may read so for that alone.",
            and(&each)
        ));
    }
    if changes.is_empty() {
        told.push(
            "No verdict, no recommendation and no advice on a lot reads otherwise.".to_owned(),
        );
        return told;
    }
    let each = changes.iter().take(TOLD);
    told.extend(
        each.map(|one| format!("{}: {} before, {} now.", name(&one.about), one.before, one.now)),
    );
    if changes.len() > TOLD {
        told.push(format!("{} more read otherwise.", count(changes.len() - TOLD)));
    }
    told
}

fn setting(change: &ChangedAnswer) -> String {
    let what = match change.about.as_str() {
        "good_at" => "the mark of a good reed",
        "worthwhile" => "the smallest difference worth having",
        "outcome" => "the rating",
        "settled" => "the ratings that speak for a reed",
        _ => "the better end of the scale",
    };
    format!("{what} was {} and is {}", name(&change.before), name(&change.now))
}

/// What has come since, or that the earlier log held more.
fn come(grown: &Grown) -> String {
    let since = grown.last_day.as_ref().map_or_else(
        || "Since the earlier review".to_owned(),
        |day| format!("Since the earlier review, whose last piece was started on {day}"),
    );
    if grown.more_pieces < 0 {
        return format!(
            "The earlier review holds {} more than this one: it may be of another log, or of another part of it.",
            plural(whole::size(grown.more_pieces.unsigned_abs()), "piece", "pieces")
        );
    }
    if grown.more_pieces == 0 && grown.more_reeds == 0 {
        return format!("{since}, nothing has come to the log.");
    }
    let pieces = plural(whole::size(grown.more_pieces.unsigned_abs()), "piece", "pieces");
    let reeds = match grown.more_reeds {
        reeds if reeds < 0 => {
            format!("{} fewer are rated", count(whole::size(reeds.unsigned_abs())))
        }
        reeds => format!(
            "{} rated",
            plural(whole::size(reeds.unsigned_abs()), "reed more is", "reeds more are")
        ),
    };
    let lots = match grown.new_lots.len() {
        0 => String::new(),
        1 => format!("; one lot is new, {}", few(&grown.new_lots)),
        more => format!("; {} lots are new, {}", count(more), few(&grown.new_lots)),
    };
    format!("{since}: {pieces} more, and {reeds}{lots}.")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grown(more_pieces: i64, more_reeds: i64) -> Grown {
        let new_lots = vec!["Osier".to_owned()];
        Grown { last_day: Some("2025-03-01".to_owned()), more_pieces, more_reeds, new_lots }
    }

    #[test]
    fn what_has_come_is_counted() {
        assert_eq!(
            come(&grown(12, 1)),
            "Since the earlier review, whose last piece was started on 2025-03-01: 12 pieces more, and 1 reed more is rated; \
             one lot is new, Osier."
        );
        assert!(come(&grown(0, 0)).ends_with("nothing has come to the log."));
        assert!(come(&grown(-3, 0)).contains("3 pieces more than this one"));
    }

    #[test]
    fn what_reads_as_before_is_said_to() {
        let told = sentences(&grown(1, 1), &[], &[]);
        assert_eq!(told.len(), 2);
        assert!(told[1].starts_with("No verdict"));
    }
}
