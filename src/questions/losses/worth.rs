//! What the spoiled pieces took: their cane, at the prices of `lots.csv`, and the minutes of scraping; and what one lost piece fewer in ten would spare.

use std::collections::BTreeMap;

use crate::catalogue::Stage;
use crate::finding::{LossWorth, SparedInAQuarter, StageWorth};
use crate::study::{Fate, Study};

/// The column of minutes of work that the catalogue knows.
const MINUTES: &str = "scrape_min";
const DAYS_IN_A_QUARTER: f64 = 91.0;
/// A making rate is not judged from fewer days.
const FEWEST_DAYS: usize = 28;
/// One piece in ten.
const SPARED: f64 = 0.1;

/// One spoiled piece.
struct Spoiled {
    stage: Option<Stage>,
    price: Option<f64>,
    minutes: Option<f64>,
}

/// None where no spoiled piece has a price or minutes.
pub(super) fn worth(study: &Study) -> Option<LossWorth> {
    let prices = prices_of_pieces(study);
    let spoiled = spoiled(study, &prices);
    let all = sums(None, &spoiled.iter().collect::<Vec<_>>());
    if all.priced == 0 && all.timed == 0 {
        return None;
    }
    let good = study.good().into_iter().filter(|good| *good == Some(true)).count();
    Some(LossWorth {
        lost: all.lost,
        priced: all.priced,
        cane: all.cane,
        good,
        cane_per_good: all.cane.filter(|_| good > 0).map(|cane| cane / good as f64),
        timed: all.timed,
        minutes: all.minutes,
        quarter: quarter(study, &prices, &all),
        by_stage: by_stage(&spoiled),
    })
}

/// The price of each piece, where its lot has one.
fn prices_of_pieces(study: &Study) -> Vec<Option<f64>> {
    let prices: BTreeMap<String, f64> = study.prices().into_iter().collect();
    let lots = study.lots();
    let price = |code: &Option<u32>| prices.get(lots.name((*code)?)).copied();
    lots.codes.iter().map(price).collect()
}

fn spoiled(study: &Study, prices: &[Option<f64>]) -> Vec<Spoiled> {
    let at = study.words("spoiled_at");
    let minutes = study.numbers(MINUTES);
    let fates = study.fates().iter().enumerate();
    fates
        .filter(|(_, fate)| **fate == Some(Fate::Spoiled))
        .map(|(piece, _)| Spoiled {
            stage: at[piece].and_then(Stage::from_word),
            price: prices[piece],
            minutes: minutes[piece],
        })
        .collect()
}

fn sums(stage: Option<Stage>, spoiled: &[&Spoiled]) -> StageWorth {
    let prices: Vec<f64> = spoiled.iter().filter_map(|piece| piece.price).collect();
    let minutes: Vec<f64> = spoiled.iter().filter_map(|piece| piece.minutes).collect();
    let sum = |values: &[f64]| (!values.is_empty()).then(|| values.iter().sum::<f64>());
    StageWorth {
        stage,
        lost: spoiled.len(),
        priced: prices.len(),
        cane: sum(&prices),
        timed: minutes.len(),
        minutes: sum(&minutes),
    }
}

/// In the order of the making; pieces without a stage last.
fn by_stage(spoiled: &[Spoiled]) -> Vec<StageWorth> {
    let mut groups: BTreeMap<(bool, Option<Stage>), Vec<&Spoiled>> = BTreeMap::new();
    for piece in spoiled {
        groups.entry((piece.stage.is_none(), piece.stage)).or_default().push(piece);
    }
    groups.into_iter().map(|((_, stage), pieces)| sums(stage, &pieces)).collect()
}

/// None where the pieces have no days, or the log is too short to judge a making rate.
fn quarter(study: &Study, prices: &[Option<f64>], all: &StageWorth) -> Option<SparedInAQuarter> {
    let made = study.making_days();
    let last = made.iter().flatten().max()?;
    let first = made.iter().flatten().min()?;
    let logged = usize::try_from(last - first).ok()? + 1;
    let days = logged.min(study.settings().window as usize);
    if days < FEWEST_DAYS {
        return None;
    }
    let is_recent = |day: &Option<i32>| {
        day.is_some_and(|day| usize::try_from(last - day).is_ok_and(|ago| ago < days))
    };
    let recent: Vec<usize> = (0..made.len()).filter(|&piece| is_recent(&made[piece])).collect();
    let pieces = SPARED * recent.len() as f64 * DAYS_IN_A_QUARTER / days as f64;
    let priced: Vec<f64> = recent.iter().filter_map(|&piece| prices[piece]).collect();
    let mean = priced.iter().sum::<f64>() / priced.len() as f64;
    Some(SparedInAQuarter {
        started: recent.len(),
        days,
        pieces,
        cane: (!priced.is_empty()).then_some(pieces * mean),
        minutes: all.minutes.map(|minutes| pieces * minutes / all.lost as f64),
    })
}
