//! From the plan to the finished reed: the course of one piece through the workshop.

use super::chance::Chance;
use super::entries::{Fate, Hidden, Log, Piece, Step};
use super::gaps::{forget_some, leave_out_after};
use super::instruments::{dial_reading, half, measure_again, rounded};
use super::playing::play;
use super::scenario::{LAST_DAY, LUCKY, NOTES, PURCHASES, day, days_since_start};
use super::simulation::{Cane, Causes, luck, scraping, spoiled, truth, weather};
use crate::whole;

/// Streams of chance: one for each lot, tube and piece.
const LOT_STREAM: u64 = 1;
/// The stream that deals the qualities to the lots.
const DEAL_STREAM: u64 = 0;
const TUBE_STREAM: u64 = 1 << 32;
const PIECE_STREAM: u64 = 1 << 40;
const PIECES_OF_A_TUBE: usize = 4;
/// Room for tubes and pieces of one lot in the numbering of the streams.
const STREAMS_PER_LOT: u64 = 1 << 24;

/// Simulates the log; `times` multiplies the pieces of every lot but the lucky
/// one (1 for the demo, more for tests that ask for the truth back).
pub fn simulate(seed: u64, times: usize) -> Log {
    let lots = lot_truths(seed);
    let mut log = Log {
        lots: PURCHASES.iter().map(|purchase| purchase.lot()).collect(),
        pieces: Vec::new(),
        ratings: Vec::new(),
        profile: Vec::new(),
        readings: Vec::new(),
        hidden: Hidden {
            lot_effects: lots.iter().map(|lot| lot.effect).collect(),
            qualities: Vec::new(),
        },
    };
    for start in starts(seed, times) {
        let lot = &lots[start.lot]; // there is one for each purchase
        let tube = tube_luck(seed, &start);
        make(&mut log, start, lot, tube);
    }
    log
}

/// What a lot is like.
struct LotTruth {
    effect: f64,
    hardness: f64,
}

/// Deals the qualities to the lots; the lucky one adds exactly nothing.
fn lot_truths(seed: u64) -> Vec<LotTruth> {
    let mut scores = truth::LOT_SCORES.to_vec();
    let mut deal = Chance::stream(seed, DEAL_STREAM);
    (0..PURCHASES.len())
        .map(|lot| {
            let score = match lot {
                LUCKY => 0.0,
                _ => deal.take_one(&mut scores).unwrap_or(0.0), // eight scores for eight lots
            };
            let mut chance = Chance::stream(seed, LOT_STREAM + lot as u64);
            LotTruth {
                effect: truth::LOT_SD * score,
                hardness: chance.normal(truth::HARDNESS_CENTER, truth::HARDNESS_LOT_SD),
            }
        })
        .collect()
}

/// A piece that is about to be started.
struct Start {
    /// Days since the first day.
    on: i32,
    lot: usize,
    /// Counted within the lot.
    place: usize,
    chance: Chance,
}

/// All pieces in the order in which they are started.
fn starts(seed: u64, times: usize) -> Vec<Start> {
    let mut starts = Vec::new();
    for (lot, purchase) in PURCHASES.iter().enumerate() {
        let count = purchase.pieces_started * if lot == LUCKY { 1 } else { times };
        let (first, last) = purchase.used;
        for place in 0..count {
            let number = PIECE_STREAM + lot as u64 * STREAMS_PER_LOT + place as u64;
            let mut chance = Chance::stream(seed, number);
            let share = (place as f64 + chance.uniform()) / count as f64;
            let on = first + whole::small(share * f64::from(last - first));
            starts.push(Start { on, lot, place, chance });
        }
    }
    starts.sort_by_key(|start| (start.on, start.lot, start.place));
    starts
}

/// What the tube of a piece adds to its quality.
fn tube_luck(seed: u64, start: &Start) -> f64 {
    let tube = (start.place / PIECES_OF_A_TUBE) as u64;
    let number = TUBE_STREAM + start.lot as u64 * STREAMS_PER_LOT + tube;
    luck(start.lot, Chance::stream(seed, number).normal(0.0, truth::TUBE_SD))
}

/// Makes one piece, from the cane to its last rating, and writes it into the log.
fn make(log: &mut Log, start: Start, lot: &LotTruth, tube: f64) {
    let Start { on, lot: lot_index, place, mut chance } = start;
    let dice = &mut chance;
    let cane = Cane::draw(lot_index, lot.hardness, dice);
    let mut piece = planned(log, on, lot_index, place, dice);
    read_cane(&mut piece, &cane, dice);
    let gouge = dice.normal(truth::GOUGE_CENTER, truth::GOUGE_SD);
    read_gouge(&mut piece, gouge, dice);
    let scrape_min = scraping(gouge, dice);
    piece.scrape_min = Some(scrape_min.round());
    let forming_days = forming_days(PURCHASES[lot_index].forming_habit, dice); // a start's lot is a purchase
    piece.forming_days = Some(forming_days);
    let tip_opening_mm = tip_opening(dice);
    piece.tip_opening_mm = Some(tip_opening_mm);
    let causes = Causes {
        lot: lot.effect,
        tube,
        own: cane.own,
        hardness: cane.hardness,
        forming_days,
        tip_opening_mm,
        scrape_min,
        months_of_practice: f64::from(on) / DAYS_OF_A_MONTH,
    };
    let schedule = Schedule::draw(on, forming_days, dice);
    let end = end_of_making(&piece, place, &schedule, dice);
    let made = Made {
        piece,
        quality: causes.quality(),
        density: cane.density,
        finished: schedule.finished,
    };
    made.file(log, end, dice);
}

/// A piece on its way into the log, with the truth about it.
struct Made {
    piece: Piece,
    quality: f64,
    density: f64,
    /// The day of finishing, if it comes to that, counted from the first day.
    finished: i32,
}

impl Made {
    /// Plays and rates what became a reed, and writes down what is known.
    fn file(self, log: &mut Log, end: End, dice: &mut Chance) {
        let Made { mut piece, quality, density, finished } = self;
        leave_out_after(&mut piece, end.reached);
        match end.fate {
            Some(fate) => piece.fate = fate,
            None => {
                piece.finished_on = Some(day(finished));
                play(log, &mut piece, quality, density, finished, dice);
            }
        }
        measure_again(log, &piece, dice);
        forget_some(&mut piece, dice);
        log.pieces.push(piece);
        log.hidden.qualities.push(quality);
    }
}

const DAYS_OF_A_MONTH: f64 = 30.4;

fn read_cane(piece: &mut Piece, cane: &Cane, dice: &mut Chance) {
    let reading = dice.normal(cane.hardness, truth::HARDNESS_READING_SD);
    piece.hardness = Some(half(reading.clamp(8.0, 28.0)));
    piece.density_g_cm3 = Some(rounded(cane.density, 2));
}

fn read_gouge(piece: &mut Piece, gouge: f64, dice: &mut Chance) {
    piece.gouge_center_thou = Some(dial_reading(dice.normal(gouge, truth::GOUGE_READING_SD)));
    piece.gouge_edge_mm = Some(rounded(dice.normal(gouge - 0.25, 0.02), 2));
}

/// The piece with everything that is decided freely or merely noted.
fn planned(log: &Log, on: i32, lot: usize, place: usize, dice: &mut Chance) -> Piece {
    let purchase = &PURCHASES[lot]; // a start's lot is a purchase
    let tube = place / PIECES_OF_A_TUBE + 1;
    let (humidity, warmth) = weather(f64::from(on + 5), dice);
    Piece {
        reed: next_name(log, on),
        lot,
        tube: format!("{} {tube}", purchase.name),
        started_on: day(on),
        finished_on: None,
        tube_diameter_mm: Some(rounded(dice.normal(25.2, 0.5).clamp(23.5, 26.9), 1)),
        hardness: None,
        density_g_cm3: None,
        gouge_center_thou: None,
        gouge_edge_mm: None,
        shape: Some(dice.choose(&[("narrow", 0.6), ("broad", 0.4)])),
        shaping: Some(dice.choose(&[("soaked", 0.75), ("dry", 0.25)])),
        scoring: Some(dice.choose(&[("lengthwise", 0.55), ("crosshatch", 0.25), ("none", 0.2)])),
        forming_days: None,
        forming_rh_pct: Some(humidity.round()),
        forming_c: Some(rounded(warmth, 1)),
        wire_1_mm: Some(half(dice.normal(2.0, 0.5).clamp(1.0, 3.0))),
        length_mm: Some(half(dice.normal(55.5, 0.8).clamp(53.0, 58.0))),
        tip_opening_mm: None,
        scrape_min: None,
        first_played: None,
        last_played: None,
        hours_played: None,
        fate: Fate::Unfinished,
        note: dice.pick(&NOTES),
    }
}

/// The maker numbers the pieces and begins anew each January.
fn next_name(log: &Log, on: i32) -> String {
    let year = day(on).year();
    let earlier_years = log.pieces.partition_point(|piece| piece.started_on.year() < year); // they stand by date
    let number = log.pieces.len() - earlier_years + 1;
    format!("{:02}-{number:03}", year % 100)
}

/// Days on the pin: the habit of that time, longer or shorter by a third or so.
fn forming_days(habit: f64, dice: &mut Chance) -> f64 {
    (habit * dice.normal(0.0, 0.4).exp()).round().clamp(2.0, 40.0)
}

/// The opening in steps of 0.05 mm.
fn tip_opening(dice: &mut Chance) -> f64 {
    let opening = dice.normal(truth::OPENING_HABIT, truth::OPENING_SD);
    rounded((opening.clamp(0.7, 1.8) * 20.0).round() / 20.0, 2)
}

/// The days on which the steps are done, counted from the first day.
struct Schedule {
    profiled: i32,
    off_the_pin: i32,
    bound: i32,
    finished: i32,
}

impl Schedule {
    fn draw(on: i32, forming_days: f64, dice: &mut Chance) -> Schedule {
        let profiled = on + dice.whole(1, 4);
        let off_the_pin = profiled + whole::small(forming_days);
        let bound = off_the_pin + dice.whole(0, 2);
        let finished = bound + dice.whole(1, 6);
        Schedule { profiled, off_the_pin, bound, finished }
    }

    /// The last step that is done when the log ends.
    fn reached(&self) -> Step {
        let last = days_since_start(LAST_DAY);
        [
            (self.finished, Step::Finish),
            (self.bound, Step::Bind),
            (self.off_the_pin, Step::Form),
            (self.profiled, Step::Profile),
        ]
        .into_iter()
        .find(|(done, _)| *done <= last)
        .map_or(Step::Gouge, |(_, step)| step)
    }
}

/// How far a piece came, and its fate unless it became a reed.
struct End {
    reached: Step,
    fate: Option<Fate>,
}

fn end_of_making(piece: &Piece, place: usize, schedule: &Schedule, dice: &mut Chance) -> End {
    let reached = schedule.reached();
    let spoiled = match (piece.lot == LUCKY, place) {
        (true, 1) => Some((Step::Form, "cracked")),
        (true, 3) => Some((Step::Bind, "leaked")),
        (true, _) => None,
        (false, _) => spoiled(piece.forming_rh_pct.unwrap_or(45.0), dice),
    };
    match spoiled {
        Some((step, how)) if step <= reached => {
            End { reached: step, fate: Some(Fate::Spoiled(step, how)) }
        }
        _ if reached < Step::Finish => End { reached, fate: Some(Fate::Unfinished) },
        _ => End { reached: Step::Play, fate: None },
    }
}
