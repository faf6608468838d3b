//! From a world to a log: lots first, then each piece on its way.

use std::collections::BTreeMap;

use super::super::Workshop;
use super::super::chance::Chance;
use super::super::entries::{Fate, Step};
use super::super::instruments::rounded;
use super::files;
use super::world::{Factor, Player, World};
use crate::whole;

const DAYS_OF_A_MONTH: f64 = 30.4;
const DAYS_OF_A_YEAR: f64 = 365.25;
/// Streams of chance: one for each lot and each piece.
const LOT_STREAM: u64 = 1;
const PIECE_STREAM: u64 = 1 << 40;
const STREAMS_PER_LOT: u64 = 1 << 24;
/// Readings of a piece that is read again, with the first.
const READINGS: usize = 3;
/// The ends of the scale.
pub(super) const SCALE: [f64; 2] = [0.0, 20.0];

/// A log, and what no maker can know of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    pub files: Workshop,
    /// Points that each lot adds, in the order of the world's lots.
    pub lot_effects: Vec<f64>,
    /// The names that the lots have in the files.
    pub lot_names: Vec<String>,
    /// In the order of the files.
    pub pieces: Vec<Made>,
}

/// One piece as it truly was.
#[derive(Debug, Clone, PartialEq)]
pub struct Made {
    pub lot: usize,
    /// Days since the first day.
    pub day: i32,
    /// True values of the world's factors, steps from their centres.
    pub values: Vec<f64>,
    /// What the maker read, in the factor's own unit: the first reading is the one in the table; none where the cell is empty.
    pub readings: Vec<Vec<f64>>,
    /// What the piece plays like or would have played like.
    pub quality: f64,
    pub fate: Fate,
    /// Each player's mark, by the place of the player in the world; none for a lost piece.
    pub ratings: Vec<(usize, f64)>,
}

/// A lot as it truly is: standard deviations above the average, and the habits of its time.
struct LotTruth {
    score: f64,
    habits: Vec<f64>,
}

impl World {
    /// The log of that seed; the same for the same seed, bytes and all.
    pub fn draw(&self, seed: u64) -> Drawn {
        let lots: Vec<LotTruth> = (0..self.lots.len()).map(|lot| self.lot(seed, lot)).collect();
        let mut pieces: Vec<Made> = Vec::with_capacity(self.lots.iter().sum());
        for (lot, (&count, truth)) in self.lots.iter().zip(&lots).enumerate() {
            for place in 0..count {
                let number = PIECE_STREAM + lot as u64 * STREAMS_PER_LOT + place as u64;
                pieces.push(self.piece(lot, truth, place, &mut Chance::stream(seed, number)));
            }
        }
        pieces.sort_by_key(|piece| piece.day);
        let lot_names: Vec<String> = (0..self.lots.len()).map(files::lot_name).collect();
        Drawn {
            files: files::workshop(self, &lot_names, &pieces),
            lot_effects: lots.iter().map(|lot| self.lot_sd * lot.score).collect(),
            lot_names,
            pieces,
        }
    }

    fn lot(&self, seed: u64, lot: usize) -> LotTruth {
        let mut dice = Chance::stream(seed, LOT_STREAM + lot as u64);
        let score = dice.normal(0.0, 1.0);
        let habit =
            |factor: &Factor| factor.with_quality * score + dice.normal(0.0, factor.between);
        LotTruth { score, habits: self.factors.iter().map(habit).collect() }
    }

    fn piece(&self, lot: usize, truth: &LotTruth, place: usize, dice: &mut Chance) -> Made {
        let day = self.start(lot, place, dice);
        let months = f64::from(day) / DAYS_OF_A_MONTH;
        let late = months - f64::from(self.days) / DAYS_OF_A_MONTH / 2.0;
        // the log begins at the best time of the year
        let season = (std::f64::consts::TAU * f64::from(day) / DAYS_OF_A_YEAR).cos();
        let values = self.values(&truth.habits, [late, season], dice);
        let luck = dice.normal(0.0, 1.0);
        let quality = self.base
            + self.lot_sd * truth.score
            + self.trend * late
            + self.season * season
            + self.by_factors(&values)
            + self.reed_sd * luck;
        let lost = dice.happens(self.chance_of_loss(&values, luck));
        let readings =
            self.factors.iter().zip(&values).map(|(factor, &value)| read(factor, value, dice));
        Made {
            readings: readings.collect(),
            fate: if lost { Fate::Spoiled(self.loss.at, self.loss.how) } else { Fate::InUse },
            ratings: if lost { Vec::new() } else { self.rate(quality, day, dice) },
            lot,
            day,
            values,
            quality,
        }
    }

    /// The lots are used one after the other, three at a time.
    fn start(&self, lot: usize, place: usize, dice: &mut Chance) -> i32 {
        let (lots, pieces) = (self.lots.len() as f64, self.lots[lot] as f64); // one of the world's lots
        let share = (place as f64 + dice.uniform()) / pieces;
        let used = (lot as f64 + 3.0 * share) / (lots + 2.0);
        whole::small(used * f64::from(self.days))
    }

    /// Values of all factors, in the order of the making, so that a factor can follow an earlier one.
    fn values(&self, habits: &[f64], [late, season]: [f64; 2], dice: &mut Chance) -> Vec<f64> {
        let mut values = vec![0.0; self.factors.len()];
        let mut common: BTreeMap<Step, f64> = BTreeMap::new();
        for place in self.in_order() {
            let factor = &self.factors[place]; // a place of the factors
            let shared = *common.entry(factor.made_at).or_insert_with(|| dice.normal(0.0, 1.0));
            let own = dice.normal(0.0, 1.0);
            let scatter = factor.shared.sqrt() * shared + (1.0 - factor.shared).sqrt() * own;
            let followed = self.followed(factor, &values);
            let moving = factor.drift * late + factor.with_season * season;
            let value = habits[place] + factor.within * scatter + moving + followed; // one habit a factor
            values[place] = settled(factor, value);
        }
        values
    }

    fn followed(&self, factor: &Factor, values: &[f64]) -> f64 {
        let earlier =
            factor.follows.and_then(|follows| Some((self.place(follows.earlier)?, follows.steps)));
        earlier.map_or(0.0, |(place, steps)| steps * values[place]) // a place of the factors
    }

    /// Each player's mark in tenths.
    fn rate(&self, quality: f64, day: i32, dice: &mut Chance) -> Vec<(usize, f64)> {
        let gone = f64::from(day) / f64::from(self.days);
        let mut mark = |(place, player): (usize, &Player)| {
            let heard = dice.normal(quality + player.kinder, self.rating_sd);
            let mark = rounded(heard, 1).clamp(SCALE[0], SCALE[1]);
            (dice.happens(player.share) && gone >= player.comes).then_some((place, mark))
        };
        self.players.iter().enumerate().filter_map(&mut mark).collect()
    }
}

/// What is written without error is also what acts: kinds and rounding come before the effect.
fn settled(factor: &Factor, value: f64) -> f64 {
    if !factor.kinds.is_empty() {
        let middle = (factor.kinds.len() - 1) as f64 / 2.0;
        return (value + middle).round().clamp(0.0, 2.0 * middle) - middle;
    }
    if factor.reading > 0.0 {
        return value;
    }
    (written(factor, value) - factor.centre) / factor.step
}

/// A value in the factor's own unit, as the maker writes it down.
fn written(factor: &Factor, value: f64) -> f64 {
    let own = (factor.centre + factor.step * value).max(factor.lowest);
    rounded(own, i32::from(factor.decimals))
}

/// One reading, or three of a piece that is read again; none of a cell that stays empty.
fn read(factor: &Factor, value: f64, dice: &mut Chance) -> Vec<f64> {
    if factor.unread > 0.0 && dice.happens(factor.unread) {
        return Vec::new();
    }
    if factor.reading <= 0.0 {
        return vec![written(factor, value)];
    }
    let times = if dice.happens(factor.read_again) { READINGS } else { 1 };
    (0..times).map(|_| written(factor, dice.normal(value, factor.reading))).collect()
}
