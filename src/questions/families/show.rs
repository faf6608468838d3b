//! Say: the map of the pieces and the curves.

use super::kinds::Kinds;
use super::measure::Measured;
use super::profile::Profile;
use crate::finding::{Chart, ChartKind, CurveShown, FamiliesSection, FittedPoint, MapShown};
use crate::stats::cluster::sampled_rows;
use crate::stats::components::{Scaling, principal_components};
use crate::stats::numeric::{mean, quantile_of_sorted};
use crate::words::families::pictures as words;
use ndarray::Axis;

/// Pieces on the map; more would only be a blot.
const MOST_ON_MAP: usize = 1_200;
/// So far from the mean a component's curve is drawn, in its standard deviations.
const REACH: f64 = 2.0;
const SAMPLE: u64 = 0x6d61_705f_7069_6563;

/// The pieces seen from the principal components of their measurements.
pub(super) struct Map {
    pub explained: Vec<f64>,
    /// Place of each shown piece among those looked at, and its first two scores.
    shown: Vec<(usize, [f64; 2])>,
}

impl Map {
    pub fn of(measured: &Measured, kinds: &Kinds, seed: u64) -> Option<Self> {
        let rows = sampled_rows(measured.scaled.nrows(), MOST_ON_MAP, seed ^ SAMPLE);
        let points = measured.scaled.select(Axis(0), &rows);
        let labels: Vec<String> =
            measured.features.iter().map(|feature| feature.label.clone()).collect();
        let most = points.ncols().min(rows.len().checked_sub(1)?);
        let found = principal_components(&labels, &points, most, Scaling::Standardise).ok()?;
        let place =
            |(at, &row): (usize, &usize)| (row, [found.scores[(at, 0)], found.scores[(at, 1)]]);
        let is_flat = found.scores.ncols() < 2 || kinds.labels.len() != measured.pieces.len();
        let shown = if is_flat { Vec::new() } else { rows.iter().enumerate().map(place).collect() };
        Some(Self { explained: found.shares, shown })
    }
}

pub(super) fn charts(
    measured: &Measured,
    kinds: &Kinds,
    map: Option<&Map>,
    section: &FamiliesSection,
) -> Vec<Chart> {
    let mut charts: Vec<Chart> =
        map.and_then(|map| map_chart(measured, kinds, map, section)).into_iter().collect();
    if let Some(profile) = &measured.profile {
        if kinds.number() > 1 {
            charts.extend(family_curves(profile, measured, kinds, section));
        }
        charts.push(component_curves(profile));
    }
    charts
}

fn map_chart(
    measured: &Measured,
    kinds: &Kinds,
    map: &Map,
    section: &FamiliesSection,
) -> Option<Chart> {
    let [first, second] = [map.explained.first()?, map.explained.get(1)?];
    let family = |number: usize| {
        let own = map.shown.iter().filter(|(row, _)| kinds.labels[*row] == number);
        let points: Vec<[f64; 2]> = own.map(|(_, at)| *at).collect();
        let middle = |axis: usize| {
            mean(&points.iter().map(|point| point[axis]).collect::<Vec<f64>>()).unwrap_or(0.0)
        };
        MapShown {
            label: words::family(number + 1, section.k),
            middle: [middle(0), middle(1)],
            points,
        }
    };
    Some(Chart {
        name: "families".to_owned(),
        title: "A map of the pieces".to_owned(),
        description: words::map_description(&section.list),
        reading: words::map_reading(section.k, map.shown.len(), measured.pieces.len()),
        kind: ChartKind::Map {
            x_label: words::component_axis(1, *first),
            y_label: words::component_axis(2, *second),
            families: (0..section.k).map(family).collect(),
        },
    })
}

/// Each family's mean curve along one line, with the middle half of its pieces.
fn family_curves(
    profile: &Profile,
    measured: &Measured,
    kinds: &Kinds,
    section: &FamiliesSection,
) -> Option<Chart> {
    let line = profile.drawn();
    let curve = |family: usize| {
        let own = measured.pieces.iter().zip(&kinds.labels).filter(|(_, label)| **label == family);
        let curves: Vec<&Vec<f64>> =
            own.filter_map(|(piece, _)| profile.curves.by_piece.get(piece)).collect();
        let point = |(at, point): &(usize, &super::curves::GridPoint)| {
            let mut values: Vec<f64> = curves.iter().map(|curve| curve[*at]).collect();
            values.sort_by(f64::total_cmp);
            Some(FittedPoint {
                x: point.from_tip_mm,
                fit: mean(&values).ok()?,
                low: quantile_of_sorted(&values, 0.25),
                high: quantile_of_sorted(&values, 0.75),
            })
        };
        let label = words::curve_label(family + 1, curves.len());
        CurveShown { label, points: line.iter().filter_map(point).collect() }
    };
    let curves: Vec<CurveShown> = (0..section.k).map(curve).collect();
    let name = line.first().map(|(_, point)| point.line)?;
    Some(Chart {
        name: "families_curves".to_owned(),
        title: words::curves_title(name),
        description: words::curves_description(name, &section.list),
        reading: words::CURVES_READING.to_owned(),
        kind: thickness(curves),
    })
}

/// The mean curve, and that with two standard deviations of the first component added and taken away.
fn component_curves(profile: &Profile) -> Chart {
    let line = profile.drawn();
    let components = &profile.components;
    let sd = components.standard_deviations.first().copied().unwrap_or(0.0);
    let curve = |label: String, times: f64| CurveShown {
        label,
        points: line
            .iter()
            .map(|(at, point)| {
                let fit = components.centres[*at] + times * sd * components.loadings[(0, *at)];
                FittedPoint { x: point.from_tip_mm, fit, low: fit, high: fit }
            })
            .collect(),
    };
    let [mean, more, less] = words::component_labels();
    let name = line.first().map_or("", |(_, point)| point.line);
    let share = components.shares.first().copied().unwrap_or(0.0);
    Chart {
        name: "families_profile".to_owned(),
        title: words::component_title(name),
        description: words::component_description(name, share),
        reading: words::component_reading(share),
        kind: thickness(vec![curve(mean, 0.0), curve(more, REACH), curve(less, -REACH)]),
    }
}

fn thickness(curves: Vec<CurveShown>) -> ChartKind {
    ChartKind::Curves {
        x_label: words::ALONG.to_owned(),
        y_label: words::THICKNESS.to_owned(),
        curves,
    }
}
