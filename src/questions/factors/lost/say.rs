//! Say: sentences, pictures and tables of what went with losing a piece.

use super::super::Looked;
use super::super::again::Log;
use super::super::effect::band;
use super::super::say::in_order;
use super::tables::tables;
use super::{Beside, Lost, WORTHWHILE_PER_TEN};
use crate::finding::{
    Between, Chart, ChartKind, EffectShown, Estimated, FactorResult, LossFactor, Verdict,
};
use crate::words::factors::{estimate, excludes_zero, step_shown};
use crate::words::losses::factors as words;

/// The lost pieces lack a cell more often than the others by this share, and it is said.
const MORE_OFTEN: f64 = 0.1;

pub(super) fn told(log: &Log, looked: &[Looked], beside: &[Beside]) -> Lost {
    let told: Vec<(&FactorResult, &str, Option<&str>)> = looked
        .iter()
        .map(|entry| (&entry.result, entry.label.as_str(), entry.higher_is.as_deref()))
        .collect();
    let list: Vec<LossFactor> =
        looked.iter().zip(beside).map(|(entry, beside)| loss_factor(entry, beside)).collect();
    let is_mixed = beside.iter().any(|beside| beside.is_mixed);
    let is_firth = beside.iter().any(|beside| beside.odds.is_some() && !beside.is_mixed);
    let in_full = in_order(looked).into_iter().filter(|entry| told_in_full(entry));
    let sentence = |entry: &Looked| {
        let same = |factor: &&LossFactor| {
            factor.factor == entry.result.factor && factor.level == entry.result.level
        };
        list.iter().find(same).map(|factor| factor.sentence.clone())
    };
    Lost {
        answer: Some(words::answer(&told)),
        more: in_full.filter_map(sentence).collect(),
        caveats: caveats(log, looked, beside),
        charts: chart(looked, beside, &list).into_iter().collect(),
        tables: tables(looked, beside),
        assumptions: words::methods(is_mixed, is_firth),
        sources: words::sources(is_mixed),
        not_modelled: None,
        list,
    }
}

/// A sentence of its own is for what stands out, alone or only until all factors are counted, for what is tangled, and for what was asked beforehand.
fn told_in_full(entry: &Looked) -> bool {
    let verdict = entry.result.verdict;
    let nearly = verdict == Verdict::Open && estimate(&entry.result).is_some_and(excludes_zero);
    matches!(verdict, Verdict::Clear | Verdict::Leaning) || nearly || entry.beforehand
}

fn loss_factor(entry: &Looked, beside: &Beside) -> LossFactor {
    let result = entry.result.clone();
    let odds = beside.odds.map(|odds| odds.ratio);
    let sentence = sentence(entry, beside);
    let per_ten = estimate(&result);
    LossFactor {
        factor: result.factor,
        stage: result.stage,
        kind: result.kind,
        level: result.level,
        verdict: result.verdict,
        estimate: odds.map(|odds| odds.estimate),
        low: odds.map(|odds| odds.low),
        high: odds.map(|odds| odds.high),
        p: result.p,
        q: result.q,
        df: result.df.filter(|df| df.is_finite()),
        step: result.step,
        unit: result.unit,
        scope: result.scope,
        between: beside.between.map(|(odds, p_differs)| Between {
            estimate: odds.ratio.estimate,
            low: odds.ratio.low,
            high: odds.ratio.high,
            p_differs,
        }),
        p_levels: result.p_levels,
        lost_per_ten: per_ten.map(|told| Estimated {
            estimate: told.estimate,
            low: told.low,
            high: told.high,
        }),
        reference: result.reference,
        adjusted_for: result.adjusted_for,
        tangled_with: result.tangled_with,
        kept_share: result.kept_share,
        by_stage: beside.by_stage.clone(),
        used: result.used,
        lost: beside.lost,
        left_out: result.left_out,
        not_modelled: result.not_modelled,
        sentence,
    }
}

fn sentence(entry: &Looked, beside: &Beside) -> String {
    let words = words::LossWords {
        label: &entry.label,
        higher_is: entry.higher_is.as_deref(),
        lots: entry.lots,
        lost: beside.lost,
        odds: beside.odds.map(|odds| odds.ratio),
    };
    words::sentence(&entry.result, &words)
}

fn caveats(log: &Log, looked: &[Looked], beside: &[Beside]) -> Vec<String> {
    let mut caveats = Vec::new();
    let mut without: Vec<(String, usize, usize)> = Vec::new();
    for (entry, beside) in looked.iter().zip(beside) {
        let gone = beside.gone;
        let is_fitted = entry.result.estimate.is_some();
        let share = |some: usize, all: usize| some as f64 / all.max(1) as f64;
        let more_often = share(gone.lost_without, gone.lost) - share(gone.kept_without, gone.kept);
        if is_fitted && gone.cut_short > 0 {
            let stage = log.columns.factors[entry.at].0.stage;
            caveats.push(words::cut_short(&entry.label, stage, gone.cut_short));
        }
        if more_often >= MORE_OFTEN && gone.lost_without > 1 {
            without.push((entry.label.clone(), gone.lost_without, gone.lost));
        }
    }
    caveats.dedup();
    without.dedup();
    if !without.is_empty() {
        caveats.push(words::lost_without(&without));
    }
    caveats
}

fn chart(looked: &[Looked], beside: &[Beside], list: &[LossFactor]) -> Option<Chart> {
    let rows: Vec<EffectShown> = looked
        .iter()
        .zip(beside)
        .filter(|(entry, _)| entry.effect.is_some())
        .map(|(entry, _)| EffectShown {
            label: entry.label.clone(),
            step: step_shown(&entry.result, entry.higher_is.as_deref()),
            within: entry.effect.as_ref().map(|effect| band(effect, 1.0)),
            between: None,
            verdict: entry.result.verdict,
        })
        .collect();
    (!rows.is_empty()).then(|| Chart {
        name: "loss_factors".to_owned(),
        title: "What went with losing a piece".to_owned(),
        description: words::description(list),
        reading: words::READING.to_owned(),
        kind: ChartKind::Effects {
            rows,
            worthwhile: WORTHWHILE_PER_TEN,
            unit: "lost pieces in ten".to_owned(),
        },
    })
}
