//! Where an id stands in a list of different ids. The ids themselves are not held
//! here: with a million of them a place of four bytes each is found much sooner.

use std::borrow::Cow;

use foldhash::fast::RandomState;
use hashbrown::HashTable;
use std::hash::BuildHasher;

#[derive(Debug, Default)]
pub(super) struct IdPlaces {
    places: HashTable<u32>,
    state: RandomState,
}

impl IdPlaces {
    pub fn with_capacity(ids: usize) -> Self {
        Self { places: HashTable::with_capacity(ids), state: RandomState::default() }
    }

    /// The place of an id in the list that all places are of; `id_at` reads that list.
    pub fn find<'a>(&self, id: &str, id_at: impl Fn(u32) -> &'a str) -> Option<u32> {
        self.places.find(self.state.hash_one(id), |place| id_at(*place) == id).copied()
    }

    /// The place of an id; of a new one the place that it is given.
    pub fn find_or_insert<'a>(
        &mut self,
        id: &str,
        place: u32,
        id_at: impl Fn(u32) -> &'a str,
    ) -> u32 {
        let hash_of = |place: &u32| self.state.hash_one(id_at(*place));
        let is_id = |place: &u32| id_at(*place) == id;
        *self.places.entry(self.state.hash_one(id), is_id, hash_of).or_insert(place).get()
    }
}

/// The id at a place of a list.
pub(super) fn of_list<'a>(ids: &'a [Cow<str>]) -> impl Fn(u32) -> &'a str {
    |place| ids.get(place as usize).map_or("", |id| id)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_id_is_found_where_it_was_put_first_and_no_other_is() {
        let ids: Vec<Cow<str>> = (0..5000).map(|n| Cow::from(format!("R{}", n * n))).collect();
        let mut places = IdPlaces::default();
        for turn in 0..2 {
            for (place, id) in (0..).zip(&ids) {
                let found = places.find_or_insert(id, place + turn * 7, of_list(&ids));
                assert_eq!(found, place);
            }
        }
        for (place, id) in (0..).zip(&ids) {
            assert_eq!(places.find(id, of_list(&ids)), Some(place));
        }
        assert_eq!(places.find("R2", of_list(&ids)), None);
        assert_eq!(places.find("", of_list(&ids)), None);
    }
}
