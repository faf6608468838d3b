//! Which piece gets which arm: permuted blocks, balanced within each and over all.

use rand::RngExt;

use crate::stats::resample::{permutation, stream};

/// Streams of the seed that the allocation uses: one a block from here on. The labels have streams of their own, so that they cannot tell of the arms.
const BLOCKS: u64 = 1 << 40;
/// Which arms get the pieces that do not divide evenly.
const SURPLUS: u64 = (1 << 40) - 1;

/// The arm of every piece of every block, in the order of making.
///
/// In a block the numbers of pieces of any two arms differ by at most one; what does not divide evenly goes to the arms that had least of it in the blocks before,
/// so that over all blocks they differ by at most one too. The order within a block is a random permutation (permuted blocks: Zelen 1974, Journal of Chronic
/// Diseases 27, 365-375). No arms give empty blocks.
pub fn allocate(seed: u64, arms: usize, blocks: &[usize]) -> Vec<Vec<usize>> {
    if arms == 0 {
        return vec![Vec::new(); blocks.len()];
    }
    let mut surplus = Surplus::new(seed, arms);
    let numbered = (BLOCKS..).zip(blocks);
    numbered
        .map(|(number, &pieces)| {
            let mut held: Vec<usize> = (0..pieces / arms).flat_map(|_| 0..arms).collect();
            held.extend(surplus.take(pieces % arms));
            let order = permutation(&mut stream(seed, number), held.len());
            // a permutation of its own places
            order.into_iter().filter_map(|place| held.get(place).copied()).collect()
        })
        .collect()
}

/// Hands out the pieces that do not divide evenly.
struct Surplus {
    generator: rand_chacha::ChaCha12Rng,
    /// How many each arm has had.
    given: Vec<usize>,
}

impl Surplus {
    fn new(seed: u64, arms: usize) -> Self {
        Surplus { generator: stream(seed, SURPLUS), given: vec![0; arms] }
    }

    /// So many different arms, those with least first, ties by chance.
    fn take(&mut self, count: usize) -> Vec<usize> {
        let mut ranked: Vec<(usize, u64, usize)> = self
            .given
            .iter()
            .enumerate()
            .map(|(arm, &given)| (given, self.generator.random(), arm))
            .collect();
        ranked.sort_unstable();
        let taken: Vec<usize> = ranked.into_iter().take(count).map(|(_, _, arm)| arm).collect();
        for (arm, given) in self.given.iter_mut().enumerate() {
            *given += usize::from(taken.contains(&arm));
        }
        taken
    }
}
