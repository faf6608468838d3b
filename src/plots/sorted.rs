//! Pieces by one measurement, good ones above and the others below, with the share of good reeds, the limits, and the judged gain.

use super::axes::{Labels, Strip, axis_below, axis_title, panel, upright_grid};
use super::canvas::{Anchor, Canvas, Pen, Point, SMALL, WIDTH, text_width, words};
use super::palette::Ink;
use super::scale::{Range, Scale};
use super::spots;
use crate::finding::{FittedPoint, Interval, PlottedPoint};
use crate::words::digits;

const MARGIN: f64 = 14.0;
const DROPPED: &str = "dropped";

pub fn draw(
    canvas: &mut Canvas,
    label: &str,
    pieces: &[PlottedPoint],
    shares: &[FittedPoint],
    keep: [Option<f64>; 2],
) {
    let known: Vec<&PlottedPoint> =
        pieces.iter().filter(|point| point.x.is_finite() && point.y.is_finite()).collect();
    let x = Range::covering(known.iter().map(|point| point.x)).padded(0.04);
    let y = Range::new(-8.0, 108.0);
    let panel = panel(canvas, Labels { x: label, y: "good reeds, %" }, [x, y], 10.0);
    let (top, bottom) = (panel.top(), panel.bottom());
    let [low, high] = keep.map(|limit| limit.filter(|limit| limit.is_finite()));
    for (limit, end) in [(low, panel.x.from), (high, panel.right())] {
        let Some(limit) = limit else { continue };
        let at = panel.x.at(limit);
        canvas.rectangle((end, top), (at, bottom), Pen::faint(Ink::Clay, 0.14));
        canvas.dashed((at, top), (at, bottom), Pen::new(Ink::Clay, 1.6), [6.0, 4.0]);
        if (end - at).abs() > text_width(DROPPED, SMALL) + 6.0 {
            let middle = ((at + end) / 2.0, panel.y.at(90.0));
            canvas.write(words(DROPPED, middle).sized(SMALL).anchored(Anchor::Middle));
        }
    }
    let spots: Vec<(Point, usize)> = known
        .iter()
        .map(|point| ((panel.x.at(point.x), panel.y.at(100.0 * point.y)), point.reeds))
        .collect();
    spots::draw(canvas, &spots, spots.len());
    let shown: Vec<&FittedPoint> = shares
        .iter()
        .filter(|share| [share.x, share.fit, share.low, share.high].iter().all(|v| v.is_finite()))
        .collect();
    for share in &shown {
        let at = panel.x.at(share.x);
        let ends = [share.low, share.high].map(|end| (at, panel.y.at(100.0 * end)));
        canvas.line(ends[0], ends[1], Pen::new(Ink::River, 1.8));
    }
    let line = shown.iter().map(|share| (panel.x.at(share.x), panel.y.at(100.0 * share.fit)));
    let line: Vec<Point> = line.collect();
    canvas.path(line.clone(), Pen::new(Ink::River, 2.4));
    line.into_iter().for_each(|at| canvas.dot(at, 4.6, Pen::new(Ink::River, 1.0)));
}

/// The gain as a row of its own, with the gain worth having as a band around none.
pub fn draw_gain(canvas: &mut Canvas, gain: Interval, worthwhile: f64) {
    canvas.height += 10.0;
    let told = format!("gained of ten pieces: {}", digits::change(gain));
    canvas.write(words(told, (8.0, canvas.height + 10.0)).sized(SMALL));
    canvas.height += 22.0;
    let range = Range::new(-1.2 * worthwhile, 1.2 * worthwhile).including([gain.low, gain.high]);
    let scale = Scale { range: range.padded(0.04), from: MARGIN, to: WIDTH - MARGIN };
    let (top, bottom) = (canvas.height, canvas.height + 26.0);
    let [less, more] = [-worthwhile, worthwhile].map(|end| scale.at(end));
    canvas.rectangle((less, top), (more, bottom), Pen::faint(Ink::Line, 0.7));
    let strips: [Strip; 1] = [[top, bottom]];
    let ticks = scale.range.ticks(5);
    upright_grid(canvas, &scale, &ticks, &strips);
    let none = scale.at(0.0);
    canvas.line((none, top), (none, bottom), Pen::new(Ink::Text, 1.2));
    let middle = (top + bottom) / 2.0;
    if [gain.estimate, gain.low, gain.high].iter().all(|value| value.is_finite()) {
        let ends = [gain.low, gain.high].map(|end| (scale.at(end), middle));
        canvas.line(ends[0], ends[1], Pen::new(Ink::River, 2.4));
        canvas.dot((scale.at(gain.estimate), middle), 5.0, Pen::new(Ink::River, 1.0));
    }
    canvas.height = bottom;
    axis_below(canvas, &scale, &ticks, true);
    axis_title(canvas, "good reeds more of ten worked on");
}
