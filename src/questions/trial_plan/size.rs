//! How many pieces the trial takes, and what it can show.

use super::lots::{Place, Places, Source, deal, fill};
use super::spread::Spread;
use super::{Wanted, refusal};
use crate::finding::TrialSize;
use crate::problem::Refusal;
use crate::stats::power::{ComparisonsTrial, pieces_for_assurance};
use crate::stats::sequential::{Boundary, Spending};
use crate::whole;
use crate::words::trial::plan as words;

pub(super) const MOST_LOOKS: usize = 5;
/// Larger trials are nobody's to make.
const MOST_PIECES: usize = 2_000;
/// The chance that enough reeds are left of the pieces.
const ASSURANCE: f64 = 0.9;
/// Two-sided, over all looks.
const FALSE_ALARMS: f64 = 0.05;
/// Points of a curve.
const STEPS: usize = 40;

/// The comparison to be planned.
pub(super) struct Trial {
    pub comparisons: ComparisonsTrial,
    pub worthwhile: f64,
    pub power: f64,
    /// The same with the spread as large as it may well be.
    if_spread_is_high: ComparisonsTrial,
}

pub(super) struct Sized {
    pub blocks: Vec<usize>,
    pub power: f64,
    pub power_if_spread_is_high: f64,
    pub smallest_difference: f64,
}

impl Sized {
    pub fn pieces(&self) -> usize {
        self.blocks.iter().sum()
    }
}

pub(super) fn trial(spread: &Spread, wanted: &Wanted, arms: usize) -> Result<Trial, Refusal> {
    // a trial that costs more reeds by a factor is one whose reeds scatter more by its root
    let cost = cost_of_looking(wanted).sqrt();
    let trial = ComparisonsTrial::new(arms, FALSE_ALARMS)
        .map_err(|_| refusal(words::NOT_RECKONED, words::TAKES_TWO_ARMS))?
        .with_loss(spread.loss);
    Ok(Trial {
        comparisons: trial.with_standard_deviation(spread.sd * cost),
        if_spread_is_high: trial.with_standard_deviation(spread.high * cost),
        worthwhile: wanted.worthwhile,
        power: wanted.power,
    })
}

/// How many times the reeds of a trial of one look this one takes, the looks at equal shares of the marks and judged as the reading of a plan judges them.
fn cost_of_looking(wanted: &Wanted) -> f64 {
    if wanted.looks < 2 {
        return 1.0;
    }
    let looks = wanted.looks.min(MOST_LOOKS);
    let fractions: Vec<f64> = (1..=looks).map(|look| look as f64 / looks as f64).collect();
    Boundary::for_small_trials(Spending::OBrienFlemingType, &fractions, FALSE_ALARMS)
        .and_then(|boundary| boundary.inflation(wanted.power))
        .unwrap_or(1.0)
}

impl Trial {
    pub fn arms(&self) -> usize {
        self.comparisons.arms()
    }

    /// The chance to find a difference; none where the blocks are too small for any test.
    pub fn power_of(&self, blocks: &[usize], difference: f64) -> Option<f64> {
        self.comparisons.power(blocks, difference).ok()
    }

    fn smallest(&self, blocks: &[usize]) -> Option<f64> {
        self.comparisons.smallest_difference(blocks, self.power).ok()
    }

    fn sized(&self, blocks: Vec<usize>) -> Option<Sized> {
        let high = self.if_spread_is_high.power(&blocks, self.worthwhile).ok()?;
        Some(Sized {
            power: self.power_of(&blocks, self.worthwhile)?,
            smallest_difference: self.smallest(&blocks)?,
            power_if_spread_is_high: high,
            blocks,
        })
    }

    fn suffices(&self, blocks: &[usize]) -> bool {
        self.power_of(blocks, self.worthwhile).is_some_and(|power| power >= self.power)
    }

    /// The fewest reeds an arm with the power asked for, were none lost; none beyond what anybody makes.
    fn reeds_an_arm(&self, blocks: usize) -> Option<usize> {
        let whole = self.comparisons.with_loss(0.0);
        let suffices = |each: usize| {
            let power = whole.power(&even(each * self.arms(), blocks), self.worthwhile);
            power.is_ok_and(|power| power >= self.power)
        };
        let (mut low, mut high) = (1, MOST_PIECES);
        if !suffices(high) {
            return None;
        }
        while low < high {
            let middle = (low + high) / 2;
            if suffices(middle) {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        Some(low)
    }
}

/// So many pieces over blocks whose sizes differ by one at most.
fn even(pieces: usize, blocks: usize) -> Vec<usize> {
    let blocks = blocks.max(1);
    (0..blocks).map(|block| pieces / blocks + usize::from(block < pieces % blocks)).collect()
}

/// A trial of so many pieces.
pub(super) fn of_pieces(
    trial: &Trial,
    places: Places,
    pieces: usize,
) -> Result<(Places, Sized), Refusal> {
    if pieces > MOST_PIECES {
        return Err(refusal(words::too_many_pieces(pieces, MOST_PIECES), words::TAKES_LESS));
    }
    if places.source == Source::AtHand
        && (places.room() < Some(pieces) || pieces < trial.arms() * places.list.len())
        && let Some(new) = places.instead
    {
        return of_pieces(trial, Places { list: new, source: Source::New, instead: None }, pieces);
    }
    // new lots nobody has named yet: as many as the pieces fill
    let list = match places.source {
        Source::New => places.list.into_iter().take((pieces / trial.arms()).max(1)).collect(),
        _ => places.list,
    };
    let (arms, blocks) = (trial.arms(), list.len());
    if pieces < arms * blocks {
        return Err(refusal(
            words::fewer_than_arms(pieces, blocks, arms),
            words::takes_pieces(pieces, blocks, arms),
        ));
    }
    let Some(dealt) = deal(&list, pieces, arms) else {
        let room = list.iter().filter_map(|place| place.room).sum();
        return Err(refusal(words::not_enough_cane(room, pieces), words::takes_cane(room)));
    };
    let sized = trial.sized(dealt).ok_or_else(|| {
        let least = blocks + arms;
        refusal(words::no_freedom(pieces, blocks), words::takes_freedom(least, arms * blocks))
    })?;
    Ok((Places { list, source: places.source, instead: None }, sized))
}

/// The smallest trial with the power asked for; the cane at hand gives way to new lots where it does not suffice.
pub(super) fn for_power(trial: &Trial, places: Places) -> Result<(Places, Sized), Refusal> {
    let blocks = filled(trial, &places.list)?;
    match (blocks, places.instead) {
        (Ok(sized), _) => {
            Ok((Places { list: places.list, source: places.source, instead: None }, sized))
        }
        (Err(_), Some(new)) => {
            for_power(trial, Places { list: new, source: Source::New, instead: None })
        }
        (Err(most), None) => {
            let pieces: usize = most.iter().sum();
            let smallest = trial.smallest(&most);
            let found = words::too_little_cane(pieces, trial.worthwhile, trial.power);
            Err(refusal(found, words::takes_more_cane(pieces, smallest)))
        }
    }
}

/// The pieces of each place, or all its cane gives where that does not suffice.
fn filled(trial: &Trial, places: &[Place]) -> Result<Result<Sized, Vec<usize>>, Refusal> {
    let arms = trial.arms();
    let too_small = || {
        let found = words::too_small_a_difference(trial.worthwhile, trial.power, MOST_PIECES);
        refusal(found, words::TAKES_LARGER)
    };
    let reeds = trial.reeds_an_arm(places.len()).ok_or_else(too_small)?;
    let needed = pieces_for_assurance((reeds * arms) as u64, trial.comparisons.loss(), ASSURANCE);
    let needed = needed.ok().map(whole::size).filter(|needed| *needed <= MOST_PIECES);
    let needed = needed.ok_or_else(too_small)?;
    let mut each = needed.div_ceil(places.len()).div_ceil(arms) * arms;
    let mut before = 0;
    loop {
        let blocks = fill(places, each, arms);
        let pieces: usize = blocks.iter().sum();
        if pieces >= needed && trial.suffices(&blocks) {
            return trial.sized(blocks).map(Ok).ok_or_else(too_small);
        }
        if pieces > MOST_PIECES {
            return Err(too_small());
        }
        if pieces == before {
            return Ok(Err(blocks));
        }
        before = pieces;
        each += arms;
    }
}

/// A trial of about so many pieces, every arm alike in every block, and the smallest difference it shows.
pub(super) fn of_about(trial: &Trial, blocks: usize, pieces: usize) -> Option<(usize, f64)> {
    let whole = trial.arms() * blocks;
    let pieces = pieces / whole.max(1) * whole;
    Some((pieces, trial.smallest(&even(pieces, blocks))?))
}

/// The chance to find a difference over trials up to twice as large, all blocks alike.
pub(super) fn curve(trial: &Trial, sized: &Sized, difference: f64) -> Vec<[f64; 2]> {
    let (blocks, planned) = (sized.blocks.len(), sized.pieces());
    let step = (2 * planned).div_ceil(STEPS).max(1);
    let least = (trial.arms() * blocks).min(planned);
    let mut sizes: Vec<usize> = (least..=2 * planned).step_by(step).collect();
    sizes.push(planned);
    sizes.sort_unstable();
    sizes.dedup();
    let point = |pieces: usize| {
        let blocks = if pieces == planned { sized.blocks.clone() } else { even(pieces, blocks) };
        Some([pieces as f64, trial.power_of(&blocks, difference)?])
    };
    sizes.into_iter().filter_map(point).collect()
}

/// What smaller and larger trials show: whole pieces of every arm in every block.
pub(super) fn sizes(trial: &Trial, sized: &Sized) -> Vec<TrialSize> {
    let (blocks, planned) = (sized.blocks.len(), sized.pieces());
    let whole = trial.arms() * blocks;
    let near =
        |part: f64| whole::part((part * planned as f64 / whole as f64).round()).max(1) * whole;
    let mut wanted: Vec<usize> = [0.25, 0.5, 0.75, 1.5, 2.0].map(near).to_vec();
    wanted.push(planned);
    wanted.sort_unstable();
    wanted.dedup();
    let size = |pieces: usize| {
        let blocks = if pieces == planned { sized.blocks.clone() } else { even(pieces, blocks) };
        Some(TrialSize {
            pieces,
            reeds_expected: pieces as f64 * (1.0 - trial.comparisons.loss()),
            power: trial.power_of(&blocks, trial.worthwhile)?,
            smallest_difference: trial.smallest(&blocks)?,
        })
    };
    wanted.into_iter().filter_map(size).collect()
}
