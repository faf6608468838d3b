//! Select: which rows of the log are the trial's pieces, and what became of each.

use std::collections::BTreeMap;

use super::super::scores::reed_scores;
use crate::plan::{Best, Plan, PlannedOutcome, SpoiledCount};
use crate::study::{Better, FactorKind, Fate, Settings, Settled, Study};

/// What a piece was made as.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Made {
    /// The log does not say.
    Unknown,
    /// As this arm.
    Arm(usize),
    /// As none of them; what the log says.
    Other(String),
}

/// How far a piece came.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Came {
    NotMade,
    /// In the log, and its mark is still to come.
    Open,
    /// Neither spoiled nor rated, and away for good.
    Gone,
    Spoiled,
    Rated(f64),
}

/// One piece of the plan, held against the log.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TrialPiece {
    pub label: String,
    /// Position among the plan's blocks and arms.
    pub block: usize,
    pub arm: usize,
    /// Row among the trial's pieces; the first one where there are several.
    pub row: Option<usize>,
    /// How many rows of the log carry the label.
    pub rows: usize,
    pub made: Made,
    pub came: Came,
    /// Its mark, spoiled pieces included where the plan gives them the worst one.
    pub mark: Option<f64>,
    /// Whether it became a good reed; unknown while it is open.
    pub good: Option<bool>,
}

/// The part of the log that is the trial's.
pub(super) struct TrialLog {
    /// The labelled pieces alone, judged by the plan's settings.
    pub study: Study,
    pub pieces: Vec<TrialPiece>,
    /// Whether the log has a column of the practice.
    pub has_factor: bool,
}

/// Finds the plan's pieces in the log.
pub(super) fn select(log: &Study, plan: &Plan) -> TrialLog {
    let rows = rows_by_label(log);
    let mut keep = vec![false; log.pieces()];
    for piece in &plan.pieces {
        for &row in rows.get(&key(&piece.label)).into_iter().flatten() {
            keep[row] = true; // rows of the log, one mark each
        }
    }
    let study = log.restricted(&keep).judged_by(settings(log.settings(), &plan.outcome));
    let has_factor = log.factor(&plan.factor.name).is_some();
    let pieces = pieces(&study, plan);
    TrialLog { study, pieces, has_factor }
}

fn pieces(study: &Study, plan: &Plan) -> Vec<TrialPiece> {
    let rows = rows_by_label(study);
    let (made, came, good) = (made(study, plan), came(study), study.good());
    let worst = worst_mark(&plan.outcome);
    let planned = plan.pieces.iter().zip(plan.arms_of_pieces());
    let one = |(piece, arm): (&crate::plan::PlannedPiece, usize)| {
        let rows = rows.get(&key(&piece.label)).map_or(&[][..], Vec::as_slice);
        let row = rows.first().copied();
        let came = row.map_or(Came::NotMade, |row| came[row]);
        TrialPiece {
            label: piece.label.clone(),
            block: piece.block.saturating_sub(1),
            arm,
            row,
            rows: rows.len(),
            made: row.map_or(Made::Unknown, |row| made[row].clone()),
            came,
            mark: match (came, plan.spoiled) {
                (Came::Rated(score), _) => Some(score),
                (Came::Spoiled, SpoiledCount::WorstMark) => Some(worst),
                _ => None,
            },
            good: row.and_then(|row| good[row]),
        }
    };
    planned.map(one).collect()
}

/// A label as it is compared: without the name of the log that pooling puts before it, and in capitals.
pub(super) fn key(label: &str) -> String {
    label.rsplit('/').next().unwrap_or(label).trim().to_uppercase()
}

fn rows_by_label(study: &Study) -> BTreeMap<String, Vec<usize>> {
    let mut rows: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (row, id) in study.ids().iter().enumerate() {
        rows.entry(key(id)).or_default().push(row);
    }
    rows
}

fn came(study: &Study) -> Vec<Came> {
    let scores = reed_scores(study);
    let mut came: Vec<Came> = study.fates().iter().copied().map(without_rating).collect();
    for (&piece, &score) in scores.piece.iter().zip(&scores.score) {
        came[piece] = Came::Rated(score); // pieces of this study
    }
    came
}

fn without_rating(fate: Option<Fate>) -> Came {
    match fate {
        Some(Fate::Spoiled) => Came::Spoiled,
        Some(Fate::Lost | Fate::GivenAway | Fate::WornOut) => Came::Gone,
        Some(Fate::InUse | Fate::Unfinished) | None => Came::Open,
    }
}

fn made(study: &Study, plan: &Plan) -> Vec<Made> {
    let name = &plan.factor.name;
    match study.factor(name).map(|factor| factor.kind) {
        Some(FactorKind::Number) => {
            study.numbers(name).iter().map(|value| made_number(*value, plan)).collect()
        }
        Some(FactorKind::Choice) => {
            study.words(name).into_iter().map(|value| made_choice(value, plan)).collect()
        }
        None => vec![Made::Unknown; study.pieces()],
    }
}

fn made_number(value: Option<f64>, plan: &Plan) -> Made {
    let Some(value) = value else { return Made::Unknown };
    let is_meant = |text: &str| {
        text.trim()
            .parse::<f64>()
            .is_ok_and(|meant| (meant - value).abs() <= 1e-6 * meant.abs().max(1.0))
    };
    let arm = plan.arms.iter().position(|arm| is_meant(&arm.value));
    arm.map_or_else(|| Made::Other(crate::words::given::given(value)), Made::Arm)
}

fn made_choice(value: Option<&str>, plan: &Plan) -> Made {
    let Some(value) = value else { return Made::Unknown };
    let folded = value.trim().to_lowercase();
    let arm = plan.arms.iter().position(|arm| arm.value.trim().to_lowercase() == folded);
    arm.map_or_else(|| Made::Other(value.to_owned()), Made::Arm)
}

/// The log's settings with the outcome that was fixed beforehand.
fn settings(now: &Settings, planned: &PlannedOutcome) -> Settings {
    let mut settings = Settings {
        scale: planned.scale,
        good_at: planned.good_at,
        worthwhile: planned.worthwhile,
        outcome: planned.criterion.clone(),
        settled: settled(&planned.settled).unwrap_or(now.settled),
        best: if planned.best == Best::High { Better::Higher } else { Better::Lower },
        ..now.clone()
    };
    match planned.target {
        Some(target) => settings.targets.insert(planned.criterion.clone(), target),
        None => settings.targets.remove(&planned.criterion),
    };
    settings
}

/// `all`, `last`, `after 3 ratings`; none for other words.
pub(super) fn settled(words: &str) -> Option<Settled> {
    match words.split_whitespace().collect::<Vec<_>>().as_slice() {
        ["all"] => Some(Settled::All),
        ["last"] => Some(Settled::Last),
        ["after", first, ..] => first.parse().ok().map(Settled::After),
        _ => None,
    }
}

fn worst_mark(outcome: &PlannedOutcome) -> f64 {
    let [low, high] = outcome.scale;
    match (outcome.target, outcome.best) {
        (Some(target), _) => (target - low).abs().max((high - target).abs()),
        (None, Best::High) => low,
        (None, Best::Low) => high,
    }
}
