//! Say: the answer, the curve, the lots and how many pieces keep reeds playing.

use super::QUESTION;
use super::curve::Curve;
use super::lots::Lots;
use super::tables;
use crate::finding::{
    BestShown, Chart, ChartKind, Finding, Interval, LifePoint, LifeSection, LifeStep, LotLifeShown,
    Method, Renewal, Section,
};
use crate::questions::factors::worn::Worn;
use crate::questions::lives::{LifeUnit, Lives};
use crate::stats::survival::LifeQuantile;
use crate::whole;
use crate::words::life as words;
use crate::words::life::LifeWords;

/// Steps of the curve in its picture.
const MOST_STEPS: usize = 400;
/// Ticks on the curve for reeds that had not ended; more would bury it.
const MOST_TICKS: usize = 80;
/// Dots of reeds in the picture of the lots, shared by the lots.
const MOST_DOTS: usize = 2_000;
const FEWEST_DOTS: usize = 20;

pub(super) fn finding(
    lives: &Lives,
    curve: &Curve,
    lots: Lots,
    worn: Worn,
    renewal: Option<Renewal>,
    seed: u64,
) -> Finding {
    let told = told(lives, curve);
    let sentence = words::answer(&told);
    let (mut answer, mut more) = (sentence.clone(), words::more(&told));
    match worn.answer {
        Some((stands_out, true)) => answer = format!("{answer} {stands_out}"),
        Some((aside, false)) => more.push(aside),
        None => more.extend(worn.not_modelled.clone()),
    }
    more.extend(renewal.as_ref().map(|renewal| renewal.sentence.clone()));
    more.extend(lots.differ.as_ref().map(|differ| differ.sentence.clone()));
    let others = lots.median_of_others;
    more.extend(others.and_then(|others| words::other_lots(&told, others.low, others.high)));
    more.extend(worn.more);
    let seed = lots.differ.as_ref().and_then(|differ| differ.shuffles).map(|_| seed);
    let mut charts = vec![curve_chart(&told, curve)];
    charts.extend(lots_chart(&told, &lots, curve.until));
    charts.extend(worn.charts);
    let mut tables = tables::tables(&told, curve, &lots);
    tables.extend(worn.tables);
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer,
        more,
        caveats: words::caveats(&told, lives.spoiled_in_play, lives.late),
        charts,
        tables,
        method: Method {
            model: words::MODEL.to_owned(),
            assumptions: words::assumptions().into_iter().chain(worn.assumptions).collect(),
            sources: words::sources().into_iter().chain(worn.sources).collect(),
            seed,
        },
        used: (lives.piece.len(), "reeds"),
        left_out: lives.left_out.clone(),
        section: Section::Life(LifeSection {
            unit: told.unit().to_owned(),
            n: told.reeds,
            retired: told.retired,
            spoiled_in_play: lives.spoiled_in_play,
            censored: told.reeds - told.retired,
            quartile: curve.quartile.value,
            quartile_low: curve.quartile.value.and(curve.quartile.low),
            quartile_high: curve.quartile.high,
            median: curve.median.value,
            median_low: curve.median.low,
            median_high: curve.median.high,
            median_other_lots_low: others.and_then(|others| others.low),
            median_other_lots_high: others.and_then(|others| others.high),
            restricted_mean: told.mean.map(|(mean, _)| mean.estimate),
            restricted_mean_low: told.mean.map(|(mean, _)| mean.low),
            restricted_mean_high: told.mean.map(|(mean, _)| mean.high),
            restricted_to: told.mean.map(|(_, to)| to),
            curve: curve.steps.clone(),
            by_lot: lots.list,
            lots_differ: lots.differ,
            hazards: worn.list,
            not_modelled: worn.not_modelled,
            renewal,
            sentence,
        }),
    }
}

fn told(lives: &Lives, curve: &Curve) -> LifeWords {
    let quantile =
        |found: LifeQuantile| words::Reached { at: found.value, low: found.low, high: found.high };
    LifeWords {
        in_hours: lives.unit == LifeUnit::Hours,
        reeds: lives.piece.len(),
        retired: lives.retired(),
        quartile: quantile(curve.quartile),
        median: quantile(curve.median),
        mean: curve.mean.map(|mean| (mean.life, mean.to)),
        goes_on: curve.mean.is_some_and(|mean| mean.goes_on),
        longest: curve.until,
    }
}

/// A quantile in a picture; none where it was not reached.
fn shown(at: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<BestShown> {
    at.map(|at| BestShown { at, low, high })
}

fn curve_chart(told: &LifeWords, curve: &Curve) -> Chart {
    Chart {
        name: "life".to_owned(),
        title: words::curve_title(told).to_owned(),
        description: words::description(told),
        reading: words::READING.to_owned(),
        kind: ChartKind::Life {
            x_label: told.axis().to_owned(),
            points: points(&curve.steps, curve.until),
            until: curve.until,
            going: spread_out(&curve.going, MOST_TICKS),
            at_risk: curve.at_risk.clone(),
            median: shown(curve.median.value, curve.median.low, curve.median.high),
        },
    }
}

/// Of very many steps the last in each of many equal stretches, which looks the same.
fn points(steps: &[LifeStep], until: f64) -> Vec<LifePoint> {
    let point = |step: &LifeStep| LifePoint {
        t: step.t,
        share: step.s,
        band: step.low.zip(step.high).map(|(low, high)| [low, high]),
    };
    if steps.len() <= MOST_STEPS || until <= 0.0 {
        return steps.iter().map(point).collect();
    }
    let stretch = |step: &LifeStep| whole::part(step.t / until * MOST_STEPS as f64);
    let last = steps.chunk_by(|a, b| stretch(a) == stretch(b)).filter_map(<[LifeStep]>::last);
    steps.first().into_iter().chain(last).map(point).collect()
}

fn lots_chart(told: &LifeWords, lots: &Lots, until: f64) -> Option<Chart> {
    if lots.list.len() < 2 {
        return None;
    }
    let dots = (MOST_DOTS / lots.list.len()).max(FEWEST_DOTS) / 2;
    let row = |(lot, [ended, going]): (&crate::finding::LotLife, &[Vec<f64>; 2])| LotLifeShown {
        lot: lot.lot.clone(),
        told: words::lot_told(lot, told),
        median: shown(lot.median, lot.median_low, lot.median_high),
        ended: spread_out(ended, dots),
        going: spread_out(going, dots),
    };
    Some(Chart {
        name: "life_lots".to_owned(),
        title: words::LOTS_TITLE.to_owned(),
        description: words::lots_description(&lots.list),
        reading: words::LOTS_READING.to_owned(),
        kind: ChartKind::LifeLots {
            x_label: told.axis().to_owned(),
            rows: lots.list.iter().zip(&lots.reeds).map(row).collect(),
            until,
        },
    })
}

/// At most so many of the sorted values, evenly chosen.
fn spread_out<Value: Copy>(values: &[Value], most: usize) -> Vec<Value> {
    if values.len() <= most {
        return values.to_vec();
    }
    (0..most).filter_map(|at| values.get(at * values.len() / most).copied()).collect()
}

/// An interval's decimals, where both ends are known.
pub(super) fn supported(low: Option<f64>, high: Option<f64>) -> usize {
    let whole = low.zip(high).map(|(low, high)| Interval { estimate: low, low, high });
    whole.map_or(1, crate::words::digits::interval_decimals)
}
