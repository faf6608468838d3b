//! How far the trial has come, and what reading it now allows.

use super::pieces::{Came, TrialPiece};
use crate::plan::Plan;
use crate::stats::sequential::{Boundary, Spending, unadjusted_false_alarm};

/// A look of the plan this near in information counts as this look.
const NEAR: f64 = 0.05;
/// Earlier than this share nothing is reckoned apart.
const EARLIEST: f64 = 0.01;

/// Marks that are there and marks that may come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Progress {
    pub rated: usize,
    pub open: usize,
    /// Marks expected in all.
    pub expected: f64,
    /// Share of them that is there; 1 when none is to come.
    pub information: f64,
}

/// What this look allows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Look {
    /// Its number, counting the looks that the plan puts before it.
    pub number: usize,
    pub planned: usize,
    pub early: bool,
    pub foreseen: bool,
    /// Two-sided level of this look.
    pub nominal: f64,
    /// The bounds up to this look, where the plan allows several.
    pub boundary: Option<Boundary>,
    /// Chance of a false alarm of reading now and at the end, where the plan allows no look.
    pub false_alarm: Option<f64>,
}

pub(super) fn progress(pieces: &[TrialPiece], plan: &Plan) -> Progress {
    let rated = pieces.iter().filter(|piece| piece.mark.is_some()).count();
    let is_open = |piece: &&TrialPiece| matches!(piece.came, Came::NotMade | Came::Open);
    let open = pieces.iter().filter(is_open).count();
    let spared = 1.0 - plan.reckoned.spoilage.clamp(0.0, 0.99);
    let expected = rated as f64 + open as f64 * spared;
    let information = if open == 0 { 1.0 } else { rated as f64 / expected };
    Progress { rated, open, expected, information }
}

pub(super) fn look(progress: Progress, plan: &Plan) -> Look {
    let significance = 1.0 - plan.analysis.level;
    let early = progress.open > 0;
    let planned = plan.analysis.looks.len();
    let plain = Look {
        number: 1,
        planned,
        early,
        foreseen: !early,
        nominal: significance,
        boundary: None,
        false_alarm: None,
    };
    let now = if early { progress.information.clamp(EARLIEST, 1.0 - EARLIEST) } else { 1.0 };
    if planned < 2 {
        let twice = || unadjusted_false_alarm(&[now, 1.0], significance).ok();
        return Look { false_alarm: early.then(twice).flatten(), ..plain };
    }
    spent(plain, now, plan)
}

/// The bound of this look: what the looks before it may have spent is spent.
fn spent(plain: Look, now: f64, plan: &Plan) -> Look {
    let looks = &plan.analysis.looks;
    let mut fractions: Vec<f64> = looks.iter().copied().filter(|look| *look < now - NEAR).collect();
    fractions.push(now);
    let significance = plain.nominal;
    let rule = Spending::OBrienFlemingType;
    let Ok(boundary) = Boundary::for_small_trials(rule, &fractions, significance) else {
        return plain;
    };
    Look {
        number: fractions.len(),
        foreseen: looks.iter().any(|look| (look - now).abs() <= NEAR),
        nominal: boundary.nominal_levels().last().copied().unwrap_or(significance),
        boundary: Some(boundary),
        ..plain
    }
}
