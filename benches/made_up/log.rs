//! A made-up log of any size: the files of a folder as a maker keeps them, from a fixed seed. Every number is invented.
//!
//! Fifteen columns of making, lots that differ, pieces that spoil, one or two ratings a reed, second readings and profiles of some reeds, lives that end or
//! are still running. What matters here is that every question finds something to do, not that cane behaves so.

use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::path::Path;

/// Pieces of a lot, where the number of lots grows with the log.
pub const LOT_SIZE: usize = 40;
/// Lots at least, and the number of lots where it does not grow.
pub const FEWEST_LOTS: usize = 25;
/// The log of a workshop spans so many days at most.
const MOST_DAYS: f64 = 7_300.0;
const STAGES: [&str; 2] = ["bind", "finish"];
const ENDS: [&str; 3] = ["worn_out", "given_away", "lost"];
const SCORINGS: [&str; 3] = ["none", "lengthwise", "crosshatch"];
/// One piece in so many is measured twice, and one reed in so many has its profile read.
const READ_TWICE: u64 = 20;
const PROFILED: u64 = 20;

/// The generator of Knuth's MMIX: good enough to vary a test file, and the same everywhere.
struct Dice(u64);

impl Dice {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % bound
    }

    fn uniform(&mut self) -> f64 {
        (self.below(1 << 30) as f64 + 0.5) / (1u64 << 30) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (TAU * self.uniform()).cos()
    }

    fn chance(&mut self, share: f64) -> bool {
        self.uniform() < share
    }
}

/// The files of a log.
pub struct Files {
    pub reeds: String,
    pub ratings: String,
    pub readings: String,
    pub profile: String,
    pub lots: String,
}

struct Lot {
    level: f64,
    hardness: f64,
}

/// Writes a log of so many pieces and lots into a folder.
pub fn write(folder: &Path, pieces: usize, lots: usize) -> std::io::Result<()> {
    let files = Files::made_up(pieces, lots);
    std::fs::create_dir_all(folder)?;
    std::fs::write(folder.join("study.toml"), STUDY)?;
    for (name, text) in [
        ("reeds.csv", &files.reeds),
        ("ratings.csv", &files.ratings),
        ("readings.csv", &files.readings),
        ("profile.csv", &files.profile),
        ("lots.csv", &files.lots),
    ] {
        std::fs::write(folder.join(name), text)?;
    }
    Ok(())
}

/// The lots that a growing workshop has bought.
#[allow(dead_code, reason = "not every bench makes a log that grows")]
pub fn growing_lots(pieces: usize) -> usize {
    (pieces / LOT_SIZE).max(FEWEST_LOTS)
}

const STUDY: &str = r#"# An invented workshop: nobody kept this log.
title = "The made-up workshop"
scale = [1, 10]
good_at = 6.5
worthwhile = 0.5
outcome = "overall"

[columns.hardness]
higher_is = "softer"

[decide.forming_days]
candidates = [5, 10, 20]
"#;

impl Files {
    fn made_up(pieces: usize, lots: usize) -> Self {
        let mut dice = Dice(2026);
        let mut files = Self::with_heads(pieces);
        let known: Vec<Lot> =
            (0..lots).map(|lot| files.add_lot(&mut dice, lot, pieces, lots)).collect();
        for piece in 0..pieces {
            files.add_piece(&mut dice, piece, pieces, &known);
        }
        files
    }

    fn with_heads(pieces: usize) -> Self {
        let mut reeds = String::with_capacity(pieces * 150);
        reeds.push_str("reed,lot,tube,started_on,finished_on,tube_diameter_mm,hardness,density_g_cm3,gouge_center_mm,gouge_edge_mm,shape,shaping,scoring,forming_days,forming_rh_pct,forming_c,wire_1_mm,length_mm,tip_opening_mm,scrape_min,first_played,last_played,hours_played,fate,spoiled_at,spoiled_by\n");
        Self {
            reeds,
            ratings: "reed,date,player,setting,overall,response,pitch\n".to_owned(),
            readings: "reed,measure,value,by,repeat\n".to_owned(),
            profile: "reed,from_tip_mm,line,thickness_mm,repeat\n".to_owned(),
            lots: "lot,bought_on,price_per_piece,pieces_bought\n".to_owned(),
        }
    }

    fn add_lot(&mut self, dice: &mut Dice, lot: usize, pieces: usize, lots: usize) -> Lot {
        let bought = date(day_of(lot, lots, pieces) - 20.0);
        let price = 3.0 + 3.0 * dice.uniform();
        let _ = writeln!(
            self.lots,
            "{},{bought},{price:.2},{}",
            lot_name(lot),
            pieces.div_ceil(lots) + 5
        );
        Lot { level: 0.5 * dice.normal(), hardness: 1.5 * dice.normal() }
    }

    fn add_piece(&mut self, dice: &mut Dice, piece: usize, pieces: usize, lots: &[Lot]) {
        // a lot is worked off over a while, the next one begun before it ends
        let place = piece * lots.len() / pieces + dice.below(3) as usize;
        let at = place.min(lots.len() - 1);
        let lot = &lots[at];
        let started = day_of(piece, pieces, pieces);
        let hardness = 18.0 + lot.hardness + 2.0 * dice.normal();
        let gouge = 1.28 + 0.05 * dice.normal();
        let forming = (4.0 + 3.0 * dice.normal().abs()).round();
        let tip = 1.3 + 0.2 * dice.normal();
        let shaping = if dice.chance(0.4) { "dry" } else { "soaked" };
        let expected = 6.0 + lot.level - 0.25 * (hardness - 18.0) - 6.0 * (gouge - 1.28).abs()
            + 0.1 * (forming - 5.0)
            + 1.5 * (tip - 1.3);
        let _ = write!(
            self.reeds,
            "r{piece:07},{0},{0}.{1},{2},",
            lot_name(at),
            piece % 4,
            date(started)
        );
        let is_spoiled = dice.chance(0.18);
        let is_waiting = !is_spoiled && (pieces - piece <= 10.max(pieces / 100));
        let finished = started + 8.0 + dice.below(8) as f64;
        let is_reed = !is_spoiled && !is_waiting;
        let _ = write!(self.reeds, "{},", if is_reed { date(finished) } else { String::new() });
        let cell = |dice: &mut Dice, value: f64, digits: usize| {
            if dice.chance(0.03) { String::new() } else { format!("{value:.digits$}") }
        };
        let making = [
            cell(dice, 25.3 + 0.6 * piece_wave(piece) + 0.1, 1),
            cell(dice, (hardness * 2.0).round() / 2.0, 1),
            cell(dice, 0.54 + 0.02 * ((piece % 97) as f64 / 48.0 - 1.0), 2),
            cell(dice, gouge, 4),
            cell(dice, gouge * 0.8 + 0.02 * ((piece % 31) as f64 / 15.0 - 1.0), 2),
        ];
        let shape = ["narrow", "broad"][dice.below(2) as usize];
        let scoring = SCORINGS[dice.below(3) as usize];
        let _ = write!(self.reeds, "{},{shape},{shaping},{scoring},", making.join(","));
        let later = [
            cell(dice, forming, 0),
            format!("{:.0}", 46.0 + 7.0 * dice.normal().clamp(-3.0, 3.0)),
            format!("{:.1}", 20.5 + 1.2 * dice.normal()),
            format!("{:.1}", 1.5 + 0.5 * dice.below(3) as f64),
        ];
        let _ = write!(self.reeds, "{},", later.join(","));
        if !is_reed {
            let end = if is_spoiled { "spoiled" } else { "" };
            let stage = if is_spoiled { STAGES[dice.below(2) as usize] } else { "" };
            let _ = writeln!(
                self.reeds,
                ",,,,,,{end},{stage},{}",
                if is_spoiled { "cracked" } else { "" }
            );
            return;
        }
        let length = 55.5 + 0.5 * dice.normal();
        let scrape = 40.0 + 6.0 * dice.normal().clamp(-3.0, 3.0);
        let _ = write!(self.reeds, "{length:.1},{tip:.2},{scrape:.0},");
        let first = finished + 2.0 + dice.below(5) as f64;
        let days = 2.0 + (70.0 * -dice.uniform().ln()).min(300.0);
        let hours = (days * (0.2 + 0.3 * dice.uniform()) * 2.0).round() / 2.0 + 0.5;
        let ends = first + days < day_of(pieces, pieces, pieces);
        let fate = if ends { ENDS[(dice.below(5) / 2) as usize] } else { "in_use" };
        let _ = writeln!(self.reeds, "{},{},{hours:.1},{fate},,", date(first), date(first + days));
        self.add_ratings(dice, piece, first, expected);
        if dice.below(READ_TWICE) == 0 {
            self.add_readings(dice, piece, hardness, gouge);
        }
        if dice.below(PROFILED) == 0 {
            self.add_profile(dice, piece);
        }
    }

    fn add_ratings(&mut self, dice: &mut Dice, piece: usize, first: f64, expected: f64) {
        let own = 0.7 * dice.normal();
        for (player, leniency) in [("player one", 0.0), ("player two", 0.4)] {
            if player == "player two" && !dice.chance(0.3) {
                continue;
            }
            let setting = ["home", "rehearsal", "concert"][dice.below(3) as usize];
            let mut mark = || {
                let heard = expected + leniency + own + 0.8 * dice.normal();
                ((heard * 2.0).round() / 2.0).clamp(1.0, 10.0)
            };
            let (overall, response, pitch) = (mark(), mark(), mark());
            let played = date(first);
            let _ = writeln!(
                self.ratings,
                "r{piece:07},{played},{player},{setting},{overall:.1},{response:.1},{pitch:.1}"
            );
        }
    }

    fn add_readings(&mut self, dice: &mut Dice, piece: usize, hardness: f64, gouge: f64) {
        for repeat in 1..=2 {
            let by = ["player one", "player two"][dice.below(2) as usize];
            let read = ((hardness + 0.5 * dice.normal()) * 2.0).round() / 2.0;
            let _ = writeln!(self.readings, "r{piece:07},hardness,{read:.1},{by},{repeat}");
            let read = gouge + 0.008 * dice.normal();
            let _ = writeln!(self.readings, "r{piece:07},gouge_center_mm,{read:.4},{by},{repeat}");
        }
    }

    fn add_profile(&mut self, dice: &mut Dice, piece: usize) {
        let (level, taper) = (0.03 * dice.normal(), 0.006 * dice.normal());
        for from_tip in [2.0, 6.0, 12.0, 18.0, 24.0] {
            for (line, thinner) in [("spine", 0.0), ("left_channel", 0.04), ("right_channel", 0.04)]
            {
                let thickness =
                    0.16 + (0.025 + taper) * from_tip + level - thinner + 0.008 * dice.normal();
                let _ = writeln!(self.profile, "r{piece:07},{from_tip:.0},{line},{thickness:.2},1");
            }
        }
    }
}

fn lot_name(lot: usize) -> String {
    format!("Lot {:05}", lot + 1)
}

/// A wave through the pieces that nothing else follows.
fn piece_wave(piece: usize) -> f64 {
    (piece as f64 * 0.7).sin()
}

/// The day of the n-th of so many things that fill the years of the log evenly.
fn day_of(number: usize, things: usize, pieces: usize) -> f64 {
    let days = (pieces as f64 * 2.6).min(MOST_DAYS);
    (days * number as f64 / things as f64).floor()
}

/// So many days after the first of January 2000 (Hinnant's algorithm).
fn date(day: f64) -> String {
    let z = day as i64 + 10_957 + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z.rem_euclid(146_097);
    let yoe = (doe - doe / 1_460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let (d, m) = (doy - (153 * mp + 2) / 5 + 1, if mp < 10 { mp + 3 } else { mp - 9 });
    let y = yoe + era * 400 + i64::from(m <= 2);
    format!("{y:04}-{m:02}-{d:02}")
}
