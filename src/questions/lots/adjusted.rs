//! Fit: each lot's mean with the making taken out.
//!
//! The measurements and choices of the making stand as columns beside the lots' random intercepts, and every lot is read at
//! their averages. What belongs to the cane itself (stage `cane`) stays in: it is what a lot is bought for. A column with
//! more than 40 % of its cells empty is out; then those with most gaps go until 70 % of the rated reeds are whole, and the
//! ones least like the scores until there are ten reeds a column.

use std::collections::BTreeMap;

use super::super::scores::centred_within;
use super::Rated;
use super::fit::{band, components};
use crate::catalogue::Stage;
use crate::finding::{Estimated, LotResult};
use crate::stats::design::Design;
use crate::stats::mixed::{Criterion, fit_mixed};
use crate::stats::numeric::sum_of_squares;
use crate::study::{Factor, FactorKind, Study};

const MOST_MISSING: f64 = 0.4;
const FEWEST_WHOLE: f64 = 0.7;
const FEWEST_IN_LEVEL: usize = 3;
const REEDS_A_COLUMN: usize = 10;
const DRAWS: usize = 2_000;
const APART: u64 = 0x6D61_6B65;

pub(super) struct Adjusted {
    by_lot: BTreeMap<usize, Estimated>,
    /// Labels of what was taken out.
    pub taken_out: Vec<String>,
    pub reeds: usize,
}

impl Adjusted {
    pub fn write(&self, rated: &Rated, results: &mut [LotResult]) {
        for result in results {
            let lot = rated.code(&result.lot);
            result.adjusted = lot.and_then(|lot| self.by_lot.get(&lot).copied());
        }
    }
}

/// One practice: a column, or one for each level but the commonest. `None` in an empty cell.
struct Block {
    label: String,
    columns: Vec<Vec<Option<f64>>>,
}

impl Block {
    fn has(&self, reed: usize) -> bool {
        self.columns.iter().all(|column| column[reed].is_some())
    }

    fn gaps(&self, reeds: usize) -> usize {
        (0..reeds).filter(|&reed| !self.has(reed)).count()
    }
}

/// None where there is nothing to take out, or the model cannot be fitted.
pub(super) fn adjusted(study: &Study, rated: &Rated, seed: u64) -> Option<Adjusted> {
    let blocks = whole_enough(blocks(study, rated), rated.score.len());
    let kept: Vec<usize> =
        (0..rated.score.len()).filter(|&reed| blocks.iter().all(|block| block.has(reed))).collect();
    let score: Vec<f64> = kept.iter().map(|&reed| rated.score[reed]).collect();
    let lot: Vec<usize> = kept.iter().map(|&reed| rated.lot[reed]).collect();
    let columns = blocks.into_iter().map(|block| {
        let of = |column: &Vec<Option<f64>>| kept.iter().filter_map(|&reed| column[reed]).collect();
        (block.label.clone(), block.columns.iter().map(of).collect())
    });
    let columns = carried(columns.collect(), &score, &lot);
    let mut builder = Design::builder(score.len()).intercept();
    for (label, column) in
        columns.iter().flat_map(|(label, all)| all.iter().map(move |c| (label, c)))
    {
        builder = builder.number(label, column);
    }
    let design = unique(builder)?;
    if columns.is_empty() || design.columns() < 2 {
        return None;
    }
    Some(Adjusted {
        by_lot: by_lot(&design, &score, &lot, seed)?,
        taken_out: columns.into_iter().map(|(label, _)| label).collect(),
        reeds: score.len(),
    })
}

fn unique(builder: crate::stats::design::DesignBuilder) -> Option<Design> {
    builder.build().ok().map(|design| design.without_aliases().0)
}

fn by_lot(
    design: &Design,
    score: &[f64],
    lot: &[usize],
    seed: u64,
) -> Option<BTreeMap<usize, Estimated>> {
    let fit = fit_mixed(design, score, lot, Criterion::Reml).ok()?;
    let at = design.column_means();
    let components = components(&fit, DRAWS, seed ^ APART).ok()?;
    let drawn = fit.draw_group_means(&at, &components, DRAWS, seed ^ APART).ok()?;
    let means = fit.group_means(&at).ok()?;
    let each = means.iter().enumerate().map(|(column, mean)| {
        let band = band(drawn.column(column).to_vec(), mean.mean);
        (mean.code, Estimated { estimate: band.estimate, low: band.low, high: band.high })
    });
    Some(each.collect())
}

fn blocks(study: &Study, rated: &Rated) -> Vec<Block> {
    let is_made =
        |factor: &&Factor| factor.stage != Stage::Cane && Stage::MAKING.contains(&factor.stage);
    let reeds = rated.score.len();
    study
        .factors()
        .iter()
        .filter(is_made)
        .map(|factor| block(study, rated, factor))
        .filter(|block| !block.columns.is_empty())
        .filter(|block| block.gaps(reeds) as f64 <= MOST_MISSING * reeds as f64)
        .collect()
}

fn block(study: &Study, rated: &Rated, factor: &Factor) -> Block {
    let columns = match factor.kind {
        FactorKind::Number => {
            let cells = study.numbers(&factor.name);
            vec![rated.piece.iter().map(|&piece| cells[piece]).collect()]
        }
        FactorKind::Choice => {
            let codes = &study.labels(&factor.name).codes;
            dummies(&rated.piece.iter().map(|&piece| codes[piece]).collect::<Vec<_>>())
        }
    };
    Block { label: factor.label.clone(), columns }
}

/// One 0/1 column a level with three reeds or more, but for the commonest; rarer levels count with the commonest.
fn dummies(codes: &[Option<u32>]) -> Vec<Vec<Option<f64>>> {
    let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
    codes.iter().flatten().for_each(|&code| *counts.entry(code).or_default() += 1);
    let commonest = counts.iter().max_by_key(|(code, count)| (**count, std::cmp::Reverse(**code)));
    let commonest = commonest.map(|(code, _)| *code);
    let levels = counts
        .iter()
        .filter(|(code, count)| Some(**code) != commonest && **count >= FEWEST_IN_LEVEL)
        .map(|(code, _)| *code);
    let column = |level: u32| {
        codes.iter().map(|code| code.map(|code| f64::from(u8::from(code == level)))).collect()
    };
    levels.map(column).collect()
}

/// Gives up the blocks with most gaps until enough reeds are whole.
fn whole_enough(mut blocks: Vec<Block>, reeds: usize) -> Vec<Block> {
    let whole = |blocks: &[Block]| {
        (0..reeds).filter(|&reed| blocks.iter().all(|block| block.has(reed))).count()
    };
    while (whole(&blocks) as f64) < FEWEST_WHOLE * reeds as f64 {
        let worst = (0..blocks.len()).max_by_key(|&at| blocks[at].gaps(reeds));
        let Some(worst) = worst else { break };
        blocks.remove(worst);
    }
    blocks
}

type Columns = Vec<(String, Vec<Vec<f64>>)>;

/// As many columns as the reeds can carry: those that go with the scores among reeds of the same lot.
fn carried(mut columns: Columns, score: &[f64], lot: &[usize]) -> Columns {
    let score = centred_within(score, lot);
    let closeness = |column: &Vec<f64>| {
        let own = centred_within(column, lot);
        let dot: f64 = own.iter().zip(&score).map(|(a, b)| a * b).sum();
        let scale = (sum_of_squares(&own) * sum_of_squares(&score)).sqrt();
        if scale > 0.0 { (dot / scale).abs() } else { 0.0 }
    };
    let weight = |all: &[Vec<f64>]| all.iter().map(closeness).fold(0.0, f64::max);
    let mut weighed: Vec<(f64, usize)> =
        columns.iter().enumerate().map(|(at, (_, all))| (weight(all), at)).collect();
    weighed.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut room = score.len() / REEDS_A_COLUMN;
    let mut kept = vec![false; columns.len()];
    for (_, at) in weighed {
        let takes = columns[at].1.len();
        if takes <= room {
            (kept[at], room) = (true, room - takes);
        }
    }
    let mut kept = kept.into_iter();
    columns.retain(|_| kept.next().unwrap_or(false));
    columns
}
