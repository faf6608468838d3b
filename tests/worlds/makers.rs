//! Several makers: what does not differ is not told as differing, what is planted in all holds for all, what is planted in one direction each differs.

use canewright::finding::{EffectAcrossMakers, MakersVerdict, Section};
use canewright::intake::{ReadOptions, read};
use canewright::questions::{Options, find};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, StandardNormal};

use super::super::simulation::Simulation;
use super::sizes::MAKERS;

/// Columns of the invented logs; the first is the one in which effects are planted.
const FACTORS: [&str; 4] = ["hardness", "tube_diameter_mm", "gouge_center_mm", "forming_days"];
const MIDDLES: [f64; 4] = [14.0, 25.0, 1.3, 14.0];
const SPREADS: [f64; 4] = [2.0, 0.5, 0.05, 3.0];

/// One maker: reeds in each of so many lots, their own middle of every measurement, the spread of their reeds, and what one spread of hardness is worth.
struct Maker {
    lots: usize,
    reeds: usize,
    scatter: f64,
    slope: f64,
}

fn maker(lots: usize, reeds: usize, scatter: f64, slope: f64) -> Maker {
    Maker { lots, reeds, scatter, slope }
}

fn told(makers: &[Maker], generator: &mut ChaCha12Rng) -> Option<Vec<EffectAcrossMakers>> {
    let normal = |generator: &mut ChaCha12Rng| -> f64 { StandardNormal.sample(generator) };
    let mut text = format!("reed,maker,lot,{},rating,fate\n", FACTORS.join(","));
    let mut reed = 0;
    for (at, maker) in makers.iter().enumerate() {
        let level = 10.0 + normal(generator);
        let middles: [f64; 4] = std::array::from_fn(|_| normal(generator));
        for lot in 0..maker.lots {
            let of_lot = 0.7 * normal(generator);
            for _ in 0..maker.reeds {
                let values: [f64; 4] = std::array::from_fn(|_| normal(generator));
                // the diameter goes with the rating for all alike, and with hardness
                let hardness = 0.8 * values[0] + 0.6 * values[1];
                let rating = level
                    + of_lot
                    + maker.slope * hardness
                    + 0.4 * values[1]
                    + maker.scatter * normal(generator);
                let cell = |factor: usize, value: f64| {
                    MIDDLES[factor] + SPREADS[factor] * (middles[factor] + value)
                };
                text += &format!(
                    "{reed},maker {at},lot {at} {lot},{:.2},{:.2},{:.4},{:.2},{:.2},in_use\n",
                    cell(0, hardness),
                    cell(1, values[1]),
                    cell(2, values[2]),
                    cell(3, values[3]),
                    rating.clamp(0.0, 20.0),
                );
                reed += 1;
            }
        }
    }
    let folder = tempfile::tempdir().ok()?;
    std::fs::write(folder.path().join("reeds.csv"), text).ok()?;
    let settings = "scale = [0, 20]\ngood_at = 11\nworthwhile = 0.5\noutcome = \"rating\"\n";
    std::fs::write(folder.path().join("study.toml"), settings).ok()?;
    let study = read(&[folder.path().to_path_buf()], &ReadOptions::default()).ok()?.study;
    let options = Options { seed: generator.random(), ..Options::default() };
    match (find("makers")?.ask)(&study, &options).ok()?.section {
        Section::Makers(section) => Some(section.effects),
        _ => None,
    }
}

fn any_differs(makers: &[Maker], generator: &mut ChaCha12Rng) -> Option<bool> {
    let effects = told(makers, generator)?;
    Some(effects.iter().any(|effect| effect.verdict == MakersVerdict::Differs))
}

/// Whether an idle measurement, worth nothing to anybody, is said to hold for all.
fn idle_holds(makers: &[Maker], generator: &mut ChaCha12Rng) -> Option<bool> {
    let effects = told(makers, generator)?;
    let idle = |effect: &&EffectAcrossMakers| FACTORS[2..].contains(&effect.factor.as_str());
    Some(effects.iter().filter(idle).any(|one| one.verdict == MakersVerdict::HoldsForAll))
}

fn hardness_is(
    verdict: MakersVerdict,
    makers: &[Maker],
    generator: &mut ChaCha12Rng,
) -> Option<bool> {
    let effects = told(makers, generator)?;
    Some(effects.iter().any(|effect| effect.factor == "hardness" && effect.verdict == verdict))
}

pub const RATES: &[Simulation] = &[
    Simulation {
        claim: "makers: the same effects for three, and something is told as differing",
        nominal: 0.05,
        slack: (0.05, 0.0),
        replicates: MAKERS,
        attempt: |generator| {
            any_differs(
                &[maker(5, 10, 1.0, 0.5), maker(5, 10, 1.0, 0.5), maker(5, 10, 1.0, 0.5)],
                generator,
            )
        },
    },
    Simulation {
        claim: "makers: the same effects for two of unequal size and scatter, and something is told as differing",
        nominal: 0.05,
        slack: (0.05, 0.0),
        replicates: MAKERS,
        attempt: |generator| {
            any_differs(&[maker(2, 8, 2.0, 0.5), maker(8, 10, 0.7, 0.5)], generator)
        },
    },
    Simulation {
        claim: "makers: an idle measurement is said to hold for all",
        // two measurements tell, so of all that is told a share of 5 % may be false: up to 3.75 % for each of the two idle ones
        nominal: 0.05,
        slack: (0.05, 0.025),
        replicates: MAKERS,
        attempt: |generator| {
            idle_holds(&[maker(5, 10, 1.0, 0.5), maker(5, 10, 1.0, 0.5)], generator)
        },
    },
    Simulation {
        claim: "makers: opposite effects of hardness are told as differing",
        nominal: 0.8,
        slack: (0.0, 0.2),
        replicates: MAKERS,
        attempt: |generator| {
            let makers = [maker(5, 10, 1.0, 0.7), maker(5, 10, 1.0, -0.7)];
            hardness_is(MakersVerdict::Differs, &makers, generator)
        },
    },
    Simulation {
        claim: "makers: one effect of hardness in three makers is told as holding for all",
        nominal: 0.7,
        slack: (0.0, 0.3),
        replicates: MAKERS,
        attempt: |generator| {
            let makers = [maker(5, 10, 1.0, 0.7), maker(5, 10, 1.0, 0.7), maker(5, 10, 1.0, 0.7)];
            hardness_is(MakersVerdict::HoldsForAll, &makers, generator)
        },
    },
];
