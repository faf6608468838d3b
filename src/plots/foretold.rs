//! What reeds were foretold to be against what they were rated, with the line on which both are the same.

use super::axes::{Above, Labels, panel_below};
use super::canvas::{Anchor, Canvas, Pen, Point, words};
use super::factor_number::good_level;
use super::palette::Ink;
use super::scale::Range;
use super::spots;
use crate::finding::{GoodLine, PlottedPoint};

pub fn draw(
    canvas: &mut Canvas,
    labels: Labels,
    points: &[PlottedPoint],
    average: f64,
    good_at: Option<GoodLine>,
) {
    let known: Vec<&PlottedPoint> =
        points.iter().filter(|point| point.x.is_finite() && point.y.is_finite()).collect();
    // one range for both, so that a narrow cloud looks narrow
    let values = known.iter().flat_map(|point| [point.x, point.y]);
    let range = Range::covering(values).padded(0.04);
    let above = Above { level: good_at.map(good_level), ..Above::default() };
    let panel = panel_below(canvas, labels, [range, range], 10.0, above);
    if range.holds(average) {
        let x = panel.x.at(average);
        canvas.dashed((x, panel.top()), (x, panel.bottom()), Pen::new(Ink::Text, 1.2), [2.0, 4.0]);
        let aside = if x > (panel.x.from + panel.right()) / 2.0 {
            (x - 5.0, Anchor::Right)
        } else {
            (x + 5.0, Anchor::Left)
        };
        let name = words("average", (aside.0, panel.bottom() - 10.0)).quiet();
        canvas.write(name.anchored(aside.1));
    }
    let reeds: Vec<(Point, usize)> = known
        .iter()
        .map(|point| ((panel.x.at(point.x), panel.y.at(point.y)), point.reeds))
        .collect();
    spots::draw(canvas, &reeds, reeds.len());
    let [low, high] = [range.low(), range.high()];
    let ends = [low, high].map(|value| (panel.x.at(value), panel.y.at(value)));
    canvas.path(ends.to_vec(), Pen::new(Ink::River, 2.0));
}
