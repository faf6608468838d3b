//! Codes to write on a blank: easy to tell apart, and telling nothing.

use std::collections::BTreeSet;

use rand::{Rng, RngExt};

use crate::stats::resample::stream;

/// Without vowels (no words), and without what is taken for another letter or a digit in a hurried hand: B, G, I, L, O, Q, S, U, V, Z.
const LETTERS: &[u8] = b"CDFHJKMNPRTWXY";
/// Without 0, 1, 2, 5 and 8, which look like letters.
const DIGITS: &[u8] = b"34679";
/// The stream of the seed that the labels use; the allocation has others.
const LABELS: u64 = (1 << 41) - 1;
/// Characters of the shortest label; letters and digits take turns, so that no spreadsheet reads a number or a date.
const SHORTEST: usize = 4;
/// 14^6 5^6 labels are more than any log has pieces.
const LONGEST: usize = 12;
/// One in so many of the possible labels is used at most, so that drawing finds a free one soon.
const SPARSE: usize = 4;

/// So many labels, in random order. Any two differ in at least two characters, so that one slip of the pen does not make another label; none is one of `taken`.
pub fn labels(seed: u64, count: usize, taken: &BTreeSet<String>) -> Vec<String> {
    let mut generator = stream(seed, LABELS);
    let length = length_for(count, taken);
    let mut used = Used::default();
    let mut found = Vec::with_capacity(count);
    while found.len() < count {
        let label = draw(&mut generator, length);
        if !taken.contains(&label) && used.add(&label) {
            found.push(label);
        }
    }
    found
}

/// Even, and long enough that the labels are sparse among all that differ in two characters.
fn length_for(count: usize, taken: &BTreeSet<String>) -> usize {
    let pair = LETTERS.len() * DIGITS.len();
    let mut length = SHORTEST;
    // the last character is what tells neighbours apart, hence no digit for it
    let mut room = std::iter::repeat_n(pair, SHORTEST / 2 - 1).product::<usize>() * LETTERS.len();
    let wanted = |length| count + taken.iter().filter(|label| label.len() == length).count();
    while room / SPARSE < wanted(length) && length < LONGEST {
        room = room.saturating_mul(pair);
        length += 2;
    }
    length
}

fn draw(generator: &mut impl Rng, length: usize) -> String {
    let mut one_of = |set: &[u8]| Some(char::from(*set.get(generator.random_range(0..set.len()))?));
    (0..length).filter_map(|place| one_of(if place % 2 == 0 { LETTERS } else { DIGITS })).collect()
}

/// Labels with each character in turn left out: two labels that differ in one character share such a rest.
#[derive(Default)]
struct Used(BTreeSet<(usize, String)>);

impl Used {
    /// Whether the label is far enough from all before it; then it counts as used.
    fn add(&mut self, label: &str) -> bool {
        let rests: Vec<(usize, String)> = (0..label.len())
            .map(|place| {
                let kept = label.chars().enumerate().filter(|(at, _)| *at != place);
                (place, kept.map(|(_, character)| character).collect())
            })
            .collect();
        let is_free = rests.iter().all(|rest| !self.0.contains(rest));
        if is_free {
            self.0.extend(rests);
        }
        is_free
    }
}
