//! Say: sentences, picture and tables of what went with wearing out.

use super::super::Looked;
use super::super::effect::band;
use super::super::say::in_order;
use super::tables::tables;
use super::{Beside, WORTHWHILE_RATIO, Worn};
use crate::finding::{Chart, ChartKind, Hazard, Interval, RatioShown, Verdict};
use crate::questions::lives::LifeUnit;
use crate::words::factors::{estimate, excludes_zero, step_shown};
use crate::words::life::hazards as words;

pub(super) fn told(looked: &[Looked], beside: &[Beside], unit: LifeUnit) -> Worn {
    let pairs = || looked.iter().zip(beside);
    let list: Vec<Hazard> = pairs().map(|(entry, beside)| hazard(entry, beside, unit)).collect();
    let told: Vec<words::ToldFactor> = pairs()
        .map(|(entry, beside)| words::ToldFactor {
            result: &entry.result,
            label: &entry.label,
            higher_is: entry.higher_is.as_deref(),
            ratio: ratio(beside),
        })
        .collect();
    let in_full = in_order(looked).into_iter().filter(|entry| told_in_full(entry));
    let sentence = |entry: &Looked| {
        let at = looked.iter().position(|other| std::ptr::eq(other, entry))?;
        list.get(at).map(|hazard| hazard.sentence.clone())
    };
    let stands_out = looked.iter().any(|entry| entry.result.verdict.stands_out());
    Worn {
        answer: Some((words::answer(&told), stands_out)),
        more: in_full.filter_map(sentence).collect(),
        charts: chart(looked, beside, &list).into_iter().collect(),
        tables: tables(looked, beside),
        assumptions: words::methods(),
        sources: words::sources(),
        not_modelled: None,
        list,
    }
}

pub(super) fn ratio(beside: &Beside) -> Option<Interval> {
    beside.ratio.map(|told| Interval { estimate: told.estimate, low: told.low, high: told.high })
}

/// A sentence of its own is for what stands out, alone or only until all factors are counted, for what is tangled though it would stand out, and for what was
/// asked beforehand.
fn told_in_full(entry: &Looked) -> bool {
    let verdict = entry.result.verdict;
    let nearly = estimate(&entry.result).is_some_and(excludes_zero);
    verdict.stands_out() || nearly && verdict != Verdict::Negligible || entry.beforehand
}

fn hazard(entry: &Looked, beside: &Beside, unit: LifeUnit) -> Hazard {
    let result = entry.result.clone();
    let told = words::HazardWords {
        label: &entry.label,
        higher_is: entry.higher_is.as_deref(),
        lots: entry.lots,
        retired: beside.retired,
        ratio: ratio(beside),
        in_hours: unit == LifeUnit::Hours,
        grows: beside.drift.filter(|drift| drift.q <= 0.05).map(|drift| drift.grows),
    };
    let sentence = words::sentence(&result, &told);
    Hazard {
        factor: result.factor,
        stage: result.stage,
        kind: result.kind,
        level: result.level,
        reference: result.reference,
        verdict: result.verdict,
        ratio: beside.ratio.map(|told| told.estimate),
        low: beside.ratio.map(|told| told.low),
        high: beside.ratio.map(|told| told.high),
        p: result.p,
        q: result.q,
        df: result.df.filter(|df| df.is_finite()),
        step: result.step,
        unit: result.unit,
        scope: if result.scope == words::WITHIN_LOTS {
            result.scope
        } else {
            words::OVER_ALL.to_owned()
        },
        ph_p: beside.drift.map(|drift| drift.p),
        ph_q: beside.drift.map(|drift| drift.q),
        p_levels: result.p_levels,
        adjusted_for: result.adjusted_for,
        tangled_with: result.tangled_with,
        kept_share: result.kept_share,
        used: result.used,
        retired: beside.retired,
        left_out: result.left_out,
        not_modelled: result.not_modelled,
        sentence,
    }
}

fn chart(looked: &[Looked], beside: &[Beside], list: &[Hazard]) -> Option<Chart> {
    let row = |(entry, beside): (&Looked, &Beside)| {
        Some(RatioShown {
            label: entry.label.clone(),
            step: step_shown(&entry.result, entry.higher_is.as_deref()),
            ratio: ratio(beside)?,
            logarithm: band(entry.effect.as_ref()?, 1.0),
            verdict: entry.result.verdict,
        })
    };
    let rows: Vec<RatioShown> = looked.iter().zip(beside).filter_map(row).collect();
    (!rows.is_empty()).then(|| Chart {
        name: "life_factors".to_owned(),
        title: "What went with wearing out sooner".to_owned(),
        description: words::description(list),
        reading: words::READING.to_owned(),
        kind: ChartKind::Ratios {
            x_label: words::AXIS.to_owned(),
            rows,
            worthwhile: WORTHWHILE_RATIO,
        },
    })
}
