//! How many pieces each stage took: the share with its interval, the counts
//! and the reasons in words.

use super::axes::{Strip, axis_below, axis_title, upright_grid};
use super::canvas::{Anchor, Canvas, Pen, WIDTH, words};
use super::palette::Ink;
use super::scale::{Range, Scale};
use crate::finding::StageShown;
use crate::words::{digits, lists};

const ROW: f64 = 72.0;
const MARGIN: f64 = 10.0;
const REASONS_SHOWN: usize = 4;

pub fn draw(canvas: &mut Canvas, stages: &[StageShown]) {
    let highest = stages.iter().map(|stage| stage.share.high).filter(|high| high.is_finite());
    let top_share = highest.fold(0.02, f64::max).min(1.0);
    let range = Range::new(0.0, top_share * 100.0);
    let scale = Scale { range, from: MARGIN, to: WIDTH - MARGIN };
    let top = canvas.height;
    let strips: Vec<Strip> = (0..stages.len())
        .map(|row| top + row as f64 * ROW)
        .map(|top| [top + 22.0, top + 44.0])
        .collect();
    let ticks = range.ticks(5);
    upright_grid(canvas, &scale, &ticks, &strips);
    for stage in stages {
        row(canvas, &scale, stage);
    }
    axis_below(canvas, &scale, &ticks, false);
    axis_title(canvas, "lost, % of the pieces that came to the stage");
}

fn row(canvas: &mut Canvas, scale: &Scale, stage: &StageShown) {
    let top = canvas.height;
    let counted = format!(
        "{} of {}: {} ({} to {})",
        digits::count(stage.lost),
        digits::count(stage.entered),
        digits::percent(stage.share.estimate),
        digits::percent(stage.share.low),
        digits::percent(stage.share.high),
    );
    let right = words(counted, (WIDTH - 8.0, top + 12.0)).quiet().anchored(Anchor::Right);
    canvas.write_line(words(&stage.stage, (8.0, top + 12.0)), right);
    let middle = top + 33.0;
    let [estimate, low, high] =
        [stage.share.estimate, stage.share.low, stage.share.high].map(|v| scale.at(v * 100.0));
    canvas.rectangle(
        (scale.from, middle - 8.0),
        (estimate, middle + 8.0),
        Pen::faint(Ink::Clay, 0.6),
    );
    canvas.line((low, middle), (high, middle), Pen::new(Ink::Text, 1.6));
    for end in [low, high] {
        canvas.line((end, middle - 4.0), (end, middle + 4.0), Pen::new(Ink::Text, 1.6));
    }
    let reasons = reasons(stage);
    if !reasons.is_empty() {
        let room = super::canvas::fitted(&reasons, WIDTH - 16.0, super::canvas::SMALL);
        canvas.write(words(room, (8.0, top + 54.0)).quiet());
    }
    canvas.height += ROW;
}

/// `cracked 3, leaked 2 and other 1`
fn reasons(stage: &StageShown) -> String {
    let named: Vec<String> = stage
        .reasons
        .iter()
        .take(REASONS_SHOWN)
        .map(|(reason, number)| format!("{reason} {}", digits::count(*number)))
        .collect();
    match stage.reasons.len() > REASONS_SHOWN {
        true => format!("{} and others", named.join(", ")),
        false => lists::and(&named),
    }
}
