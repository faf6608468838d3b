//! Whether more pieces become good reeds as time goes by.

use std::collections::{BTreeMap, BTreeSet};

use super::makers::Makers;
use crate::finding::{Estimated, SkillTrend};
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::logistic::{BinomialOutcome, fit_firth, fit_logistic_mixed};
use crate::study::Study;
use crate::whole;
use crate::words::drift as say;

/// It takes so many finished pieces, and so many of them good and not good.
const FEWEST: usize = 30;
const FEWEST_OF_EACH: usize = 5;
/// Nothing is said of skill over fewer days.
const FEWEST_DAYS: i32 = 60;
/// Of more pieces, those of one lot and of one of so many equal stretches of time are counted together.
const MOST_ROWS: usize = 2_000;
const STRETCHES: f64 = 200.0;
/// Lots stand as random intercepts from so many on.
const FEWEST_LOTS: usize = 5;

/// None where the log is too short, or nearly all pieces end alike.
pub(super) fn skill(
    study: &Study,
    order: &[(usize, i32)],
    makers: Option<&Makers>,
) -> Option<SkillTrend> {
    let good = study.good();
    let maker = |piece: usize| makers.map_or(0, |makers| makers.of_piece(piece));
    let mut rows: Vec<(usize, i32, bool)> =
        order.iter().filter_map(|&(piece, day)| Some((piece, day, good[piece]?))).collect();
    if makers.is_some() {
        without_one_sided(&mut rows, maker);
    }
    let count = rows.iter().filter(|row| row.2).count();
    let (first, last) = (rows.first()?.1, rows.last()?.1);
    let days = last.checked_sub(first)?;
    let is_enough = rows.len() >= FEWEST && count.min(rows.len() - count) >= FEWEST_OF_EACH;
    if !is_enough || days < FEWEST_DAYS {
        return None;
    }
    let codes = &study.lots().codes;
    let nameless = codes.iter().flatten().max().map_or(0, |most| *most as usize + 1);
    let lot = |piece: usize| codes[piece].map_or(nameless, |code| code as usize);
    let timed: Vec<Timed> = rows
        .iter()
        .map(|&(piece, day, is_good)| Timed {
            lot: lot(piece),
            maker: maker(piece),
            time: f64::from(day - first) / f64::from(days),
            is_good,
        })
        .collect();
    let counted = counted(&timed);
    let columns = Columns {
        time: counted.iter().map(|row| row.time).collect(),
        makers: makers_apart(&counted),
    };
    let successes: Vec<f64> = counted.iter().map(|row| row.good).collect();
    let trials: Vec<f64> = counted.iter().map(|row| row.pieces).collect();
    let outcome = BinomialOutcome::counts(&successes, &trials).ok()?;
    let lots: Vec<usize> = counted.iter().map(|row| row.lot).collect();
    let several = lots.iter().collect::<BTreeSet<_>>().len();
    // each maker may take a lot of its own
    if several >= FEWEST_LOTS && several < 3 + columns.makers.len() {
        return None;
    }
    let fitted = mixed(&columns, &outcome, &lots).or_else(|| firth(&columns, &outcome))?;
    let mut trend = SkillTrend {
        pieces: rows.len(),
        good: count,
        days,
        odds: fitted.odds,
        first_per_ten: 10.0 * fitted.ends[0],
        last_per_ten: 10.0 * fitted.ends[1],
        model: fitted.model.to_owned(),
        sentence: String::new(),
    };
    trend.sentence = say::skill(&trend, (2..FEWEST_LOTS).contains(&several));
    Some(trend)
}

/// Leaves out makers whose pieces all end alike: beside a level for each maker they tell nothing of time.
fn without_one_sided(rows: &mut Vec<(usize, i32, bool)>, maker: impl Fn(usize) -> usize) {
    let mut ends: BTreeMap<usize, [bool; 2]> = BTreeMap::new();
    for (piece, _, good) in rows.iter() {
        ends.entry(maker(*piece)).or_default()[usize::from(*good)] = true;
    }
    rows.retain(|(piece, ..)| ends.get(&maker(*piece)) == Some(&[true, true]));
}

/// One piece.
struct Timed {
    lot: usize,
    maker: usize,
    /// From 0 on the first day to 1 on the last.
    time: f64,
    is_good: bool,
}

/// Pieces that are counted together.
struct Counted {
    lot: usize,
    maker: usize,
    time: f64,
    good: f64,
    pieces: f64,
}

/// Each piece for itself, or in a large log those of a lot and maker in one stretch of time, at its middle.
fn counted(rows: &[Timed]) -> Vec<Counted> {
    let good = |is_good: bool| f64::from(u8::from(is_good));
    if rows.len() <= MOST_ROWS {
        let one = |row: &Timed| Counted {
            lot: row.lot,
            maker: row.maker,
            time: row.time,
            good: good(row.is_good),
            pieces: 1.0,
        };
        return rows.iter().map(one).collect();
    }
    let mut together: BTreeMap<(usize, usize, usize), (f64, f64)> = BTreeMap::new();
    for row in rows {
        let stretch = whole::part((row.time * STRETCHES).min(STRETCHES - 1.0));
        let count = together.entry((row.lot, stretch, row.maker)).or_default();
        *count = (count.0 + good(row.is_good), count.1 + 1.0);
    }
    let row = |((lot, stretch, maker), (good, pieces)): ((usize, usize, usize), (f64, f64))| {
        Counted { lot, maker, time: (stretch as f64 + 0.5) / STRETCHES, good, pieces }
    };
    together.into_iter().map(row).collect()
}

/// What stands beside the intercept.
struct Columns {
    time: Vec<f64>,
    /// Less their means, so that zeros stand for the makers as they are mixed.
    makers: Vec<Vec<f64>>,
}

impl Columns {
    fn design(&self) -> Option<Design> {
        self.design_at(&self.time)
    }

    /// All pieces on the first day, or on the last.
    fn on(&self, time: f64) -> Option<Design> {
        self.design_at(&vec![time; self.time.len()])
    }

    fn design_at(&self, time: &[f64]) -> Option<Design> {
        let built = Design::builder(time.len()).intercept().number("time", time);
        let makers = self.makers.iter().enumerate();
        makers
            .fold(built, |built, (at, column)| built.number(&format!("maker {at}"), column))
            .build()
            .ok()
    }
}

/// A column for each maker but the first, less its mean over the pieces.
fn makers_apart(rows: &[Counted]) -> Vec<Vec<f64>> {
    let pieces: f64 = rows.iter().map(|row| row.pieces).sum();
    let makers: BTreeSet<usize> = rows.iter().map(|row| row.maker).collect();
    let column = |maker: usize| {
        let own = |row: &Counted| f64::from(u8::from(row.maker == maker));
        let mean = rows.iter().map(|row| own(row) * row.pieces).sum::<f64>() / pieces;
        rows.iter().map(|row| own(row) - mean).collect()
    };
    makers.into_iter().skip(1).map(column).collect()
}

struct Fitted {
    odds: Estimated,
    /// Share of good reeds on the first and on the last day.
    ends: [f64; 2],
    model: &'static str,
}

fn odds(log_odds: Estimate, (low, high): (f64, f64)) -> Option<Estimated> {
    let odds = Estimated { estimate: log_odds.value.exp(), low: low.exp(), high: high.exp() };
    (odds.low.is_finite() && odds.high.is_finite()).then_some(odds)
}

/// None where the lots are few, or differ no more than chance makes them.
fn mixed(columns: &Columns, outcome: &BinomialOutcome, lots: &[usize]) -> Option<Fitted> {
    let several = lots.iter().collect::<BTreeSet<_>>().len();
    if several < FEWEST_LOTS {
        return None;
    }
    let fit = fit_logistic_mixed(&columns.design()?, outcome, lots)
        .ok()
        .filter(|fit| !fit.at_boundary)?;
    let log_odds = fit.contrast(&fit.pick("time").ok()?).ok()?;
    // lots are few, so the t distribution of their number stands for the normal
    let spare = several as f64 - 2.0 - columns.makers.len() as f64;
    let log_odds = Estimate { degrees_of_freedom: spare, ..log_odds };
    let share = |time| Some(fit.standardised(&columns.on(time)?).ok()?.value);
    Some(Fitted {
        odds: odds(log_odds, log_odds.interval(0.95).ok()?)?,
        ends: [share(0.0)?, share(1.0)?],
        model: "lots as random intercepts",
    })
}

fn firth(columns: &Columns, outcome: &BinomialOutcome) -> Option<Fitted> {
    let fit = fit_firth(&columns.design()?, outcome).ok()?;
    let contrast = fit.pick("time").ok()?;
    let log_odds = fit.contrast(&contrast).ok()?;
    let (low, high) = fit.profile_interval(&contrast, 0.95).ok()?;
    // an end found by search may miss the estimate by rounding
    let ends = (low.min(log_odds.value), high.max(log_odds.value));
    let share = |time: f64| {
        let at = [1.0, time].into_iter().chain(columns.makers.iter().map(|_| 0.0));
        let at = fit.contrast(&at.collect::<Vec<f64>>()).ok()?;
        Some(1.0 / (1.0 + (-at.value).exp()))
    };
    Some(Fitted {
        odds: odds(log_odds, ends)?,
        ends: [share(0.0)?, share(1.0)?],
        model: "Firth's likelihood",
    })
}
