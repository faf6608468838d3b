//! Invented logs whose truth is spelled out beforehand, to hold the answers against.
//!
//! The demo is one workshop. A [`World`] is a kind of workshop: which factor does what within a lot, how far lots, reeds and ratings
//! scatter, who rates, how pieces are spoiled, how a practice came to be chosen. [`World::draw`] makes a log of it, another one for every
//! seed, as the files that a maker would keep; [`scenarios`] are the worlds in which a naive answer goes wrong.
//!
//! ```text
//! lot's quality ──(with_quality)──> habit of the lot ──> factor ──(effect, bend)──> quality ──> ratings
//!       └───────────────────────(lot_sd)──────────────────────────────────────────────^           ^── player, the day
//! factor ──(follows)──> later factor            factor ──(spoils, spoils_weak)──> lost before it is rated
//! ```
//!
//! Factors of the same step may share a cause (`shared`); across steps they are free of each other unless one follows the other. So the effect of a factor with
//! the earlier and the same steps held fixed is the true total effect, [`World::total_effect`].

mod draw;
mod files;
pub mod scenarios;
mod truth;
mod world;

#[cfg(test)]
mod tests;

pub use draw::{Drawn, Made};
pub use world::{Bend, Factor, Follows, Loss, Player, World};
