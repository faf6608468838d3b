//! Fit: one factor's columns among reeds of the same lot and from lot to lot, one row a rating.
//!
//! The factor stands in the model twice (Mundlak 1978): as deviations from the mean of the lot, which compares reeds of the same lot, and as the mean of the
//! lot, which compares lots. What is adjusted for stands in it as deviations. Lots deviate at random, and so do reeds where some have several ratings;
//! players stand as columns, or deviate at random where there are more than ten.

use super::super::rated::{MOST_FIXED_PLAYERS, RatedRows, distinct};
use super::super::scores::group_means;
use super::model::{FEWEST_CLUSTERS, MAKER, Model, SEASON, TREND};
use crate::stats::design::{Design, INTERCEPT};
use crate::stats::linear::{LinearFit, least_squares, least_squares_linfa};
use crate::stats::mixed::{
    Criterion, KenwardRoger, MixedFit, RandomTerm, TermsFit, fit_mixed, fit_mixed_terms,
};
use crate::stats::numeric::sum_of_squares;
use crate::stats::{Estimate, JointTest, StatsError};
use crate::words::factors::ModelWords;
use ndarray::Array2;

/// The name of the lots' mean among the columns.
pub(super) const LOT_MEAN: &str = "lot mean";
/// With fewer lots the errors are those of Kenward & Roger (1997), up to so many levels that deviate at random; their cost grows with the cube of that.
const FEW_LOTS: usize = 10;
const MOST_LEVELS: usize = 400;

/// The ratings of a factor's reeds, and all that stands in its models beside the factor.
pub(super) struct Bench<'a> {
    model: &'a Model,
    rows: RatedRows,
    /// What deviates at random, one code a row.
    groupings: Vec<(&'static str, Vec<usize>)>,
    players: Vec<Vec<f64>>,
}

impl<'a> Bench<'a> {
    /// `rows` are those of the model's reeds.
    pub fn new(model: &'a Model, rows: RatedRows) -> Self {
        let few_players = rows.players <= MOST_FIXED_PLAYERS;
        let lots: Vec<usize> = rows.reed.iter().map(|&reed| model.lot[reed]).collect();
        let mut groupings = Vec::new();
        if model.lots > 1 {
            groupings.push(("lot", lots));
        }
        if rows.repeats() {
            groupings.push(("reed", rows.reed.clone()));
        }
        if !few_players {
            groupings.push(("player", rows.player.clone()));
        }
        let players = if few_players { rows.player_columns() } else { Vec::new() };
        Self { model, rows, groupings, players }
    }

    /// The factor as it stands in its headline model, with the mean of the lot beside a number.
    pub fn headline(&self) -> Option<Answer> {
        let own: Vec<Vec<f64>> = self.model.own_columns();
        self.fit(&own, self.lot_means().as_deref())
    }

    /// The mean of each reed's lot, for a number in enough lots; makers stand beside it, and each takes a lot more.
    pub fn lot_means(&self) -> Option<Vec<f64>> {
        let is_number = self.model.reference.is_none();
        let enough = FEWEST_CLUSTERS + self.model.makers_between.len();
        let raw = self.model.raw.first().filter(|_| is_number && self.model.lots >= enough)?;
        let means = group_means(raw, &self.model.lot);
        Some(self.model.lot.iter().map(|lot| means[lot]).collect())
    }

    /// Any columns of the factor, one value a reed, already deviations from the mean of the lot; `between`, where given, is a mean of the lot. None where
    /// nothing is left to measure an effect against.
    pub fn fit(&self, own: &[Vec<f64>], between: Option<&[f64]>) -> Option<Answer> {
        if self.groupings.is_empty() {
            return self.plain(own);
        }
        let design = self.design(own, between).ok()?;
        if self.rows.score.len() <= design.columns() + 1 {
            return None;
        }
        let fitted = self.mixed(&design).map(|fitted| self.corrected(fitted)).ok();
        let words = ModelWords { is_mixed: true, ..self.words() };
        fitted.map(|fitted| Answer::new(fitted, &design, words)).or_else(|| self.plain(own))
    }

    fn words(&self) -> ModelWords {
        let adjusts = |name: &str| self.model.adjusted_for.iter().any(|known| known == name);
        ModelWords {
            is_mixed: false,
            within_lots: self.model.lots > 0,
            has_makers: adjusts(MAKER),
            has_trend: adjusts(TREND),
            has_season: adjusts(SEASON),
            repeats: self.rows.repeats(),
            players: self.rows.players > 1,
            random_players: self.rows.players > MOST_FIXED_PLAYERS,
        }
    }

    fn mixed(&self, design: &Design) -> Result<Fitted, StatsError> {
        let score = &self.rows.score;
        if let [(_, groups)] = self.groupings.as_slice() {
            return fit_mixed(design, score, groups, Criterion::Reml).map(Fitted::OneTerm);
        }
        let terms = self.groupings.iter().map(|(name, groups)| RandomTerm::intercept(name, groups));
        let terms: Vec<RandomTerm> = terms.collect();
        fit_mixed_terms(design, score, &terms, Criterion::Reml).map(Fitted::Terms)
    }

    /// The errors of Kenward & Roger in place of a mixed model's own, where lots are few.
    fn corrected(&self, fitted: Fitted) -> Fitted {
        let levels: usize = self.groupings.iter().map(|(_, codes)| distinct(codes)).sum();
        if self.model.lots == 0 || self.model.lots >= FEW_LOTS || levels > MOST_LEVELS {
            return fitted;
        }
        let corrected = match &fitted {
            Fitted::OneTerm(fit) => fit.kenward_roger().ok(),
            Fitted::Terms(fit) => fit.kenward_roger().ok(),
            Fitted::Corrected(_) | Fitted::Plain { .. } => None,
        };
        corrected.map_or(fitted, Fitted::Corrected)
    }

    /// Intercept, players, what is adjusted for, the mean of the lot and, last, the factor's columns, so that it is they that are found to be combinations of
    /// the others.
    pub fn design(&self, own: &[Vec<f64>], between: Option<&[f64]>) -> Result<Design, StatsError> {
        let mut builder = Design::builder(self.rows.score.len()).intercept();
        for (number, player) in self.players.iter().enumerate() {
            builder = builder.number(&format!("player {number}"), player);
        }
        for (name, column) in self.model.adjuster_columns() {
            builder = builder.number(&name, &self.by_row(&column));
        }
        if let Some(between) = between {
            for (number, maker) in self.model.makers_between.iter().enumerate() {
                builder = builder.number(&format!("share of maker {number}"), &self.by_row(maker));
            }
            builder = builder.number(LOT_MEAN, &self.by_row(between));
        }
        for (number, column) in own.iter().enumerate() {
            builder = builder.number(&own_name(number), &self.by_row(column));
        }
        Ok(builder.build()?.without_aliases().0)
    }

    fn by_row(&self, by_reed: &[f64]) -> Vec<f64> {
        self.rows.reed.iter().map(|&reed| by_reed[reed]).collect()
    }

    /// Least squares on the reeds' scores with the model's clusters; the point comes from linfa-linear, its error from the orthogonal factorisation.
    fn plain(&self, own: &[Vec<f64>]) -> Option<Answer> {
        let model = self.model;
        let mut builder = Design::builder(model.scores.len());
        for (name, column) in model.columns_beside_own() {
            builder = builder.number(&name, &column);
        }
        for (number, column) in own.iter().enumerate() {
            builder = builder.number(&own_name(number), column);
        }
        let design = builder.build().ok()?.without_aliases().0;
        if model.scores.len() <= design.columns() + 1 {
            return None;
        }
        let points = least_squares_linfa(&design, &model.scores).ok()?;
        let fit = least_squares(&design, &model.scores).ok()?;
        // what is left of equal scores is rounding and no chance to measure an effect against
        let enough = fit.residual_sum_of_squares > 1e-20 * sum_of_squares(&model.raw_scores);
        let fitted = Fitted::Plain { fit, points, clusters: model.clusters.clone() };
        enough.then(|| Answer::new(fitted, &design, self.words()))
    }
}

pub(super) fn own_name(number: usize) -> String {
    format!("own {number}")
}

enum Fitted {
    OneTerm(MixedFit),
    Terms(TermsFit),
    Corrected(KenwardRoger),
    Plain { fit: LinearFit, points: Vec<f64>, clusters: Vec<usize> },
}

impl Fitted {
    fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        match self {
            Self::OneTerm(fit) => fit.contrast(contrast),
            Self::Terms(fit) => fit.contrast(contrast),
            Self::Corrected(fit) => fit.contrast(contrast),
            Self::Plain { fit, points, clusters } => {
                let robust = fit.clustered(clusters)?.contrast(contrast)?;
                let value = contrast.iter().zip(points).map(|(c, point)| c * point).sum();
                Ok(Estimate { value, ..robust })
            }
        }
    }

    fn joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        match self {
            Self::OneTerm(fit) => fit.joint(contrasts),
            Self::Terms(fit) => fit.joint(contrasts),
            Self::Corrected(fit) => fit.joint(contrasts),
            Self::Plain { fit, clusters, .. } => fit.clustered(clusters)?.joint(contrasts),
        }
    }
}

/// A fitted model, asked about the factor's columns.
pub(super) struct Answer {
    fitted: Fitted,
    names: Vec<String>,
    /// The mean of each column over the ratings.
    means: Vec<f64>,
    /// What was in the model.
    pub words: ModelWords,
}

impl Answer {
    fn new(fitted: Fitted, design: &Design, words: ModelWords) -> Self {
        Self { fitted, names: design.names.clone(), means: design.column_means(), words }
    }

    fn at(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|known| known == name)
    }

    fn weights(&self, weighted: &[(usize, f64)]) -> Vec<f64> {
        let mut contrast = vec![0.0; self.names.len()];
        for &(at, weight) in weighted {
            contrast[at] = weight;
        }
        contrast
    }

    /// The effect of one of the factor's columns; none where the others explain it.
    pub fn effect(&self, own: usize) -> Option<Estimate> {
        self.ask(&[(self.at(&own_name(own))?, 1.0)])
    }

    /// A weighted sum of the effects of the factor's columns.
    pub fn combination(&self, weights: &[f64]) -> Option<Estimate> {
        let weighted: Option<Vec<(usize, f64)>> = weights
            .iter()
            .enumerate()
            .map(|(own, weight)| Some((self.at(&own_name(own))?, *weight)))
            .collect();
        self.ask(&weighted?)
    }

    /// The rating of an average reed by an average player, had the factor's columns these values and the mean of the lot this one; none where the model has no
    /// level of its own.
    pub fn level(&self, own: &[f64], lot_mean: Option<f64>) -> Option<Estimate> {
        self.at(INTERCEPT)?;
        let mut weights = self.means.clone();
        for (number, value) in own.iter().enumerate() {
            weights[self.at(&own_name(number))?] = *value;
        }
        if let (Some(place), Some(value)) = (self.at(LOT_MEAN), lot_mean) {
            weights[place] = value;
        }
        let found = self.fitted.contrast(&weights).ok()?;
        (found.value.is_finite() && found.standard_error.is_finite()).then_some(found)
    }

    /// The test that some of the factor's columns have no effect together.
    pub fn joint(&self, own: &[usize]) -> Option<JointTest> {
        let places: Option<Vec<usize>> = own.iter().map(|own| self.at(&own_name(*own))).collect();
        let places = places?;
        let contrasts = Array2::from_shape_fn((places.len(), self.names.len()), |(row, column)| {
            f64::from(u8::from(places[row] == column))
        });
        self.fitted.joint(&contrasts).ok().filter(|test| test.statistic.is_finite())
    }

    /// The effect of the mean of the lot.
    pub fn between(&self) -> Option<Estimate> {
        self.ask(&[(self.at(LOT_MEAN)?, 1.0)])
    }

    /// How much more the mean of the lot has gone with than a reed's own deviation from it.
    pub fn between_less_within(&self) -> Option<Estimate> {
        self.ask(&[(self.at(LOT_MEAN)?, 1.0), (self.at(&own_name(0))?, -1.0)])
    }

    fn ask(&self, weighted: &[(usize, f64)]) -> Option<Estimate> {
        let found = self.fitted.contrast(&self.weights(weighted)).ok()?;
        (found.value.is_finite() && found.standard_error.is_finite()).then_some(found)
    }
}
