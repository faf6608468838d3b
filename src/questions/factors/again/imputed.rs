//! The headline with the empty cells of what is adjusted for filled in: columns that the headline gives up for their gaps stay in, and no reed is lost to a gap
//! in anything but the factor.

use std::sync::Arc;

use super::super::model::{Model, model};
use super::super::sample::{Cells, Columns, MOST_MISSING, Sample, sample};
use super::super::{Bench, RatedRows};
use super::change::Asked;
use super::{Answers, Log};
use crate::catalogue::Stage;
use crate::questions::scores::{centred_within, group_means};
use crate::stats::design::Design;
use crate::stats::impute::{Imputations, IncompleteTable, Settings, impute, pool};
use crate::stats::linear::least_squares;
use crate::stats::mixed::{Criterion, fit_mixed};
use crate::stats::{Estimate, StatsError};
use crate::words::again::AgainWords;
use rayon::prelude::*;

/// From this share of empty cells on they are filled in.
const FILLED_FROM: f64 = 0.05;
/// Five visits to each column (van Buuren 2018, section 6.5: five to twenty are enough where cells are not empty together for long runs).
const SETTINGS: Settings =
    Settings { imputations: 20, iterations: 5, donors: 5, most_missing: MOST_MISSING };
/// Over so many reeds nothing is filled in, because it would take minutes.
const MOST_REEDS: usize = 2_000;
/// A choice of more levels is not filled in.
const MOST_LEVELS: usize = 8;
const SCORE: &str = "score";
const DAY: &str = "day";

/// The cells of all columns, filled in twenty ways; shared by all factors.
pub(super) struct Filled {
    tables: Vec<Vec<Cells>>,
}

impl Filled {
    /// None where no factor has gaps enough beside it, or where the reeds cannot carry it.
    pub fn of(log: &Log) -> Option<Self> {
        let reeds: Vec<usize> = (0..log.scores.piece.len())
            .filter(|&reed| !log.has_lots || log.columns.lots[log.scores.piece[reed]].is_some())
            .collect();
        let is_needed = (0..log.columns.factors.len()).any(|at| is_gappy(log, at, gaps(log, at)));
        if !is_needed || reeds.len() > MOST_REEDS {
            return None;
        }
        let table = Table { log, group: groups(log, &reeds), reeds };
        let imputations = impute(&table.with_gaps().ok()?, &SETTINGS, log.seed).ok()?;
        let tables = (0..imputations.count()).map(|number| table.filled(&imputations, number));
        Some(Self { tables: tables.collect::<Option<_>>()? })
    }

    /// The columns of one filled table for one factor, whose own gaps stay.
    fn columns<'a>(&self, log: &Log<'a>, number: usize, at: usize) -> Columns<'a> {
        let cells = log.columns.factors.iter().zip(&self.tables[number]).enumerate();
        log.columns.filled_in(cells.map(|(other, ((_, as_logged), filled))| {
            if other == at { as_logged.clone() } else { filled.clone() }
        }))
    }
}

/// The table that is filled in: a number as deviations from the mean of what its lot has, because it is such deviations that the models hold.
struct Table<'a> {
    log: &'a Log<'a>,
    reeds: Vec<usize>,
    /// Lot of each reed.
    group: Vec<usize>,
}

fn groups(log: &Log, reeds: &[usize]) -> Vec<usize> {
    let lot = |reed: &usize| log.columns.lots[log.scores.piece[*reed]].unwrap_or(0) as usize;
    reeds.iter().map(|reed| if log.has_lots { lot(reed) } else { 0 }).collect()
}

impl Table<'_> {
    fn with_gaps(&self) -> Result<IncompleteTable, StatsError> {
        let scores: Vec<f64> = self.reeds.iter().map(|&reed| self.log.scores.score[reed]).collect();
        let mut table = IncompleteTable::new(self.reeds.len())?
            .number(SCORE, &given(centred_within(&scores, &self.group)))?;
        let days: Option<Vec<i32>> =
            self.pieces().map(|piece| self.log.columns.days[piece]).collect();
        if let Some(days) = days {
            let days: Vec<f64> = days.into_iter().map(f64::from).collect();
            table = table.number(DAY, &given(centred_within(&days, &self.group)))?;
        }
        for at in self.held() {
            let name = at.to_string();
            table = match &self.log.columns.factors[at].1 {
                Cells::Number(cells) => table.number(&name, &self.deviations(cells).1)?,
                Cells::Choice(codes, _) => {
                    let words: Vec<Option<String>> = self
                        .pieces()
                        .map(|piece| codes[piece].map(|code| code.to_string()))
                        .collect();
                    table.choice(&name, &words)?
                }
            };
        }
        Ok(table)
    }

    fn pieces(&self) -> impl Iterator<Item = usize> {
        self.reeds.iter().map(|&reed| self.log.scores.piece[reed])
    }

    /// The columns of the making that a model may hold, by name: what is drawn for a gap must not hang on the order of the columns in the file.
    fn held(&self) -> Vec<usize> {
        let pieces = self.log.columns.scored(self.log.scores, self.log.has_lots);
        let fits = |at: &usize| {
            let (factor, cells) = &self.log.columns.factors[*at];
            let is_narrow = match cells {
                Cells::Number(_) => true,
                Cells::Choice(_, levels) => levels.len() <= MOST_LEVELS,
            };
            let is_of_the_making = Stage::MAKING.contains(&factor.stage);
            is_narrow
                && is_of_the_making
                && pieces.share_without(self.log.columns.with_factor(*at)) <= MOST_MISSING
        };
        let mut held: Vec<usize> = (0..self.log.columns.factors.len()).filter(fits).collect();
        held.sort_by_key(|at| &self.log.columns.factors[*at].0.name); // places of factors
        held
    }

    /// The mean that each reed's lot has (of all reeds where it has none), and the deviations from it.
    fn deviations(&self, cells: &[Option<f64>]) -> (Vec<f64>, Vec<Option<f64>>) {
        let values: Vec<Option<f64>> = self.pieces().map(|piece| cells[piece]).collect();
        let (group, known): (Vec<usize>, Vec<f64>) = self
            .group
            .iter()
            .zip(&values)
            .filter_map(|(group, value)| Some((*group, (*value)?)))
            .unzip();
        let means = group_means(&known, &group);
        let all = known.iter().sum::<f64>() / known.len().max(1) as f64;
        let mean: Vec<f64> =
            self.group.iter().map(|group| means.get(group).copied().unwrap_or(all)).collect();
        let away = values.iter().zip(&mean).map(|(value, mean)| value.map(|value| value - mean));
        let away = away.collect();
        (mean, away)
    }

    /// The cells of all columns as one filled table has them.
    fn filled(&self, imputations: &Imputations, number: usize) -> Option<Vec<Cells>> {
        let mut columns: Vec<Cells> =
            self.log.columns.factors.iter().map(|(_, cells)| cells.clone()).collect();
        for at in self.held() {
            let name = at.to_string();
            match &mut columns[at] {
                Cells::Number(cells) => {
                    let (mean, _) = self.deviations(cells);
                    let away = imputations.numbers(number, &name).ok()?;
                    let cells = Arc::make_mut(cells);
                    for ((piece, mean), away) in self.pieces().zip(mean).zip(away) {
                        cells[piece] = cells[piece].or(Some(mean + away));
                    }
                }
                Cells::Choice(codes, _) => {
                    let chosen = imputations.choices(number, &name).ok()?;
                    for (piece, code) in self.pieces().zip(chosen) {
                        codes[piece] = codes[piece].or(code.parse().ok());
                    }
                }
            }
        }
        Some(columns)
    }
}

fn given(values: Vec<f64>) -> Vec<Option<f64>> {
    values.into_iter().map(Some).collect()
}

/// The share of empty cells among what stage order would adjust for, over the reeds that have the factor and a lot.
fn gaps(log: &Log, at: usize) -> f64 {
    let factor = log.columns.factors[at].0;
    let pieces = log.columns.scored(log.scores, log.has_lots).and(log.columns.with_factor(at));
    let shares: Vec<f64> = (0..log.columns.factors.len())
        .filter(|&other| other != at)
        .filter(|&other| {
            let stage = log.columns.factors[other].0.stage;
            Stage::MAKING.contains(&stage) && stage <= factor.stage
        })
        .map(|other| pieces.share_without(log.columns.with_factor(other)))
        .filter(|share| *share <= MOST_MISSING)
        .collect();
    shares.iter().sum::<f64>() / shares.len().max(1) as f64
}

/// Whether enough cells are empty, or a column so empty that the headline gives it up.
fn is_gappy(log: &Log, at: usize, share: f64) -> bool {
    share >= FILLED_FROM
        || share > 0.0 && !sample(log.columns, log.scores, at, log.has_lots).given_up.is_empty()
}

/// One mixed model of the reeds' scores a filled table, pooled by Rubin's rules. From lot to lot there is nothing to ask: what is adjusted for stands in the
/// models as deviations, which cannot move the mean of a lot.
pub(super) fn answer(
    log: &Log,
    filled: Option<&Filled>,
    at: usize,
    asked: &[Option<Asked>],
    answers: &mut [Answers],
    words: &mut AgainWords,
) {
    let share = gaps(log, at);
    let has_within = asked.iter().flatten().any(|asked| !matches!(asked, Asked::Between(_)));
    if !has_within || !is_gappy(log, at, share) {
        return;
    }
    words.gaps = true;
    let Some(filled) = filled else { return };
    let Some(by_table) = by_table(log, filled, at, asked) else { return };
    for (place, answer) in answers.iter_mut().enumerate() {
        let estimates: Option<Vec<Estimate>> =
            by_table.iter().map(|answers| answers.get(place).copied().flatten()).collect();
        let pooled = estimates.and_then(|estimates| pool(&estimates).ok());
        answer.imputed = pooled.map(|pooled| pooled.estimate);
        answer.imputed_share = pooled.map(|_| share);
        words.imputed |= pooled.is_some();
    }
}

/// The estimates of every filled table. What the reeds can carry is settled by the first, so that all are asked the same.
fn by_table(
    log: &Log,
    filled: &Filled,
    at: usize,
    asked: &[Option<Asked>],
) -> Option<Vec<Vec<Option<Estimate>>>> {
    let first = filled.columns(log, 0, at);
    let mut sample = sample(&first, log.scores, at, log.has_lots);
    let settled = model(&first, log.scores, &sample, at, log.has_lots).ok()?.adjusted_for;
    sample.adjusters.retain(|&other| settled.contains(&log.columns.factors[other].0.label));
    let numbers: Vec<usize> = (0..filled.tables.len()).collect();
    numbers
        .into_par_iter()
        .map(|number| one_table(log, &filled.columns(log, number, at), &sample, at, asked))
        .collect()
}

fn one_table(
    log: &Log,
    columns: &Columns,
    sample: &Sample,
    at: usize,
    asked: &[Option<Asked>],
) -> Option<Vec<Option<Estimate>>> {
    let model = model(columns, log.scores, sample, at, log.has_lots).ok()?;
    let reeds = model.raw_scores.len();
    let (reed, player) = ((0..reeds).collect(), vec![0; reeds]);
    let rows = RatedRows { reed, score: model.raw_scores.clone(), player, players: 1 };
    let bench = Bench::new(&model, rows);
    let design = bench.design(&model.own_columns(), bench.lot_means().as_deref()).ok()?;
    let asks = |asked: &Option<Asked>| {
        asked.filter(|asked| !matches!(asked, Asked::Between(_)))?.contrast(&model, &design.names)
    };
    let contrasts: Vec<Option<Vec<f64>>> = asked.iter().map(asks).collect();
    estimates(&model, &design, &contrasts).ok()
}

fn estimates(
    model: &Model,
    design: &Design,
    contrasts: &[Option<Vec<f64>>],
) -> Result<Vec<Option<Estimate>>, StatsError> {
    let asked = |ask: &dyn Fn(&[f64]) -> Option<Estimate>| {
        contrasts.iter().map(|contrast| ask(contrast.as_deref()?)).collect()
    };
    if model.lots > 1 {
        let fit = fit_mixed(design, &model.raw_scores, &model.lot, Criterion::Reml)?;
        return Ok(asked(&|contrast| fit.contrast(contrast).ok()));
    }
    let fit = least_squares(design, &model.raw_scores)?;
    let robust = fit.clustered(&model.clusters)?;
    Ok(asked(&|contrast| robust.contrast(contrast).ok()))
}
