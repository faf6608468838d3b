//! What the answers ought to be.

use super::draw::Drawn;
use super::world::{Factor, World};

impl World {
    /// The place of a factor among the world's factors.
    pub fn place(&self, name: &str) -> Option<usize> {
        self.factors.iter().position(|factor| factor.name == name)
    }

    /// The places of the factors in the order of the making.
    pub fn in_order(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.factors.len()).collect();
        order.sort_by_key(|&place| self.factors[place].made_at); // a stable sort of the factors' own places
        order
    }

    /// Points for one more step of a factor, within lots, over all roads: its own effect and those of what follows it. A bend is left out.
    pub fn total_effect(&self, factor: &Factor) -> f64 {
        let later = self.factors.iter().filter_map(|later| {
            let follows = later.follows.filter(|follows| follows.earlier == factor.name)?;
            // what follows is made later, so this comes to an end
            (later.made_at > factor.made_at).then(|| follows.steps * self.total_effect(later))
        });
        factor.effect + later.sum::<f64>()
    }

    /// Mean rating by a player of no leniency with every factor at its centre, but for this one at `value` (in its own unit), in an average lot, in the middle
    /// of the log; no difference is made between pieces that are lost and others.
    pub fn rating_at(&self, factor: &Factor, value: f64) -> f64 {
        let mut values = vec![0.0; self.factors.len()];
        for place in self.in_order() {
            let other = &self.factors[place]; // a place of the factors
            let follows = other
                .follows
                .and_then(|follows| Some((self.place(follows.earlier)?, follows.steps)));
            values[place] = if other.name == factor.name {
                (value - factor.centre) / factor.step
            } else {
                follows.map_or(0.0, |(earlier, steps)| steps * values[earlier])
            };
        }
        self.base + self.by_factors(&values)
    }

    /// What is lost in the mean by one candidate against the best of them.
    pub fn regret(&self, factor: &Factor, value: f64, candidates: &[f64]) -> f64 {
        let ratings = candidates.iter().map(|&candidate| self.rating_at(factor, candidate));
        let best = ratings.fold(f64::NEG_INFINITY, f64::max);
        (best - self.rating_at(factor, value)).max(0.0)
    }

    /// Points by all factors at these values, steps from their centres.
    pub fn by_factors(&self, values: &[f64]) -> f64 {
        let points = |(factor, &value): (&Factor, &f64)| {
            let bend = factor.bend.map_or(0.0, |bend| bend.lost * (value - bend.best).powi(2));
            factor.effect * value - bend
        };
        self.factors.iter().zip(values).map(points).sum()
    }

    /// The chance that a piece is lost; `luck` is its own, in standard deviations.
    pub fn chance_of_loss(&self, values: &[f64], luck: f64) -> f64 {
        let spoils = |(factor, &value): (&Factor, &f64)| {
            (factor.spoils + factor.spoils_weak * (-luck).max(0.0)) * value
        };
        let by_factors: f64 = self.factors.iter().zip(values).map(spoils).sum();
        let log_odds = self.loss.log_odds - self.loss.weaker * luck + by_factors;
        1.0 / (1.0 + (-log_odds).exp())
    }
}

impl Drawn {
    /// The mean of endlessly many reeds of a lot under players of average leniency, the average taken over the ratings of
    /// this log. True where no factor matters and there is no trend.
    pub fn lot_mean(&self, world: &World, lot: usize) -> Option<f64> {
        Some(world.base + self.lot_effects.get(lot)? + self.mean_leniency(world))
    }

    /// Mean leniency over the ratings of this log; 0 without one.
    pub fn mean_leniency(&self, world: &World) -> f64 {
        let given = self.pieces.iter().flat_map(|piece| &piece.ratings);
        let kinder: Vec<f64> = given
            .filter_map(|(player, _)| world.players.get(*player))
            .map(|player| player.kinder)
            .collect();
        kinder.iter().sum::<f64>() / kinder.len().max(1) as f64
    }
}
