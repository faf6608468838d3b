//! Where the pieces come from: the blocks of the trial, and how the pieces are spread over them.

use std::collections::{BTreeMap, BTreeSet};

use super::refusal;
use crate::problem::Refusal;
use crate::study::Study;
use crate::whole;
use crate::words::trial::plan as words;

/// So many new lots are planned for where no cane is at hand.
const NEW_LOTS: usize = 4;

/// A block to be filled.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Place {
    pub lot: String,
    pub maker: Option<String>,
    /// Pieces of cane left, where the log knows.
    pub room: Option<usize>,
}

/// Where the lots come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Source {
    Named,
    AtHand,
    New,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Places {
    pub list: Vec<Place>,
    pub source: Source,
    /// Stands in for these where their cane does not suffice.
    pub instead: Option<Vec<Place>>,
}

impl Places {
    /// The cane of these places together; none where any is without an end.
    pub fn room(&self) -> Option<usize> {
        self.list.iter().map(|place| place.room).sum()
    }
}

/// The places for these lots; without names those with cane for two pieces of each arm, else new ones.
pub(super) fn places(study: &Study, named: &[String], arms: usize) -> Result<Places, Refusal> {
    let makers = Makers::of(study);
    let left = cane_left(study);
    if named.is_empty() {
        let new: Vec<Place> =
            (1..=NEW_LOTS).flat_map(|lot| makers.places(&words::new_lot(lot), None)).collect();
        let at_hand: Vec<Place> = left
            .iter()
            .flat_map(|(lot, room)| makers.places(lot, Some(*room)))
            .filter(|place| place.room >= Some(2 * arms))
            .collect();
        return Ok(match at_hand.is_empty() {
            true => Places { list: new, source: Source::New, instead: None },
            false => Places { list: at_hand, source: Source::AtHand, instead: Some(new) },
        });
    }
    let named: Vec<&str> = named.iter().map(|lot| lot.trim()).collect();
    if named.contains(&"") || named.iter().collect::<BTreeSet<_>>().len() < named.len() {
        return Err(refusal(words::LOTS_UNCLEAR, words::TAKES_LOTS));
    }
    let list: Vec<Place> =
        named.iter().flat_map(|lot| makers.places(lot, left.get(*lot).copied())).collect();
    let full: Vec<String> = list
        .iter()
        .filter(|place| place.room.is_some_and(|room| room < arms))
        .map(|place| place.lot.clone())
        .collect();
    if !full.is_empty() {
        return Err(refusal(words::no_cane_left(&full), words::takes_other_lots(arms)));
    }
    Ok(Places { list, source: Source::Named, instead: None })
}

/// Pieces bought and not yet started, of lots that say how many were bought.
fn cane_left(study: &Study) -> BTreeMap<String, usize> {
    let started: BTreeMap<&str, usize> =
        study.lot_counts().iter().map(|count| (count.lot.as_str(), count.pieces)).collect();
    let left = |(lot, bought): (String, f64)| {
        let bought = if bought.is_finite() { whole::part(bought) } else { 0 };
        let used = started.get(lot.as_str()).copied().unwrap_or(0);
        (lot, bought.saturating_sub(used))
    };
    study.pieces_bought().into_iter().map(left).collect()
}

/// The makers of a log of several, and whose lots are whose.
struct Makers {
    all: Vec<String>,
    of_lot: BTreeMap<String, BTreeSet<String>>,
}

impl Makers {
    fn of(study: &Study) -> Makers {
        let mut of_lot: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for (lot, maker) in study.words("lot").into_iter().zip(study.words("maker")) {
            if let (Some(lot), Some(maker)) = (lot, maker) {
                of_lot.entry(lot.to_owned()).or_default().insert(maker.to_owned());
            }
        }
        Makers { all: study.labels("maker").levels.clone(), of_lot }
    }

    /// One place for every maker who worked the lot so far, or for all makers where it is new; its cane in equal parts.
    fn places(&self, lot: &str, room: Option<usize>) -> Vec<Place> {
        let place = |maker: Option<&String>, room| Place {
            lot: lot.to_owned(),
            maker: maker.cloned(),
            room,
        };
        if self.all.len() < 2 {
            return vec![place(None, room)];
        }
        let makers: Vec<&String> = match self.of_lot.get(lot) {
            Some(makers) => makers.iter().collect(),
            None => self.all.iter().collect(),
        };
        let part = room.map(|room| room / makers.len().max(1));
        makers.into_iter().map(|maker| place(Some(maker), part)).collect()
    }
}

/// Spreads pieces evenly, as many as there are arms at a time so that most blocks divide; none where the cane does not suffice.
pub(super) fn deal(places: &[Place], pieces: usize, arms: usize) -> Option<Vec<usize>> {
    let mut held = vec![0; places.len()];
    let mut left = pieces;
    while left > 0 {
        let portion = left.min(arms);
        let has_room = |place: usize, held: &[usize], portion: usize| {
            places[place].room.is_none_or(|room| held[place] + portion <= room)
        };
        let emptiest = |portion: usize| {
            let open = (0..places.len()).filter(|&place| has_room(place, &held, portion));
            open.min_by_key(|&place| held[place])
        };
        let (place, portion) = match emptiest(portion) {
            Some(place) => (place, portion),
            None => (emptiest(1)?, 1),
        };
        held[place] += portion;
        left -= portion;
    }
    Some(held)
}

/// The same number in every place, or as many as its cane allows, each divided by the arms.
pub(super) fn fill(places: &[Place], each: usize, arms: usize) -> Vec<usize> {
    let of = |place: &Place| place.room.map_or(each, |room| each.min(room - room % arms));
    places.iter().map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn place(room: Option<usize>) -> Place {
        Place { lot: String::new(), maker: None, room }
    }

    #[test]
    fn pieces_are_spread_evenly_and_no_lot_gives_more_than_it_has() {
        let open = [place(None), place(None), place(None)];
        assert_eq!(deal(&open, 14, 2), Some(vec![6, 4, 4]));
        assert_eq!(deal(&open, 9, 3), Some(vec![3, 3, 3]));
        let full = [place(Some(3)), place(Some(20))];
        assert_eq!(deal(&full, 12, 2), Some(vec![2, 10]));
        assert_eq!(deal(&full, 23, 2), Some(vec![3, 20]));
        assert_eq!(deal(&full, 24, 2), None);
        assert_eq!(fill(&full, 4, 2), vec![2, 4]);
    }

    proptest! {
        #[test]
        fn every_piece_has_a_lot(
            rooms in prop::collection::vec(prop::option::of(0_usize..9), 1..6), pieces in 0_usize..60, arms in 2_usize..5
        ) {
            let places: Vec<Place> = rooms.iter().map(|room| place(*room)).collect();
            match deal(&places, pieces, arms) {
                Some(held) => {
                    prop_assert_eq!(held.iter().sum::<usize>(), pieces);
                    prop_assert!(held.iter().zip(&rooms).all(|(held, room)| room.is_none_or(|room| *held <= room)));
                }
                None => prop_assert!(rooms.iter().copied().sum::<Option<usize>>().is_some_and(|room| room < pieces)),
            }
        }
    }
}
