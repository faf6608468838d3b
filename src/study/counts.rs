//! Counts over the pieces: by lot, by stage reached, by reason lost.

use std::sync::OnceLock;

use polars::prelude::*;

use super::{Fate, Stage, Study, tables};

/// How many pieces of a lot were started, and how many of them spoiled.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotCount {
    pub lot: String,
    pub pieces: usize,
    pub spoiled: usize,
}

/// How many pieces were lost at a stage for one reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LossCount {
    /// None where the log does not say at which stage.
    pub stage: Option<Stage>,
    /// None where the log does not say why.
    pub reason: Option<String>,
    pub pieces: usize,
}

/// What a cell keeps. It is found outside of the cell: a thread that waits for polars takes up another question, which may ask for the same.
fn kept<T>(cell: &OnceLock<Vec<T>>, find: impl FnOnce() -> Vec<T>) -> &[T] {
    if let Some(known) = cell.get() {
        return known;
    }
    let found = find();
    cell.get_or_init(|| found)
}

impl Study {
    /// Pieces and spoiled pieces of each lot, by a grouped sum, sorted by the lot's name.
    pub fn lot_counts(&self) -> &[LotCount] {
        kept(&self.asked.lot_counts, || self.counted_by_lot())
    }

    fn counted_by_lot(&self) -> Vec<LotCount> {
        let lots = self.words("lot");
        let spoiled: Vec<u32> =
            self.fates().iter().map(|fate| u32::from(*fate == Some(Fate::Spoiled))).collect();
        let grouped = df!("lot" => lots, "spoiled" => spoiled).and_then(|frame| {
            frame
                .lazy()
                .filter(col("lot").is_not_null())
                .group_by([col("lot")])
                .agg([len().alias("pieces"), col("spoiled").sum()])
                .sort(["lot"], Default::default())
                .collect()
        });
        let Ok(grouped) = grouped else { return Vec::new() };
        let names = tables::texts(&grouped, "lot").into_iter().flatten();
        let pieces = tables::counts(&grouped, "pieces").into_iter().flatten();
        let spoiled = tables::counts(&grouped, "spoiled").into_iter().flatten();
        names
            .zip(pieces.zip(spoiled))
            .map(|(lot, (pieces, spoiled))| LotCount {
                lot,
                pieces: pieces as usize,
                spoiled: spoiled as usize,
            })
            .collect()
    }

    /// Lost pieces by stage and reason, by a grouped sum; the commonest reason of a stage first.
    pub fn loss_counts(&self) -> &[LossCount] {
        kept(&self.asked.loss_counts, || self.counted_by_stage())
    }

    fn counted_by_stage(&self) -> Vec<LossCount> {
        let lost: Vec<bool> =
            self.fates().iter().map(|fate| *fate == Some(Fate::Spoiled)).collect();
        let frame = df!(
            "stage" => self.words("spoiled_at"),
            "reason" => self.words("spoiled_by"),
            "lost" => lost,
        );
        let grouped = frame.and_then(|frame| {
            frame
                .lazy()
                .filter(col("lost"))
                .group_by([col("stage"), col("reason")])
                .agg([len().alias("pieces")])
                .collect()
        });
        let Ok(grouped) = grouped else { return Vec::new() };
        let mut counts: Vec<LossCount> = (0..grouped.height())
            .zip(tables::texts(&grouped, "stage"))
            .zip(tables::texts(&grouped, "reason"))
            .zip(tables::counts(&grouped, "pieces"))
            .map(|(((_, stage), reason), pieces)| LossCount {
                stage: stage.as_deref().and_then(Stage::from_word),
                reason,
                pieces: pieces.unwrap_or(0) as usize,
            })
            .collect();
        counts.sort_by(|a, b| {
            (a.stage, std::cmp::Reverse(a.pieces), &a.reason).cmp(&(
                b.stage,
                std::cmp::Reverse(b.pieces),
                &b.reason,
            ))
        });
        counts
    }

    /// The furthest stage that each piece is known to have entered: the stage it was lost at; play for
    /// finished reeds; else the last stage that has a cell. None where nothing tells.
    pub fn furthest_stages(&self) -> &[Option<Stage>] {
        let scores = self.reed_scores();
        self.asked.furthest_stages.get_or_init(|| self.furthest(scores))
    }

    fn furthest(&self, scores: &[Option<f64>]) -> Vec<Option<Stage>> {
        let mut furthest = self.last_measured_stages();
        let lost_at = self.words("spoiled_at");
        let finished = self.days("finished_on");
        let ends = self.fates().iter().zip(lost_at);
        let told = ends.zip(scores.iter().zip(finished));
        for (furthest, ((fate, lost_at), (score, finished))) in furthest.iter_mut().zip(told) {
            match fate {
                Some(Fate::Spoiled) => *furthest = lost_at.and_then(Stage::from_word),
                Some(Fate::InUse | Fate::WornOut) => *furthest = Some(Stage::Play),
                _ if score.is_some() || finished.is_some() => *furthest = Some(Stage::Play),
                _ => {}
            }
        }
        furthest
    }

    fn last_measured_stages(&self) -> Vec<Option<Stage>> {
        let mut last: Vec<Option<Stage>> = vec![None; self.pieces()];
        for factor in self.factors().iter().filter(|factor| Stage::MAKING.contains(&factor.stage)) {
            let present = self.present(factor);
            for (stage, _) in last.iter_mut().zip(present).filter(|(_, present)| *present) {
                *stage = (*stage).max(Some(factor.stage));
            }
        }
        last
    }

    fn present(&self, factor: &super::Factor) -> Vec<bool> {
        match factor.kind {
            super::FactorKind::Number => {
                self.numbers(&factor.name).iter().map(Option::is_some).collect()
            }
            super::FactorKind::Choice => {
                self.words(&factor.name).iter().map(Option::is_some).collect()
            }
        }
    }
}
