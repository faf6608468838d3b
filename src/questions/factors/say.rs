//! Say: the finding, its tables and the data of its pictures.

use std::collections::BTreeMap;

use super::super::{good_line, outcome_words, score_range};
use super::effect::band;
use super::foretell::Foretold;
use super::reading_error::{FEWEST_PIECES, ReadTwice};
use super::sample::{Cells, Columns};
use super::spread::stands_out as stands_out_in_spread;
use super::tables::{detail_table, table};
use super::{Looked, QUESTION, ReedScores};
use crate::finding::{
    Band, BestShown, Chart, ChartKind, EffectShown, FactorLevelShown, FactorsSection, Finding,
    FittedPoint, Method, PlottedPoint, Section, Verdict,
};
use crate::stats::Estimate;
use crate::stats::numeric::{mean, standard_deviation, t_quantile};
use crate::study::{Factor, Study};
use crate::whole;
use crate::words::{
    again, factors as words, foretell as foretell_words, labels::file_stem, spread, sweet_spot,
};

/// So many factors get a picture of their own.
const PICTURED: usize = 4;
/// Over so many reeds, points that fall together are counted.
const MOST_POINTS: usize = 2_000;

pub(super) fn finding(
    study: &Study,
    columns: &Columns,
    scores: &ReedScores,
    looked: Vec<Looked>,
    read_twice: &ReadTwice,
    (within_lots, seed): (bool, u64),
) -> Finding {
    let outcome = outcome_words(study);
    let mut charts: Vec<Chart> = effects_chart(study, &looked).into_iter().collect();
    charts.extend(
        pictured(&looked).into_iter().filter_map(|entry| one_factor(study, columns, scores, entry)),
    );
    let told: Vec<_> =
        looked.iter().map(|entry| (entry.result.clone(), entry.label.clone())).collect();
    let lots = match columns.named_lots(&scores.piece) {
        0 => words::Lots::Sound,
        _ if within_lots => words::Lots::Sound,
        _ if columns.are_of_one_lot(&scores.piece) => words::Lots::One,
        _ => words::Lots::TooSmall,
    };
    let mut caveats = words::caveats(&told, &only_straight(&looked), lots);
    caveats.extend(told.iter().filter_map(|(result, label)| again::caveat(result, label)));
    caveats.extend(scores.caveat.clone());
    let model = looked.iter().fold(words::ModelWords::default(), |all, entry| all.and(entry.model));
    let mut assumptions = words::assumptions(model);
    assumptions.extend(words::leniency(&scores.leniency));
    assumptions.extend(words::stayed_out(
        &labels(&looked, |entry| entry.gaps),
        &labels(&looked, |entry| entry.crowded),
    ));
    let asked =
        looked.iter().fold(again::AgainWords::default(), |all, entry| all.and(entry.again_words));
    let shares: Vec<f64> =
        looked.iter().filter_map(|entry| entry.result.asked_again.imputed_share).collect();
    assumptions.extend(again::methods(asked, &shares));
    assumptions.extend(about_readings(&looked, read_twice));
    let seed = (asked.imputed || has_best(&looked)).then_some(seed);
    let sources = sources(&looked).into_iter().chain(again::sources(asked)).collect();
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: words::answer(&told, outcome),
        more: in_order(&looked)
            .into_iter()
            .filter(|entry| told_in_full(entry))
            .map(|entry| entry.result.sentence.clone())
            .collect(),
        caveats,
        charts,
        tables: vec![table(&looked), detail_table(&looked)],
        method: Method { model: words::model(model), assumptions, sources, seed },
        used: (scores.piece.len(), "reeds"),
        left_out: columns.never_rated.clone(),
        section: Section::Factors(FactorsSection {
            predictive: None,
            criteria: Vec::new(),
            list: looked.into_iter().map(|entry| entry.result).collect(),
        }),
    }
}

/// Adds what is said of all measurements together; its sentence is the second of the answer.
pub(super) fn with_foretold(mut finding: Finding, foretold: Foretold, seed: u64) -> Finding {
    if let Some(predictive) = &foretold.predictive {
        finding.answer = format!("{} {}", finding.answer, predictive.sentence);
    }
    finding.caveats.extend(foretold.refused);
    if !foretold.method.is_empty() {
        finding.method.seed = Some(seed);
        finding.method.sources.extend(foretell_words::sources());
    }
    finding.method.assumptions.extend(foretold.method);
    finding.charts.extend(foretold.charts);
    if let Section::Factors(section) = &mut finding.section {
        section.predictive = foretold.predictive;
    }
    finding
}

fn labels(looked: &[Looked], wanted: impl Fn(&Looked) -> bool) -> Vec<String> {
    let mut labels: Vec<String> =
        looked.iter().filter(|entry| wanted(entry)).map(|entry| entry.label.clone()).collect();
    labels.dedup();
    labels
}

fn has_best(looked: &[Looked]) -> bool {
    looked.iter().any(|entry| entry.result.sweet_spot.is_some())
}

fn sources(looked: &[Looked]) -> Vec<String> {
    let mut sources = words::sources();
    let further = [
        (has_best(looked), sweet_spot::sources()),
        (looked.iter().any(|entry| entry.result.spread.is_some()), spread::spread_sources()),
        (
            looked.iter().any(|entry| entry.result.true_step.is_some()),
            spread::reading_error_sources(),
        ),
    ];
    sources.extend(further.into_iter().filter(|(used, _)| *used).flat_map(|(_, more)| more));
    sources
}

fn about_readings(looked: &[Looked], read_twice: &ReadTwice) -> Vec<String> {
    let corrected = labels(looked, |entry| entry.result.true_step.is_some());
    let too_few = labels(looked, |entry| {
        let pieces = read_twice.get(&entry.result.factor);
        pieces.is_some_and(|pieces| (1..FEWEST_PIECES).contains(pieces))
    });
    spread::reading_error(&corrected, &too_few, FEWEST_PIECES)
}

/// Numbers with an effect in which no bend was looked for.
fn only_straight(looked: &[Looked]) -> Vec<String> {
    labels(looked, |entry| {
        entry.effect.is_some()
            && entry.bend.is_none()
            && entry.result.step.is_some()
            && entry.result.verdict != Verdict::Tangled
    })
}

/// A sentence of its own is for what stands out, alone or only until all factors are counted, and for what was asked
/// beforehand; the table holds the rest.
fn told_in_full(entry: &Looked) -> bool {
    let stands_out =
        matches!(entry.result.verdict, Verdict::Clear | Verdict::Leaning | Verdict::Tangled);
    let nearly = entry.result.verdict == Verdict::Open
        && words::estimate(&entry.result).is_some_and(words::excludes_zero);
    let bends = entry.bend.as_ref().is_some_and(|bend| bend.turn.is_some());
    let is_uneven = entry.result.spread.as_ref().is_some_and(stands_out_in_spread);
    entry.beforehand || stands_out || nearly || bends || is_uneven
}

/// What stands out first, then in the order of the making.
pub(super) fn in_order(looked: &[Looked]) -> Vec<&Looked> {
    let rank = |verdict: Verdict| match verdict {
        Verdict::Clear => 0,
        Verdict::Leaning => 1,
        Verdict::Tangled => 2,
        Verdict::Negligible => 3,
        Verdict::Open => 4,
    };
    let mut ordered: Vec<&Looked> = looked.iter().collect();
    ordered.sort_by_key(|entry| rank(entry.result.verdict));
    ordered
}

/// The factors with a picture: the ones asked about beforehand, then those with the smallest p.
fn pictured(looked: &[Looked]) -> Vec<&Looked> {
    let mut fitted: Vec<&Looked> = looked.iter().filter(|entry| !entry.reeds.is_empty()).collect();
    fitted.sort_by(|a, b| {
        let key = |entry: &Looked| (!entry.beforehand, entry.result.p.unwrap_or(1.0));
        let (a, b) = (key(a), key(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let mut seen: Vec<usize> = Vec::new();
    fitted.retain(|entry| {
        let new = !seen.contains(&entry.at);
        seen.push(entry.at);
        new
    });
    fitted.truncate(PICTURED);
    fitted
}

fn effects_chart(study: &Study, looked: &[Looked]) -> Option<Chart> {
    let rows: Vec<EffectShown> = looked
        .iter()
        .filter(|entry| entry.effect.is_some() || entry.result.between.is_some())
        .map(|entry| EffectShown {
            label: entry.label.clone(),
            step: words::step_shown(&entry.result, entry.higher_is.as_deref()),
            within: entry
                .effect
                .as_ref()
                .map(|effect| band(effect, entry.result.step.unwrap_or(1.0))),
            between: entry.result.between.as_ref().map(|between| crate::finding::Interval {
                estimate: between.estimate,
                low: between.low,
                high: between.high,
            }),
            verdict: entry.result.verdict,
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    Some(Chart {
        name: "factor_effects".to_owned(),
        title: "What went with a better or a worse rating".to_owned(),
        description: words::description(looked.iter().map(|entry| &entry.result)),
        reading: words::effects_reading(rows.iter().any(|row| row.between.is_some())),
        kind: ChartKind::Effects {
            rows,
            worthwhile: study.settings().worthwhile,
            unit: outcome_words(study).points(),
        },
    })
}

fn one_factor(
    study: &Study,
    columns: &Columns,
    scores: &ReedScores,
    entry: &Looked,
) -> Option<Chart> {
    let (factor, cells) = &columns.factors[entry.at];
    let kind = match cells {
        Cells::Number(values) => number_chart(study, scores, entry, factor, values),
        Cells::Choice(codes, levels) => ChartKind::FactorChoice {
            y_label: outcome_words(study).axis(),
            levels: level_charts(scores, entry, codes, levels),
            good_at: good_line(study),
            y_range: score_range(study),
        },
    };
    let reading = match kind {
        ChartKind::FactorNumber { best: Some(_), .. } => sweet_spot::CURVE_READING,
        ChartKind::FactorNumber { .. } => words::NUMBER_READING,
        _ => words::CHOICE_READING,
    };
    Some(Chart {
        name: format!("factor_{}", file_stem(&factor.name)),
        title: words::against(&factor.label),
        description: entry.result.sentence.clone(),
        reading: reading.to_owned(),
        kind,
    })
}

fn number_chart(
    study: &Study,
    scores: &ReedScores,
    entry: &Looked,
    factor: &Factor,
    values: &[Option<f64>],
) -> ChartKind {
    let points: Vec<(f64, f64)> = entry
        .reeds
        .iter()
        .filter_map(|&reed| Some((values[scores.piece[reed]]?, scores.score[reed])))
        .collect();
    ChartKind::FactorNumber {
        x_label: words::axis(&factor.label, factor.unit.as_deref()),
        y_label: outcome_words(study).axis(),
        curve: bent(entry, &points).unwrap_or_else(|| line(entry, &points)),
        best: entry.result.sweet_spot.as_ref().map(|spot| BestShown {
            at: spot.at,
            low: spot.low,
            high: spot.high,
        }),
        points: counted(&points),
        good_at: good_line(study),
        y_range: score_range(study),
    }
}

/// So many stretches make a curve.
const STEPS: usize = 24;

/// The curve that bends, on average as high as the reeds, with the 95 % interval of its height against that average.
fn bent(entry: &Looked, points: &[(f64, f64)]) -> Option<Vec<FittedPoint>> {
    let curve = entry.bend.as_ref()?.shown()?;
    let (xs, ys): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let y_mean = mean(&ys).ok()?;
    let low = xs.iter().copied().fold(f64::INFINITY, f64::min);
    let high = xs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let places = (0..=STEPS).map(|step| low + (high - low) * step as f64 / STEPS as f64);
    let fitted = places.map(|x| {
        let height = band(&curve.against_average(x), 1.0);
        let [fit, low, high] =
            [height.estimate, height.low, height.high].map(|value| y_mean + value);
        FittedPoint { x, fit, low, high }
    });
    Some(fitted.collect())
}

/// The fitted line through the mean of the reeds, with the 95 % interval of its slope.
fn line(entry: &Looked, points: &[(f64, f64)]) -> Vec<FittedPoint> {
    let Some(effect) = &entry.effect else { return Vec::new() };
    let (xs, ys): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let (Ok(x_mean), Ok(y_mean)) = (mean(&xs), mean(&ys)) else { return Vec::new() };
    let low = xs.iter().copied().fold(f64::INFINITY, f64::min);
    let high = xs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let reach = t_quantile(0.975, effect.degrees_of_freedom) * effect.standard_error;
    (0..=STEPS)
        .map(|step| {
            let x = low + (high - low) * step as f64 / STEPS as f64;
            let fit = y_mean + effect.value * (x - x_mean);
            let wide = reach * (x - x_mean).abs();
            FittedPoint { x, fit, low: fit - wide, high: fit + wide }
        })
        .collect()
}

/// The reeds as they are; with very many, on a fine grid and counted.
pub(in crate::questions) fn counted(points: &[(f64, f64)]) -> Vec<PlottedPoint> {
    if points.len() <= MOST_POINTS {
        return points.iter().map(|&(x, y)| PlottedPoint { x, y, reeds: 1 }).collect();
    }
    const CELLS: f64 = 40.0;
    let range = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    };
    let (x_low, x_high) = range(&mut points.iter().map(|point| point.0));
    let (y_low, y_high) = range(&mut points.iter().map(|point| point.1));
    let cell = |value: f64, low: f64, high: f64| {
        if high > low {
            whole::part((((value - low) / (high - low)) * CELLS).min(CELLS - 1.0))
        } else {
            0
        }
    };
    let mut cells: BTreeMap<(usize, usize), (f64, f64, usize)> = BTreeMap::new();
    for &(x, y) in points {
        let sum =
            cells.entry((cell(x, x_low, x_high), cell(y, y_low, y_high))).or_insert((0.0, 0.0, 0));
        *sum = (sum.0 + x, sum.1 + y, sum.2 + 1);
    }
    cells
        .into_values()
        .map(|(x, y, reeds)| PlottedPoint { x: x / reeds as f64, y: y / reeds as f64, reeds })
        .collect()
}

/// Each level's reeds and their plain mean.
fn level_charts(
    scores: &ReedScores,
    entry: &Looked,
    codes: &[Option<u32>],
    levels: &[String],
) -> Vec<FactorLevelShown> {
    let of_level = |code: u32| -> Vec<f64> {
        entry
            .reeds
            .iter()
            .filter(|&&reed| codes[scores.piece[reed]] == Some(code))
            .map(|&reed| scores.score[reed])
            .collect()
    };
    (0..)
        .zip(levels)
        .map(|(code, level)| {
            let reeds = of_level(code);
            FactorLevelShown { level: level.clone(), mean: plain_mean(&reeds), reeds }
        })
        .filter(|shown| !shown.reeds.is_empty())
        .collect()
}

fn plain_mean(values: &[f64]) -> Option<Band> {
    let estimate = Estimate {
        value: mean(values).ok()?,
        standard_error: standard_deviation(values).ok()? / (values.len() as f64).sqrt(),
        degrees_of_freedom: (values.len() - 1) as f64,
    };
    Some(band(&estimate, 1.0))
}
