//! How the invented maker reads things: dials, rounding, second readings.

use super::chance::Chance;
use super::entries::{Log, Measure, Piece, ProfilePoint, Reading};
use super::scenario::{PLAYER_ONE, PLAYER_TWO};
use super::simulation::truth;

/// One thousandth of an inch, mm (the inch is 25.4 mm exactly).
pub const THOU_MM: f64 = 0.0254;

/// Rounded to that many decimals.
pub fn rounded(value: f64, decimals: i32) -> f64 {
    let ten = 10_f64.powi(decimals);
    (value * ten).round() / ten
}

/// Rounded to halves.
pub fn half(value: f64) -> f64 {
    (value * 2.0).round() / 2.0
}

/// A thickness in mm as read on the dial, in half thousandths of an inch.
///
/// The tidy log gives the same reading in mm and the messy one in thousandths,
/// and both must be the same number to the last bit. So the dial has only
/// those marks whose product with 0.0254 is the double nearest to the decimal
/// mm value (`47.5`, not `48`); between 44 and 58 no gap is over one thousandth.
pub fn dial_reading(thickness_mm: f64) -> f64 {
    let thou = thickness_mm / THOU_MM;
    let nearest = half(thou);
    [0.0, 0.5, -0.5, 1.0, -1.0]
        .into_iter()
        .map(|away| nearest + away)
        .filter(|mark| is_a_mark(*mark))
        .min_by(|a, b| (a - thou).abs().total_cmp(&(b - thou).abs()))
        .unwrap_or(50.0)
}

/// Whether thousandths and the four-decimal mm value are the same number.
fn is_a_mark(thou: f64) -> bool {
    millimetres(thou).parse() == Ok(thou * THOU_MM)
}

/// Half thousandths in mm: four decimals hold them exactly (half of 0.0254 is 0.0127).
pub fn millimetres(thou: f64) -> String {
    format!("{:.4}", thou * THOU_MM)
}

/// The second and third readings of some pieces, and the blade of some reeds.
pub fn measure_again(log: &mut Log, piece: &Piece, dice: &mut Chance) {
    let number = log.pieces.len();
    if number % 4 == 1 {
        gouge_again(log, number, piece, dice);
    }
    if number.is_multiple_of(3) {
        hardness_again(log, number, piece, dice);
    }
    if number % 3 == 1 && piece.finished_on.is_some() {
        blade(log, number, dice);
    }
}

/// The first reading is the one in the maker's table; the last is the friend's on every other piece.
fn gouge_again(log: &mut Log, number: usize, piece: &Piece, dice: &mut Chance) {
    let Some(first) = piece.gouge_center_thou else {
        return;
    };
    let mut values = vec![first];
    for _ in 0..dice.whole(1, 2) {
        let apart = dice.normal(0.0, truth::GOUGE_READING_SD);
        values.push(dial_reading(first * THOU_MM + apart));
    }
    file(log, number, Measure::GougeCenter, &values, number % 8 == 1);
}

fn hardness_again(log: &mut Log, number: usize, piece: &Piece, dice: &mut Chance) {
    let Some(first) = piece.hardness else {
        return;
    };
    let by_friend = number.is_multiple_of(2);
    let mut values = vec![first];
    let more = dice.whole(1, 2);
    for again in 1..=more {
        let person = if by_friend && again == more { truth::HARDNESS_SECOND_PERSON } else { 0.0 };
        values.push(half(first + person + dice.normal(0.0, truth::HARDNESS_READING_SD)));
    }
    file(log, number, Measure::Hardness, &values, by_friend);
}

fn file(log: &mut Log, piece: usize, measure: Measure, values: &[f64], last_by_friend: bool) {
    for (value, repeat) in values.iter().zip(1..) {
        let last = repeat as usize == values.len();
        log.readings.push(Reading {
            piece,
            measure,
            value: *value,
            by: if last && last_by_friend { PLAYER_TWO } else { PLAYER_ONE },
            repeat,
        });
    }
}

/// Thickness of the spine at each distance from the tip, mm, as a typical finished blade has it.
const SPINE: [(u32, f64); 3] = [(2, 0.18), (10, 0.48), (20, 0.78)];
/// The lines that are read, each as a share of the spine.
const LINES: [(&str, f64); 3] = [("spine", 1.0), ("left_channel", 0.82), ("right_channel", 0.82)];

/// The blade of one reed, every fourth of them twice.
fn blade(log: &mut Log, piece: usize, dice: &mut Chance) {
    let heavier = dice.normal(1.0, 0.06);
    let repeats = if piece.is_multiple_of(4) { 2 } else { 1 };
    for (from_tip_mm, spine) in SPINE {
        for (line, share) in LINES {
            let thickness = spine * share * heavier * dice.normal(1.0, 0.03);
            for repeat in 1..=repeats {
                let thickness_mm = rounded(dice.normal(thickness, 0.008), 2);
                log.profile.push(ProfilePoint { piece, from_tip_mm, line, thickness_mm, repeat });
            }
        }
    }
}
