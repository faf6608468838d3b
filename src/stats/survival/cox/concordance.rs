//! How well the model orders what ends first.

use super::CoxFit;
use crate::stats::error::StatsError;

/// Pairs of rows of which it is known which ended first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Concordance {
    /// Pairs in which the row with the higher predicted risk ended first.
    pub concordant: f64,
    /// Pairs in which it ended last.
    pub discordant: f64,
    /// Pairs with the same predicted risk.
    pub tied: f64,
}

impl Concordance {
    /// Share of pairs in the right order, ties counted half (Harrell, Califf, Pryor, Lee & Rosati 1982, Journal of the American Medical Association 247,
    /// 2543-2546): 0.5 is chance, 1 perfect. In the sample that was fitted it flatters.
    pub fn share(&self) -> f64 {
        (self.concordant + 0.5 * self.tied) / (self.concordant + self.discordant + self.tied)
    }
}

impl CoxFit {
    /// Compares, inside strata, each row that ended with every row still at risk after it; rows that ended at the same time are not compared. `O(n log n)`.
    ///
    /// # Errors
    /// `NoVariation` where there is no such pair.
    pub fn concordance(&self) -> Result<Concordance, StatsError> {
        let sets = &self.working.sets;
        let predictor = self.working.predictor(self.optimum.at.as_slice());
        let (ranks, distinct) = ranks(&predictor.values);
        let mut total = Concordance { concordant: 0.0, discordant: 0.0, tied: 0.0 };
        for stratum in &sets.strata {
            let mut longer = Tally::new(distinct);
            for set in &stratum.sets {
                let censored = set.joining.start..set.ending.start;
                censored.for_each(|place| longer.add(ranks[place], 1));
                let gone = &sets.departures[set.leaving.clone()];
                gone.iter().for_each(|&place| longer.add(ranks[place], -1));
                for place in set.ending.clone() {
                    let below = longer.up_to(ranks[place]);
                    let same = longer.up_to(ranks[place] + 1) - below;
                    total.concordant += below as f64;
                    total.tied += same as f64;
                    total.discordant += (longer.all - below - same) as f64;
                }
                set.ending.clone().for_each(|place| longer.add(ranks[place], 1));
            }
        }
        if total.concordant + total.discordant + total.tied == 0.0 {
            return Err(StatsError::NoVariation { what: "the order of the times".into() });
        }
        Ok(total)
    }
}

/// Dense ranks from 0, and how many there are.
fn ranks(values: &[f64]) -> (Vec<usize>, usize) {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup();
    let rank = |value: &f64| sorted.partition_point(|other| other < value);
    (values.iter().map(rank).collect(), sorted.len())
}

/// Counts by rank with sums from below in logarithmic time (Fenwick 1994, Software: Practice and Experience 24, 327-336).
struct Tally {
    nodes: Vec<i64>,
    all: i64,
}

impl Tally {
    fn new(ranks: usize) -> Self {
        Self { nodes: vec![0; ranks + 1], all: 0 }
    }

    fn add(&mut self, rank: usize, count: i64) {
        self.all += count;
        let mut node = rank + 1;
        while node < self.nodes.len() {
            self.nodes[node] += count;
            node += node & node.wrapping_neg();
        }
    }

    /// How many have a rank below this one, which is at most the number of ranks.
    fn up_to(&self, rank: usize) -> i64 {
        let (mut node, mut total) = (rank, 0);
        while node > 0 {
            total += self.nodes[node];
            node &= node - 1;
        }
        total
    }
}
