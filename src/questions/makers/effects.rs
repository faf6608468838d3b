//! Fit: each measurement within each maker's reeds, and whether the makers' effects differ.

use std::collections::BTreeMap;

use super::super::factors::own_effects::{OwnEffect, own_effects};
use super::{FEWEST_REEDS, MOST_MAKERS};
use crate::finding::{EffectAcrossMakers, Interval, MakerEffect, MakersVerdict};
use crate::stats::Estimate;
use crate::stats::combined::{Combined, combine};
use crate::stats::multiplicity::benjamini_hochberg;
use crate::stats::numeric::t_quantile;
use crate::study::{Labels, Study};
use crate::words::factors::ModelWords;
use crate::words::makers::EffectLabel;

/// An effect on fewer degrees of freedom is not weighed against others.
const FEWEST_DEGREES: f64 = 4.0;
/// Adjusted p values up to this stand out.
const STANDS_OUT: f64 = 0.05;

/// What the makers' effects come to.
pub(super) struct Effects {
    /// Those that differ first, then those that hold for all; within each by p.
    pub list: Vec<(EffectAcrossMakers, EffectLabel)>,
    /// How many makers have enough rated reeds, and how many of them were looked at.
    pub makers: usize,
    pub looked_at: usize,
    pub model: ModelWords,
}

/// One maker's effect with the maker's name.
type Own = (String, OwnEffect);

pub(super) fn effects(study: &Study, makers: &Labels) -> Effects {
    let (enough, makers_enough) = with_enough(study, makers);
    let mut by_factor: BTreeMap<String, Vec<Own>> = BTreeMap::new();
    let mut model = ModelWords::default();
    if enough.len() > 1 {
        for &maker in &enough {
            let keep: Vec<bool> = makers.codes.iter().map(|code| *code == Some(maker)).collect();
            for own in own_effects(&study.restricted(&keep)) {
                model = model.and(own.model);
                let known = own.effect.degrees_of_freedom >= FEWEST_DEGREES
                    && own.effect.standard_error > 0.0;
                if known {
                    let name = makers.name(maker).to_owned();
                    by_factor.entry(own.factor.clone()).or_default().push((name, own));
                }
            }
        }
    }
    let found: Vec<(Vec<Own>, Combined)> = by_factor
        .into_values()
        .filter_map(|own| {
            let estimates: Vec<Estimate> = own.iter().map(|(_, own)| own.effect).collect();
            let combined = combine(&estimates).ok()?;
            Some((own, combined))
        })
        .collect();
    Effects { list: judged(found), makers: makers_enough, looked_at: enough.len(), model }
}

/// The makers with enough rated reeds, by name, at most so many; and how many there are.
fn with_enough(study: &Study, makers: &Labels) -> (Vec<u32>, usize) {
    let mut rated: BTreeMap<u32, usize> = BTreeMap::new();
    for (code, score) in makers.codes.iter().zip(study.reed_scores()) {
        if let (Some(code), Some(_)) = (code, score) {
            *rated.entry(*code).or_default() += 1;
        }
    }
    rated.retain(|_, reeds| *reeds >= FEWEST_REEDS);
    let count = rated.len();
    let mut order: Vec<(u32, usize)> = rated.into_iter().collect();
    order.sort_by_key(|(code, reeds)| (std::cmp::Reverse(*reeds), *code));
    let mut kept: Vec<u32> = order.into_iter().take(MOST_MAKERS).map(|(code, _)| code).collect();
    kept.sort_unstable();
    (kept, count)
}

fn judged(found: Vec<(Vec<Own>, Combined)>) -> Vec<(EffectAcrossMakers, EffectLabel)> {
    let adjusted = |p: Vec<f64>| benjamini_hochberg(&p).unwrap_or_default();
    let q = adjusted(found.iter().map(|(_, found)| found.common.p_value()).collect());
    let q_differs = adjusted(found.iter().map(|(_, found)| found.differ.p_value()).collect());
    let mut list: Vec<(EffectAcrossMakers, EffectLabel)> = found
        .into_iter()
        .zip(q.into_iter().zip(q_differs))
        .map(|((own, combined), q)| judge(own, &combined, q))
        .collect();
    let key = |effect: &EffectAcrossMakers| match effect.verdict {
        MakersVerdict::Differs => effect.p_differs,
        MakersVerdict::HoldsForAll | MakersVerdict::CannotTell => effect.p,
    };
    list.sort_by(|(a, _), (b, _)| {
        a.verdict.cmp(&b.verdict).then(key(a).total_cmp(&key(b))).then(a.factor.cmp(&b.factor))
    });
    list
}

fn judge(
    own: Vec<Own>,
    combined: &Combined,
    (q, q_differs): (f64, f64),
) -> (EffectAcrossMakers, EffectLabel) {
    let step = middle_step(&own);
    let common = interval(combined.common.scaled(step));
    let list: Vec<MakerEffect> = own.iter().map(|own| of_maker(own, step)).collect();
    let p_differs = combined.differ.p_value();
    let verdict = if q_differs <= STANDS_OUT {
        MakersVerdict::Differs
    } else if q <= STANDS_OUT && p_differs > STANDS_OUT && none_against(common, &list) {
        MakersVerdict::HoldsForAll
    } else {
        MakersVerdict::CannotTell
    };
    let (_, first) = &own[0];
    let label = EffectLabel { label: first.label.clone(), higher_is: first.higher_is.clone() };
    let effect = EffectAcrossMakers {
        factor: first.factor.clone(),
        unit: first.unit.clone(),
        step,
        verdict,
        estimate: common.estimate,
        low: common.low,
        high: common.high,
        p: combined.common.p_value(),
        q,
        p_differs,
        q_differs,
        list,
        sentence: String::new(),
    };
    (effect, label)
}

/// The common interval excludes zero, each maker's estimate lies on its side and each interval allows the common estimate.
fn none_against(common: Interval, list: &[MakerEffect]) -> bool {
    let is_apart = common.low > 0.0 || common.high < 0.0;
    let allows = |effect: &MakerEffect| {
        effect.estimate * common.estimate > 0.0
            && effect.low <= common.estimate
            && common.estimate <= effect.high
    };
    is_apart && list.iter().all(allows)
}

/// The middle one of the makers' usual steps (the smaller of two): one that the makers' own pieces hold.
fn middle_step(own: &[Own]) -> f64 {
    let mut steps: Vec<f64> = own.iter().map(|(_, own)| own.step).collect();
    steps.sort_by(f64::total_cmp);
    steps[(steps.len() - 1) / 2]
}

fn of_maker((maker, own): &Own, step: f64) -> MakerEffect {
    let shown = interval(own.effect.scaled(step));
    MakerEffect {
        maker: maker.clone(),
        estimate: shown.estimate,
        low: shown.low,
        high: shown.high,
        df: own.effect.degrees_of_freedom,
        used: own.reeds,
        lots: own.lots,
    }
}

fn interval(estimate: Estimate) -> Interval {
    let half = t_quantile(0.975, estimate.degrees_of_freedom) * estimate.standard_error;
    let value = estimate.value;
    Interval { estimate: value, low: value - half, high: value + half }
}
