//! `sheet.html`: what to make in which order, and on a page of their own the labels for whoever plays.

use minijinja::{AutoEscape, Error, context};
use serde::Serialize;

use super::{cautions, template};
use crate::plan::{Best, Plan};
use crate::plots::palette;
use crate::words::digits::plural;
use crate::words::factors::capitalised;
use crate::words::given::given;
use crate::words::labels::plain;

const TEMPLATE: &str = include_str!("templates/trial_sheet.html");
const STYLE: &str = include_str!("templates/trial_sheet.css");

#[derive(Serialize)]
struct Sheet {
    title: String,
    made_on: String,
    factor: String,
    blocks: Vec<BlockView>,
    labels: Vec<String>,
    criterion: String,
    scale: String,
    cautions_title: &'static str,
    cautions: String,
    checksum: String,
    seed: String,
}

#[derive(Serialize)]
struct BlockView {
    lot: String,
    maker: Option<String>,
    pieces: String,
    rows: Vec<[String; 3]>,
}

pub fn page(plan: &Plan) -> Result<String, Error> {
    let mut environment = template::environment()?;
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template("trial_sheet.html", TEMPLATE)?;
    let style = format!("{}{STYLE}", palette::custom_properties());
    let sheet = template::value(&view(plan));
    environment.get_template("trial_sheet.html")?.render(context! { sheet, style })
}

/// Sorted, which is no order of making: the labels are drawn by chance.
pub fn labels(plan: &Plan) -> Vec<String> {
    let mut labels: Vec<String> = plan.pieces.iter().map(|piece| piece.label.clone()).collect();
    labels.sort_unstable();
    labels
}

fn view(plan: &Plan) -> Sheet {
    Sheet {
        title: plain(&plan.title),
        made_on: plain(&plan.made_on),
        factor: capitalised(&plain(&plan.factor.label)),
        blocks: blocks(plan),
        labels: labels(plan).iter().map(|label| plain(label)).collect(),
        criterion: plain(&plan.outcome.criterion),
        scale: scale(plan),
        cautions_title: cautions::TITLE,
        cautions: cautions::SENTENCES.join(" "),
        checksum: plan.checksum.clone(),
        seed: plan.seed.to_string(),
    }
}

fn blocks(plan: &Plan) -> Vec<BlockView> {
    let arms = plan.arms_of_pieces();
    let numbered = plan.blocks.iter().enumerate();
    let rows = |block: usize| {
        let of_block = plan.pieces.iter().zip(&arms).filter(move |(piece, _)| piece.block == block);
        of_block.map(|(piece, arm)| {
            let name = plan.arms.get(*arm).map_or("", |arm| arm.name.as_str());
            [piece.order.to_string(), plain(&piece.label), plain(name)]
        })
    };
    numbered
        .map(|(number, block)| BlockView {
            lot: plain(&block.lot),
            maker: block.maker.as_deref().map(plain),
            pieces: plural(block.pieces, "piece", "pieces"),
            rows: rows(number + 1).collect(),
        })
        .collect()
}

/// `from 1 to 10; 10 is best`
fn scale(plan: &Plan) -> String {
    let [low, high] = plan.outcome.scale;
    let best = match (plan.outcome.target, plan.outcome.best) {
        (Some(target), _) => target,
        (None, Best::High) => high,
        (None, Best::Low) => low,
    };
    format!("from {} to {}; {} is best", given(low), given(high), given(best))
}
