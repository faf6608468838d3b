//! Two readings or two ratings of the same thing against each other, with the line on which both are the same.

use super::axes::{Labels, panel};
use super::canvas::{Canvas, Pen, Point};
use super::palette::Ink;
use super::scale::Range;
use super::spots;
use crate::finding::PlottedPoint;

pub fn draw(
    canvas: &mut Canvas,
    labels: Labels,
    points: &[PlottedPoint],
    apart: Option<f64>,
    range: Option<[f64; 2]>,
) {
    let known: Vec<&PlottedPoint> =
        points.iter().filter(|point| point.x.is_finite() && point.y.is_finite()).collect();
    let values = known.iter().flat_map(|point| [point.x, point.y]);
    // one range for both, so that the line of equals goes from corner to corner
    let range = match range {
        Some([low, high]) => Range::new(low, high).including(values),
        None => Range::covering(values),
    };
    let range = range.padded(0.04);
    let panel = panel(canvas, labels, [range, range], 10.0);
    let (low, high) = (range.low(), range.high());
    let at = |x: f64, y: f64| (panel.x.at(x), panel.y.at(y));
    canvas.path(vec![at(low, low), at(high, high)], Pen::new(Ink::River, 2.0));
    let dashed = Pen::new(Ink::Clay, 1.6);
    // a band as wide as the panel has no line inside it
    if let Some(apart) = apart.filter(|apart| *apart > 0.0 && *apart < high - low) {
        canvas.dashed(at(low, low + apart), at(high - apart, high), dashed, [6.0, 4.0]);
        canvas.dashed(at(low + apart, low), at(high, high - apart), dashed, [6.0, 4.0]);
    }
    let dots: Vec<(Point, usize)> =
        known.iter().map(|point| (at(point.x, point.y), point.reeds)).collect();
    spots::draw(canvas, &dots, dots.len());
}
