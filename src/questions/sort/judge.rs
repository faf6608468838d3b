//! Fit: the limits of each measurement, their gain on lots that had no part in choosing them, and what sorting takes and spares.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::select::{Measure, Selected};
use crate::finding::{NetBenefit, SortResult, SortVerdict};
use crate::stats::multiplicity::benjamini_hochberg;
use crate::stats::sorting::{Sorted, net_benefit, sorted};
use crate::study::Study;

/// At least this share of the pieces is kept: cane is bought to be played.
const LEAST_KEPT: f64 = 0.5;
const LEVEL: f64 = 0.95;
/// The least gain worth having: one good reed in ten pieces.
pub(super) const WORTHWHILE: f64 = 0.1;
const ALPHA: f64 = 0.05;
/// A good reed counts as much as the work on so many pieces, one net benefit each.
const EXCHANGE: [f64; 5] = [1.25, 1.5, 2.0, 3.0, 5.0];
/// Minutes are told where so large a share of the pieces has them.
const TIMED: f64 = 0.5;
/// The catalogue's minutes that pass without work.
const NO_WORK: &str = "soak_min";

/// One measurement with its answer.
pub(super) struct Judged {
    /// Place among the selected measurements.
    pub at: usize,
    pub result: SortResult,
    pub sorted: Sorted,
}

/// The measurements, those worth taking first, then by gain.
pub(super) fn judge(study: &Study, selected: &Selected) -> Vec<Judged> {
    let limits = |(at, measure): (usize, &Measure)| {
        let found = sorted(&measure.values, &measure.good, &measure.lots, LEAST_KEPT, LEVEL);
        Some((at, found.ok()?))
    };
    let (found, spent): (Vec<(usize, Sorted)>, Spent) = rayon::join(
        || selected.measures.par_iter().enumerate().filter_map(limits).collect(),
        || Spent::of(study),
    );
    let p: Vec<f64> = found.iter().map(|(_, sorted)| sorted.gain.p).collect();
    let q = benjamini_hochberg(&p).unwrap_or(p);
    let mut judged: Vec<Judged> = found
        .into_par_iter()
        .zip(q)
        .map(|((at, sorted), q)| {
            let result = result(&selected.measures[at], &sorted, q, &spent);
            Judged { at, result, sorted }
        })
        .collect();
    let gain = |one: &Judged| one.sorted.gain.estimate;
    judged.sort_by(|a, b| {
        a.result
            .verdict
            .cmp(&b.result.verdict)
            .then(gain(b).total_cmp(&gain(a)))
            .then(a.at.cmp(&b.at))
    });
    judged
}

fn verdict(sorted: &Sorted, q: f64) -> SortVerdict {
    let gain = sorted.gain;
    if gain.high < WORTHWHILE {
        SortVerdict::NotWorthIt
    } else if gain.low > 0.0 && q <= ALPHA {
        SortVerdict::WorthIt
    } else {
        SortVerdict::CannotTell
    }
}

fn result(measure: &Measure, sorted: &Sorted, q: f64, spent: &Spent) -> SortResult {
    let (gain, units) = (sorted.gain, measure.pieces.len() as f64);
    let counted = |wanted: &dyn Fn(bool, bool) -> bool| {
        let each = sorted.kept.iter().zip(&measure.good);
        each.filter(|(kept, good)| wanted(**kept, **good)).count() as f64
    };
    let kept = counted(&|kept, _| kept);
    let (good, good_kept) = (counted(&|_, good| good), counted(&|kept, good| kept && good));
    let dropped = units - kept;
    let minutes = spent.minutes(measure, sorted);
    let cost = spent.cane(measure, sorted);
    let hour = minutes.zip(cost).and_then(|((all, kept), (cane_all, cane_kept))| {
        let (saved, more) = (all - kept, cane_kept - cane_all);
        (saved > 0.0 && more > 0.0).then(|| 60.0 * more / saved)
    });
    let curve = EXCHANGE.iter().map(|pieces| {
        let threshold = 1.0 / pieces;
        NetBenefit {
            threshold,
            all: net_benefit(good, units - good, units, threshold),
            kept: net_benefit(good_kept, kept - good_kept, units, threshold),
        }
    });
    SortResult {
        measure: measure.factor.name.clone(),
        unit: measure.factor.unit.clone(),
        keep_low: sorted.limits.low,
        keep_high: sorted.limits.high,
        dropped_share: dropped / units,
        good_per_ten_all: 10.0 * gain.all,
        good_per_ten_kept: 10.0 * gain.kept,
        gain: 10.0 * gain.estimate,
        low: 10.0 * gain.low,
        high: 10.0 * gain.high,
        p: gain.p,
        q,
        good_share_dropped: (dropped > 0.0).then(|| (good - good_kept) / dropped),
        minutes_per_good_all: minutes.map(|minutes| minutes.0),
        minutes_per_good_kept: minutes.map(|minutes| minutes.1),
        minutes_saved_per_good: minutes.map(|(all, kept)| all - kept),
        cost_per_good_all: cost.map(|cost| cost.0),
        cost_per_good_kept: cost.map(|cost| cost.1),
        hour_worth: hour,
        net_benefit: curve.collect(),
        used: measure.pieces.len(),
        left_out: measure.left_out.clone(),
        verdict: verdict(sorted, q),
        sentence: String::new(),
    }
}

/// What each piece took, where the log says.
struct Spent {
    minutes: Vec<Option<f64>>,
    scored: Vec<bool>,
    price: Vec<Option<f64>>,
}

impl Spent {
    fn of(study: &Study) -> Self {
        let mut minutes: Vec<Option<f64>> = vec![None; study.pieces()];
        let of_work = study
            .factors()
            .iter()
            .filter(|factor| factor.unit.as_deref() == Some("min") && factor.name != NO_WORK);
        for factor in of_work {
            for (sum, own) in minutes.iter_mut().zip(study.numbers(&factor.name).iter()) {
                *sum = own.map(|own| sum.unwrap_or(0.0) + own).or(*sum);
            }
        }
        let prices: BTreeMap<String, f64> = study.prices().into_iter().collect();
        let price = study.words("lot").into_iter().map(|lot| prices.get(lot?).copied());
        Self {
            minutes,
            scored: study.reed_scores().iter().map(Option::is_some).collect(),
            price: price.collect(),
        }
    }

    /// Minutes for each good reed, of all and of the kept. A rated reed without minutes took as many as the others; a piece lost without any took none. None where under
    /// half of the rated reeds have minutes.
    fn minutes(&self, measure: &Measure, sorted: &Sorted) -> Option<(f64, f64)> {
        let rated: Vec<usize> =
            measure.pieces.iter().copied().filter(|&piece| self.scored[piece]).collect();
        let timed: Vec<f64> = rated.iter().filter_map(|&piece| self.minutes[piece]).collect();
        if timed.is_empty() || (timed.len() as f64) < TIMED * rated.len() as f64 {
            return None;
        }
        let usual = timed.iter().sum::<f64>() / timed.len() as f64;
        let took = |piece: usize| {
            self.minutes[piece].unwrap_or(if self.scored[piece] { usual } else { 0.0 })
        };
        let (mut all, mut kept, mut good, mut good_kept) = (0.0, 0.0, 0.0, 0.0);
        for (at, &piece) in measure.pieces.iter().enumerate() {
            let (minutes, one) = (took(piece), f64::from(u8::from(measure.good[at])));
            all += minutes;
            good += one;
            if sorted.kept[at] {
                kept += minutes;
                good_kept += one;
            }
        }
        (good > 0.0 && good_kept > 0.0).then(|| (all / good, kept / good_kept))
    }

    /// Price of the cane for each good reed; what is dropped was bought too. Over the pieces whose lot has a price.
    fn cane(&self, measure: &Measure, sorted: &Sorted) -> Option<(f64, f64)> {
        let (mut all, mut good, mut good_kept) = (0.0, 0.0, 0.0);
        for (at, &piece) in measure.pieces.iter().enumerate() {
            let Some(price) = self.price[piece] else { continue };
            all += price;
            good += f64::from(u8::from(measure.good[at]));
            good_kept += f64::from(u8::from(measure.good[at] && sorted.kept[at]));
        }
        (good > 0.0 && good_kept > 0.0).then(|| (all / good, all / good_kept))
    }
}
