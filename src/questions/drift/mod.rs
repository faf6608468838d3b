//! Has the making moved?
//!
//! Every measurement of the making and the reed scores as they followed one another: did they stay where they were, or do they lie elsewhere now; do more pieces become good
//! reeds; does a blade that wears leave its mark.
//!
//! **Method.** Individuals and moving-range chart (Shewhart 1931; NIST/SEMATECH e-Handbook, section 6.3.2.2) with the four zone rules of the Western Electric handbook
//! (1956); exponentially weighted moving average (Roberts 1959; Lucas & Saccucci 1990, Technometrics 32, 1-12) and cumulative sums (Page 1954), limits from a base period:
//! the first 30 points, which is enough for a spread and leaves the rest to be judged; half of fewer than 60; all of fewer than 24. Lots as subgroups. Since many charts
//! with many rules always flag something, a series counts as moved where the cumulative sum about its mean reaches farther, or a line through it is steeper, than in all but few of 999 shuffles of its own pieces,
//! Benjamini-Hochberg adjusted over the series; the flags that shuffles bring stand beside those that were found. Skill by logistic regression on the day with random lots.
//!
//! Where a log holds the pieces of several makers each maker's mean is taken out of a series first, and makers stand as columns beside the day.
//!
//! **Assumptions.** Without movement any order of the lots, and of the pieces within a lot, would have been as likely. A step from lot to lot is the cane's or the
//! maker's: the charts cannot tell.
//!
//! **Refuses** when no measurement and no rating stands with a date on ten pieces, or none of them varies.

mod apart;
mod chance;
mod chart;
mod lots;
mod makers;
mod say;
mod series;
mod settings;
mod show;
mod size;
mod skill;
mod wear;

pub use settings::ChartSettings;

use super::{Options, Question};
use crate::finding::{
    BasePeriod, ChartSettingsShown, ControlChart, ControlPoint, DriftSection, Finding,
    MeasureDrift, NotCharted, UnmovedSeries,
};
use crate::problem::Refusal;
use crate::stats::multiplicity::benjamini_hochberg;
use crate::study::{FactorKind, Study};
use crate::words::dates::iso;
use crate::words::drift as words;
use rayon::prelude::*;

use chance::{Chance, SHUFFLES, Shuffler, chance};
use chart::{Charts, FEWEST_POINTS, charts};
use makers::Makers;
use series::{Point, Series};

pub const QUESTION: Question = Question {
    name: "drift",
    asked: "Has the making moved?",
    help: "control charts of every measurement and of the reed scores, and whether their signals are more than chance",
    ask,
    asked_of: super::any_log,
};

/// Everything about one series.
struct Charted {
    series: Series,
    charts: Charts,
    /// The points as they were judged.
    points: Vec<Point>,
    base: usize,
    result: MeasureDrift,
    shown: Vec<ControlChart>,
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] where nothing can be charted.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let order = series::order(study);
    let makers = Makers::of(study);
    let asked = options.factor.as_deref();
    // against a target every value stands as it is
    let apart = makers.as_ref().filter(|_| options.charts.target.is_none());
    let all = series::series(study, asked, &order, apart);
    let (mut charted, mut not_charted) = (Vec::new(), Vec::new());
    let one = |series| chart_one(study, series, &options.charts, options.seed);
    let answers: Vec<Result<Charted, NotCharted>> = all.into_par_iter().map(one).collect();
    for answer in answers {
        match answer {
            Ok(found) => charted.push(found),
            Err(why) => not_charted.push(why),
        }
    }
    if charted.is_empty() {
        return Err(refusal(study, asked, &not_charted));
    }
    judge(&mut charted);
    let settings = &options.charts;
    let measures: Vec<MeasureDrift> = charted.iter().map(|found| found.result.clone()).collect();
    let mut section = DriftSection {
        charts: charted.iter().flat_map(|found| found.shown.clone()).collect(),
        unmoved: UnmovedSeries::of(&measures),
        measures,
        not_charted,
        skill: if asked.is_none() { skill::skill(study, &order, makers.as_ref()) } else { None },
        wear: if asked.is_none() { wear::wear(study, &order, makers.as_ref()) } else { Vec::new() },
        settings: ChartSettingsShown {
            weight: settings.weight,
            width: settings.width,
            slack: settings.slack,
            decision: settings.decision,
            shuffles: SHUFFLES,
        },
        sentence: String::new(),
    };
    let labels: Vec<String> = charted.iter().map(|found| found.series.label.clone()).collect();
    section.sentence = words::answer(&section, &labels);
    let mut finding = say::finding(study, section, &charted, order.len(), options.seed);
    if makers.is_some() {
        let told =
            if apart.is_some() { words::MAKERS_TAKEN_OUT } else { words::MAKERS_AS_THEY_ARE };
        finding.caveats.push(told.to_owned());
    }
    Ok(finding)
}

fn refusal(study: &Study, asked: Option<&str>, not_charted: &[NotCharted]) -> Refusal {
    let takes = "It takes ten pieces with a day in “started_on” or “finished_on” and a measurement or a rating that is not the same on all of them.";
    let found = match asked {
        Some(name) if not_charted.is_empty() => {
            let numbers = study.factors().iter().filter(|f| f.kind == FactorKind::Number);
            let known =
                numbers.map(|factor| factor.name.clone()).chain([study.outcome().criterion]);
            words::no_such(name, known.collect())
        }
        _ => words::nothing_charted(study.pieces(), not_charted),
    };
    Refusal { question: QUESTION.name.to_owned(), found, takes: takes.to_owned() }
}

fn chart_one(
    study: &Study,
    series: Series,
    settings: &ChartSettings,
    seed: u64,
) -> Result<Charted, NotCharted> {
    let not = |why: String| NotCharted { measure: series.measure.clone(), why };
    if series.points.len() < FEWEST_POINTS {
        return Err(not(words::too_few(series.points.len())));
    }
    let base = chart::base(series.points.len(), settings);
    let shuffler = Shuffler::new(&series.points);
    let charts = charts(&shuffler.judged, base, settings)
        .map_err(|_| not("the base period does not vary".to_owned()))?;
    let by_chance = chance(&shuffler, base, settings, seed);
    let points: Vec<Point> = series
        .points
        .iter()
        .zip(&shuffler.judged)
        .map(|(point, value)| Point { value: *value, ..*point })
        .collect();
    let lots = lots::lots(&series);
    let flagged = charts.flagged();
    let result = MeasureDrift {
        measure: series.measure.clone(),
        unit: series.unit.clone(),
        n: series.pieces,
        pieces_a_point: series.pieces_a_point,
        base: BasePeriod {
            points: base,
            // a base period holds two points at least
            from: iso(points[0].day),
            until: iso(points[base - 1].day),
            why: words::base(base, points.len(), settings.base.is_some()),
        },
        sigma: charts.sigma,
        shuffled: shuffler.shuffled.word().to_owned(),
        p: by_chance.p,
        q: by_chance.p,
        moved: false,
        flagged: flagged.iter().sum(),
        flagged_by_chance: by_chance.flagged.iter().sum(),
        change: size::change(&series.points, base, study.settings().window),
        off_target: settings.target.and_then(|target| size::off_target(&series.points, target)),
        lots: lots.as_ref().map(|lots| lots.0),
        sentence: String::new(),
    };
    let mut shown = shown(&series, &charts, &points, &by_chance);
    shown.extend(lots.map(|lots| lots.1));
    Ok(Charted { series, charts, points, base, result, shown })
}

/// The charts as they go to the results.
fn shown(
    series: &Series,
    charts: &Charts,
    points: &[Point],
    by_chance: &Chance,
) -> Vec<ControlChart> {
    let chart = |kind: &str,
                 values: &[f64],
                 flags: Vec<Option<String>>,
                 limits: [Option<f64>; 2],
                 center: f64,
                 chance: f64| {
        let flagged = points.iter().zip(values).zip(flags);
        let points: Vec<ControlPoint> = flagged
            .map(|((point, value), flag)| ControlPoint {
                date: iso(point.day),
                value: *value,
                flag,
                lot: None,
            })
            .collect();
        let signals = points.iter().filter(|point| point.flag.is_some()).count();
        ControlChart {
            measure: series.measure.clone(),
            kind: kind.to_owned(),
            center,
            lower: limits[0],
            upper: limits[1],
            signals,
            signals_by_chance: Some(chance),
            sentence: words::chart(kind, signals, points.len(), chance),
            points,
        }
    };
    let values: Vec<f64> = points.iter().map(|point| point.value).collect();
    let [individual, averaged, summed] = by_chance.flagged;
    let single = [Some(charts.individuals.lower), Some(charts.individuals.upper)];
    let average = [Some(charts.ewma.asymptotic_lower), Some(charts.ewma.asymptotic_upper)];
    let sum = [None, Some(charts.decision)];
    vec![
        chart("individuals", &values, charts.rule_words(), single, charts.centre, individual),
        chart("ewma", &charts.ewma.averages, charts.ewma_words(), average, charts.centre, averaged),
        // shuffles count both sums together, and neither is likelier
        chart("cusum up", &charts.cusum.high, charts.cusum_words(true), sum, 0.0, summed / 2.0),
        chart("cusum down", &charts.cusum.low, charts.cusum_words(false), sum, 0.0, summed / 2.0),
    ]
}

/// Which series have moved, all of them counted.
fn judge(charted: &mut [Charted]) {
    let p: Vec<f64> = charted.iter().map(|found| found.result.p).collect();
    let q = benjamini_hochberg(&p).unwrap_or(p);
    for (found, q) in charted.iter_mut().zip(q) {
        found.result.q = q;
        found.result.moved = q <= 0.05;
        found.result.sentence = words::measure(&found.series.label, &found.result);
    }
}
