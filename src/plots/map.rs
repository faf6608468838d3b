//! Pieces on a map, each kind with a mark and a colour of its own and its name beside its middle.

use super::axes::{Labels, Panel, panel};
use super::canvas::{Anchor, Canvas, Pen, Point, SMALL, fitted, text_width, words};
use super::palette::Ink;
use super::scale::Range;
use crate::finding::MapShown;

const ARM: f64 = 3.4;
const STROKE: f64 = 1.5;
const NAME_ROOM: f64 = 150.0;
const NAME_HEIGHT: f64 = 18.0;
/// Kinds beyond the last mark begin again; their colours then differ.
const MARKS: usize = 7;

pub fn draw(canvas: &mut Canvas, labels: Labels, families: &[MapShown]) {
    let finite = |point: &&[f64; 2]| point.iter().all(|value| value.is_finite());
    let all = || families.iter().flat_map(|family| family.points.iter().filter(finite));
    let range = |along: fn(&[f64; 2]) -> f64| Range::covering(all().map(along)).padded(0.05);
    let panel = panel(canvas, labels, [range(|[x, _]| *x), range(|[_, y]| *y)], 10.0);
    for (position, family) in families.iter().enumerate() {
        let pen = Pen { ink: Ink::of_series(position), width: STROKE, opacity: 0.75 };
        for point in family.points.iter().filter(finite) {
            mark(canvas, position, (panel.x.at(point[0]), panel.y.at(point[1])), pen);
        }
    }
    names(canvas, &panel, families);
}

/// Marks of lines, since many lines are written as one path.
fn mark(canvas: &mut Canvas, position: usize, (x, y): Point, pen: Pen) {
    let at = |right: f64, down: f64| (x + right * ARM, y + down * ARM);
    match position % MARKS {
        0 => canvas.dot((x, y), 0.75 * ARM, Pen { opacity: 0.6, ..pen }),
        1 => canvas.path(vec![at(-1.0, 0.8), at(0.0, -1.0), at(1.0, 0.8), at(-1.0, 0.8)], pen),
        2 => {
            canvas.line(at(-0.9, -0.9), at(0.9, 0.9), pen);
            canvas.line(at(-0.9, 0.9), at(0.9, -0.9), pen);
        }
        3 => canvas.path(
            vec![at(-0.9, -0.9), at(0.9, -0.9), at(0.9, 0.9), at(-0.9, 0.9), at(-0.9, -0.9)],
            pen,
        ),
        4 => {
            canvas.line(at(-1.1, 0.0), at(1.1, 0.0), pen);
            canvas.line(at(0.0, -1.1), at(0.0, 1.1), pen);
        }
        5 => canvas.path(vec![at(-1.0, -0.8), at(0.0, 1.0), at(1.0, -0.8), at(-1.0, -0.8)], pen),
        _ => canvas.path(
            vec![at(0.0, -1.2), at(1.2, 0.0), at(0.0, 1.2), at(-1.2, 0.0), at(0.0, -1.2)],
            pen,
        ),
    }
}

/// Each name on a patch of the page at its kind's middle, pushed down where two would touch.
fn names(canvas: &mut Canvas, panel: &Panel, families: &[MapShown]) {
    let shown = families.iter().enumerate().filter(|(_, family)| !family.points.is_empty());
    let mut places: Vec<(Point, usize, &MapShown)> = shown
        .map(|(position, family)| {
            ((panel.x.at(family.middle[0]), panel.y.at(family.middle[1])), position, family)
        })
        .collect();
    places.sort_by(|a, b| a.0.1.total_cmp(&b.0.1).then(a.1.cmp(&b.1)));
    let mut written: Vec<(Point, f64)> = Vec::new();
    for ((x, y), position, family) in places {
        let text = fitted(&family.label, NAME_ROOM, SMALL);
        let half = text_width(&text, SMALL) / 2.0 + 10.0;
        let x = x.clamp(panel.x.from + half, panel.right() - half);
        let mut y = y.clamp(panel.top() + NAME_HEIGHT, panel.bottom() - NAME_HEIGHT);
        for ((other_x, other_y), other_half) in &written {
            if (x - other_x).abs() < half + other_half && (y - other_y).abs() < NAME_HEIGHT {
                y = other_y + NAME_HEIGHT;
            }
        }
        let patch = Pen { ink: Ink::Page, width: 1.0, opacity: 0.85 };
        canvas.rectangle((x - half, y - 9.0), (x + half, y + 9.0), patch);
        mark(canvas, position, (x - half + 7.0, y), Pen::new(Ink::of_series(position), STROKE));
        let name = words(text, (x + 6.0, y)).sized(SMALL).anchored(Anchor::Middle);
        canvas.write(name);
        written.push(((x, y), half));
    }
}
