//! What reeds were foretold to be against what they were rated, with the line on which both are the same.

use super::axes::{Above, Labels, panel_below};
use super::canvas::{Anchor, Canvas, Pen, Point, SMALL, WIDTH, text_width, words};
use super::factor_number::good_level;
use super::palette::Ink;
use super::scale::Range;
use super::spots;
use crate::finding::{GoodLine, PlottedPoint};

const AVERAGE: &str = "average";
/// Above the panel, where no reed lies under it.
const LINE_OF_NAME: f64 = 18.0;

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
    let has_average = range.holds(average);
    let room = if has_average { LINE_OF_NAME } else { 0.0 };
    let above = Above { level: good_at.map(good_level), room };
    let panel = panel_below(canvas, labels, [range, range], 10.0, above);
    if has_average {
        let x = panel.x.at(average);
        canvas.dashed((x, panel.top()), (x, panel.bottom()), Pen::new(Ink::Text, 1.2), [2.0, 4.0]);
        let half = text_width(AVERAGE, SMALL) / 2.0;
        let at = (x.clamp(half, WIDTH - half), panel.top() - LINE_OF_NAME / 2.0);
        canvas.write(words(AVERAGE, at).quiet().anchored(Anchor::Middle));
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
