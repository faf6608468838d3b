//! A trial from its plan to its reading: planned, made in lots that differ, some pieces spoiled, rated, written to a log and read.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;

use canewright::finding::{Section, TrialReadSection};
use canewright::intake::{ReadOptions, read};
use canewright::plan::{
    Analysis, Arm, Best, Block, Plan, PlannedFactor, PlannedOutcome, Reckoned, Spending,
    SpoiledCount, parse,
};
use canewright::questions::trial_read;
use canewright::stats::numeric::Sides;
use canewright::stats::power::{TwoArmsLayout, TwoArmsTrial};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, StandardNormal};

use super::super::simulation::Simulation;
use super::asked::alone;

/// Lots, and pieces of each, half of them in either arm.
const LOTS: usize = 4;
const PIECES: usize = 12;
/// What longer forming does, in points; reeds of a lot scatter by 1 and lots by 0.8.
const EFFECT: f64 = 0.8;
const BETWEEN_LOTS: f64 = 0.8;
/// The power of this trial when nothing is spoiled: scipy 1.17.1, nct.sf(t.isf(.025, 43), 43, 0.8 / sqrt(2 / 24)) and the other tail.
const POWER: f64 = 0.773_1;

/// What one world of trials is like.
#[derive(Clone, Copy)]
struct World {
    effect: f64,
    spoilage: f64,
    looks: &'static [f64],
    model: &'static str,
}

const PLAIN: World =
    World { effect: EFFECT, spoilage: 0.0, looks: &[1.0], model: "reed scores on arms and lots" };

const fn claim(
    claim: &'static str,
    nominal: f64,
    slack: (f64, f64),
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation { claim, nominal, slack, replicates: (120, 4_000), attempt }
}

pub const RATES: &[Simulation] = &[
    claim("a trial's interval covers what the arm does", 0.95, (0.0, 0.0), |generator| {
        covers(&read_out(generator, World { spoilage: 0.2, ..PLAIN })?)
    }),
    claim("a trial with lots at random covers too", 0.95, (0.01, 0.01), |generator| {
        let model = "reed scores on arms, lots as random intercepts";
        covers(&read_out(generator, World { spoilage: 0.2, model, ..PLAIN })?)
    }),
    claim(
        "a trial finds the planned difference with its planned power",
        POWER,
        (0.0, 0.0),
        |generator| Some(finds(&read_out(generator, PLAIN)?)),
    ),
    claim("a trial of nothing is fooled in 5 of 100", 0.05, (0.0, 0.0), |generator| {
        Some(finds(&read_out(generator, World { effect: 0.0, spoilage: 0.2, ..PLAIN })?))
    }),
    claim(
        "a trial of nothing with two looks is fooled in 5 of 100",
        0.05,
        (0.003, 0.001),
        |generator| {
            let looks = &[0.5, 1.0];
            let trial =
                Trial::draw(generator, World { effect: 0.0, spoilage: 0.2, looks, ..PLAIN });
            // the first half of the lots first; only a trial that goes on is read again
            let early = trial.read(LOTS / 2)?;
            Some(early.look.reached || trial.read(LOTS)?.look.reached)
        },
    ),
];

fn read_out(generator: &mut ChaCha12Rng, world: World) -> Option<TrialReadSection> {
    Trial::draw(generator, world).read(LOTS)
}

fn covers(section: &TrialReadSection) -> Option<bool> {
    let one = section.comparisons.first()?;
    Some(one.low <= EFFECT && EFFECT <= one.high)
}

fn finds(section: &TrialReadSection) -> bool {
    section.comparisons.first().is_some_and(|one| one.low > 0.0 || one.high < 0.0)
}

/// A trial that was carried out.
struct Trial {
    plan: Plan,
    /// Lines of the log, each with the number of its lot.
    lines: Vec<(usize, String)>,
}

impl Trial {
    fn draw(generator: &mut ChaCha12Rng, world: World) -> Self {
        let plan = plan(generator.random(), world);
        let lots: Vec<f64> = (0..LOTS).map(|_| BETWEEN_LOTS * normal(generator)).collect();
        let pieces = plan.pieces.iter().zip(plan.arms_of_pieces());
        let lines = pieces
            .map(|(piece, arm)| {
                let lot = piece.block - 1;
                let score = 5.0 + lots[lot] + world.effect * arm as f64 + normal(generator);
                let fate = if generator.random_bool(world.spoilage) {
                    "spoiled,".to_owned()
                } else {
                    format!("in_use,{score:.6}")
                };
                let made = &plan.arms[arm].value;
                (lot, format!("{},{},{made},2025-02-01,{fate}", piece.label, plan.blocks[lot].lot))
            })
            .collect();
        Self { plan, lines }
    }

    /// Reads the log of the first lots by the plan's file.
    fn read(&self, lots: usize) -> Option<TrialReadSection> {
        alone(|| self.read_here(lots))
    }

    fn read_here(&self, lots: usize) -> Option<TrialReadSection> {
        let mut text = "reed,lot,forming_days,started_on,fate,rating\n".to_owned();
        for (_, line) in self.lines.iter().filter(|(lot, _)| *lot < lots) {
            writeln!(text, "{line}").ok()?;
        }
        let folder = tempfile::tempdir().ok()?;
        fs::write(folder.path().join("reeds.csv"), text).ok()?;
        let settings = "scale = [-10, 20]\ngood_at = 6\noutcome = \"rating\"";
        fs::write(folder.path().join("study.toml"), settings).ok()?;
        let log = read(&[folder.path().to_path_buf()], &ReadOptions::default()).ok()?.study;
        let plan = parse("plan.toml", &self.plan.to_toml()).ok()?;
        match trial_read::ask(&log, &plan).ok()?.section {
            Section::TrialRead(section) => Some(section),
            _ => None,
        }
    }
}

fn normal(generator: &mut ChaCha12Rng) -> f64 {
    StandardNormal.sample(generator)
}

fn plan(seed: u64, world: World) -> Plan {
    let arm =
        |days: &str, present| Arm { name: format!("{days} days"), value: days.to_owned(), present };
    let blocks =
        (1..=LOTS).map(|lot| Block { lot: format!("L{lot}"), maker: None, pieces: PIECES });
    let power = TwoArmsTrial {
        layout: TwoArmsLayout::Blocked { pieces_per_arm: (PIECES / 2) as f64 },
        standard_deviation: 1.0,
        significance: 0.05,
        sides: Sides::Two,
    }
    .power(LOTS as f64, EFFECT)
    .expect("a trial that can be carried out");
    assert!((power - POWER).abs() < 5e-4, "the plan's power is the library's: {power}");
    Plan {
        format: 1,
        checksum: String::new(),
        key_sha256: String::new(),
        title: "Forming".to_owned(),
        made_on: "2025-01-10".to_owned(),
        seed,
        spoiled: SpoiledCount::LeftOut,
        factor: PlannedFactor {
            name: "forming_days".to_owned(),
            label: "forming time".to_owned(),
            unit: Some("days".to_owned()),
        },
        outcome: PlannedOutcome {
            criterion: "rating".to_owned(),
            scale: [-10.0, 20.0],
            good_at: 6.0,
            best: Best::High,
            target: None,
            settled: "all".to_owned(),
            worthwhile: 0.5,
        },
        analysis: Analysis {
            model: world.model.to_owned(),
            comparisons: "each arm with the present one".to_owned(),
            level: 0.95,
            looks: world.looks.to_vec(),
            spending: Spending::ObrienFleming,
        },
        reckoned: Reckoned {
            sd_within: 1.0,
            spoilage: world.spoilage,
            power,
            smallest_difference: EFFECT,
            pieces: (LOTS * PIECES) as u64,
            reeds: (1.0 - world.spoilage) * (LOTS * PIECES) as f64,
        },
        arms: vec![arm("7", true), arm("14", false)],
        blocks: blocks.collect(),
        pieces: Vec::new(),
    }
    .drawn(&BTreeSet::new())
}
