//! Randomly shifted lattices: averages over a cube of many dimensions with an error that can be seen.

use super::{Approximation, Sampling};
use crate::stats::resample::replicate;
use rand::RngExt;

/// So many random shifts measure the error.
const SHIFTS: usize = 12;
/// Points of the first lattice.
const FIRST: usize = 128;

/// A point of a lattice, computed coordinate by coordinate: multiples of the square roots of primes (Richtmyer 1951; Genz & Bretz 2009, section 4.2.2),
/// shifted and folded so that the ends of each axis meet.
pub(super) struct Lattice {
    generators: Vec<f64>,
    shifts: Vec<f64>,
}

impl Lattice {
    /// Coordinate `axis` of a point, strictly between 0 and 1.
    pub(super) fn coordinate(&self, point: usize, axis: usize) -> f64 {
        // the axes were counted before the lattice was made
        let place = (point as f64 * self.generators[axis] + self.shifts[axis]).fract();
        (2.0 * place - 1.0).abs().clamp(1e-16, 1.0 - 1e-16)
    }
}

/// The mean over all shifts of lattices with so many points, and its standard error.
pub(super) fn average(
    seed: u64,
    axes: usize,
    points: usize,
    function: impl Fn(&Lattice, usize) -> f64 + Sync,
) -> Approximation {
    let generators = roots_of_primes(axes);
    let means = replicate(seed, SHIFTS, |generator| {
        let shifts = (0..axes).map(|_| generator.random::<f64>()).collect();
        function(&Lattice { generators: generators.clone(), shifts }, points)
    });
    let count = SHIFTS as f64;
    let value = means.iter().sum::<f64>() / count;
    let squares: f64 = means.iter().map(|mean| (mean - value).powi(2)).sum();
    Approximation { value, error: (squares / (count * (count - 1.0))).sqrt() }
}

/// [`average`] with the lattice doubled until the error is small enough; also how many points that took.
pub(super) fn average_to_error(
    sampling: Sampling,
    axes: usize,
    function: impl Fn(&Lattice, usize) -> f64 + Sync,
) -> (Approximation, usize) {
    let mut points = FIRST;
    loop {
        let found = average(sampling.seed, axes, points, &function);
        let enough = found.error <= sampling.relative_error * found.value.abs();
        if enough || 2 * points > sampling.most_points {
            return (found, points);
        }
        points *= 2;
    }
}

/// The broken parts of the square roots of the first primes.
fn roots_of_primes(count: usize) -> Vec<f64> {
    let mut primes: Vec<u32> = Vec::with_capacity(count);
    let mut candidate = 2;
    while primes.len() < count {
        if primes.iter().all(|prime| candidate % prime != 0) {
            primes.push(candidate);
        }
        candidate += 1;
    }
    primes.iter().map(|&prime| f64::from(prime).sqrt().fract()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_error_of_a_smooth_mean_is_said_honestly() {
        // the mean of x1 x2 x3 over the cube is 1/8
        let product = |lattice: &Lattice, points: usize| {
            let value = |p| (0..3).map(|axis| lattice.coordinate(p, axis)).product::<f64>();
            (0..points).map(value).sum::<f64>() / points as f64
        };
        for seed in 0..5 {
            let found = average(seed, 3, 512, product);
            assert!(found.error > 0.0 && found.error < 1e-3);
            assert!((found.value - 0.125).abs() < 5.0 * found.error, "{found:?}");
        }
    }
}
