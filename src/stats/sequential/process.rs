//! The trials still going after a look, as a density that is carried from look to look.

use crate::stats::numeric::{composite_rule, normal_density, normal_sf};
use crate::whole;

/// Standard deviations to each side of the mean that are carried: beyond lies less than 1e-33.
const REACH: f64 = 12.0;
/// Width of a panel of 16 nodes in standard deviations of the narrower neighbouring step.
const PANEL: f64 = 1.5;
/// Beyond so many standard deviations of a step the density of that step is nothing.
const VANISHED: f64 = 38.0;

/// The score process `B = Z sqrt t` of the trials that have not stopped, at nodes of a quadrature; a node's mass is its density times its weight.
#[derive(Debug, Clone)]
pub(super) struct Going {
    fraction: f64,
    nodes: Vec<(f64, f64)>,
}

impl Going {
    /// Before anything is known: every trial at 0.
    pub(super) fn start() -> Self {
        Self { fraction: 0.0, nodes: vec![(0.0, 1.0)] }
    }

    /// The share of all trials that is still going and has `Z >= z` at the next look.
    pub(super) fn above(&self, drift: f64, fraction: f64, z: f64) -> f64 {
        let (root, mean) = self.step(drift, fraction);
        let bound = z * fraction.sqrt() - mean;
        self.nodes.iter().map(|(at, mass)| mass * normal_sf((bound - at) / root)).sum()
    }

    /// The share of all trials that is still going and has `Z <= -z` at the next look.
    pub(super) fn below(&self, drift: f64, fraction: f64, z: f64) -> f64 {
        let (root, mean) = self.step(drift, fraction);
        let bound = z * fraction.sqrt() + mean;
        self.nodes.iter().map(|(at, mass)| mass * normal_sf((bound + at) / root)).sum()
    }

    /// The trials that go on after a look with the bounds -/+ `z`; `narrowest` is the smaller of the steps before and after it, which sets the nodes.
    pub(super) fn past(&self, drift: f64, fraction: f64, z: f64, narrowest: f64) -> Self {
        let (root, mean) = self.step(drift, fraction);
        let spread = REACH * fraction.sqrt();
        let low = (drift * fraction - spread).max(-z * fraction.sqrt());
        let high = (drift * fraction + spread).min(z * fraction.sqrt());
        if low >= high {
            return Self { fraction, nodes: vec![] };
        }
        let panels = whole::part(((high - low) / (PANEL * narrowest.sqrt())).ceil().max(1.0));
        let nodes = composite_rule(low, high, panels).into_iter();
        let carried = nodes.map(|(at, weight)| (at, weight * self.density(at - mean, root)));
        Self { fraction, nodes: carried.collect() }
    }

    /// Standard deviation and mean of the step to the next look.
    fn step(&self, drift: f64, fraction: f64) -> (f64, f64) {
        let information = fraction - self.fraction;
        (information.sqrt(), drift * information)
    }

    fn density(&self, at: f64, root: f64) -> f64 {
        // nodes rise, so those within reach are neighbours
        let first = self.nodes.partition_point(|node| node.0 < at - VANISHED * root);
        let near = self.nodes[first..].iter().take_while(|node| node.0 <= at + VANISHED * root);
        near.map(|&(from, mass)| mass * normal_density((at - from) / root)).sum::<f64>() / root
    }
}
