//! Random numbers that give the same bytes on any number of threads.
//!
//! Every replicate has a ChaCha stream of its own (Bernstein 2008, ChaCha, a variant of Salsa20), so it does not matter which thread computes it, or when.

use crate::stats::error::StatsError;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha12Rng;
use rayon::prelude::*;
use std::ops::Range;

/// The generator of one replicate: the key comes from the seed, the stream number is the replicate.
pub fn stream(seed: u64, replicate: u64) -> ChaCha12Rng {
    let mut generator = ChaCha12Rng::seed_from_u64(seed);
    generator.set_stream(replicate);
    generator
}

/// Runs a function once a replicate, in parallel, each with its own [`stream`]; results come in the order of the replicates.
pub fn replicate<Output: Send>(
    seed: u64,
    replicates: usize,
    function: impl Fn(&mut ChaCha12Rng) -> Output + Sync,
) -> Vec<Output> {
    replicate_further(seed, 0..replicates, function)
}

/// [`replicate`] for some of the replicates: those that earlier ones were not enough for.
pub fn replicate_further<Output: Send>(
    seed: u64,
    replicates: Range<usize>,
    function: impl Fn(&mut ChaCha12Rng) -> Output + Sync,
) -> Vec<Output> {
    let each = replicates.into_par_iter().map(|n| function(&mut stream(seed, n as u64)));
    each.collect()
}

/// `count` places of `0..count` drawn with replacement: one bootstrap sample (Efron 1979, Annals of Statistics 7, 1-26).
pub fn bootstrap_indices(generator: &mut impl Rng, count: usize) -> Vec<usize> {
    let draws = 0..count;
    draws.map(|_| generator.random_range(0..count)).collect()
}

/// Rows of a bootstrap sample that draws whole groups with replacement (Davison & Hinkley 1997, section 3.8), which keeps rows of a group together.
///
/// The second list gives each row the place of its draw, so that a group drawn twice counts as two groups.
///
/// # Errors
/// `Empty` without rows.
pub fn group_bootstrap(
    generator: &mut impl Rng,
    groups: &[usize],
) -> Result<(Vec<usize>, Vec<usize>), StatsError> {
    let members = members_of(groups);
    if members.is_empty() {
        let what = "the list of groups".into();
        return Err(StatsError::Empty { what });
    }
    let mut rows = Vec::new();
    let mut codes = Vec::new();
    for (draw, group) in bootstrap_indices(generator, members.len()).into_iter().enumerate() {
        // drawn from 0..members.len()
        rows.extend_from_slice(&members[group]);
        codes.resize(rows.len(), draw);
    }
    Ok((rows, codes))
}

/// A uniformly random order of `0..count` (Fisher & Yates 1938; Durstenfeld 1964).
pub fn permutation(generator: &mut impl Rng, count: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    for last in (1..count).rev() {
        order.swap(last, generator.random_range(0..=last));
    }
    order
}

/// A random order that only moves rows within their group: what is exchangeable when groups differ.
pub fn permutation_within_groups(generator: &mut impl Rng, groups: &[usize]) -> Vec<usize> {
    Groups::of(groups).permutation(generator)
}

/// Rows sorted by group once, for many permutations.
#[derive(Debug, Clone)]
pub struct Groups {
    /// Rows of every group, groups by code, rows in order.
    members: Vec<Vec<usize>>,
    rows: usize,
}

impl Groups {
    pub fn of(codes: &[usize]) -> Self {
        Self { members: members_of(codes), rows: codes.len() }
    }

    /// A random order that only moves rows within their group.
    pub fn permutation(&self, generator: &mut impl Rng) -> Vec<usize> {
        let mut order = vec![0; self.rows];
        for members in &self.members {
            let shuffled = permutation(generator, members.len());
            for (&row, place) in members.iter().zip(shuffled) {
                order[row] = members[place];
            }
        }
        order
    }
}

/// Rows of every group, groups by code, rows in order.
fn members_of(groups: &[usize]) -> Vec<Vec<usize>> {
    let mut members = std::collections::BTreeMap::<usize, Vec<usize>>::new();
    for (row, &group) in groups.iter().enumerate() {
        members.entry(group).or_default().push(row);
    }
    members.into_values().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on_threads<Output: Send>(threads: usize, work: impl FnOnce() -> Output + Send) -> Output {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build().unwrap().install(work)
    }

    #[test]
    fn replicates_do_not_depend_on_the_number_of_threads() {
        let run = || replicate(7, 100, |generator| generator.random::<u64>());
        assert_eq!(on_threads(1, run), on_threads(4, run));
    }

    #[test]
    fn seeds_and_streams_differ() {
        let draw = |seed, number| stream(seed, number).random::<u64>();
        assert_ne!(draw(1, 0), draw(1, 1));
        assert_ne!(draw(1, 0), draw(2, 0));
    }

    #[test]
    fn a_group_is_drawn_whole() {
        let groups = [3, 3, 3, 9, 9, 4];
        let (rows, codes) = group_bootstrap(&mut stream(1, 0), &groups).unwrap();
        for draw in 0..3 {
            let drawn: Vec<usize> = (0..rows.len()).filter(|&i| codes[i] == draw).collect();
            let group = groups[rows[drawn[0]]];
            let size = groups.iter().filter(|&&other| other == group).count();
            assert_eq!(drawn.len(), size);
        }
        assert!(group_bootstrap(&mut stream(1, 0), &[]).is_err());
    }

    #[test]
    fn a_permutation_holds_every_place_once() {
        let mut order = permutation(&mut stream(5, 0), 50);
        assert_ne!(order, (0..50).collect::<Vec<_>>());
        order.sort_unstable();
        assert_eq!(order, (0..50).collect::<Vec<_>>());
        assert!(permutation(&mut stream(5, 0), 0).is_empty());
    }

    #[test]
    fn rows_stay_in_their_group_when_permuted_within() {
        let groups: Vec<usize> = (0..60).map(|row| row % 4).collect();
        let order = permutation_within_groups(&mut stream(2, 0), &groups);
        assert!((0..60).all(|row| groups[order[row]] == groups[row]));
        assert_ne!(order, (0..60).collect::<Vec<_>>());
    }

    #[test]
    fn every_order_of_three_is_about_equally_frequent() {
        let orders = replicate(11, 6000, |generator| permutation(generator, 3));
        for first in [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]] {
            let seen = orders.iter().filter(|order| **order == first).count();
            // mean 1000, sd 29: five sd
            assert!((855..1145).contains(&seen), "{first:?} {seen}");
        }
    }
}
