//! What most simulations promise.

use crate::recovery::simulation::Simulation;
use rand_chacha::ChaCha12Rng;

impl Simulation {
    /// A test at 5 percent of what is not there.
    pub const fn test(
        claim: &'static str,
        slack: (f64, f64),
        replicates: (usize, usize),
        attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
    ) -> Self {
        Self { claim, nominal: 0.05, slack, replicates, attempt }
    }

    /// An interval at 95 percent.
    pub const fn interval(
        claim: &'static str,
        slack: (f64, f64),
        replicates: (usize, usize),
        attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
    ) -> Self {
        Self { claim, nominal: 0.95, slack, replicates, attempt }
    }
}

/// What an exact method may miss: nothing.
pub const EXACT: (f64, f64) = (0.0, 0.0);
