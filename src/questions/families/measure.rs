//! Select: the measurements and the pieces that have them all.
//!
//! A piece that was spoiled early lacks all that comes later, so how full a measurement is, is judged by the finished pieces. Gaps are not filled in: a filled
//! cell is a guess from the other pieces and would draw its piece towards the middle of the cloud. Instead the measurements with most gaps are given up until seven in ten
//! finished pieces are whole.

use std::collections::BTreeSet;
use std::sync::Arc;

use ndarray::Array2;

use super::curves::Curves;
use super::profile::{Profile, profile};
use crate::catalogue::Stage;
use crate::finding::LeftOut;
use crate::questions::piece_set::PieceSet;
use crate::stats::numeric::{mean, standard_deviation};
use crate::study::{Factor, FactorKind, Fate, ProfileReading, Study};
use crate::words::families as words;

/// A measurement that a smaller share of the finished pieces has is left out.
const FEWEST_KNOWN: f64 = 0.6;
/// So many of the finished pieces are to have all measurements.
const FEWEST_WHOLE: f64 = 0.7;
/// A number with fewer different values is a choice.
const FEWEST_VALUES: usize = 6;
/// Fewer finished pieces than this judge nothing; then all pieces do.
const FEWEST_FINISHED: usize = 20;

/// One coordinate of a piece.
pub(super) struct Feature {
    pub label: String,
    pub unit: Option<String>,
    pub higher_is: Option<String>,
    /// Of the pieces that are looked at, in their order.
    pub values: Vec<f64>,
    /// The number of the profile's component, where it is one.
    pub component: Option<usize>,
}

/// The pieces and their measurements.
pub(super) struct Measured {
    pub features: Vec<Feature>,
    /// Rows of the pieces, in the order of their ids, so that the order of the log's rows does not matter.
    pub pieces: Vec<usize>,
    /// Pieces x features, each column of mean 0 and standard deviation 1.
    pub scaled: Array2<f64>,
    pub left_out: Vec<LeftOut>,
    /// Columns of numbers that have no stage and so were not looked at.
    pub unplaced: usize,
    /// Labels of numbers with few different values.
    pub choices: Vec<String>,
    /// Labels of measurements with too many gaps.
    pub given_up: Vec<String>,
    pub profile: Option<Profile>,
    /// Whether profiles were read, but on too few pieces to be measurements.
    pub profile_unused: bool,
}

/// A column before the pieces are chosen; empty cells are `None`.
struct Candidate {
    label: String,
    unit: Option<String>,
    higher_is: Option<String>,
    cells: Arc<Vec<Option<f64>>>,
    component: Option<usize>,
}

pub(super) fn select(study: &Study, seed: u64) -> Measured {
    let judges = judges(study);
    let mut measured = Measured {
        features: Vec::new(),
        pieces: Vec::new(),
        scaled: Array2::zeros((0, 0)),
        left_out: Vec::new(),
        unplaced: 0,
        choices: Vec::new(),
        given_up: Vec::new(),
        profile: None,
        profile_unused: false,
    };
    let mut candidates = numbers(study, &judges, &mut measured);
    let readings = study.profile();
    if !readings.is_empty() {
        let used = Curves::of(readings, &judges);
        measured.profile_unused = used.is_none();
        let curves = used.or_else(|| curves_of_few(readings));
        measured.profile = curves.and_then(|curves| profile(&curves, study.pieces(), seed));
        measured.profile_unused |= measured.profile.is_none();
        if !measured.profile_unused {
            candidates.extend(components(measured.profile.as_ref()));
        }
    }
    give_up(&mut candidates, &judges, &mut measured);
    measured.pieces = whole_pieces(study, &candidates);
    measured.left_out = left_out(study, &measured.pieces);
    let features = candidates.into_iter().map(|candidate| Feature {
        values: measured.pieces.iter().filter_map(|&piece| candidate.cells[piece]).collect(),
        label: candidate.label,
        unit: candidate.unit,
        higher_is: candidate.higher_is,
        component: candidate.component,
    });
    // what varies among all pieces may not vary among those that are whole
    let features = features.filter_map(|feature| Some((spread(&feature.values)?, feature)));
    let (spreads, features): (Vec<f64>, Vec<Feature>) = features.unzip();
    measured.features = features;
    measured.scaled = scaled(&measured.features, &spreads, measured.pieces.len());
    measured
}

/// The pieces that judge how full a measurement is.
fn judges(study: &Study) -> Vec<usize> {
    let unfinished = |fate: &Option<Fate>| matches!(fate, Some(Fate::Spoiled | Fate::Unfinished));
    let fates = study.fates();
    let finished: Vec<usize> =
        (0..study.pieces()).filter(|&piece| !unfinished(&fates[piece])).collect();
    if finished.len() < FEWEST_FINISHED { (0..study.pieces()).collect() } else { finished }
}

/// Profiles that too few pieces have to be measurements, but enough to show how they differ.
fn curves_of_few(readings: &[ProfileReading]) -> Option<Curves> {
    let read: BTreeSet<usize> = readings.iter().map(|reading| reading.piece).collect();
    let read: Vec<usize> = read.into_iter().collect();
    if read.len() < super::FEWEST_PIECES { None } else { Curves::of(readings, &read) }
}

fn numbers(study: &Study, judges: &[usize], measured: &mut Measured) -> Vec<Candidate> {
    let mut candidates = Vec::new();
    for factor in study.factors().iter().filter(|factor| factor.kind == FactorKind::Number) {
        if factor.stage == Stage::Unplaced {
            measured.unplaced += 1;
        }
        if !Stage::MAKING.contains(&factor.stage) || factor.stage == Stage::Play {
            continue;
        }
        let cells = study.numbers(&factor.name);
        let known: Vec<f64> = judges.iter().filter_map(|&piece| cells[piece]).collect();
        if (known.len() as f64) < FEWEST_KNOWN * judges.len() as f64 {
            if !known.is_empty() {
                measured.given_up.push(factor.label.clone());
            }
            continue;
        }
        match (spread(&known), has_few_values(&known)) {
            (Some(_), false) => candidates.push(candidate(factor, cells)),
            (Some(_), true) => measured.choices.push(factor.label.clone()),
            (None, _) => {}
        }
    }
    candidates
}

fn candidate(factor: &Factor, cells: Arc<Vec<Option<f64>>>) -> Candidate {
    Candidate {
        label: factor.label.clone(),
        unit: factor.unit.clone(),
        higher_is: factor.higher_is.clone(),
        cells,
        component: None,
    }
}

fn components(profile: Option<&Profile>) -> Vec<Candidate> {
    let each = profile.into_iter().flat_map(|profile| profile.scores.iter().enumerate());
    each.map(|(number, cells)| Candidate {
        label: words::component(number + 1),
        unit: None,
        higher_is: None,
        cells: Arc::new(cells.clone()),
        component: Some(number),
    })
    .collect()
}

/// Gives up the measurement with most gaps until enough pieces are whole; components of one profile have the same gaps and go together.
fn give_up(candidates: &mut Vec<Candidate>, judges: &[usize], measured: &mut Measured) {
    let gaps = |candidate: &Candidate| {
        judges.iter().filter(|&&piece| candidate.cells[piece].is_none()).count()
    };
    let whole = |candidates: &[Candidate]| {
        let is_whole =
            |piece: &&usize| candidates.iter().all(|candidate| candidate.cells[**piece].is_some());
        judges.iter().filter(is_whole).count() as f64
    };
    while candidates.len() > super::FEWEST_MEASUREMENTS
        && whole(candidates) < FEWEST_WHOLE * judges.len() as f64
    {
        let worst = (0..candidates.len()).max_by_key(|&at| gaps(&candidates[at]));
        let Some(worst) = worst.map(|at| candidates.remove(at)) else { break };
        if worst.component.is_some() {
            candidates.retain(|candidate| candidate.component.is_none());
            measured.profile_unused = true;
        } else {
            measured.given_up.push(worst.label);
        }
    }
}

fn whole_pieces(study: &Study, candidates: &[Candidate]) -> Vec<usize> {
    let is_whole =
        |piece: &usize| candidates.iter().all(|candidate| candidate.cells[*piece].is_some());
    let ids = study.ids();
    let mut pieces: Vec<usize> = (0..study.pieces()).filter(is_whole).collect();
    pieces.sort_by(|&a, &b| ids[a].cmp(ids[b]));
    pieces
}

fn left_out(study: &Study, pieces: &[usize]) -> Vec<LeftOut> {
    let kept = PieceSet::of(pieces, study.pieces());
    let fates = study.fates();
    let count = |wanted: &dyn Fn(Option<Fate>) -> bool| {
        (0..study.pieces()).filter(|piece| !kept.holds(*piece) && wanted(fates[*piece])).count()
    };
    let early = |fate| matches!(fate, Some(Fate::Spoiled | Fate::Unfinished));
    let mut left_out = Vec::new();
    let reasons = [
        ("spoiled or unfinished before all was measured", count(&early)),
        ("a measurement is missing", count(&|fate| !early(fate))),
    ];
    for (why, n) in reasons {
        crate::questions::scores::count_out(&mut left_out, why, n);
    }
    left_out
}

/// Of values that differ and whose squares are numbers.
fn spread(values: &[f64]) -> Option<f64> {
    let spread = standard_deviation(values).ok()?;
    let is_sound = spread.is_finite() && spread > 0.0 && mean(values).is_ok_and(f64::is_finite);
    is_sound.then_some(spread)
}

fn has_few_values(values: &[f64]) -> bool {
    let mut found = BTreeSet::new();
    // adding 0.0 makes the two zeros one
    let bits = values.iter().map(|value| (value + 0.0).to_bits());
    !bits.into_iter().any(|value| found.insert(value) && found.len() >= FEWEST_VALUES)
}

/// Each column less its mean, in its own spreads.
fn scaled(features: &[Feature], spreads: &[f64], pieces: usize) -> Array2<f64> {
    let centres: Vec<f64> =
        features.iter().map(|feature| mean(&feature.values).unwrap_or(0.0)).collect();
    Array2::from_shape_fn((pieces, features.len()), |(row, column)| {
        (features[column].values[row] - centres[column]) / spreads[column]
    })
}
