//! The finished reed among its players: ratings, hours, and how it ends.

use super::chance::Chance;
use super::entries::{Fate, Log, Piece, Rating};
use super::instruments::half;
use super::scenario::{LAST_DAY, LUCKY, PLAYER_ONE, PLAYER_TWO, day, days_since_start};
use super::simulation::{heard, hours_to_the_end};
use crate::whole;

/// Share of reeds that are given away before anybody rates them.
const UNHEARD: f64 = 0.03;

/// A finished reed is given away unheard, or rated and played.
pub fn play(
    log: &mut Log,
    piece: &mut Piece,
    quality: f64,
    density: f64,
    finished: i32,
    dice: &mut Chance,
) {
    let first = finished + dice.whole(1, 6);
    if piece.lot != LUCKY && first <= days_since_start(LAST_DAY) && dice.happens(UNHEARD) {
        piece.fate = Fate::GivenAway;
        log.ratings.push(gone(log.pieces.len(), first));
        return;
    }
    for (on, player) in occasions(first, dice) {
        let rating = rate(log.pieces.len(), piece.lot, quality, on, player, dice);
        if on <= days_since_start(LAST_DAY) {
            log.ratings.push(rating);
        }
    }
    wear(piece, density, first, dice);
}

/// Who rates a reed when: the maker always, the friend often, the maker sometimes again.
fn occasions(first: i32, dice: &mut Chance) -> Vec<(i32, &'static str)> {
    let mut occasions = vec![(first, PLAYER_ONE)];
    if dice.happens(0.45) {
        occasions.push((first + dice.whole(0, 12), PLAYER_TWO));
    }
    if dice.happens(0.25) {
        occasions.push((first + dice.whole(10, 30), PLAYER_ONE));
    }
    occasions
}

/// One rating: what is heard, in half marks; the other criteria go their own way a little.
fn rate(
    piece: usize,
    lot: usize,
    quality: f64,
    on: i32,
    player: &'static str,
    dice: &mut Chance,
) -> Rating {
    let heard = heard(quality, lot, player, on, dice);
    let mut mark = |sd: f64| Some(half(dice.normal(heard, sd)).clamp(1.0, 10.0));
    let (overall, response, pitch) = (mark(0.0), mark(1.0), mark(1.3));
    Rating {
        piece,
        date: day(on),
        player,
        setting: dice.choose(&[("home", 0.55), ("rehearsal", 0.35), ("concert", 0.10)]),
        overall,
        response,
        pitch,
    }
}

/// The row of a reed that was gone when it should have been rated.
fn gone(piece: usize, on: i32) -> Rating {
    Rating {
        piece,
        date: day(on),
        player: PLAYER_ONE,
        setting: "home",
        overall: None,
        response: None,
        pitch: None,
    }
}

/// Plays the reed until it is worn out or gone, or the log ends.
fn wear(piece: &mut Piece, density: f64, first: i32, dice: &mut Chance) {
    let (to_the_end, fate) = hours_to_the_end(density, dice);
    let hours_a_day = dice.normal(0.32, 0.08).clamp(0.12, 0.6);
    let days_left = f64::from(days_since_start(LAST_DAY) - first);
    piece.fate = Fate::InUse;
    if days_left < 0.0 {
        return;
    }
    if to_the_end < hours_a_day * days_left {
        piece.fate = fate;
    }
    let hours = to_the_end.min(hours_a_day * days_left);
    piece.first_played = Some(day(first));
    piece.last_played = Some(day(first + whole::small(hours / hours_a_day)));
    piece.hours_played = Some(half(hours).max(0.5));
}
