//! Can the numbers be trusted: logs drawn with known reliability, leniency and drift, read and asked as any log is.

use std::fs;

use canewright::finding::{Section, TrustSection};
use canewright::intake::{ReadOptions, read};
use canewright::questions::{Options, find};
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, StandardNormal};

use super::super::simulation::Simulation;
use super::sizes::TRUST;

/// True standard deviations: reeds 1.2, noise of a rating 0.9.
const REEDS: f64 = 1.2;
const NOISE: f64 = 0.9;
/// Share of the variance of one rating that is the reed's, leniency apart.
const SHARE: f64 = REEDS * REEDS / (REEDS * REEDS + NOISE * NOISE);
/// How much higher than their average the players mark.
const LENIENCY: [f64; 3] = [-0.6, 0.1, 0.5];

fn normal(generator: &mut ChaCha12Rng) -> f64 {
    StandardNormal.sample(generator)
}

/// Writes the files, reads them and asks.
fn asked(files: &[(&str, String)]) -> Option<TrustSection> {
    let folder = tempfile::tempdir().ok()?;
    for (name, text) in files {
        fs::write(folder.path().join(name), text).ok()?;
    }
    let study = read(&[folder.path().to_path_buf()], &ReadOptions::default()).ok()?.study;
    match (find("trust")?.ask)(&study, &Options::default()).ok()?.section {
        Section::Trust(section) => Some(section),
        _ => None,
    }
}

fn pieces(count: usize) -> (&'static str, String) {
    let rows: String = (0..count).map(|row| format!("{row},A\n")).collect();
    ("reeds.csv", format!("reed,lot\n{rows}"))
}

fn settings() -> (&'static str, String) {
    let text = "scale = [-100, 100]\ngood_at = 0\nworthwhile = 0.5\noutcome = \"overall\"";
    ("study.toml", text.to_owned())
}

/// Ratings of thirty reeds; who rates which is said by `rates`.
fn rated(generator: &mut ChaCha12Rng, rates: fn(usize, usize) -> bool) -> Option<TrustSection> {
    let mut text = "reed,date,player,overall\n".to_owned();
    for reed in 0..30 {
        let quality = REEDS * normal(generator);
        for (player, lenient) in
            LENIENCY.iter().enumerate().filter(|(player, _)| rates(reed, *player))
        {
            let score = quality + lenient + NOISE * normal(generator);
            text += &format!("{reed},2024-05-01,player {player},{score:.4}\n");
        }
    }
    asked(&[pieces(30), ("ratings.csv", text), settings()])
}

fn all(_reed: usize, _player: usize) -> bool {
    true
}

fn two_of_three(reed: usize, player: usize) -> bool {
    reed % 3 != player
}

fn within(low: f64, high: f64, truth: f64) -> bool {
    low <= truth && truth <= high
}

fn share_covered(section: &TrustSection) -> Option<bool> {
    let share = section.players.as_ref()?.consistency?;
    Some(within(share.low, share.high, SHARE))
}

fn leniency_covered(section: &TrustSection) -> Option<bool> {
    let first = section.players.as_ref()?.leniency.first()?;
    Some(within(first.low, first.high, LENIENCY[0]))
}

/// Readings of twenty-five pieces by two people, the second 0.3 higher; pieces differ by 2, readings by 0.7.
fn measured(generator: &mut ChaCha12Rng, higher: f64) -> Option<TrustSection> {
    let mut text = "reed,measure,value,by,repeat\n".to_owned();
    for piece in 0..25 {
        let real = 2.0 * normal(generator);
        for repeat in 1..=3 {
            let (by, more) = if repeat == 2 { ("ben", higher) } else { ("ann", 0.0) };
            let value = 15.0 + real + more + 0.7 * normal(generator);
            text += &format!("{piece},thing,{value:.4},{by},{repeat}\n");
        }
    }
    asked(&[pieces(25), ("readings.csv", text), settings()])
}

/// Twelve reeds rated by one player in four months; marks fall by 0.15 a month.
fn rated_monthly(generator: &mut ChaCha12Rng) -> Option<TrustSection> {
    let mut text = "reed,date,player,overall\n".to_owned();
    for reed in 0..12 {
        let quality = REEDS * normal(generator);
        for month in 0..4 {
            let months = f64::from([0, 31, 60, 91][month]) / 30.44;
            let score = quality - 0.15 * months + NOISE * normal(generator);
            text += &format!("{reed},2024-0{}-10,ann,{score:.4}\n", month + 1);
        }
    }
    asked(&[pieces(12), ("ratings.csv", text), settings()])
}

macro_rules! rate {
    ($claim:literal, $promised:expr, $attempt:expr) => {
        Simulation {
            claim: $claim,
            nominal: $promised,
            slack: (0.02, 0.02),
            replicates: TRUST,
            attempt: $attempt,
        }
    };
}

pub const RATES: &[Simulation] = &[
    rate!("three players on all reeds: the reed’s share is covered", 0.95, |generator| {
        share_covered(&rated(generator, all)?)
    }),
    // leniency is estimated and taken out before the one-way correlation, which costs a little
    rate!("two of three players on each reed: the reed’s share is covered", 0.95, |generator| {
        share_covered(&rated(generator, two_of_three)?)
    }),
    rate!("two of three players on each reed: leniency is covered", 0.95, |generator| {
        leniency_covered(&rated(generator, two_of_three)?)
    }),
    rate!("readings of one thing: their standard deviation is covered", 0.95, |generator| {
        let section = measured(generator, 0.0)?;
        let found = section.measures.first()?;
        Some(within(found.within_low?, found.within_high?, 0.7))
    }),
    rate!("readings of one thing: the reliability is covered", 0.95, |generator| {
        let section = measured(generator, 0.0)?;
        let found = section.measures.first()?;
        Some(within(found.reliability_low?, found.reliability_high?, 4.0 / 4.49))
    }),
    rate!("two people read alike: one is said to read higher", 0.05, |generator| {
        let section = measured(generator, 0.0)?;
        let people = section.measures.first()?.people.as_ref()?;
        Some(people.levels.iter().any(|person| person.stands_out))
    }),
    rate!("marks fall: the change a month is covered", 0.95, |generator| {
        let change = rated_monthly(generator)?.same_player?.change_per_month?;
        Some(within(change.low, change.high, -0.15))
    }),
];
