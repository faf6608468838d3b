//! How a trial's plan was kept, and what it takes where it cannot be read yet.

use crate::finding::TrialDeviation;
use crate::words::digits::plural;
use crate::words::lists::{and, few, name};

/// Values of the key `what` of a deviation.
pub const OTHERWISE: &str = "made otherwise";
pub const LOT: &str = "another lot";
pub const MAKER: &str = "another maker";
pub const TWICE: &str = "label used twice";
pub const BEFORE_PLAN: &str = "started before the plan";
pub const RATED_BEFORE: &str = "rated before it was made";
pub const SET_ASIDE: &str = "row not usable";
pub const UNLABELLED: &str = "no label of the trial";

/// What was not done as planned, in short.
pub fn deviations(found: &[TrialDeviation]) -> Option<String> {
    let what = [OTHERWISE, LOT, MAKER, TWICE, BEFORE_PLAN, RATED_BEFORE, SET_ASIDE];
    let told: Vec<String> = what
        .into_iter()
        .filter_map(|what| {
            let labels: Vec<String> = found
                .iter()
                .filter(|deviation| deviation.what == what)
                .map(|deviation| deviation.label.clone())
                .collect();
            (!labels.is_empty()).then(|| format!("{what}: {}", few(&labels)))
        })
        .collect();
    if told.is_empty() {
        return None;
    }
    Some(format!(
        "Not everything was done as planned ({}). The answer keeps every piece in the arm it was allocated to.",
        told.join("; ")
    ))
}

/// Pieces that may be the trial's, and are not counted.
pub fn unlabelled(found: &[TrialDeviation]) -> Option<String> {
    let is_unlabelled = |deviation: &&TrialDeviation| deviation.what == UNLABELLED;
    let ids: Vec<String> =
        found.iter().filter(is_unlabelled).map(|deviation| deviation.label.clone()).collect();
    let are = if ids.len() == 1 { "carries" } else { "carry" };
    (!ids.is_empty()).then(|| {
        format!(
            "{} of the trial's lots, started since the plan, {are} no label of it and {} not counted: {}. What belongs to the \
             trial takes its label as its number in the log.",
            plural(ids.len(), "piece", "pieces"),
            if ids.len() == 1 { "is" } else { "are" },
            few(&ids)
        )
    })
}

/// What a reader must know of the plan and its keeping.
#[derive(Debug, Clone, Copy)]
pub struct Keeping<'a> {
    pub plan_unchanged: bool,
    pub key_holds: bool,
    /// `forming time`
    pub factor: &'a str,
    pub has_factor: bool,
    /// Pieces in the log without a value of the practice.
    pub unwritten: usize,
    /// What the log's settings say otherwise than the plan: `the good mark`.
    pub settings_changed: &'a [&'static str],
    /// Marks that stand in no comparison, their block having one arm alone.
    pub apart: usize,
    /// Arms without a mark that can be compared.
    pub missing_arms: &'a [String],
    pub worst_mark: bool,
}

pub fn caveats(keeping: Keeping) -> Vec<String> {
    let mut caveats = Vec::new();
    let mut say = |holds: bool, text: String| {
        if holds {
            caveats.push(text);
        }
    };
    say(
        !keeping.plan_unchanged,
        "The plan's checksum does not fit its text: somebody changed the file after it was written. It is read as it stands."
            .to_owned(),
    );
    say(
        !keeping.key_holds,
        "The arms drawn from the plan's seed are not those that it was sealed with, so pieces may have been made by another key."
            .to_owned(),
    );
    say(
        !keeping.has_factor,
        format!(
            "The log has no column for the {}, so whether the pieces were made as allocated cannot be checked.",
            keeping.factor
        ),
    );
    say(
        keeping.has_factor && keeping.unwritten > 0,
        format!(
            "For {} of the trial the log does not say the {}; they are taken to be made as allocated.",
            plural(keeping.unwritten, "piece", "pieces"),
            keeping.factor
        ),
    );
    say(
        !keeping.settings_changed.is_empty(),
        format!(
            "The log's settings differ from the plan's in {}; the plan's are used.",
            and(keeping.settings_changed)
        ),
    );
    say(
        keeping.apart > 0,
        format!(
            "{} could not be compared, because their lots hold no reed of the arm that the others are compared with.",
            plural(keeping.apart, "mark", "marks")
        ),
    );
    say(
        !keeping.missing_arms.is_empty(),
        format!("No mark can be compared yet for {}.", few(keeping.missing_arms)),
    );
    say(
        keeping.worst_mark,
        "Spoiled pieces count with the worst mark, as planned; marks of that kind are far from even, and the interval leans on \
         there being many."
            .to_owned(),
    );
    say(
        true,
        "Whether the player knew which reed was made how cannot be seen from a log; a player who knew may have rated the hope."
            .to_owned(),
    );
    caveats
}

/// Refusals: what was found and what it takes.
pub fn no_label(planned: usize) -> [String; 2] {
    [
        format!("None of the plan's {} is in the log.", plural(planned, "label", "labels")),
        "It takes reeds that stand in the log under the labels of the plan, in the column “reed”."
            .to_owned(),
    ]
}

pub fn nothing_rated(made: usize, criterion: &str) -> [String; 2] {
    [
        format!(
            "{} of the trial in the log, and none has a mark in “{}” yet.",
            match made {
                1 => "1 piece is".to_owned(),
                _ => format!("{} are", plural(made, "piece", "pieces")),
            },
            name(criterion)
        ),
        "It takes rated reeds of two arms at least, three marks or more in a lot that holds both."
            .to_owned(),
    ]
}

pub fn one_arm(arm: Option<&str>, rated: usize) -> [String; 2] {
    let found = match arm {
        Some(arm) => format!(
            "All {} of the trial are of one arm, {}.",
            plural(rated, "mark", "marks"),
            name(arm)
        ),
        None => format!(
            "No lot holds marks of two arms that the plan compares; {} in all.",
            plural(rated, "mark", "marks")
        ),
    };
    [found, "It takes rated reeds of two arms that the plan compares from the same lot.".to_owned()]
}

pub fn not_fitted(rated: usize, is_alike: bool) -> [String; 2] {
    let found = if is_alike {
        format!(
            "The {} do not differ within lots and arms, so chance cannot be judged.",
            plural(rated, "mark", "marks")
        )
    } else {
        format!("{} are too few for the lots and arms they lie in.", plural(rated, "mark", "marks"))
    };
    [found, "It takes more rated reeds of the plan: at least two more than lots and arms together, and marks that differ.".to_owned()]
}
