//! The invented workshop's calendar and cane: who, when, how much, at what price.
//!
//! Everything here is made up. The names are words for water and meadows, not
//! places that sell cane.

use super::entries::Lot;
use jiff::civil::{Date, date};

/// The first day of the fourteen months.
pub const FIRST_DAY: Date = date(2024, 9, 1);
/// The last day; what is not done by then is unfinished or still in use.
pub const LAST_DAY: Date = date(2025, 10, 31);

/// The maker, who rates every finished reed.
pub const PLAYER_ONE: &str = "player one";
/// A friend, who rates some of them and is kinder.
pub const PLAYER_TWO: &str = "player two";

/// A purchase and how it was used.
pub struct Purchase {
    pub name: &'static str,
    pub bought_on: Date,
    pub price_per_piece: f64,
    pub pieces_bought: u32,
    /// Pieces started from it (times the size of the simulated log).
    pub pieces_started: usize,
    /// First and last day of its use, counted from [`FIRST_DAY`].
    pub used: (i32, i32),
    /// The forming habit of that time, days: it grows from lot to lot, which
    /// is what tangles forming with the lots, with skill and with the calendar.
    pub forming_habit: f64,
}

/// Which of [`PURCHASES`] is the lucky small lot.
pub const LUCKY: usize = 5;

/// The nine lots in the order of buying.
#[rustfmt::skip]
pub const PURCHASES: [Purchase; 9] = [
    purchase("Saltmarsh", date(2024, 8, 19), 4.20, 30, 23, (0, 75), 4.0),
    purchase("Towpath", date(2024, 9, 27), 3.60, 25, 22, (30, 115), 5.0),
    purchase("Hayloft", date(2024, 11, 8), 5.10, 20, 18, (80, 165), 6.0),
    purchase("Lantern", date(2024, 12, 16), 4.40, 25, 24, (120, 215), 9.0),
    purchase("Jetty", date(2025, 2, 11), 3.90, 20, 16, (165, 250), 8.0),
    purchase("Bramble", date(2025, 3, 28), 6.50, 5, 5, (212, 236), 11.0),
    purchase("Foxglove", date(2025, 4, 4), 4.80, 25, 21, (220, 320), 13.0),
    purchase("Slipway", date(2025, 6, 6), 5.40, 20, 18, (285, 400), 15.0),
    purchase("Millpond", date(2025, 8, 13), 4.60, 20, 15, (358, 424), 18.0),
];

const fn purchase(
    name: &'static str,
    bought_on: Date,
    price_per_piece: f64,
    pieces_bought: u32,
    pieces_started: usize,
    used: (i32, i32),
    forming_habit: f64,
) -> Purchase {
    Purchase {
        name,
        bought_on,
        price_per_piece,
        pieces_bought,
        pieces_started,
        used,
        forming_habit,
    }
}

impl Purchase {
    /// The lot as the maker wrote it down.
    pub fn lot(&self) -> Lot {
        Lot {
            name: self.name,
            bought_on: self.bought_on,
            price_per_piece: self.price_per_piece,
            pieces_bought: self.pieces_bought,
        }
    }
}

/// Remarks that a maker might write; half the pieces have none.
pub const NOTES: [&str; 16] = [
    "",
    "",
    "",
    "",
    "",
    "",
    "",
    "",
    "low notes easy",
    "a little flat, but free",
    "dull below F",
    "cold church, 14 °C",
    "bright",
    "corner of the tip chipped",
    "good in the hall, stuffy at home",
    "second wire pinched twice",
];

/// The day `days` after [`FIRST_DAY`].
///
/// Days are a few hundred from a fixed date, so the calendar's ends are out of
/// reach and saturation never happens.
pub fn day(days: i32) -> Date {
    FIRST_DAY.saturating_add(jiff::Span::new().days(days))
}

/// Days from [`FIRST_DAY`] to a date.
pub fn days_since_start(on: Date) -> i32 {
    (on - FIRST_DAY).get_days()
}
