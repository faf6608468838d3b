//! Which cane lots played well?
//!
//! A lot with three lucky reeds must not top the table. Each lot's mean is therefore drawn towards the average of
//! all lots, the more the fewer reeds it has and the less the lots differ (partial pooling).
//!
//! **Method.** A linear mixed model of the reeds' scores with lots as random intercepts, by restricted maximum
//! likelihood (Bates, Maechler, Bolker & Walker 2015); the pooled means are conditional means with their prediction error
//! variance (Henderson 1975), averaged over the spreads between lots that the data allow (Gelman 2006), so that the
//! intervals hold that uncertainty too.
//!
//! **Assumptions.** Lots differ from their average by normal amounts; reeds of a lot scatter equally around it. A lot that
//! was used in a better season, or made in a better way, looks better: nothing but the players' leniency is taken out.
//!
//! **Refuses** with fewer than two lots that have a rated reed. With fewer than five, lots are shown and not ranked.

use std::collections::BTreeMap;

use super::scores::{ReedScores, count_out, never_rated, reed_scores};
use super::{Options, Question};
use crate::finding::{
    Band, Cell, Chart, ChartKind, Finding, LotResult, LotShown, LotsSection, Method, Section,
    Table, TableColumn,
};
use crate::problem::Refusal;
use crate::stats::design::Design;
use crate::stats::mixed::{MixedFit, PooledMean, random_intercept};
use crate::stats::numeric::mean;
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
/// Dots of a lot's reeds in the picture.
const MOST_DOTS: usize = 200;

/// The rated reeds of lots.
struct Rated {
    score: Vec<f64>,
    lot: Vec<u32>,
    names: Vec<String>,
    without_lot: usize,
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with fewer than two lots that have a rated reed, or where no lot has two.
pub fn ask(study: &Study, _options: &Options) -> Result<Finding, Refusal> {
    let scores = reed_scores(study);
    let rated = select(study, &scores);
    let fit = refuse_or_fit(&rated)?;
    let pooled = fit.pooled_means(&[1.0]);
    let overall = fit.coefficients.first().copied().unwrap_or(f64::NAN);
    let mut results = results(study, &rated, &pooled);
    sort(&mut results, study.outcome().better);
    Ok(say(study, &scores, &rated, &fit, &pooled, overall, results))
}

fn select(study: &Study, scores: &ReedScores) -> Rated {
    let lots = study.labels("lot");
    let with_lot: Vec<(f64, u32)> = scores
        .piece
        .iter()
        .zip(&scores.score)
        .filter_map(|(&piece, &score)| Some((score, lots.codes[piece]?)))
        .collect();
    let without_lot = scores.piece.len() - with_lot.len();
    let (score, lot) = with_lot.into_iter().unzip();
    Rated { score, lot, names: lots.levels, without_lot }
}

fn refuse_or_fit(rated: &Rated) -> Result<MixedFit, Refusal> {
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
    let design = Design::new(rated.score.len()).with_intercept();
    random_intercept(&design, &rated.score, &rated.lot).map_err(|why| {
        refusal(
            format!("The rated reeds of the lots cannot be compared: {why}."),
            "It takes at least one lot with two rated reeds that differ.",
        )
    })
}

fn by_lot(rated: &Rated) -> BTreeMap<u32, Vec<f64>> {
    let mut scores: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for (lot, score) in rated.lot.iter().zip(&rated.score) {
        scores.entry(*lot).or_default().push(*score);
    }
    scores
}

/// One result a lot that has pieces, rated or not.
fn results(study: &Study, rated: &Rated, pooled: &[PooledMean]) -> Vec<LotResult> {
    let scores = by_lot(rated);
    let code = |lot: &str| rated.names.iter().position(|name| name == lot).map(|at| at as u32);
    study
        .lot_counts()
        .into_iter()
        .map(|count| {
            let lot = code(&count.lot);
            let own = lot.and_then(|lot| scores.get(&lot));
            let pooled = pooled.iter().find(|pooled| Some(pooled.group) == lot);
            let mut result = LotResult {
                pieces: count.pieces,
                spoiled: count.spoiled,
                rated: own.map_or(0, Vec::len),
                raw_mean: own.map(|own| mean(own)),
                pooled_mean: pooled.map(|pooled| pooled.estimate),
                low: pooled.map(|pooled| pooled.low),
                high: pooled.map(|pooled| pooled.high),
                lot: count.lot,
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
    fit: &MixedFit,
    pooled: &[PooledMean],
    overall: f64,
    results: Vec<LotResult>,
) -> Finding {
    let standing = standing(study, fit, overall, &results);
    let mut left_out = never_rated(study, scores);
    count_out(&mut left_out, "rated, but without a lot", rated.without_lot);
    let mut more: Vec<String> = lucky(study, &results).into_iter().collect();
    more.extend(results.iter().map(|result| result.sentence.clone()));
    let mut caveats = vec![words::CAVEAT.to_owned()];
    caveats.extend(scores.caveat.clone());
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: words::answer(&standing),
        more,
        caveats,
        charts: vec![chart(study, rated, pooled, overall, &results)],
        tables: vec![table(&results)],
        method: Method {
            model: words::MODEL.to_owned(),
            assumptions: words::assumptions(),
            sources: words::sources(),
            seed: None,
        },
        used: (rated.score.len(), "reeds"),
        left_out,
        section: Section::Lots(LotsSection {
            sd_between: Some(fit.sd_group),
            sd_within: Some(fit.sd_residual),
            icc: Some(fit.intraclass_correlation()),
            list: results,
        }),
    }
}

/// Which lots lie wholly on one side of the average.
fn standing(study: &Study, fit: &MixedFit, overall: f64, results: &[LotResult]) -> words::Standing {
    let higher_is_better = study.outcome().better == Better::Higher;
    let names = |side: &dyn Fn(&LotResult) -> bool| -> Vec<String> {
        results.iter().filter(|lot| side(lot)).map(|lot| lot.lot.clone()).collect()
    };
    let above = |lot: &LotResult| lot.low.is_some_and(|low| low > overall);
    let below = |lot: &LotResult| lot.high.is_some_and(|high| high < overall);
    let (above, below) = (names(&above), names(&below));
    let (better, worse) = if higher_is_better { (above, below) } else { (below, above) };
    words::Standing {
        better,
        worse,
        overall,
        icc: fit.intraclass_correlation(),
        boundary: fit.boundary,
        rated_lots: results.iter().filter(|lot| lot.rated > 0).count(),
    }
}

/// Why the lot with the best plain mean is not the best bet, where it is not and lots can be ranked.
fn lucky(study: &Study, results: &[LotResult]) -> Option<String> {
    let rated: Vec<&LotResult> = results.iter().filter(|lot| lot.rated > 0).collect();
    if rated.len() < words::FEWEST_TO_RANK {
        return None;
    }
    let sign = if study.outcome().better == Better::Higher { 1.0 } else { -1.0 };
    let value = |lot: &&LotResult| sign * lot.raw_mean.unwrap_or(f64::NEG_INFINITY);
    let raw_best = rated.iter().copied().max_by(|a, b| value(a).total_cmp(&value(b)))?;
    words::lucky(raw_best, rated.first()?)
}

fn chart(
    study: &Study,
    rated: &Rated,
    pooled: &[PooledMean],
    overall: f64,
    results: &[LotResult],
) -> Chart {
    let scores = by_lot(rated);
    let shown = results.iter().filter_map(|result| {
        let code = rated.names.iter().position(|name| *name == result.lot)? as u32;
        let pooled = pooled.iter().find(|pooled| pooled.group == code)?;
        let mut reeds = scores.get(&code)?.clone();
        reeds.truncate(MOST_DOTS);
        Some(LotShown {
            lot: result.lot.clone(),
            raw_mean: result.raw_mean,
            pooled: Band {
                estimate: pooled.estimate,
                low: pooled.low,
                high: pooled.high,
                half_low: pooled.half_low,
                half_high: pooled.half_high,
            },
            reeds,
        })
    });
    let settings = study.settings();
    Chart {
        name: "lots".to_owned(),
        title: "How each lot's reeds were rated".to_owned(),
        description: words::description(results),
        reading: words::READING.to_owned(),
        kind: ChartKind::Lots {
            lots: shown.collect(),
            overall,
            good_at: (!settings.targets.contains_key(&settings.outcome))
                .then_some(settings.good_at),
            y_label: "rating".to_owned(),
            range: settings.scale,
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
        title: "Lots, the best pooled mean first".to_owned(),
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
