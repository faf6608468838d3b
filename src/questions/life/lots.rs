//! Fit: each lot's reeds, and whether the lots differ.

use std::collections::BTreeMap;

use crate::finding::{LotLife, LotsDiffer};
use crate::questions::lives::Lives;
use crate::questions::rated::distinct;
use crate::stats::permutation::MonteCarlo;
use crate::stats::survival::{
    LifeQuantile, LogRank, clustered_quantile, dealt_log_rank, kaplan_meier, log_rank,
};
use crate::study::Study;
use crate::words::life as words;

/// A lot with fewer reeds is in no comparison.
const FEWEST_IN_LOT: usize = 2;
/// So many lots are compared at most, those with most reeds.
const MOST_LOTS: usize = 50;
/// Retired reeds that it takes to compare lots.
const FEWEST_RETIRED: usize = 5;
/// So many lots tell of others like them, if they have two reeds each on average.
const FEWEST_TO_TELL_OF_OTHERS: usize = 5;
const DEALS: usize = 999;
/// Over so many sums in all deals chi-squared serves, which is a good guide in logs of that size.
const MOST_SUMS: usize = 500_000_000;

/// The lots, those that lasted longest first, with their reeds.
pub(super) struct Lots {
    pub list: Vec<LotLife>,
    /// Lives that ended and lives that went on, for each of the list.
    pub reeds: Vec<[Vec<f64>; 2]>,
    pub differ: Option<LotsDiffer>,
    /// By when half are worn out, with the ends for lots like these and not these alone; where every reed has a lot and lots are enough.
    pub median_of_others: Option<LifeQuantile>,
}

pub(super) fn lots(study: &Study, lives: &Lives, seed: u64) -> Lots {
    let labels = study.lots();
    let mut members: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (place, &piece) in lives.piece.iter().enumerate() {
        if let Some(lot) = labels.codes[piece] {
            members.entry(lot).or_default().push(place);
        }
    }
    let compared = compared(&members);
    let tested = tested(lives, &compared, seed);
    let mut told: Vec<(LotLife, [Vec<f64>; 2])> = members
        .iter()
        .filter_map(|(&lot, places)| {
            let at = compared.iter().position(|(code, _)| *code == lot);
            let expected = tested.as_ref().zip(at);
            let expected =
                expected.and_then(|((test, _), at)| test.groups.get(at)).map(|of| of.expected);
            Some((one(labels.name(lot), lives, places, expected)?, of_lot(lives, places)))
        })
        .collect();
    told.sort_by(|(a, _), (b, _)| pace(a).total_cmp(&pace(b)).then_with(|| a.lot.cmp(&b.lot)));
    let (list, reeds): (Vec<_>, Vec<_>) = told.into_iter().unzip();
    let differ = tested.map(|(test, dealt)| differ(&test, dealt, &list, compared.len()));
    Lots { list, reeds, differ, median_of_others: median_of_others(lives, &labels.codes) }
}

fn median_of_others(lives: &Lives, lots: &[Option<u32>]) -> Option<LifeQuantile> {
    let codes: Option<Vec<u32>> = lives.piece.iter().map(|&piece| lots[piece]).collect();
    let codes: Vec<usize> = codes?.into_iter().map(|code| code as usize).collect();
    let (found, reeds) = (distinct(&codes), codes.len());
    if found < FEWEST_TO_TELL_OF_OTHERS || reeds < 2 * found {
        return None;
    }
    clustered_quantile(&lives.all().ok()?, &codes, 0.5, 0.95).ok()
}

/// Retired reeds for each that was to be expected; lots that are in no comparison last.
fn pace(lot: &LotLife) -> f64 {
    lot.expected.map_or(f64::INFINITY, |expected| lot.retired as f64 / expected.max(1e-9))
}

fn of_lot(lives: &Lives, places: &[usize]) -> [Vec<f64>; 2] {
    let mut sorted = places.to_vec();
    sorted.sort_by(|&a, &b| lives.time[a].total_cmp(&lives.time[b]));
    let (ended, going): (Vec<usize>, Vec<usize>) =
        sorted.into_iter().partition(|&place| lives.ended[place]);
    [ended, going].map(|places| places.into_iter().map(|place| lives.time[place]).collect())
}

fn one(name: &str, lives: &Lives, places: &[usize], expected: Option<f64>) -> Option<LotLife> {
    let lifetimes = lives.lifetimes(places).ok()?;
    let median = kaplan_meier(&lifetimes).median(0.95).ok()?;
    Some(LotLife {
        lot: name.to_owned(),
        n: places.len(),
        retired: lifetimes.events(),
        expected,
        median: median.value,
        median_low: median.low,
        median_high: median.high,
        longest: lifetimes.followed_until(),
    })
}

/// The lots with enough reeds, in the order of their codes.
fn compared(members: &BTreeMap<u32, Vec<usize>>) -> Vec<(u32, &Vec<usize>)> {
    let mut lots: Vec<(u32, &Vec<usize>)> = members
        .iter()
        .filter(|(_, places)| places.len() >= FEWEST_IN_LOT)
        .map(|(&lot, places)| (lot, places))
        .collect();
    lots.sort_by_key(|(lot, places)| (std::cmp::Reverse(places.len()), *lot));
    lots.truncate(MOST_LOTS);
    lots.sort_by_key(|(lot, _)| *lot);
    lots
}

/// The log-rank test, and its p from deals where there are not too many reeds. Rows stand in an order of their own, so that the file's does not count.
fn tested(
    lives: &Lives,
    compared: &[(u32, &Vec<usize>)],
    seed: u64,
) -> Option<(LogRank, Option<f64>)> {
    let mut rows: Vec<(usize, usize)> = compared
        .iter()
        .enumerate()
        .flat_map(|(group, (_, places))| places.iter().map(move |&place| (place, group)))
        .collect();
    rows.sort_by(|&(a, group_a), &(b, group_b)| {
        let by_time = lives.time[a].total_cmp(&lives.time[b]);
        let by_entry = lives.entry[a].total_cmp(&lives.entry[b]);
        by_time.then(lives.ended[a].cmp(&lives.ended[b])).then(by_entry).then(group_a.cmp(&group_b))
    });
    let (places, groups): (Vec<usize>, Vec<usize>) = rows.into_iter().unzip();
    if places.iter().filter(|&&place| lives.ended[place]).count() < FEWEST_RETIRED {
        return None;
    }
    let lifetimes = lives.lifetimes(&places).ok()?;
    let test = log_rank(&lifetimes, &groups, None).ok()?;
    let sums = times_of_ends(lives, &places) * compared.len().pow(2) * DEALS;
    let random = MonteCarlo { replicates: DEALS, seed };
    let dealt = (sums <= MOST_SUMS).then(|| dealt_log_rank(&lifetimes, &groups, &random).ok());
    Some((test, dealt.flatten().map(|dealt| dealt.p_value())))
}

/// How many different times there are at which one of the reeds ended; the places stand in the order of time.
fn times_of_ends(lives: &Lives, places: &[usize]) -> usize {
    let ends = places.iter().filter(|&&place| lives.ended[place]);
    let mut times: Vec<f64> = ends.map(|&place| lives.time[place]).collect();
    times.dedup();
    times.len()
}

fn differ(test: &LogRank, dealt: Option<f64>, list: &[LotLife], lots: usize) -> LotsDiffer {
    let p = dealt.unwrap_or_else(|| test.test.p_value());
    let compared: Vec<&LotLife> = list.iter().filter(|lot| lot.expected.is_some()).collect();
    LotsDiffer {
        statistic: test.test.statistic,
        df: test.test.degrees_of_freedom,
        p,
        shuffles: dealt.map(|_| DEALS),
        lots,
        sentence: words::lots_differ(p, &compared, list.len()),
    }
}
