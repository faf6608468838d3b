//! Fit: each maker's mean rating, where makers can be told from players.

use std::collections::{BTreeMap, BTreeSet};

use super::super::rated::distinct;
use super::super::scores::reed_scores;
use crate::finding::{Interval, MakerResult};
use crate::stats::combined::combine;
use crate::stats::design::Design;
use crate::stats::linear::least_squares;
use crate::stats::mixed::{Criterion, RandomTerm, fit_mixed_terms};
use crate::stats::numeric::t_quantile;
use crate::stats::{Estimate, StatsError};
use crate::study::{Labels, RatingRows, Study};
use crate::whole;
use crate::words::makers::{NotCompared, same_person};

/// From so many makers on, their means are drawn towards the average.
const POOLED_FROM: usize = 5;

/// What the ratings say of the makers.
pub(super) struct Means {
    /// By maker; none where it cannot be known.
    means: Vec<Option<Interval>>,
    /// By maker: ratings by the maker's own hand (none where no player bears the name), and ratings in all.
    hands: Vec<(Option<usize>, usize)>,
    pub not_compared: Option<NotCompared>,
    /// Test of whether the plain means differ.
    pub p_differ: Option<f64>,
    pub is_pooled: bool,
    /// What a reader must know about how leniency was found.
    pub caveat: Option<String>,
}

impl Means {
    pub fn write(&self, list: &mut [MakerResult]) {
        for ((result, mean), (own, ratings)) in list.iter_mut().zip(&self.means).zip(&self.hands) {
            (result.by_own_hand, result.ratings) = (*own, *ratings);
            result.mean = mean.map(|mean| mean.estimate);
            result.low = mean.map(|mean| mean.low);
            result.high = mean.map(|mean| mean.high);
        }
    }
}

pub(super) fn means(study: &Study, makers: &Labels) -> Means {
    let rows = study.rating_rows();
    let hands = hands(rows, makers);
    let nothing = |not_compared, caveat| Means {
        means: vec![None; makers.levels.len()],
        hands: hands.clone(),
        not_compared,
        p_differ: None,
        is_pooled: false,
        caveat,
    };
    if let Some(why) = not_compared(rows, makers) {
        return nothing(Some(why), None);
    }
    let scores = reed_scores(study);
    let leniency_is_found = scores.leniency.iter().any(|(_, shift)| *shift != 0.0);
    if scores.leniency.len() > 1 && !leniency_is_found && scores.caveat.is_some() {
        return nothing(Some(NotCompared::PlayersApart), None);
    }
    let reeds = Reeds::of(study, makers, &scores.piece, &scores.score);
    let plain: Vec<Option<Estimate>> =
        (0..makers.levels.len()).map(|maker| reeds.plain_mean(maker)).collect();
    let known: Vec<Estimate> = plain.iter().flatten().copied().collect();
    let pooled = reeds.pooled_means(makers.levels.len());
    Means {
        is_pooled: pooled.is_some(),
        means: pooled.unwrap_or_else(|| plain.iter().map(|mean| mean.map(interval)).collect()),
        p_differ: combine(&known).ok().map(|found| found.differ.p_value()),
        ..nothing(None, scores.caveat.clone())
    }
}

/// Why makers cannot be told from players by the names alone.
fn not_compared(rows: &RatingRows, makers: &Labels) -> Option<NotCompared> {
    let mut makers_of: BTreeMap<Option<u32>, BTreeSet<u32>> = BTreeMap::new();
    let mut rated = BTreeSet::new();
    for (&piece, player) in rows.piece.iter().zip(&rows.player.codes) {
        if let Some(maker) = makers.codes[piece] {
            makers_of.entry(*player).or_default().insert(maker);
            rated.insert(maker);
        }
    }
    if rated.len() < 2 {
        return Some(NotCompared::OneRated);
    }
    if makers_of.contains_key(&None) {
        return Some(NotCompared::Nameless);
    }
    makers_of.values().all(|makers| makers.len() == 1).then_some(NotCompared::EachTheirOwn)
}

/// Who rated each maker's reeds.
fn hands(rows: &RatingRows, makers: &Labels) -> Vec<(Option<usize>, usize)> {
    let own: Vec<Option<u32>> = makers
        .levels
        .iter()
        .map(|maker| rows.player.levels.iter().position(|player| same_person(maker, player)))
        .map(|place| place.map(whole::code))
        .collect();
    let mut counts: Vec<(Option<usize>, usize)> =
        own.iter().map(|own| (own.map(|_| 0), 0)).collect();
    for (&piece, player) in rows.piece.iter().zip(&rows.player.codes) {
        let Some(maker) = makers.codes[piece].map(|maker| maker as usize) else { continue };
        counts[maker].1 += 1;
        if let Some(count) = counts[maker].0.as_mut().filter(|_| own[maker] == *player) {
            *count += 1;
        }
    }
    counts
}

/// The rated reeds of makers, one score a reed.
struct Reeds {
    score: Vec<f64>,
    maker: Vec<usize>,
    /// The lot of each reed, or the reed where it has none; a lot that two makers share is one for each.
    lot: Vec<usize>,
    has_lots: bool,
}

impl Reeds {
    fn of(study: &Study, makers: &Labels, pieces: &[usize], scores: &[f64]) -> Self {
        let lots = &study.lots().codes;
        let mut codes: BTreeMap<(u32, Option<u32>, Option<usize>), usize> = BTreeMap::new();
        let (mut score, mut maker, mut lot) = (Vec::new(), Vec::new(), Vec::new());
        for (&piece, &one) in pieces.iter().zip(scores) {
            let Some(of) = makers.codes[piece] else { continue };
            let alone = lots[piece].is_none().then_some(piece);
            let next = codes.len();
            lot.push(*codes.entry((of, lots[piece], alone)).or_insert(next));
            maker.push(of as usize);
            score.push(one);
        }
        let has_lots = distinct(&lot) < lot.len();
        Self { score, maker, lot, has_lots }
    }

    /// The mean of a maker's reeds, its error by lots where there are two or more.
    fn plain_mean(&self, maker: usize) -> Option<Estimate> {
        let own: Vec<usize> = (0..self.score.len()).filter(|&at| self.maker[at] == maker).collect();
        let score: Vec<f64> = own.iter().map(|&at| self.score[at]).collect();
        let lots: Vec<usize> = own.iter().map(|&at| self.lot[at]).collect();
        let design = Design::builder(score.len()).intercept().build().ok()?;
        let fit = least_squares(&design, &score).ok()?;
        let found = fit.clustered(&lots).ok()?.contrast(&[1.0]).ok()?;
        (found.standard_error > 0.0).then_some(found)
    }

    /// The means drawn towards the average of the makers; none with fewer than five of them. The spread between so few is poorly known, hence the t distribution
    /// with one degree of freedom fewer than makers.
    fn pooled_means(&self, makers: usize) -> Option<Vec<Option<Interval>>> {
        let rated = distinct(&self.maker);
        if rated < POOLED_FROM {
            return None;
        }
        let mut terms = vec![RandomTerm::intercept("maker", &self.maker)];
        if self.has_lots {
            terms.push(RandomTerm::intercept("lot", &self.lot));
        }
        let fit = || -> Result<_, StatsError> {
            let design = Design::builder(self.score.len()).intercept().build()?;
            fit_mixed_terms(&design, &self.score, &terms, Criterion::Reml)
        };
        let fit = fit().ok()?;
        let mean = |maker: usize| {
            let found = fit.predict(&[1.0], &[("maker", maker, &[1.0])]).ok()?;
            let half = t_quantile(0.975, rated as f64 - 1.0) * found.variance.sqrt();
            let [low, high] = [found.value - half, found.value + half];
            Some(Interval { estimate: found.value, low, high }).filter(|_| half.is_finite())
        };
        Some((0..makers).map(mean).collect())
    }
}

fn interval(estimate: Estimate) -> Interval {
    let half = t_quantile(0.975, estimate.degrees_of_freedom) * estimate.standard_error;
    let value = estimate.value;
    Interval { estimate: value, low: value - half, high: value + half }
}
