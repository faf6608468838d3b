//! Which cane lots played well?
//!
//! A lot with three lucky reeds must not top the table. Each lot's mean is therefore drawn towards the average of
//! all lots, the more the fewer reeds it has and the less the lots differ (partial pooling).
//!
//! **Method.** A linear mixed model of the reeds' scores with lots as random intercepts, by restricted maximum
//! likelihood (Bates, Maechler, Bolker & Walker 2015); the pooled means are conditional means with their prediction error
//! variance (Henderson 1975). Their intervals come from draws in which the spread between lots varies as its likelihood
//! allows (Gelman 2006): with it taken as known, they are too narrow.
//!
//! **Assumptions.** Lots differ from their average by normal amounts; reeds of a lot scatter equally around it. A lot that
//! was used in a better season, or made in a better way, looks better: nothing but the players' leniency is taken out.
//!
//! **Refuses** with fewer than two lots that have a rated reed. With fewer than five, lots are shown and not ranked.

use std::collections::BTreeMap;

use super::scores::{ReedScores, count_out, never_rated, reed_scores};
use super::{Options, Question};
use crate::finding::{
    Band, Cell, Chart, ChartKind, Finding, Interval, LotResult, LotShown, LotsSection, Method,
    Section, Table, TableColumn,
};
use crate::problem::Refusal;
use crate::stats::StatsError;
use crate::stats::design::Design;
use crate::stats::mixed::{Criterion, MixedFit, VarianceComponents, fit_mixed};
use crate::stats::numeric::{mean, quantile_of_sorted};
use crate::study::{Better, Study};
use crate::words::digits::decimals;
use crate::words::lots as words;

pub const QUESTION: Question = Question {
    name: "lots",
    asked: "Which cane lots played well?",
    help: "how each lot's reeds were rated, lots of few reeds drawn towards the average",
    ask,
};

const FEWEST_LOTS: usize = 2;
/// Dots of reeds in the picture, shared by the lots.
const MOST_DOTS: usize = 2_000;
const FEWEST_DOTS: usize = 20;
/// Samples drawn from the fitted model and fitted again, where the likelihood cannot be summed.
const REFITS: usize = 500;
/// Draws of the lots' means.
const DRAWS: usize = 10_000;
/// Beyond so many lots fewer draws are taken, so that a workshop's log needs no gigabytes.
const MANY_LOTS: usize = 500;
const DRAWS_OF_MANY: usize = 1_000;

/// The rated reeds of lots.
struct Rated {
    score: Vec<f64>,
    lot: Vec<usize>,
    names: Vec<String>,
    without_lot: usize,
}

impl Rated {
    fn code(&self, lot: &str) -> Option<usize> {
        // the levels of a grouping are sorted by name
        self.names.binary_search_by(|name| name.as_str().cmp(lot)).ok()
    }
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with fewer than two lots that have a rated reed, or where no lot has two.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let scores = reed_scores(study);
    let rated = select(study, &scores);
    let fitted = refuse_or_fit(&rated, options)?;
    let mut results = results(study, &rated, &fitted);
    sort(&mut results, study.outcome().better);
    Ok(say(study, &scores, &rated, &fitted, results, options))
}

/// A lot's mean, drawn towards the average of all.
struct Pooled {
    lot: usize,
    band: Band,
    /// How far it lies from the average of the lots: the 95 % interval of the difference.
    apart: (f64, f64),
}

/// What the model says.
struct Fitted {
    fit: MixedFit,
    /// Share of the variance between lots.
    share_between: Interval,
    /// Sorted by lot.
    pooled: Vec<Pooled>,
}

impl Fitted {
    fn of_lot(&self, lot: usize) -> Option<&Pooled> {
        let at = self.pooled.binary_search_by_key(&lot, |pooled| pooled.lot).ok()?;
        self.pooled.get(at)
    }
}

fn select(study: &Study, scores: &ReedScores) -> Rated {
    let lots = study.labels("lot");
    let with_lot: Vec<(f64, usize)> = scores
        .piece
        .iter()
        .zip(&scores.score)
        .filter_map(|(&piece, &score)| Some((score, lots.codes[piece]? as usize)))
        .collect();
    let without_lot = scores.piece.len() - with_lot.len();
    let (score, lot) = with_lot.into_iter().unzip();
    Rated { score, lot, names: lots.levels, without_lot }
}

fn refuse_or_fit(rated: &Rated, options: &Options) -> Result<Fitted, Refusal> {
    let refusal = |found: String, takes: &str| Refusal {
        question: QUESTION.name.to_owned(),
        found,
        takes: takes.to_owned(),
    };
    let lots = by_lot(rated).len();
    if lots < FEWEST_LOTS {
        return Err(refusal(
            words::too_few(lots),
            "It takes two to compare and five to rank; a column “lot” in reeds.csv says which piece came from which.",
        ));
    }
    fit(rated, options).map_err(|_| {
        let largest = by_lot(rated).values().map(Vec::len).max().unwrap_or(0);
        let all_alike = rated.score.windows(2).all(|pair| pair[0] == pair[1]);
        refusal(
            words::not_comparable(largest, all_alike),
            "It takes at least one lot with two rated reeds that differ.",
        )
    })
}

/// The model, the share of the variance between lots, and each lot's pooled mean, with intervals from draws that hold the
/// uncertainty of the spread between lots.
fn fit(rated: &Rated, options: &Options) -> Result<Fitted, StatsError> {
    let design = Design::builder(rated.score.len()).intercept().build()?;
    let fit = fit_mixed(&design, &rated.score, &rated.lot, Criterion::Reml)?;
    let means = fit.group_means(&[1.0])?;
    let draws = if means.len() > MANY_LOTS { DRAWS_OF_MANY } else { DRAWS };
    let components = match fit.likelihood_draws(draws, options.seed) {
        // two lots leave the spread between them without an upper end; then samples of the fitted model stand in
        Err(StatsError::TooFewGroups { .. }) => fit.parametric_bootstrap(REFITS, options.seed),
        components => components?,
    };
    let drawn = fit.draw_group_means(&[1.0], &components, draws, options.seed)?;
    let averages: Vec<f64> =
        drawn.rows().into_iter().map(|row| row.sum() / row.len() as f64).collect();
    let pooled = means.iter().enumerate().map(|(column, group)| {
        let lot = drawn.column(column);
        let apart = lot.iter().zip(&averages).map(|(mean, average)| mean - average).collect();
        Pooled { lot: group.code, band: band(lot.to_vec(), group.mean), apart: middle(apart, 0.95) }
    });
    let pooled = pooled.collect();
    Ok(Fitted { share_between: share_between(&fit, &components), pooled, fit })
}

/// The interval of the intraclass correlation that the draws of the variance components give.
fn share_between(fit: &MixedFit, components: &[VarianceComponents]) -> Interval {
    let share = |drawn: &VarianceComponents| {
        let (between, within) = (drawn.sd_group.powi(2), drawn.sd_residual.powi(2));
        between / (between + within)
    };
    let estimate = fit.intraclass_correlation();
    let (low, high) = middle(components.iter().map(share).collect(), 0.95);
    Interval { estimate, low: low.min(estimate), high: high.max(estimate) }
}

/// The middle part of draws.
fn middle(mut draws: Vec<f64>, level: f64) -> (f64, f64) {
    draws.sort_by(f64::total_cmp);
    let tail = (1.0 - level) / 2.0;
    (quantile_of_sorted(&draws, tail), quantile_of_sorted(&draws, 1.0 - tail))
}

/// The estimate takes the spread between lots at its likeliest, and may leave the middle half of the draws.
fn band(draws: Vec<f64>, estimate: f64) -> Band {
    let (low, high) = middle(draws.clone(), 0.95);
    let (half_low, half_high) = middle(draws, 0.5);
    let (half_low, half_high) = (half_low.min(estimate), half_high.max(estimate));
    Band { estimate, low: low.min(half_low), high: high.max(half_high), half_low, half_high }
}

fn by_lot(rated: &Rated) -> BTreeMap<usize, Vec<f64>> {
    let mut scores: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for (lot, score) in rated.lot.iter().zip(&rated.score) {
        scores.entry(*lot).or_default().push(*score);
    }
    scores
}

/// One result a lot that has pieces, rated or not.
fn results(study: &Study, rated: &Rated, fitted: &Fitted) -> Vec<LotResult> {
    let scores = by_lot(rated);
    study
        .lot_counts()
        .into_iter()
        .map(|count| {
            let lot = rated.code(&count.lot);
            let own = lot.and_then(|lot| scores.get(&lot));
            let pooled = lot.and_then(|lot| fitted.of_lot(lot));
            let mut result = LotResult {
                pieces: count.pieces,
                spoiled: count.spoiled,
                rated: own.map_or(0, Vec::len),
                raw_mean: own.and_then(|own| mean(own).ok()),
                pooled_mean: pooled.map(|pooled| pooled.band.estimate),
                low: pooled.map(|pooled| pooled.band.low),
                high: pooled.map(|pooled| pooled.band.high),
                lot: count.lot,
                adjusted: None,
                good_per_ten: None,
                good_low: None,
                good_high: None,
                cost_per_good: None,
                p_best: None,
                p_above: None,
                spread: None,
                advice: None,
                sentence: String::new(),
            };
            result.sentence = words::sentence(&result);
            result
        })
        .collect()
}

/// The best first; lots without a rated reed last, by name.
fn sort(results: &mut [LotResult], better: Better) {
    let key = |result: &LotResult| {
        let mean = result.pooled_mean.unwrap_or(f64::NAN);
        if better == Better::Higher { -mean } else { mean }
    };
    results.sort_by(|a, b| {
        let missing = a.pooled_mean.is_none().cmp(&b.pooled_mean.is_none());
        missing.then(key(a).total_cmp(&key(b))).then(a.lot.cmp(&b.lot))
    });
}

fn say(
    study: &Study,
    scores: &ReedScores,
    rated: &Rated,
    fitted: &Fitted,
    results: Vec<LotResult>,
    options: &Options,
) -> Finding {
    let fit = &fitted.fit;
    let standing = standing(study, rated, fitted, &results);
    let mut left_out = never_rated(study, scores);
    count_out(&mut left_out, "rated, but without a lot", rated.without_lot);
    let mut more: Vec<String> = lucky(study, &results).into_iter().collect();
    let stands_out =
        |lot: &&LotResult| standing.better.contains(&lot.lot) || standing.worse.contains(&lot.lot);
    more.extend(results.iter().filter(stands_out).map(|result| result.sentence.clone()));
    let makers = study.labels("maker").levels.len();
    let mut caveats = words::caveats(scores.leniency.len(), makers);
    caveats.extend(scores.caveat.clone());
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: words::answer(&standing),
        more,
        caveats,
        charts: vec![chart(study, rated, fitted, &results)],
        tables: vec![table(&results)],
        method: Method {
            model: format!(
                "{} {}",
                words::MODEL,
                crate::words::factors::score(scores.leniency.len())
            ),
            assumptions: words::assumptions(),
            sources: words::sources(),
            seed: Some(options.seed),
        },
        used: (rated.score.len(), "reeds"),
        left_out,
        section: Section::Lots(LotsSection {
            sd_between: Some(fit.sd_group),
            sd_within: Some(fit.sd_residual),
            icc: Some(fit.intraclass_correlation()),
            p_spread: None,
            list: results,
        }),
    }
}

/// Which lots lie wholly on one side of the average of all.
fn standing(
    study: &Study,
    rated: &Rated,
    fitted: &Fitted,
    results: &[LotResult],
) -> words::Standing {
    let names = |side: &dyn Fn(&Pooled) -> bool| -> Vec<String> {
        let on_side = |lot: &&LotResult| {
            rated.code(&lot.lot).and_then(|code| fitted.of_lot(code)).is_some_and(side)
        };
        results.iter().filter(on_side).map(|lot| lot.lot.clone()).collect()
    };
    let above = names(&|lot: &Pooled| lot.apart.0 > 0.0);
    let below = names(&|lot: &Pooled| lot.apart.1 < 0.0);
    let (better, worse) =
        if study.outcome().better == Better::Higher { (above, below) } else { (below, above) };
    words::Standing {
        better,
        worse,
        overall: average(fitted),
        share_between: fitted.share_between,
        boundary: fitted.fit.at_boundary,
        rated_lots: results.iter().filter(|lot| lot.rated > 0).count(),
    }
}

/// The average of all lots: the model's only coefficient.
fn average(fitted: &Fitted) -> f64 {
    fitted.fit.coefficients.first().copied().unwrap_or(f64::NAN)
}

/// The lot with the best plain mean, where that mean rests on at most half as many reeds as the middle lot has.
fn lucky(study: &Study, results: &[LotResult]) -> Option<String> {
    let rated: Vec<&LotResult> = results.iter().filter(|lot| lot.rated > 0).collect();
    if rated.len() < words::FEWEST_TO_RANK {
        return None;
    }
    let sign = if study.outcome().better == Better::Higher { 1.0 } else { -1.0 };
    let value = |lot: &&LotResult| sign * lot.raw_mean.unwrap_or(f64::NEG_INFINITY);
    let raw_best = rated.iter().copied().max_by(|a, b| value(a).total_cmp(&value(b)))?;
    let mut sizes: Vec<usize> = rated.iter().map(|lot| lot.rated).collect();
    sizes.sort_unstable();
    if 2 * raw_best.rated > sizes[sizes.len() / 2] { None } else { words::lucky(raw_best) }
}

fn chart(study: &Study, rated: &Rated, fitted: &Fitted, results: &[LotResult]) -> Chart {
    let scores = by_lot(rated);
    let dots = MOST_DOTS / results.len().max(1);
    let shown = results.iter().filter_map(|result| {
        let code = rated.code(&result.lot)?;
        let pooled = fitted.of_lot(code)?;
        let mut reeds = scores.get(&code)?.clone();
        reeds.truncate(dots.max(FEWEST_DOTS));
        Some(LotShown {
            lot: result.lot.clone(),
            raw_mean: result.raw_mean,
            pooled: pooled.band,
            reeds,
        })
    });
    Chart {
        name: "lots".to_owned(),
        title: "How each lot's reeds were rated".to_owned(),
        description: words::description(results),
        reading: words::READING.to_owned(),
        kind: ChartKind::Lots {
            lots: shown.collect(),
            overall: average(fitted),
            good_at: super::good_line(study),
            y_label: super::outcome_words(study).axis(),
            range: super::score_range(study),
        },
    }
}

fn table(results: &[LotResult]) -> Table {
    let row = |result: &LotResult| {
        let shown = match (result.low, result.high) {
            (Some(low), Some(high)) => decimals((high - low) / 2.0),
            _ => 1,
        };
        let number =
            |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
        vec![
            Cell::Text(result.lot.clone()),
            Cell::Count(result.pieces),
            Cell::Count(result.spoiled),
            Cell::Count(result.rated),
            number(result.raw_mean),
            number(result.pooled_mean),
            number(result.low),
            number(result.high),
        ]
    };
    Table {
        name: "lots".to_owned(),
        title: "Lots by pooled mean".to_owned(),
        columns: vec![
            TableColumn::new("lot", "Lot"),
            TableColumn::new("pieces", "Pieces"),
            TableColumn::new("spoiled", "spoiled"),
            TableColumn::new("rated", "Reeds rated"),
            TableColumn::new("raw_mean", "Plain mean"),
            TableColumn::new("pooled_mean", "Pooled mean"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
        ],
        rows: results.iter().map(row).collect(),
    }
}
