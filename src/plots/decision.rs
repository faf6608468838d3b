//! What each value of a practice gives, in two panels one above the other: the rating over the reeds, and good reeds of ten pieces.

use super::axes::{Above, Labels, Panel, panel, panel_below};
use super::canvas::{Anchor, Canvas, Pen, Point, SMALL, WIDTH, text_width, words};
use super::factor_number::good_level;
use super::palette::Ink;
use super::scale::Range;
use super::spots;
use crate::finding::{CandidateShown, GoodLine, Interval, PlottedPoint};
use crate::words::{decide, labels};

const DOT: f64 = 5.5;
const THIN_DOT: f64 = 3.5;
const THIN_OPACITY: f64 = 0.5;
/// A ring around the present practice.
const RING: f64 = 9.0;
const LONGEST_NAME: usize = 18;
const LINE_OF_NAME: f64 = 15.0;

pub fn draw(
    canvas: &mut Canvas,
    labels: Labels,
    candidates: &[CandidateShown],
    reeds: &[PlottedPoint],
    good_at: Option<GoodLine>,
    y_range: [f64; 2],
) {
    let reeds: Vec<&PlottedPoint> =
        reeds.iter().filter(|reed| reed.x.is_finite() && reed.y.is_finite()).collect();
    let shown: Vec<&CandidateShown> =
        candidates.iter().filter(|candidate| candidate.x.is_finite()).collect();
    let across = reeds.iter().map(|reed| reed.x).chain(shown.iter().map(|one| one.x));
    let x_range = Range::covering(across).padded(0.08);
    let place_of_reed = key(canvas);
    let ratings = shown.iter().filter_map(|one| known(one.rating)).flat_map(ends);
    let y_range = Range::new(y_range[0], y_range[1]).including(reeds.iter().map(|reed| reed.y));
    let head = Above { level: good_at.map(good_level), room: room_for_names(&shown) };
    let ranges = [x_range, y_range.including(ratings).padded(0.03)];
    let above = panel_below(canvas, labels, ranges, 10.0, head);
    let spots: Vec<(Point, usize)> =
        reeds.iter().map(|reed| ((above.x.at(reed.x), above.y.at(reed.y)), reed.reeds)).collect();
    let radius = spots::draw(canvas, &spots, spots.len());
    spots::in_key(canvas, place_of_reed, radius);
    marks(canvas, &above, &shown, |one| one.rating, (Ink::River, Names::AbovePanel));
    canvas.height += 12.0;
    let counted = Labels { x: labels.x, y: decide::GOOD_AXIS };
    let below = panel(canvas, counted, [x_range, Range::new(0.0, 10.0).padded(0.03)], 10.0);
    if shown.iter().all(|one| known(one.good_per_ten).is_none()) {
        let middle = ((below.x.from + below.right()) / 2.0, (below.top() + below.bottom()) / 2.0);
        canvas.write(words(decide::NOT_KNOWN, middle).quiet().anchored(Anchor::Middle));
    }
    marks(canvas, &below, &shown, |one| one.good_per_ten, (Ink::Sage, Names::AtIntervals));
}

/// Where the candidates are named: among the reeds no name could be read.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Names {
    AbovePanel,
    AtIntervals,
}

fn room_for_names(candidates: &[&CandidateShown]) -> f64 {
    let most_lines = candidates.iter().map(|one| name_lines(one).len()).max().unwrap_or(0);
    LINE_OF_NAME * most_lines as f64
}

fn name_lines(candidate: &CandidateShown) -> Vec<String> {
    let name = labels::shortened(&candidate.label, LONGEST_NAME);
    let is_thin = candidate.is_thin.then(|| decide::THIN.to_owned());
    std::iter::once(name).chain(is_thin).collect()
}

fn known(interval: Option<Interval>) -> Option<Interval> {
    interval
        .filter(|found| [found.estimate, found.low, found.high].iter().all(|end| end.is_finite()))
}

fn ends(interval: Interval) -> [f64; 2] {
    [interval.low, interval.high]
}

/// Each candidate's interval, its mark and its name; the present practice has a ring, a thin one is lighter, smaller and says so.
fn marks(
    canvas: &mut Canvas,
    panel: &Panel,
    candidates: &[&CandidateShown],
    of: fn(&CandidateShown) -> Option<Interval>,
    (ink, names): (Ink, Names),
) {
    let mut free_from = f64::NEG_INFINITY;
    for candidate in candidates {
        let Some(interval) = known(of(candidate)) else { continue };
        let x = panel.x.at(candidate.x);
        let [low, middle, high] =
            [interval.low, interval.estimate, interval.high].map(|value| panel.y.at(value));
        let opacity = if candidate.is_thin { THIN_OPACITY } else { 1.0 };
        let width = if candidate.is_thin { 1.4 } else { 2.6 };
        canvas.line((x, low), (x, high), Pen { ink, width, opacity });
        if candidate.is_present {
            canvas.ring((x, middle), RING, Pen::new(Ink::Clay, 2.4));
        }
        let radius = if candidate.is_thin { THIN_DOT } else { DOT };
        canvas.dot((x, middle), radius, Pen::faint(ink, opacity));
        let lines = name_lines(candidate);
        let height = LINE_OF_NAME * lines.len() as f64;
        let top = match names {
            Names::AbovePanel => panel.top() - height - 2.0,
            Names::AtIntervals => (high - height - 3.0).max(panel.top()),
        };
        name(canvas, (x, top), &lines, &mut free_from);
    }
}

/// Centred on its place; a name that would touch the one before is left out, the axis has the value.
fn name(canvas: &mut Canvas, (x, top): Point, lines: &[String], free_from: &mut f64) {
    let half = lines.iter().map(|line| text_width(line, SMALL)).fold(0.0, f64::max) / 2.0;
    let middle = x.clamp(half + 2.0, WIDTH - half - 2.0);
    if middle - half < *free_from {
        return;
    }
    *free_from = middle + half + 4.0;
    for (number, line) in lines.iter().enumerate() {
        let at = (middle, top + LINE_OF_NAME * (number as f64 + 0.5));
        canvas.write(words(line.clone(), at).sized(SMALL).anchored(Anchor::Middle));
    }
}

/// Returns where the mark of a reed belongs.
fn key(canvas: &mut Canvas) -> Point {
    let y = canvas.height + 10.0;
    canvas.ring((16.0, y), RING, Pen::new(Ink::Clay, 2.4));
    canvas.write(words(decide::PRESENT, (32.0, y)).sized(SMALL));
    let next = 32.0 + text_width(decide::PRESENT, SMALL) + 18.0;
    canvas.write(words("a reed", (next + 10.0, y)).sized(SMALL));
    canvas.height += 28.0;
    (next, y)
}
