//! Select: the pieces that tell of a factor, spoiled ones among them.

use super::super::model::{Model, correlation, is_of_makers, model};
use super::super::sample::{Sample, thinned_sample};
use super::super::{Bench, RatedRows, ReedScores};
use super::Log;
use crate::catalogue::Stage;
use crate::stats::design::Design;
use crate::stats::logistic::BinomialOutcome;
use crate::study::{Fate, Study};
use std::sync::OnceLock;

/// With fewer pieces of either kind nothing is fitted.
pub(in crate::questions::factors) const FEWEST_OF_A_KIND: usize = 5;
/// Pieces of the rarer kind a column; with fewer, the adjusters that go least with the factor and the outcome stay out (Peduzzi et al. 1996, J. Clinical
/// Epidemiology 49, 1373-1379, ask for ten without a penalty; Vittinghoff & McCulloch 2007, American J. Epidemiology 165, 710-718, find five enough).
const RARER_A_COLUMN: usize = 5;

/// Makers never stay out. Where they leave fewer pieces of the rarer kind a column than these, nothing is fitted.
const RARER_BESIDE_MAKERS: usize = 2;

/// What became of each piece, as far as it is known.
pub(in crate::questions::factors) struct Pieces {
    /// The stage at which a piece was spoiled before its first note.
    lost: Vec<Option<Option<Stage>>>,
    /// Good reeds; spoiled pieces are none.
    good: Vec<Option<bool>>,
    /// Spoiled before the first note; unknown while unfinished.
    spoiled: Vec<Option<bool>>,
    /// The furthest stage entered; play for all that were played.
    furthest: Vec<Option<Stage>>,
    /// What is asked of each stage for many factors, found when it is first asked.
    at_stages: ByStage,
    good_from: ByStage,
    spoiled_from: ByStage,
}

/// One for each stage of the making, and one for what has no place in it.
type ByStage = [OnceLock<ReedScores>; Stage::MAKING.len() + 1];

fn place(stage: Stage) -> usize {
    Stage::MAKING.iter().position(|known| *known == stage).unwrap_or(Stage::MAKING.len())
}

/// A model of a yes or no, one row a piece.
pub(in crate::questions::factors) struct Table {
    pub model: Model,
    pub design: Design,
    pub outcome: BinomialOutcome,
    /// Whether pieces were left out because there are very many.
    pub thinned: bool,
}

impl Pieces {
    pub fn of(study: &Study, scores: &ReedScores) -> Self {
        let mut furthest = study.furthest_stages().to_vec();
        for &piece in &scores.piece {
            furthest[piece] = Some(Stage::Play);
        }
        let played: Vec<bool> = furthest.iter().map(|stage| *stage == Some(Stage::Play)).collect();
        let at = study.words("spoiled_at");
        let fates = study.fates();
        let lost: Vec<Option<Option<Stage>>> = (0..study.pieces())
            .map(|piece| {
                let is_lost = fates[piece] == Some(Fate::Spoiled) && !played[piece];
                is_lost.then(|| at[piece].and_then(Stage::from_word))
            })
            .collect();
        let spoiled = lost
            .iter()
            .zip(&played)
            .map(|(lost, played)| (lost.is_some() || *played).then_some(lost.is_some()));
        let (spoiled, good) = (spoiled.collect(), study.good());
        Self {
            spoiled,
            good,
            lost,
            furthest,
            at_stages: Default::default(),
            good_from: Default::default(),
            spoiled_from: Default::default(),
        }
    }

    /// Good or not, over the pieces that got as far as the factor.
    pub fn good(&self, stage: Stage) -> &ReedScores {
        self.good_from[place(stage)].get_or_init(|| self.outcome(&self.good, stage))
    }

    /// Spoiled or not, over the pieces that got as far as the factor; none for a factor that is not known before the first note.
    pub fn spoiled(&self, stage: Stage) -> Option<&ReedScores> {
        let is_before = Stage::MAKING.contains(&stage) && stage < Stage::Play;
        let found = &self.spoiled_from[place(stage)];
        is_before.then(|| found.get_or_init(|| self.outcome(&self.spoiled, stage)))
    }

    /// Lost at this stage or gone on to a later one, over the pieces that entered it.
    pub fn spoiled_at(&self, stage: Stage) -> &ReedScores {
        self.at_stages[place(stage)].get_or_init(|| self.lost_at(stage))
    }

    fn lost_at(&self, stage: Stage) -> ReedScores {
        let lost_here = |piece: usize| self.lost[piece].flatten() == Some(stage);
        let went_on =
            |piece: usize| self.lost[piece].is_none() && self.furthest[piece] > Some(stage);
        let lost_later = |piece: usize| self.lost[piece].flatten() > Some(stage);
        let known = |piece: &usize| lost_here(*piece) || went_on(*piece) || lost_later(*piece);
        let piece: Vec<usize> = (0..self.lost.len()).filter(known).collect();
        let score = piece.iter().map(|&piece| f64::from(lost_here(piece))).collect();
        ReedScores::of(piece, score)
    }

    /// A piece that was lost at an earlier stage tells nothing about the factor, whatever its cell holds.
    fn outcome(&self, yes: &[Option<bool>], stage: Stage) -> ReedScores {
        let is_placed = Stage::MAKING.contains(&stage);
        let too_early =
            |piece: usize| is_placed && self.lost[piece].flatten().is_some_and(|at| at < stage);
        let known = yes.iter().enumerate().filter_map(|(piece, yes)| Some((piece, (*yes)?)));
        let known = known.filter(|(piece, _)| !too_early(*piece));
        let (piece, score) = known.map(|(piece, yes)| (piece, f64::from(yes))).unzip();
        ReedScores::of(piece, score)
    }
}

/// The rows and columns that a table is made of.
pub(in crate::questions::factors) struct Selected {
    pub sample: Sample,
    /// With every adjuster that the pieces can carry.
    pub model: Model,
    pub thinned: bool,
    yes: Vec<f64>,
}

impl Selected {
    /// None where there are too few pieces of either kind, or nothing of the factor differs.
    pub fn of(log: &Log, outcome: &ReedScores, at: usize) -> Option<Self> {
        let (sample, thinned) = thinned_sample(log.columns, outcome, at, log.has_lots);
        let yes: Vec<f64> = sample.reeds.iter().map(|&row| outcome.score[row]).collect();
        if rarer(&yes) < FEWEST_OF_A_KIND {
            return None;
        }
        let model = model(log.columns, outcome, &sample, at, log.has_lots).ok()?;
        (!model.own.is_empty()).then_some(Self { sample, model, thinned, yes })
    }

    /// How many of the pieces answer yes.
    pub fn positive(&self) -> usize {
        positive(&self.yes)
    }
}

fn positive(yes: &[f64]) -> usize {
    yes.iter().filter(|yes| **yes > 0.5).count()
}

fn rarer(yes: &[f64]) -> usize {
    positive(yes).min(yes.len() - positive(yes))
}

impl Table {
    /// None where there are too few pieces of either kind, or nothing of the factor differs.
    pub fn of(log: &Log, outcome: &ReedScores, at: usize) -> Option<Self> {
        Self::from(Selected::of(log, outcome, at)?)
    }

    /// The same with other columns of the factor, already deviations from the mean of the lot.
    pub fn with_own(
        log: &Log,
        outcome: &ReedScores,
        at: usize,
        own: impl Fn(&Model) -> Vec<Vec<f64>>,
    ) -> Option<Self> {
        Self::of_columns(Selected::of(log, outcome, at)?, own)
    }

    /// With as many adjusters as the rarer kind of pieces can carry.
    pub fn from(selected: Selected) -> Option<Self> {
        Self::of_columns(selected, Model::own_columns)
    }

    fn of_columns(selected: Selected, own: impl Fn(&Model) -> Vec<Vec<f64>>) -> Option<Self> {
        let Selected { mut model, thinned, yes, .. } = selected;
        let makers = model.adjuster_columns().iter().filter(|(name, _)| is_of_makers(name)).count();
        if makers > 0 && RARER_BESIDE_MAKERS * (makers + model.own.len()) > rarer(&yes) {
            return None;
        }
        make_room(&mut model, rarer(&yes) / RARER_A_COLUMN);
        let (reed, player) = ((0..yes.len()).collect(), vec![0; yes.len()]);
        let rows = RatedRows { reed, score: yes.clone(), player, players: 1 };
        let bench = Bench::new(&model, rows);
        let design = bench.design(&own(&model), bench.lot_means().as_deref()).ok()?;
        let outcome = BinomialOutcome::binary(&yes).ok()?;
        (design.rows() > design.columns() + 1).then_some(Self { model, design, outcome, thinned })
    }
}

/// Takes adjusters out of a model until it has no more than so many columns beside the factor's own.
pub(in crate::questions::factors) fn make_room(model: &mut Model, columns: usize) {
    let room = columns.saturating_sub(model.own.len());
    loop {
        let adjusters = model.adjuster_columns();
        if adjusters.len() <= room {
            return;
        }
        let Some(least) = least_needed(model, &adjusters) else { return };
        let kept: Vec<usize> = (0..model.design.columns())
            .filter(|&at| {
                model.own.contains(&model.design.names[at])
                    || block(&model.design.names[at]) != least
            })
            .collect();
        model.design = model.design.select(&kept);
        let Some(label) = adjusters.iter().find(|(name, _)| block(name) == least) else { return };
        if let Some((_, label)) = label.0.split_once('#') {
            model.adjusted_for.retain(|name| name != label);
            model.crowded_out.push(label.to_owned());
        }
    }
}

/// The block whose columns go least with the factor and the outcome: what an adjuster left out can do to the effect is about the product of the two. Makers are
/// never left out: what one of them does most would be taken for what makes that maker's reeds better.
fn least_needed(model: &Model, adjusters: &[(String, Vec<f64>)]) -> Option<String> {
    let own = model.own_columns();
    let mut weights: Vec<(String, f64)> = Vec::new();
    for (name, column) in adjusters.iter().filter(|(name, _)| !is_of_makers(name)) {
        let with_own = own.iter().map(|own| correlation(own, column).abs()).fold(0.0, f64::max);
        let weight = with_own * correlation(&model.scores, column).abs();
        match weights.iter_mut().find(|(known, _)| known == block(name)) {
            Some((_, known)) => *known = known.max(weight),
            None => weights.push((block(name).to_owned(), weight)),
        }
    }
    weights.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).map(|(name, _)| name)
}

/// Columns of one adjuster share what stands before the point.
fn block(name: &str) -> &str {
    name.split_once('.').map_or(name, |(block, _)| block)
}
