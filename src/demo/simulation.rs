//! How an invented reed comes to be: the causes, in the order of the making.
//!
//! ```text
//! lot, tube, the piece itself ──────────────────────────────┐
//! hardness ──(softer is worse)──────────────────────────────┤
//! gouge ──> minutes of scraping ──(more is worse)───────────┤
//! forming days ──(a little)─────────────────────────────────┼─> quality ──> rating <── season, player, the day
//! tip opening ──(best at 1.15 mm)───────────────────────────┤
//! practice ──(months since the start)───────────────────────┘
//! humidity at the forming pin ──(dry air)──> cracks on the pin, and nothing else
//! density ──> hours that a reed lasts; it goes along with hardness and does nothing for the rating
//! ```
//!
//! Shape, shaping, scoring, wire place, length, tube diameter, edge of the gouge
//! and room temperature do nothing at all. Forming days grow with the lots, so
//! they are tangled with the lots and with practice, but vary within each lot.
//!
//! The lucky small lot: five pieces, two of them spoiled, three rated. The lot
//! itself adds exactly nothing, but the luck of its pieces, tubes and rating
//! days is taken without its sign, so that all of it is good luck.

use super::chance::Chance;
use super::entries::{Fate, Step};
use super::scenario::{FIRST_DAY, LUCKY, PLAYER_TWO};
use std::f64::consts::TAU;

/// The true effects, in rating points unless said otherwise. All are planning
/// values of this invented workshop, not findings about cane.
pub mod truth {
    /// Quality of a reed with every factor at its centre.
    pub const BASE: f64 = 7.65;
    /// Standard deviation between lots, between tubes of a lot, between pieces of a tube.
    pub const LOT_SD: f64 = 0.5;
    pub const TUBE_SD: f64 = 0.25;
    pub const PIECE_SD: f64 = 0.55;

    /// The qualities of the nine lots, in [`LOT_SD`], dealt to them by chance: the
    /// expected values of nine ordered normal draws (as Harter 1961, Biometrika 48,
    /// 151-165, tabulates them; from memory, and agreeing with the integral of
    /// the order statistics' density), so that every seed has good and poor
    /// cane. The middle one, 0, is the lucky lot's.
    pub const LOT_SCORES: [f64; 8] = [-1.485, -0.932, -0.572, -0.275, 0.275, 0.572, 0.932, 1.485];

    /// For one more unit of true hardness reading, which is softer cane.
    pub const HARDNESS: f64 = -0.16;
    pub const HARDNESS_CENTER: f64 = 18.0;
    /// Spread of true hardness between lots and within a lot, units.
    pub const HARDNESS_LOT_SD: f64 = 1.0;
    pub const HARDNESS_WITHIN_SD: f64 = 2.6;
    /// Error of one reading, units; within lots the slope on a single reading
    /// is weaker than [`HARDNESS`] by 2.6² / (2.6² + 1.0²) = 0.87.
    pub const HARDNESS_READING_SD: f64 = 1.0;
    /// What the second person reads more than the first, units.
    pub const HARDNESS_SECOND_PERSON: f64 = 0.8;

    /// Density of cane of middling hardness, g/cm³, and what one more unit of
    /// hardness reading (softer) takes from it.
    pub const DENSITY: f64 = 0.56;
    pub const DENSITY_PER_HARDNESS: f64 = -0.008;
    pub const DENSITY_SD: f64 = 0.03;

    /// Minutes of scraping at the centre of the gouge.
    pub const SCRAPE_MINUTES: f64 = 40.0;
    pub const SCRAPE_SD: f64 = 4.0;
    /// Minutes of scraping for one more millimetre of gouge.
    pub const SCRAPE_PER_GOUGE: f64 = 150.0;
    /// For one more minute of scraping.
    pub const SCRAPE: f64 = -0.05;
    /// For one more millimetre of gouge, all of it by way of scraping.
    pub const GOUGE_IN_ALL: f64 = SCRAPE_PER_GOUGE * SCRAPE;
    pub const GOUGE_CENTER: f64 = 1.27;
    pub const GOUGE_SD: f64 = 0.04;
    /// Error of one reading, mm.
    pub const GOUGE_READING_SD: f64 = 0.008;

    /// Where quality is counted from, days.
    pub const FORMING_CENTER: f64 = 10.0;
    /// For one more day on the pin; the line is straight over the days in use.
    pub const FORMING: f64 = 0.02;

    /// The sweet spot: loss per squared millimetre of distance from the best opening.
    pub const OPENING_BEST: f64 = 1.15;
    pub const OPENING_BEND: f64 = -9.0;
    /// The maker opens them wider than is best.
    pub const OPENING_HABIT: f64 = 1.25;
    pub const OPENING_SD: f64 = 0.20;

    /// Where practice is counted from, months since the first day.
    pub const PRACTICE_CENTER: f64 = 7.0;
    /// For one more month of practice.
    pub const PRACTICE: f64 = 0.04;
    /// Half the distance between the best and the worst season of the year.
    pub const SEASON: f64 = 0.15;

    /// How much kinder the second player is.
    pub const LENIENCY: f64 = 0.5;
    /// Spread of one player's ratings of the same reed from day to day.
    pub const DAY_SD: f64 = 1.05;

    /// Log odds of a crack on the pin at 45 % humidity, and for one percentage point less.
    pub const CRACK_AT_45: f64 = -2.9;
    pub const CRACK_PER_DRY_POINT: f64 = 0.09;
    /// Shares spoiled elsewhere, whatever the piece is like.
    pub const CUT_AT_PROFILE: f64 = 0.03;
    pub const LEAKED_AT_BIND: f64 = 0.03;
    pub const WARPED_AT_FINISH: f64 = 0.02;
    pub const CUT_AT_FINISH: f64 = 0.03;

    /// Characteristic hours of a reed (Weibull) and its shape: wear grows with use.
    pub const LIFE_HOURS: f64 = 20.0;
    pub const LIFE_SHAPE: f64 = 2.0;
    /// Log hours for one more g/cm³ of density.
    pub const LIFE_PER_DENSITY: f64 = 2.5;
    /// Mean hours until a reed is lost or given away, whatever it is like.
    pub const EXIT_HOURS: f64 = 60.0;
}

/// The lucky lot's luck is taken without its sign.
pub fn luck(lot: usize, draw: f64) -> f64 {
    if lot == LUCKY { draw.abs() } else { draw }
}

/// What the cane of a piece is like, as it is and not as it is read.
pub struct Cane {
    pub hardness: f64,
    pub density: f64,
    /// The luck of the piece itself, rating points.
    pub own: f64,
}

impl Cane {
    /// Draws a piece from a lot of that mean hardness.
    pub fn draw(lot: usize, lot_hardness: f64, dice: &mut Chance) -> Cane {
        let hardness = dice.normal(lot_hardness, truth::HARDNESS_WITHIN_SD);
        let typical =
            truth::DENSITY + truth::DENSITY_PER_HARDNESS * (hardness - truth::HARDNESS_CENTER);
        Cane {
            hardness,
            density: dice.normal(typical, truth::DENSITY_SD).clamp(0.42, 0.70),
            own: luck(lot, dice.normal(0.0, truth::PIECE_SD)),
        }
    }
}

/// Minutes of scraping: a thick gouge leaves more to take off.
pub fn scraping(gouge_mm: f64, dice: &mut Chance) -> f64 {
    let typical =
        truth::SCRAPE_MINUTES + truth::SCRAPE_PER_GOUGE * (gouge_mm - truth::GOUGE_CENTER);
    dice.normal(typical, truth::SCRAPE_SD).max(12.0)
}

/// The causes of one reed's quality, as they are and not as they are read.
pub struct Causes {
    pub lot: f64,
    pub tube: f64,
    pub own: f64,
    pub hardness: f64,
    pub forming_days: f64,
    pub tip_opening_mm: f64,
    pub scrape_min: f64,
    pub months_of_practice: f64,
}

impl Causes {
    /// What the first player's mean rating would be, in a middling season.
    pub fn quality(&self) -> f64 {
        let off_best = self.tip_opening_mm - truth::OPENING_BEST;
        truth::BASE
            + self.lot
            + self.tube
            + self.own
            + truth::HARDNESS * (self.hardness - truth::HARDNESS_CENTER)
            + truth::FORMING * (self.forming_days - truth::FORMING_CENTER)
            + truth::OPENING_BEND * off_best * off_best
            + truth::SCRAPE * (self.scrape_min - truth::SCRAPE_MINUTES)
            + truth::PRACTICE * (self.months_of_practice - truth::PRACTICE_CENTER)
    }
}

/// -1 in the depth of winter (early February), 1 half a year later.
pub fn summer(days: f64) -> f64 {
    let day_of_year = days + f64::from(FIRST_DAY.day_of_year());
    -(TAU * (day_of_year - 35.0) / 365.0).cos()
}

/// Relative humidity, %, and temperature, °C, of the room with the pins.
pub fn weather(days: f64, dice: &mut Chance) -> (f64, f64) {
    let humidity = 45.0 + 12.0 * summer(days) + dice.normal(0.0, 7.0);
    let warmth = 20.0 + 2.0 * summer(days) + dice.normal(0.0, 1.0);
    (humidity.clamp(18.0, 75.0), warmth.clamp(15.0, 27.0))
}

/// The step at which a piece is spoiled, if it is; dry air at the pin is the only cause.
pub fn spoiled(humidity: f64, dice: &mut Chance) -> Option<(Step, &'static str)> {
    let log_odds = truth::CRACK_AT_45 + truth::CRACK_PER_DRY_POINT * (45.0 - humidity);
    let crack = 1.0 / (1.0 + (-log_odds).exp());
    [
        (truth::CUT_AT_PROFILE, Step::Profile, "cut"),
        (crack, Step::Form, "cracked"),
        (truth::LEAKED_AT_BIND, Step::Bind, "leaked"),
        (truth::WARPED_AT_FINISH, Step::Finish, "warped"),
        (truth::CUT_AT_FINISH, Step::Finish, "cut"),
    ]
    .into_iter()
    .find(|(share, ..)| dice.happens(*share))
    .map(|(_, step, how)| (step, how))
}

/// What a player hears on a day, before it is rounded to a mark.
pub fn heard(quality: f64, lot: usize, player: &str, on: i32, dice: &mut Chance) -> f64 {
    let kinder = if player == PLAYER_TWO { truth::LENIENCY } else { 0.0 };
    let of_the_day = luck(lot, dice.normal(0.0, truth::DAY_SD));
    quality + kinder + truth::SEASON * summer(f64::from(on)) + of_the_day
}

/// Hours until a reed is worn out or gone, and which of them.
pub fn hours_to_the_end(density: f64, dice: &mut Chance) -> (f64, Fate) {
    let denser = truth::LIFE_PER_DENSITY * (density - truth::DENSITY);
    let worn_out = dice.waiting(truth::LIFE_HOURS * denser.exp(), truth::LIFE_SHAPE);
    let gone = dice.waiting(truth::EXIT_HOURS, 1.0);
    let gone_how = if dice.happens(0.5) { Fate::Lost } else { Fate::GivenAway };
    if worn_out < gone { (worn_out, Fate::WornOut) } else { (gone, gone_how) }
}
