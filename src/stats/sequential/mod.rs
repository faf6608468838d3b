//! Trials that are looked at before their end: bounds, what looking costs, and intervals that stay true.
//!
//! The statistics `Z_1 .. Z_K` of looks at the information fractions `t_1 < .. < t_K <= 1` follow the canonical joint distribution (Jennison & Turnbull 2000,
//! Group Sequential Methods with Applications to Clinical Trials, section 3.1): normal with unit variance, mean `drift sqrt(t_k)` and correlation
//! `sqrt(t_j / t_k)`. A trial stops at the first look with `|Z_k| >= bound_k`. Every probability is found by recursive numerical integration (Armitage,
//! McPherson & Rowe 1969, Journal of the Royal Statistical Society A 132, 235-244), not by simulation.
//!
//! All bounds are two-sided and symmetric, and `significance` is the chance of a false alarm on both sides together. Small samples: the bounds are carried over
//! to Student's t through their two-sided nominal level (Jennison & Turnbull 2000, section 3.8, from memory). That is an approximation, and a close one: with
//! two looks at 9 and 19 degrees of freedom 5.06 false alarms in 100 instead of 5. [`Boundary::each_look_alone`] needs no approximation and stays below.

mod boundary;
mod looks;
mod process;
mod repeated;
mod spending;
mod stagewise;
#[cfg(test)]
mod tests;

pub use boundary::{Boundary, Shape};
pub use looks::{Crossing, unadjusted_false_alarm};
pub use spending::Spending;
pub use stagewise::AfterStopping;
