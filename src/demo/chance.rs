//! Seeded chance, one independent stream for each thing that is drawn for.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha20Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::whole;

/// A stream of random draws that depends on nothing but its seed and number.
///
/// Each piece, tube and lot has a stream of its own, so that a change to one
/// piece does not move the draws of the others.
pub struct Chance(ChaCha20Rng);

impl Chance {
    /// The stream of that number.
    pub fn stream(seed: u64, number: u64) -> Chance {
        let mut generator = ChaCha20Rng::seed_from_u64(seed);
        generator.set_stream(number);
        Chance(generator)
    }

    /// A draw from the normal distribution.
    pub fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        let standard: f64 = StandardNormal.sample(&mut self.0);
        mean + sd * standard
    }

    /// A draw from 0 (included) to 1 (excluded).
    pub fn uniform(&mut self) -> f64 {
        self.0.random()
    }

    /// True with that probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// A whole number of `low..=high`.
    pub fn whole(&mut self, low: i32, high: i32) -> i32 {
        self.0.random_range(low..=high)
    }

    /// One of the texts, each as likely as the others; empty if there is none.
    pub fn pick(&mut self, texts: &[&'static str]) -> &'static str {
        let place = whole::part(self.uniform() * texts.len() as f64);
        texts.get(place).copied().unwrap_or("")
    }

    /// One of the choices, by their weights; the last one takes what rounding leaves.
    pub fn choose(&mut self, choices: &[(&'static str, f64)]) -> &'static str {
        let mut left = self.uniform();
        for (choice, weight) in choices {
            if left < *weight {
                return choice;
            }
            left -= weight;
        }
        choices.last().map_or("", |(choice, _)| choice)
    }

    /// A waiting time with the Weibull distribution (shape 1: exponential).
    pub fn waiting(&mut self, scale: f64, shape: f64) -> f64 {
        scale * (-(1.0 - self.uniform()).ln()).powf(1.0 / shape)
    }

    /// Takes one of the values out; `None` when none is left.
    pub fn take_one(&mut self, values: &mut Vec<f64>) -> Option<f64> {
        if values.is_empty() {
            return None;
        }
        let place = self.0.random_range(0..values.len());
        Some(values.swap_remove(place))
    }
}
