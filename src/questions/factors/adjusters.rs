//! Which adjusters a model holds where the reeds are too few for all of them.
//!
//! Makers, trend and season stay. Among the factors that stage order would have in the model, double selection chooses (Belloni, Chernozhukov & Hansen 2014): what
//! the lasso of the score keeps and what the lasso of the factor keeps, so that a cause of the factor stays in though it shows little in the score. Before
//! that, lots, makers, trend and season are taken out of every column. Players stand beside all this.

use std::collections::BTreeMap;

use super::super::rated::distinct;
use super::model::{Block, FEWEST_CLUSTERS, MAKER, with_block};
use crate::stats::StatsError;
use crate::stats::design::Design;
use crate::stats::linear::least_squares;
use crate::stats::numeric::sum_of_squares;
use crate::stats::penalised::{DoubleSelectionOptions, GridOptions, double_selection};

/// Reeds a column; with fewer the adjusters are chosen.
const REEDS_A_COLUMN: usize = 10;
/// What is free once each lot has its mean, a column; with fewer nothing is left to measure an effect against, whatever was chosen.
const FREE_A_COLUMN: usize = 2;
/// Less of a column than this, left after makers, trend and season, is rounding.
const NOTHING_LEFT: f64 = 1e-10;

/// What adjusters are held against, all as deviations from the mean of the lot.
#[derive(Clone, Copy)]
pub(super) struct Space<'a> {
    /// Code of each reed's lot; equal where lots are not compared within.
    pub group: &'a [usize],
    pub own: &'a Block,
    pub scores: &'a [f64],
}

/// The adjusters that the reeds can carry, and the names of those that they cannot.
pub(super) fn adjusters(
    always: Vec<Block>,
    candidates: Vec<Block>,
    space: Space,
) -> (Vec<Block>, Vec<String>) {
    let (mut kept, mut stayed_out) = (varying(always), Vec::new());
    let candidates = varying(candidates);
    let room = room(&space);
    // the season is the last and the first to go; makers never do
    while width(&kept) > room && kept.last().is_some_and(|last| last.name != MAKER) {
        stayed_out.extend(kept.pop().map(|block| block.name));
    }
    let all = width(&kept) + width(&candidates);
    if all <= room && space.group.len() >= REEDS_A_COLUMN * (space.own.columns.len() + all) {
        kept.extend(candidates);
        return (kept, stayed_out);
    }
    let strengths = strengths(&candidates, &kept, &space);
    let (chosen, rest) = strongest(candidates, strengths, room.saturating_sub(width(&kept)));
    kept.extend(chosen);
    stayed_out.extend(rest);
    (kept, stayed_out)
}

fn varying(blocks: Vec<Block>) -> Vec<Block> {
    let varies = |block: &Block| block.columns.iter().flatten().any(|value| value.abs() > 1e-12);
    blocks.into_iter().filter(varies).collect()
}

fn width(blocks: &[Block]) -> usize {
    blocks.iter().map(|block| block.columns.len()).sum()
}

/// Columns that may stand beside the factor's own at the very most.
fn room(space: &Space) -> usize {
    let free = space.group.len().saturating_sub(distinct(space.group));
    (free / FREE_A_COLUMN).saturating_sub(space.own.columns.len())
}

/// The blocks with a strength above 0, without the weakest where they are more than there is room for; and the names of the others.
fn strongest(blocks: Vec<Block>, strengths: Vec<f64>, room: usize) -> (Vec<Block>, Vec<String>) {
    let mut order: Vec<usize> = (0..blocks.len()).collect();
    // a stable sort: of equals the earlier in the making comes first
    order.sort_by(|&a, &b| strengths[b].total_cmp(&strengths[a]));
    let mut is_in = vec![false; blocks.len()];
    let mut left = room;
    for at in order.into_iter().filter(|&at| strengths[at] > 0.0) {
        let columns = blocks[at].columns.len();
        is_in[at] = columns <= left;
        left -= if is_in[at] { columns } else { 0 };
    }
    let (mut chosen, mut rest) = (Vec::new(), Vec::new());
    for (block, is_in) in blocks.into_iter().zip(is_in) {
        if is_in { chosen.push(block) } else { rest.push(block.name) }
    }
    (chosen, rest)
}

/// How strongly each candidate goes with the score or with the factor, in standard deviations and whichever is more; 0 where neither lasso keeps any of its
/// columns. Where the lassos cannot be had every candidate counts alike.
fn strengths(candidates: &[Block], always: &[Block], space: &Space) -> Vec<f64> {
    if candidates.is_empty() {
        return Vec::new();
    }
    match selected(candidates, always, space) {
        Ok(by_column) => {
            candidates.iter().map(|block| strongest_column(block, &by_column)).collect()
        }
        Err(_) => vec![1.0; candidates.len()],
    }
}

fn strongest_column(block: &Block, by_column: &BTreeMap<String, f64>) -> f64 {
    let of_column = |number| by_column.get(&block.column_name(number)).copied().unwrap_or(0.0);
    (0..block.columns.len()).map(of_column).fold(0.0, f64::max)
}

fn selected(
    candidates: &[Block],
    always: &[Block],
    space: &Space,
) -> Result<BTreeMap<String, f64>, StatsError> {
    let reeds = space.group.len();
    let rest = Rest::after(always, reeds)?;
    let score = rest.of(space.scores)?;
    let mut factor = Vec::new();
    for column in &space.own.columns {
        factor.extend(rest.of(column)?);
    }
    // a score or a factor of which nothing is left chooses nothing; the other then chooses alone
    let first = score.iter().chain(&factor).next().cloned();
    let Some(first) = first else { return Ok(BTreeMap::new()) };
    let outcome = score.unwrap_or(first);
    let factor = if factor.is_empty() { vec![outcome.clone()] } else { factor };
    let found = double_selection(
        &rest.of_blocks(candidates)?,
        &design(reeds, factor.iter().enumerate().map(|(at, column)| (at.to_string(), column)))?,
        &outcome,
        &held_out_together(space.group),
        &options(),
    )?;
    let strength = |kept: &crate::stats::penalised::KeptColumn| {
        kept.for_factor.iter().map(|value| value.abs()).fold(kept.for_outcome.abs(), f64::max)
    };
    Ok(found.kept.iter().map(|kept| (kept.name.clone(), strength(kept))).collect())
}

/// Lots where they are many enough to be folds, else reeds.
fn held_out_together(group: &[usize]) -> Vec<usize> {
    if distinct(group) >= FEWEST_CLUSTERS { group.to_vec() } else { (0..group.len()).collect() }
}

/// A coarser grid than for a prediction: which columns are in changes slowly along it.
fn options() -> DoubleSelectionOptions {
    let grid = GridOptions { steps: 40, smallest_share: 0.01, ..GridOptions::default() };
    DoubleSelectionOptions { grid, ..DoubleSelectionOptions::default() }
}

fn design<'a>(
    rows: usize,
    columns: impl Iterator<Item = (String, &'a Vec<f64>)>,
) -> Result<Design, StatsError> {
    columns.fold(Design::builder(rows), |built, (name, column)| built.number(&name, column)).build()
}

/// What is left of a column after makers, trend and season.
struct Rest(Option<Design>);

impl Rest {
    fn after(always: &[Block], rows: usize) -> Result<Self, StatsError> {
        if always.is_empty() {
            return Ok(Self(None));
        }
        let design = always.iter().fold(Design::builder(rows), with_block).build()?;
        Ok(Self(Some(design.without_aliases().0)))
    }

    /// The rest with standard deviation 1; none where nothing is left.
    fn of(&self, column: &[f64]) -> Result<Option<Vec<f64>>, StatsError> {
        let before = sum_of_squares(column);
        let rest = match &self.0 {
            Some(calendar) => least_squares(calendar, column)?.residuals,
            None => column.to_vec(),
        };
        let after = sum_of_squares(&rest);
        if after <= NOTHING_LEFT * before {
            return Ok(None);
        }
        let scale = (after / rest.len() as f64).sqrt();
        Ok(Some(rest.into_iter().map(|value| value / scale).collect()))
    }

    /// The rests of all columns of some blocks; a column of which nothing is left stands as zeros and is never chosen.
    fn of_blocks(&self, blocks: &[Block]) -> Result<Design, StatsError> {
        let rows = blocks.first().and_then(|block| block.columns.first()).map_or(0, Vec::len);
        let mut built = Design::builder(rows);
        for block in blocks {
            for (number, column) in block.columns.iter().enumerate() {
                let rest = self.of(column)?.unwrap_or_else(|| vec![0.0; rows]);
                built = built.number(&block.column_name(number), &rest);
            }
        }
        built.build()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn block(key: usize, name: &str, columns: Vec<Vec<f64>>) -> Block {
        Block { key, name: name.to_owned(), columns }
    }

    fn names(blocks: &[Block]) -> Vec<&str> {
        blocks.iter().map(|block| block.name.as_str()).collect()
    }

    /// Columns of mean zero at right angles to each other: the signs of a two-level design, repeated.
    fn signs(reeds: usize, bit: u32) -> Vec<f64> {
        (0..reeds).map(|reed| if (reed >> bit) & 1 == 1 { 1.0 } else { -1.0 }).collect()
    }

    fn sum(parts: &[(f64, &[f64])]) -> Vec<f64> {
        let reeds = parts[0].1.len();
        (0..reeds)
            .map(|at| parts.iter().map(|(weight, column)| weight * column[at]).sum())
            .collect()
    }

    /// 32 reeds: the factor is mostly `cause`, the score mostly `other`; `idle` is in neither.
    fn chosen(reeds: usize) -> (Vec<String>, Vec<String>) {
        let [cause, other, idle, own] = [0, 1, 2, 3].map(|bit| signs(reeds, bit));
        let factor = block(9, "factor", vec![sum(&[(1.0, &cause), (0.3, &own)])]);
        let scores = sum(&[(1.0, &other), (0.2, &own)]);
        let space = Space { group: &vec![0; reeds], own: &factor, scores: &scores };
        let candidates = vec![
            block(0, "cause", vec![cause]),
            block(1, "other", vec![other]),
            block(2, "idle", vec![idle]),
        ];
        let (kept, rest) = adjusters(Vec::new(), candidates, space);
        (kept.into_iter().map(|block| block.name).collect(), rest)
    }

    #[test]
    fn what_goes_with_the_factor_or_with_the_score_stays_and_what_goes_with_neither_does_not() {
        let (kept, rest) = chosen(32);
        assert_eq!(kept, ["cause", "other"]);
        assert_eq!(rest, ["idle"]);
    }

    #[test]
    fn ten_reeds_a_column_carry_everything() {
        // four columns, the factor's own among them
        assert!(chosen(48).1.is_empty());
    }

    #[test]
    fn trend_and_season_stay_and_the_season_goes_first_where_there_is_no_room() {
        let reeds = 16;
        let own = block(9, "factor", vec![signs(reeds, 3)]);
        let scores = sum(&[(1.0, &signs(reeds, 3)), (0.5, &signs(reeds, 2))]);
        let calendar = || {
            vec![
                block(0, "trend", vec![signs(reeds, 0)]),
                block(1, "season", vec![signs(reeds, 1), signs(reeds, 2)]),
            ]
        };
        let within = |group: &[usize]| {
            let space = Space { group, own: &own, scores: &scores };
            let (kept, rest) = adjusters(calendar(), Vec::new(), space);
            (names(&kept).join(" "), rest.join(" "))
        };
        assert_eq!(within(&vec![0; reeds]), ("trend season".to_owned(), String::new()));
        // ten lots leave six free, three columns with the factor's own
        let lots: Vec<usize> = (0..reeds).map(|reed| reed % 10).collect();
        assert_eq!(within(&lots), ("trend".to_owned(), "season".to_owned()));
    }

    #[test]
    fn the_weakest_go_where_the_chosen_are_more_than_there_is_room_for() {
        let one = |name| block(0, name, vec![vec![0.0]]);
        let blocks = vec![one("weak"), one("out"), one("strong"), one("middling")];
        let (kept, rest) = strongest(blocks, vec![0.1, 0.0, 0.9, 0.5], 2);
        assert_eq!(names(&kept), ["strong", "middling"]);
        assert_eq!(rest, ["weak", "out"]);
    }
}
