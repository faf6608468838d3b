//! The plan of a trial: everything that is fixed before the first piece is made.
//!
//! A plan is drawn from its seed with [`Plan::drawn`], written with [`Plan::to_toml`] and read with [`read`]. Its pieces carry labels and no arm: which arm a
//! piece belongs to is drawn again from the seed by [`Plan::arms_of_pieces`], so that a glance at the file unblinds nobody and the reader of the trial can
//! still tell the arms apart. The file carries a checksum of itself, and the checksum of the key of labels and arms.

mod allocate;
mod checks;
mod file;
mod labels;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

pub use allocate::allocate;
pub use file::{FORMAT, ReadPlan, parse, read};
pub use labels::labels;

/// The fewest and the most arms of a trial.
pub const ARMS: std::ops::RangeInclusive<usize> = 2..=4;

/// Everything that is fixed beforehand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// Version of the file.
    pub format: u32,
    /// SHA-256 of the file without this line, in hexadecimal digits.
    pub checksum: String,
    /// SHA-256 of the key: see [`Plan::key`].
    pub key_sha256: String,
    pub title: String,
    /// Day on which the plan was made: `2025-11-30`.
    pub made_on: String,
    /// Starts the allocation and the labels. Text in the file, which has no whole numbers of this size.
    #[serde(with = "file::as_text")]
    pub seed: u64,
    /// How pieces that are spoiled before play count.
    pub spoiled: SpoiledCount,
    pub factor: PlannedFactor,
    pub outcome: PlannedOutcome,
    pub analysis: Analysis,
    pub reckoned: Reckoned,
    pub arms: Vec<Arm>,
    pub blocks: Vec<Block>,
    /// By block and order.
    pub pieces: Vec<PlannedPiece>,
}

/// The practice that the arms differ in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedFactor {
    /// The column of the log.
    pub name: String,
    /// As sentences name it.
    pub label: String,
    /// As the log writes it after a number; none for a choice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
}

/// One of the practices compared.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Arm {
    /// For people: `14 days`.
    pub name: String,
    /// As a cell of the log holds it: `14`.
    pub value: String,
    /// Whether it is the present practice. Exactly one arm is.
    pub present: bool,
}

/// What is judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedOutcome {
    pub criterion: String,
    pub scale: [f64; 2],
    pub good_at: f64,
    pub best: Best,
    /// The ideal, where it lies in the middle; then the distance from it is judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<f64>,
    /// Which ratings of a reed count, in the words of a study file: `all`, `last`, `after 3 ratings`.
    pub settled: String,
    /// The smallest difference worth having.
    pub worthwhile: f64,
}

/// Which end of the scale is the better one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Best {
    High,
    Low,
}

/// How pieces that are spoiled before play count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum SpoiledCount {
    #[serde(rename = "left out of the rating, not good in the count")]
    LeftOut,
    #[serde(rename = "worst mark")]
    WorstMark,
}

/// How the result will be analysed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Analysis {
    /// The model in words.
    pub model: String,
    /// Which arms are compared, in words.
    pub comparisons: String,
    /// Of the intervals: 0.95.
    pub level: f64,
    /// Share of the rated reeds at each look, rising; the last is 1.
    pub looks: Vec<f64>,
    pub spending: Spending,
}

/// How the chance of a false alarm is spent on several looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Spending {
    #[serde(rename = "O'Brien-Fleming type (Lan & DeMets 1983)")]
    ObrienFleming,
}

/// What the size rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reckoned {
    /// Standard deviation of reeds within a block, from the log.
    pub sd_within: f64,
    /// Share of pieces spoiled before play, from the log.
    pub spoilage: f64,
    /// Chance to find the worthwhile difference, if it is there.
    pub power: f64,
    /// Difference found with the power that was asked for.
    pub smallest_difference: f64,
    pub pieces: u64,
    /// Rated reeds expected of them.
    pub reeds: f64,
}

/// Pieces compared with each other: those of one lot (and one maker).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Block {
    pub lot: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker: Option<String>,
    pub pieces: usize,
}

/// One piece of the trial, without its arm.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedPiece {
    /// What is written on the blank and stands as `reed` in the log.
    pub label: String,
    /// Number of its block, the first being 1.
    pub block: usize,
    /// Its turn in the block, the first being 1.
    pub order: usize,
}

impl Plan {
    /// Draws labels and allocation from the seed and seals the plan. What `pieces` and the checksums held before is replaced; no label is one of `taken`.
    pub fn drawn(mut self, taken: &BTreeSet<String>) -> Plan {
        let count = self.blocks.iter().map(|block| block.pieces).sum();
        let mut labels = labels(self.seed, count, taken).into_iter();
        let turns =
            self.blocks.iter().enumerate().flat_map(|(block, planned)| {
                (1..=planned.pieces).map(move |order| (block + 1, order))
            });
        self.pieces = turns
            .zip(&mut labels)
            .map(|((block, order), label)| PlannedPiece { label, block, order })
            .collect();
        self.key_sha256 = sha256(&self.key());
        self.checksum = file::checksum(&self);
        self
    }

    /// The arm of every piece, in the order of `pieces`, as a position in `arms`; drawn again from the seed.
    ///
    /// A plan read from a file has no piece outside its blocks; elsewhere such a piece gets the first arm.
    pub fn arms_of_pieces(&self) -> Vec<usize> {
        let sizes: Vec<usize> = self.blocks.iter().map(|block| block.pieces).collect();
        let drawn = allocate(self.seed, self.arms.len(), &sizes);
        let arm_of = |piece: &PlannedPiece| {
            let block = drawn.get(piece.block.wrapping_sub(1))?;
            block.get(piece.order.wrapping_sub(1)).copied()
        };
        self.pieces.iter().map(|piece| arm_of(piece).unwrap_or(0)).collect()
    }

    /// The key that `key_sha256` binds: a line `label value` for every piece, sorted by label.
    pub fn key(&self) -> String {
        let arms = self.arms_of_pieces();
        let value = |arm: usize| self.arms.get(arm).map_or("", |arm| arm.value.as_str());
        let mut lines: Vec<String> = self
            .pieces
            .iter()
            .zip(arms)
            .map(|(piece, arm)| format!("{} {}\n", piece.label, value(arm)))
            .collect();
        lines.sort_unstable();
        lines.concat()
    }

    /// Position of the present practice in `arms`.
    pub fn present(&self) -> usize {
        self.arms.iter().position(|arm| arm.present).unwrap_or(0)
    }

    /// The block of a piece; none where its number is outside the blocks, which no plan read from a file holds.
    pub fn block_of(&self, piece: &PlannedPiece) -> Option<&Block> {
        self.blocks.get(piece.block.checked_sub(1)?)
    }

    /// The plan file.
    pub fn to_toml(&self) -> String {
        file::text(self)
    }
}

fn sha256(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}
