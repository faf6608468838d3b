//! Do the measurements foretell a reed of a lot that was not seen?
//!
//! Each lot in turn is held out and its reeds are foretold by the elastic net (half its penalty absolute, half square) of all factors on the reeds of the
//! other lots, its strength chosen among those alone (Stone 1974). Over forty lots, several are held out together. Beside it stand the average of the
//! other lots, and what the reed's own lot tells: the mean of its other reeds, drawn towards that average by the lots' and the reeds' spread.
//!
//! **Chance.** Scores change places among the reeds of their lot: lots differ for reasons that no column holds, and to shuffle over the whole log would
//! call those differences foretold. Every shuffle chooses its strength anew. What is compared is the least cross-validated error with the lots in five
//! parts, for the log and for each shuffle alike; the R² shown is the nested one.

use std::collections::{BTreeMap, BTreeSet};

use super::super::good_line;
use super::super::many::taken;
use super::super::rated::distinct;
use super::super::scores::{ReedScores, group_means, group_sums};
use super::measured::Measured;
use super::sample::Columns;
use super::say::counted;
use super::stability::{Parts, stability};
use crate::finding::{Chart, ChartKind, Predictive};
use crate::stats::StatsError;
use crate::stats::design::Design;
use crate::stats::numeric::{mean, sum_of_squares};
use crate::stats::penalised::{
    CrossValidation, Folds, GridOptions, NestedOptions, cross_validate, leave_out_elastic_net,
    penalty_grid, predict_by_fold,
};
use crate::stats::prediction::{OutOfGroup, score_predictions};
use crate::stats::products::Products;
use crate::stats::resample::{permutation, permutation_within_groups, replicate};
use crate::study::Study;
use crate::words::factors::OutcomeWords;
use crate::words::foretell as words;

pub(in crate::questions) const FEWEST_LOTS: usize = 3;
pub(in crate::questions) const FEWEST_REEDS: usize = 30;
/// More lots are held out several at a time.
const MOST_PARTS: usize = 40;
/// Parts in which a strength is chosen.
pub(in crate::questions) const INNER_PARTS: usize = 5;
const SHUFFLES: usize = 200;
/// Half the penalty is absolute: of columns that say the same, all stay in.
pub(in crate::questions) const GRID: GridOptions =
    GridOptions { mixing: 0.5, steps: 24, smallest_share: 0.01 };

/// What is said of all measurements together.
#[derive(Default)]
pub(super) struct Foretold {
    pub predictive: Option<Predictive>,
    /// Why nothing is foretold, where nothing is.
    pub refused: Option<String>,
    /// Share of the halves of the log that keep each factor, in the order of [`Columns::factors`].
    pub stability: Vec<Option<f64>>,
    pub charts: Vec<Chart>,
    /// How it was done.
    pub method: Vec<String>,
}

/// The reeds that are foretold.
pub(in crate::questions) struct Rows {
    pub pieces: Vec<usize>,
    pub scores: Vec<f64>,
    pub lot: Vec<usize>,
    pub lots: usize,
    /// Whether shuffles stay within the lots; where reeds hardly share a lot there is no within.
    pub within_lots: bool,
}

pub(super) fn foretell(
    study: &Study,
    columns: &Columns,
    scores: &ReedScores,
    outcome: OutcomeWords,
    seed: u64,
) -> Foretold {
    let rows = Rows::of(columns, scores);
    let mut told = Foretold { stability: vec![None; columns.factors.len()], ..Foretold::default() };
    if rows.scores.len() < FEWEST_REEDS {
        told.refused = Some(words::refused(rows.scores.len(), rows.lots));
        return told;
    }
    if rows.lots < FEWEST_LOTS {
        told.refused = Some(words::refused(rows.scores.len(), rows.lots));
    } else if let Ok(table) = Table::of(columns, &rows, seed) {
        let found = table.and_then(|table| table.foretold(&rows, outcome, seed).ok());
        if let Some((predictive, predictions)) = found {
            told.charts.push(chart(study, &rows, &predictions, &predictive, outcome));
            told.method.push(words::method(rows.within_lots));
            told.predictive = Some(predictive);
        }
    }
    stability(columns, &Parts::of(&rows.pieces, &rows.scores, &rows.lot), seed, &mut told);
    told
}

impl Rows {
    /// Every rated reed, or those with a lot where lots stand in the log.
    pub fn of(columns: &Columns, scores: &ReedScores) -> Self {
        let named = columns.named_lots(&scores.piece) > 0;
        let kept: Vec<usize> = (0..scores.piece.len())
            .filter(|&reed| !named || columns.lots[scores.piece[reed]].is_some())
            .collect();
        let pieces: Vec<usize> = kept.iter().map(|&reed| scores.piece[reed]).collect();
        let lot: Vec<usize> =
            pieces.iter().map(|&piece| columns.lots[piece].unwrap_or(0) as usize).collect();
        Self {
            scores: kept.iter().map(|&reed| scores.score[reed]).collect(),
            lots: distinct(&lot),
            within_lots: columns.can_compare_within_lots(&pieces),
            pieces,
            lot,
        }
    }
}

impl Rows {
    /// Of very many reeds some, of these lots and of others.
    pub fn taken(self, columns: &Columns, of_lots: &BTreeSet<u32>) -> Self {
        let lots = self.pieces.iter().map(|&piece| columns.lots[piece]);
        let Some(taken) = taken(lots, of_lots) else { return self };
        let rows = || (0..taken.len()).filter(|&row| taken[row]);
        let lot: Vec<usize> = rows().map(|row| self.lot[row]).collect();
        Self {
            pieces: rows().map(|row| self.pieces[row]).collect(),
            scores: rows().map(|row| self.scores[row]).collect(),
            lots: distinct(&lot),
            lot,
            ..self
        }
    }
}

/// The lots that are held out together: each alone, over forty several at a time.
pub(in crate::questions) fn held_out(rows: &Rows, seed: u64) -> Result<Folds, StatsError> {
    if rows.lots <= MOST_PARTS {
        return Folds::each_group(&rows.lot);
    }
    // a part counts as one group from here on
    Folds::each_group(Folds::of_groups(&rows.lot, MOST_PARTS, seed)?.of_rows())
}

/// The factors as columns, with the lots that are held out together.
pub(in crate::questions) struct Table {
    pub design: Design,
    pub held_out: Folds,
    /// A few parts of the same lots, for the comparison with chance.
    coarse: Folds,
}

impl Table {
    /// None where no factor is known for enough reeds.
    fn of(columns: &Columns, rows: &Rows, seed: u64) -> Result<Option<Self>, StatsError> {
        let held_out = held_out(rows, seed)?;
        let measured = Measured::of(columns, &rows.pieces, held_out.of_rows());
        measured.map(|measured| Self::new(measured.design, held_out, seed)).transpose()
    }

    /// Any columns, one row a reed.
    ///
    /// # Errors
    /// `TooFewGroups` where nothing is left when one part is held out.
    pub fn new(design: Design, held_out: Folds, seed: u64) -> Result<Self, StatsError> {
        let count = INNER_PARTS.min(held_out.count());
        let coarse = Folds::of_groups(held_out.of_rows(), count, seed)?;
        Ok(Self { design, held_out, coarse })
    }

    /// How well each reed is foretold without its lot, held against chance, and the predictions.
    ///
    /// # Errors
    /// `NoVariation` where all scores are equal; `NotConverged`.
    pub fn foretold(
        &self,
        rows: &Rows,
        outcome: OutcomeWords,
        seed: u64,
    ) -> Result<(Predictive, Vec<f64>), StatsError> {
        let products = Products::new(&self.design, &rows.scores, self.held_out.of_rows())?;
        let found = self.without_their_lots(rows, &products, seed)?;
        let p = self.chance(rows, &products, seed)?;
        let predictive = predictive(rows, &found, p, outcome);
        Ok((predictive, found.predictions))
    }

    /// The share of the differences between reeds of lots held out that is foretold.
    ///
    /// # Errors
    /// As [`Table::foretold`].
    pub fn share_foretold(&self, rows: &Rows, seed: u64) -> Result<f64, StatsError> {
        let products = Products::new(&self.design, &rows.scores, self.held_out.of_rows())?;
        self.without_their_lots(rows, &products, seed).map(|found| found.r_squared)
    }

    fn without_their_lots(
        &self,
        rows: &Rows,
        products: &Products,
        seed: u64,
    ) -> Result<OutOfGroup, StatsError> {
        let options = NestedOptions { grid: GRID, inner_folds: INNER_PARTS, seed };
        let rules = leave_out_elastic_net(products, &self.held_out, &options)?;
        let predictions = predict_by_fold(&self.design, &self.held_out, &rules)?;
        score_predictions(&rows.scores, &self.held_out, predictions)
    }

    /// How often shuffled scores are foretold as well (Phipson & Smyth 2010).
    fn chance(&self, rows: &Rows, products: &Products, seed: u64) -> Result<f64, StatsError> {
        let observed = self.reached(products)?;
        let shuffled = replicate(seed, SHUFFLES, |generator| {
            let order = if rows.within_lots {
                permutation_within_groups(generator, &rows.lot)
            } else {
                permutation(generator, rows.lot.len())
            };
            let scores: Vec<f64> = order.into_iter().map(|row| rows.scores[row]).collect();
            self.reached(&self.with_scores(products, &scores))
        });
        let shuffled: Vec<f64> = shuffled.into_iter().collect::<Result<_, _>>()?;
        // equal shares may differ by rounding
        let as_well = shuffled.iter().filter(|share| **share >= observed - 1e-10).count();
        Ok((1 + as_well) as f64 / (1 + SHUFFLES) as f64)
    }

    /// The largest share of the squared error of the mean that any strength saves, the lots in a few parts.
    fn reached(&self, products: &Products) -> Result<f64, StatsError> {
        match validated(products, &self.coarse) {
            Ok(found) => Ok(1.0 - found.mean_squared_errors[found.minimum] / found.without_columns),
            Err(StatsError::NoVariation { .. }) => Ok(0.0),
            Err(fault) => Err(fault),
        }
    }

    /// The products with other scores; the columns' own stay as they are, which makes a shuffle cheap.
    fn with_scores(&self, products: &Products, scores: &[f64]) -> Products {
        let mut changed = products.clone();
        let last = products.names.len();
        let parts = self.held_out.of_rows();
        let means = group_means(scores, parts);
        for (group, mean) in changed.groups.iter_mut().zip(means.into_values()) {
            group.mean[last] = mean;
            group.within.column_mut(last).fill(0.0);
        }
        for (row, &part) in parts.iter().enumerate() {
            // products have a group for every part, by rising code
            let group = &mut changed.groups[part];
            let apart = scores[row] - group.mean[last];
            for column in 0..last {
                group.within[(column, last)] +=
                    (self.design.matrix[(row, column)] - group.mean[column]) * apart;
            }
            group.within[(last, last)] += apart * apart;
        }
        for group in &mut changed.groups {
            for column in 0..last {
                group.within[(last, column)] = group.within[(column, last)];
            }
        }
        changed
    }
}

/// The elastic net at every strength, on parts held out.
fn validated(products: &Products, folds: &Folds) -> Result<CrossValidation, StatsError> {
    cross_validate(products, folds, GRID.mixing, &penalty_grid(products, &GRID)?)
}

fn predictive(rows: &Rows, found: &OutOfGroup, p: f64, outcome: OutcomeWords) -> Predictive {
    let mut predictive = Predictive {
        r2_out_of_lot: found.r_squared,
        mae_out_of_lot: found.mean_absolute_error,
        mae_lot_means: error_of_lot_means(&rows.scores, &rows.lot),
        mae_nothing: found.mean_absolute_error_of_mean,
        p,
        used: rows.scores.len(),
        sentence: String::new(),
    };
    predictive.sentence = words::sentence(&predictive, outcome);
    predictive
}

/// Mean absolute error where each reed is foretold by the other reeds of its lot, drawn towards the mean of the other lots; reeds alone in their lot count
/// with that mean. None where no lot has two reeds.
fn error_of_lot_means(scores: &[f64], lot: &[usize]) -> Option<f64> {
    let (between, within) = variances(scores, lot)?;
    let mut sums: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for (score, lot) in scores.iter().zip(lot) {
        let sum = sums.entry(*lot).or_default();
        *sum = (sum.0 + score, sum.1 + 1.0);
    }
    let (total, count) = (scores.iter().sum::<f64>(), scores.len() as f64);
    let error = |(score, lot): (&f64, &usize)| {
        let (sum, reeds) = sums[lot];
        let elsewhere = (total - sum) / (count - reeds);
        let others = reeds - 1.0;
        if others < 1.0 {
            return (score - elsewhere).abs();
        }
        let pull = others * between / (others * between + within);
        let own = (sum - score) / others;
        (score - elsewhere - pull * (own - elsewhere)).abs()
    };
    let errors: Vec<f64> = scores.iter().zip(lot).map(error).collect();
    mean(&errors).ok().filter(|mean| mean.is_finite())
}

/// The variances between and within lots by the analysis of variance, the first not below 0 (Searle, Casella & McCulloch 1992, Variance Components, section
/// 3.6). None where there is no spread within lots to compare with.
pub(in crate::questions) fn variances(scores: &[f64], lot: &[usize]) -> Option<(f64, f64)> {
    let sums = group_sums(scores, lot);
    let mean_of = |lot: usize| sums[lot].0 / sums[lot].1 as f64; // every lot has a sum
    let residuals: Vec<f64> =
        scores.iter().zip(lot).map(|(score, &lot)| score - mean_of(lot)).collect();
    let sizes = || sums.iter().map(|(_, size)| *size as f64).filter(|size| *size > 0.0);
    let (count, lots) = (scores.len() as f64, sizes().count() as f64);
    if lots < 2.0 || count <= lots {
        return None;
    }
    let within = sum_of_squares(&residuals) / (count - lots);
    let centre = mean(scores).ok()?;
    let apart: Vec<f64> = lot.iter().map(|&lot| mean_of(lot) - centre).collect();
    let squares: f64 = sizes().map(|size| size * size).sum();
    let typical = (count - squares / count) / (lots - 1.0);
    let between = (sum_of_squares(&apart) / (lots - 1.0) - within) / typical;
    (within > 0.0).then(|| (between.max(0.0), within))
}

fn chart(
    study: &Study,
    rows: &Rows,
    predictions: &[f64],
    predictive: &Predictive,
    outcome: OutcomeWords,
) -> Chart {
    let points: Vec<(f64, f64)> =
        predictions.iter().copied().zip(rows.scores.iter().copied()).collect();
    Chart {
        name: "foretold".to_owned(),
        title: words::TITLE.to_owned(),
        description: predictive.sentence.clone(),
        reading: words::READING.to_owned(),
        kind: ChartKind::Foretold {
            x_label: words::foretold_axis(outcome),
            y_label: outcome.axis(),
            points: counted(&points),
            average: mean(&rows.scores).unwrap_or(f64::NAN),
            good_at: good_line(study),
        },
    }
}
