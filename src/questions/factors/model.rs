//! The columns of one factor's model, and its fit.
//!
//! Reeds of the same lot are compared with each other: every column is taken as deviations from the mean of its lot. Makers, where there are several, stand
//! as columns, so that what one of them does most is not taken for what makes that maker's reeds better. Where nothing deviates at random the
//! model is least squares on the reeds' scores with cluster-robust errors (CR2), lots as clusters; with under five lots, or none, each reed is its own.

use super::super::rated::distinct;
use super::super::scores::{ReedScores, centred_within, group_means};
use super::adjusters::{Space, adjusters};
use super::sample::{Cells, Columns, Sample};
use crate::stats::StatsError;
use crate::stats::design::{Design, DesignBuilder, NaturalSpline, annual_harmonic};
use crate::whole;

/// Lots from which on they serve as clusters; below, their number is too small for errors that rest on it.
pub(super) const FEWEST_CLUSTERS: usize = 5;
/// The making date enters the model as a trend when the log spans so many days.
const TREND_FROM_DAYS: i32 = 60;
/// What the trend is called among the things adjusted for.
pub(super) const TREND: &str = "the making date";
/// The season enters the model when the log spans a year.
const SEASON_FROM_DAYS: i32 = 365;
/// What the season is called among the things adjusted for.
pub(super) const SEASON: &str = "the season";

/// What the makers are called among the things adjusted for.
pub(super) const MAKER: &str = "the maker";

/// Keys of the blocks that are no factor.
const LEVELS: usize = usize::MAX;
const DAYS: usize = usize::MAX - 1;
const TIME_OF_YEAR: usize = usize::MAX - 2;
const MAKERS: usize = usize::MAX - 3;

/// One factor's model, ready to be fitted.
pub(super) struct Model {
    pub design: Design,
    /// Scores, centred by lot where lots are compared within.
    pub scores: Vec<f64>,
    /// Scores as they are.
    pub raw_scores: Vec<f64>,
    pub clusters: Vec<usize>,
    /// Names of the factor's own columns, one for a number, one a level for a choice.
    pub own: Vec<String>,
    /// The levels behind `own`, and the reference, for a choice.
    pub levels: Vec<u32>,
    pub reference: Option<u32>,
    pub adjusted_for: Vec<String>,
    /// Adjusters that stayed out because the reeds are too few for them.
    pub crowded_out: Vec<String>,
    /// The factor's own columns before anything was taken out of them.
    pub raw: Vec<Vec<f64>>,
    /// Of each maker but one the share of the reed's lot, where lots are not all shared alike.
    pub makers_between: Vec<Vec<f64>>,
    pub lots: usize,
    /// Code of each reed's lot; 0 where there are none.
    pub lot: Vec<usize>,
}

impl Model {
    /// The factor's columns, as deviations from the mean of the lot.
    pub fn own_columns(&self) -> Vec<Vec<f64>> {
        self.columns_where(|name| self.own.contains(name))
            .into_iter()
            .map(|(_, column)| column)
            .collect()
    }

    /// What is adjusted for, as deviations from the mean of the lot.
    pub fn adjuster_columns(&self) -> Vec<(String, Vec<f64>)> {
        let levels = format!("{LEVELS}.");
        self.columns_where(|name| !self.own.contains(name) && !name.starts_with(&levels))
    }

    /// What is adjusted for and, where reeds are the clusters, the level of each lot.
    pub fn columns_beside_own(&self) -> Vec<(String, Vec<f64>)> {
        self.columns_where(|name| !self.own.contains(name))
    }

    fn columns_where(&self, wanted: impl Fn(&String) -> bool) -> Vec<(String, Vec<f64>)> {
        let names = self.design.names.iter().enumerate().filter(|(_, name)| wanted(name));
        names.map(|(at, name)| (name.clone(), self.design.matrix.column(at).to_vec())).collect()
    }
}

/// A named group of columns that enter or stay out together.
pub(super) struct Block {
    /// Tells blocks apart whose names are the same.
    pub key: usize,
    pub name: String,
    pub columns: Vec<Vec<f64>>,
}

pub(super) fn model(
    columns: &Columns,
    scores: &ReedScores,
    sample: &Sample,
    at: usize,
    has_lots: bool,
) -> Result<Model, StatsError> {
    let pieces: Vec<usize> = sample.reeds.iter().map(|&reed| scores.piece[reed]).collect();
    let raw_scores: Vec<f64> = sample.reeds.iter().map(|&reed| scores.score[reed]).collect();
    let lot: Vec<usize> =
        pieces.iter().map(|&piece| columns.lots[piece].unwrap_or(0) as usize).collect();
    let lots = distinct(&lot);
    let group = if has_lots { lot.clone() } else { vec![0; pieces.len()] };
    let (own, levels, reference) = own_block(columns, at, &pieces);
    let raw = own.columns.clone();
    let own = centred_block(own, &group);
    let centred_scores = centred_within(&raw_scores, &group);
    let space = Space { group: &group, own: &own, scores: &centred_scores };
    let centred = |block| centred_block(block, &group);
    let makers = makers(columns, &pieces);
    let makers_between = makers.as_ref().map_or(Vec::new(), |makers| by_lot(makers, &group));
    let makers = makers.map(centred).and_then(without_empty);
    let calendar = calendar(columns, &pieces).into_iter().map(centred);
    let always = makers.into_iter().chain(calendar).collect();
    let candidates = sample.adjusters.iter().map(|&other| own_block(columns, other, &pieces).0);
    let (kept, crowded_out) = adjusters(always, candidates.map(centred).collect(), space);
    let by_lot = has_lots && lots_that_vary(&own, &group) >= FEWEST_CLUSTERS;
    let own_names: Vec<String> =
        (0..own.columns.len()).map(|number| own.column_name(number)).collect();
    let mut design = with_block(Design::builder(pieces.len()), &own);
    for block in &kept {
        design = with_block(design, block);
    }
    let clusters = if by_lot {
        lot.clone()
    } else {
        // reeds are the clusters, so the lots' levels must count in each reed's leverage
        design = with_block(design, &levels_of(&group));
        (0..pieces.len()).collect()
    };
    Ok(Model {
        design: design.build()?,
        scores: centred_scores,
        raw_scores,
        clusters,
        own: own_names,
        levels,
        reference,
        adjusted_for: kept.into_iter().map(|block| block.name).collect(),
        crowded_out,
        raw,
        makers_between,
        lots: if has_lots { lots } else { 0 },
        lot: group,
    })
}

/// How many groups have reeds that differ in the factor; the others say nothing about it.
fn lots_that_vary(own: &Block, group: &[usize]) -> usize {
    let varies = |row: &usize| own.columns.iter().any(|column| column[*row].abs() > 1e-12);
    let groups: Vec<usize> = (0..group.len()).filter(varies).map(|row| group[row]).collect();
    distinct(&groups)
}

/// One 0/1 column a group.
fn levels_of(group: &[usize]) -> Block {
    let mut levels = group.to_vec();
    levels.sort_unstable();
    levels.dedup();
    let column = |level: &usize| group.iter().map(|code| f64::from(code == level)).collect();
    Block {
        key: LEVELS,
        name: "level of the group".to_owned(),
        columns: levels.iter().map(column).collect(),
    }
}

impl Block {
    pub(super) fn column_name(&self, number: usize) -> String {
        format!("{}.{number}#{}", self.key, self.name)
    }
}

pub(super) fn with_block(design: DesignBuilder, block: &Block) -> DesignBuilder {
    block
        .columns
        .iter()
        .enumerate()
        .fold(design, |design, (number, column)| design.number(&block.column_name(number), column))
}

fn raw_numbers(columns: &Columns, at: usize, pieces: &[usize]) -> Vec<f64> {
    match &columns.factors[at].1 {
        Cells::Number(cells) => pieces.iter().filter_map(|&piece| cells[piece]).collect(),
        Cells::Choice(..) => Vec::new(),
    }
}

/// The factor's columns, with the levels and the reference (the commonest, the first by name on a tie) of a choice.
fn own_block(columns: &Columns, at: usize, pieces: &[usize]) -> (Block, Vec<u32>, Option<u32>) {
    let (factor, cells) = &columns.factors[at];
    let (columns, levels, reference) = match cells {
        Cells::Number(_) => (vec![raw_numbers(columns, at, pieces)], Vec::new(), None),
        Cells::Choice(codes, _) => {
            let codes: Vec<u32> = pieces.iter().filter_map(|&piece| codes[piece]).collect();
            let (columns, levels, reference) = contrasts(&codes);
            (columns, levels, Some(reference))
        }
    };
    (Block { key: at, name: factor.label.clone(), columns }, levels, reference)
}

/// One 0/1 column for each level but the commonest.
fn contrasts(codes: &[u32]) -> (Vec<Vec<f64>>, Vec<u32>, u32) {
    let mut levels = codes.to_vec();
    levels.sort_unstable();
    levels.dedup();
    let count = |level: u32| codes.iter().filter(|&&code| code == level).count();
    let reference = levels
        .iter()
        .copied()
        .max_by_key(|&level| (count(level), std::cmp::Reverse(level)))
        .unwrap_or(0);
    levels.retain(|&level| level != reference);
    let column = |&level: &u32| codes.iter().map(|&code| f64::from(code == level)).collect();
    (levels.iter().map(column).collect(), levels, reference)
}

fn centred_block(block: Block, group: &[usize]) -> Block {
    let columns = block.columns.iter().map(|column| centred_within(column, group)).collect();
    Block { key: block.key, name: block.name, columns }
}

/// The correlation of two columns with mean zero; zero where one does not vary.
pub(super) fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let dot = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
    let scale = (dot(a, a) * dot(b, b)).sqrt();
    if scale > 0.0 { dot(a, b) / scale } else { 0.0 }
}

/// One 0/1 column for each maker but the one with most reeds, where there are several: each has habits of their own, and plays or scrapes better or worse.
fn makers(columns: &Columns, pieces: &[usize]) -> Option<Block> {
    let makers = columns.makers?;
    let nameless = whole::code(makers.levels.len());
    let codes: Vec<u32> =
        pieces.iter().map(|&piece| makers.codes[piece].unwrap_or(nameless)).collect();
    let (columns, _, _) = contrasts(&codes);
    let block = Block { key: MAKERS, name: MAKER.to_owned(), columns };
    (!block.columns.is_empty()).then_some(block)
}

/// A block without the columns that are zero all over; none where all are. In pooled logs each lot is one maker's, and within lots nothing of makers is left.
fn without_empty(block: Block) -> Option<Block> {
    let varies = |column: &Vec<f64>| column.iter().any(|value| value.abs() > 1e-12);
    let columns: Vec<Vec<f64>> = block.columns.into_iter().filter(varies).collect();
    (!columns.is_empty()).then_some(Block { columns, ..block })
}

/// The means of the columns by lot, of those that are not the same in all lots.
fn by_lot(block: &Block, group: &[usize]) -> Vec<Vec<f64>> {
    let mean_of_lot = |column: &Vec<f64>| -> Vec<f64> {
        let means = group_means(column, group);
        group.iter().map(|lot| means[lot]).collect()
    };
    let varies = |column: &Vec<f64>| {
        column.iter().any(|value| column.first().is_some_and(|first| (value - first).abs() > 1e-12))
    };
    block.columns.iter().map(mean_of_lot).filter(varies).collect()
}

/// Whether a column of a design stands for a maker.
pub(super) fn is_of_makers(name: &str) -> bool {
    name.split_once('.').is_some_and(|(key, _)| key == MAKERS.to_string())
}

/// The trend of the making date as a natural cubic spline and the season as the first annual harmonic, where every reed has a
/// date and the log spans long enough.
fn calendar(columns: &Columns, pieces: &[usize]) -> Vec<Block> {
    let days: Option<Vec<i32>> = pieces.iter().map(|&piece| columns.days[piece]).collect();
    let Some(days) = days else { return Vec::new() };
    let (Some(first), Some(last)) = (days.iter().min(), days.iter().max()) else {
        return Vec::new();
    };
    let span = last - first;
    let days: Vec<f64> = days.iter().copied().map(f64::from).collect();
    let trend = (span >= TREND_FROM_DAYS).then(|| trend(&days)).flatten();
    let season = (span >= SEASON_FROM_DAYS).then(|| season(&days));
    trend.into_iter().chain(season).collect()
}

fn trend(days: &[f64]) -> Option<Block> {
    let spline = NaturalSpline::new(days).ok()?;
    let columns =
        (0..3).map(|part| days.iter().map(|&day| spline.basis(day)[part]).collect()).collect();
    Some(Block { key: DAYS, name: TREND.to_owned(), columns })
}

fn season(days: &[f64]) -> Block {
    let columns =
        (0..2).map(|part| days.iter().map(|&day| annual_harmonic(day)[part]).collect()).collect();
    Block { key: TIME_OF_YEAR, name: SEASON.to_owned(), columns }
}
