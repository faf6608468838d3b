//! How far a series has moved: the present practice against the base period, and all pieces against a target.

use std::collections::BTreeSet;

use super::series::Point;
use crate::finding::Estimated;
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::linear::{LinearFit, least_squares};

/// It takes so many points on each side.
const FEWEST: usize = 5;
/// Lots count as clusters from so many on.
const FEWEST_LOTS: usize = 3;

/// Mean of the last `window` days less that of the base period; none where they overlap too much, or lots are too few to carry an interval.
pub(super) fn change(points: &[Point], base: usize, window: u32) -> Option<Estimated> {
    let last = points.last()?.day;
    let is_recent = |day: i32| i64::from(last) - i64::from(day) < i64::from(window);
    let recent: Vec<Point> =
        points[base..].iter().filter(|point| is_recent(point.day)).copied().collect();
    if base < FEWEST || recent.len() < FEWEST {
        return None;
    }
    let both: Vec<Point> = points[..base].iter().chain(&recent).copied().collect();
    let is_new: Vec<f64> = (0..both.len()).map(|row| f64::from(u8::from(row >= base))).collect();
    let design = Design::builder(both.len()).intercept().number("recent", &is_new).build().ok()?;
    let fit = least_squares(&design, &values(&both)).ok()?;
    estimated(with_lots(&fit, &both, &fit.pick("recent").ok()?)?)
}

/// Mean of all points less the target.
pub(super) fn off_target(points: &[Point], target: f64) -> Option<Estimated> {
    let away: Vec<f64> = points.iter().map(|point| point.value - target).collect();
    let design = Design::builder(points.len()).intercept().build().ok()?;
    let fit = least_squares(&design, &away).ok()?;
    estimated(with_lots(&fit, points, &[1.0])?)
}

fn values(points: &[Point]) -> Vec<f64> {
    points.iter().map(|point| point.value).collect()
}

/// Pieces of one lot resemble each other; a piece without a lot is one of its own. Two lots carry no interval.
fn with_lots(fit: &LinearFit, points: &[Point], contrast: &[f64]) -> Option<Estimate> {
    let lots: BTreeSet<usize> = points.iter().filter_map(|point| point.lot).collect();
    if lots.is_empty() {
        return fit.classical(contrast).ok();
    }
    let beyond = lots.last().map_or(0, |last| last + 1);
    let clusters: Vec<usize> =
        points.iter().enumerate().map(|(row, point)| point.lot.unwrap_or(beyond + row)).collect();
    if clusters.iter().collect::<BTreeSet<_>>().len() < FEWEST_LOTS {
        return None;
    }
    fit.clustered(&clusters).ok()?.contrast(contrast).ok()
}

fn estimated(found: Estimate) -> Option<Estimated> {
    let (low, high) = found.interval(0.95).ok().filter(|_| found.standard_error > 0.0)?;
    Some(Estimated { estimate: found.value, low, high })
}
