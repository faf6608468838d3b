//! Lots as natural groups: how far their means lie apart beyond what pieces within a lot do.

use std::collections::BTreeMap;

use super::series::Series;
use crate::finding::{ControlChart, ControlPoint, LotSpread};
use crate::stats::control::{Side, subgroup_means};
use crate::stats::repeatability::one_way;
use crate::words::dates::iso;
use crate::words::drift as say;

/// It takes so many lots of two pieces or more.
const FEWEST_LOTS: usize = 3;

/// The spread of lots and the chart of their means, in the order in which they were first used.
pub(super) fn lots(series: &Series) -> Option<(LotSpread, ControlChart)> {
    let mut count: BTreeMap<usize, usize> = BTreeMap::new();
    for lot in series.points.iter().filter_map(|point| point.lot) {
        *count.entry(lot).or_default() += 1;
    }
    count.retain(|_, pieces| *pieces > 1);
    if count.len() < FEWEST_LOTS {
        return None;
    }
    let mut first: Vec<(usize, i32)> = Vec::new();
    let (mut values, mut codes) = (Vec::new(), Vec::new());
    for point in &series.points {
        let Some(lot) = point.lot.filter(|lot| count.contains_key(lot)) else { continue };
        let place = first.iter().position(|(known, _)| *known == lot).unwrap_or(first.len());
        if place == first.len() {
            first.push((lot, point.day));
        }
        values.push(point.value);
        codes.push(place);
    }
    let analysis = one_way(&values, &codes).ok()?;
    let chart = subgroup_means(&values, &codes).ok()?;
    let between = analysis.between_variance().ok()?.max(0.0);
    let total = between + analysis.within_mean_square().ok()?;
    let spread = LotSpread {
        lots: first.len(),
        sd_between: between.sqrt(),
        share_between: if total > 0.0 { between / total } else { 0.0 },
        sd_within: analysis.within_mean_square().ok()?.sqrt(),
        p: analysis.test().ok()?.p_value(),
        beyond: chart.groups.iter().filter(|group| group.signal.is_some()).count(),
    };
    // lots differ in size, and so do their limits: those of a lot of middling size are shown
    let size = values.len() as f64 / first.len() as f64;
    let half = 3.0 * chart.sigma / size.sqrt();
    let points = chart.groups.iter().zip(&first).map(|(group, (lot, day))| ControlPoint {
        date: iso(*day),
        value: group.mean,
        flag: group.signal.map(|side| say::beyond(side == Side::Above).to_owned()),
        lot: series.lots.get(*lot).cloned(),
    });
    let shown = ControlChart {
        measure: series.measure.clone(),
        kind: "lot means".to_owned(),
        center: chart.centre,
        lower: Some(chart.centre - half),
        upper: Some(chart.centre + half),
        points: points.collect(),
        signals: spread.beyond,
        signals_by_chance: None,
        sentence: say::lots(&series.label, &spread),
    };
    Some((spread, shown))
}
