//! Fit: the planned contrasts of the marks, blocks held apart.

use std::collections::BTreeSet;

use ndarray::Array2;

use crate::finding::Band;
use crate::plan::Plan;
use crate::stats::design::Design;
use crate::stats::linear::{LinearFit, least_squares};
use crate::stats::mixed::{Criterion, KenwardRoger, fit_mixed};
use crate::stats::multiplicity::simultaneous;
use crate::stats::numeric::{Sampling, Sides, t_quantile};
use crate::stats::{Estimate, StatsError};

/// One mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mark {
    pub block: usize,
    pub arm: usize,
    pub score: f64,
}

/// One arm against the present practice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Compared {
    pub arm: usize,
    pub estimate: Estimate,
    /// Holds at this look and for all arms together; the inner half for one arm alone.
    pub band: Band,
    /// For all arms together.
    pub p: f64,
}

/// The model, fitted.
pub(super) struct Fitted {
    /// In the order of the arms.
    pub compared: Vec<Compared>,
    /// Mean mark of each arm over the blocks, the present one included; its own 95 % interval.
    pub means: Vec<(usize, Band)>,
    pub marks: usize,
    pub blocks: usize,
    pub random: bool,
}

/// Marks that can be compared with the present practice: arms and blocks that hang together with it.
pub(super) fn comparable(marks: &[Mark], present: usize) -> Vec<Mark> {
    let mut arms = BTreeSet::from([present]);
    loop {
        let blocks: BTreeSet<usize> =
            marks.iter().filter(|mark| arms.contains(&mark.arm)).map(|mark| mark.block).collect();
        let reached: BTreeSet<usize> =
            marks.iter().filter(|mark| blocks.contains(&mark.block)).map(|mark| mark.arm).collect();
        let before = arms.len();
        arms.extend(reached);
        if arms.len() == before {
            return marks.iter().copied().filter(|mark| blocks.contains(&mark.block)).collect();
        }
    }
}

/// Least squares with a column a block, the model that the size was reckoned by; blocks at random where the plan's words say so.
///
/// # Errors
/// Where too few marks are left, or they do not vary within blocks and arms.
pub(super) fn fit(marks: &[Mark], plan: &Plan, nominal: f64) -> Result<Fitted, StatsError> {
    let present = plan.present();
    let arms: Vec<usize> = distinct(marks.iter().map(|mark| mark.arm));
    let others: Vec<usize> = arms.iter().copied().filter(|arm| *arm != present).collect();
    let blocks = distinct(marks.iter().map(|mark| mark.block));
    let wants_random = plan.analysis.model.contains("random") && blocks.len() > 1;
    let random = if wants_random { Model::random(marks, &others).ok() } else { None };
    let is_random = random.is_some();
    let model = random.map_or_else(|| Model::fixed(marks, &others, &blocks), Ok)?;
    let compared = compared(&model, &others, nominal, plan.seed)?;
    let mut means = Vec::new();
    for &arm in &arms {
        let place = others.iter().position(|other| *other == arm);
        means.push((arm, band(&model.contrast(&model.at_arm(place))?, 0.05)));
    }
    Ok(Fitted { compared, means, marks: marks.len(), blocks: blocks.len(), random: is_random })
}

/// A fitted model whose columns after the first `others` arms' are those of the blocks.
struct Model {
    answer: Answer,
    /// Means of the columns, with the arms' set to nothing.
    average: Vec<f64>,
    /// Where the columns of the arms start.
    first: usize,
}

enum Answer {
    Fixed(Box<LinearFit>),
    Random(Box<KenwardRoger>),
}

impl Model {
    fn fixed(marks: &[Mark], others: &[usize], blocks: &[usize]) -> Result<Self, StatsError> {
        let design = design(marks, others, blocks.get(1..).unwrap_or(&[]))?;
        let scores: Vec<f64> = marks.iter().map(|mark| mark.score).collect();
        let fit = least_squares(&design, &scores)?;
        let size = scores.iter().fold(1.0_f64, |most, score| most.max(score.abs()));
        if fit.residual_standard_deviation() <= 1e-9 * size {
            return Err(StatsError::NoVariation {
                what: "the marks within blocks and arms".into(),
            });
        }
        Ok(Self::of(Answer::Fixed(Box::new(fit)), &design, others.len()))
    }

    fn random(marks: &[Mark], others: &[usize]) -> Result<Self, StatsError> {
        let design = design(marks, others, &[])?;
        let scores: Vec<f64> = marks.iter().map(|mark| mark.score).collect();
        let blocks: Vec<usize> = marks.iter().map(|mark| mark.block).collect();
        let fit = fit_mixed(&design, &scores, &blocks, Criterion::Reml)?;
        Ok(Self::of(Answer::Random(Box::new(fit.kenward_roger()?)), &design, others.len()))
    }

    fn of(answer: Answer, design: &Design, arms: usize) -> Self {
        let mut average = design.column_means();
        average.iter_mut().skip(1).take(arms).for_each(|mean| *mean = 0.0);
        Self { answer, average, first: 1 }
    }

    fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        match &self.answer {
            Answer::Fixed(fit) => fit.classical(contrast),
            Answer::Random(fit) => fit.contrast(contrast),
        }
    }

    /// The average piece, made as one of the other arms; none is the present one.
    fn at_arm(&self, place: Option<usize>) -> Vec<f64> {
        let mut row = self.average.clone();
        if let Some(cell) = place.and_then(|place| row.get_mut(self.first + place)) {
            *cell = 1.0;
        }
        row
    }

    /// One of the other arms less the present one, or less another.
    fn difference(&self, place: usize, less: Option<usize>) -> Result<Estimate, StatsError> {
        let mut row = vec![0.0; self.average.len()];
        row[self.first + place] = 1.0; // the arms' columns are all there
        if let Some(less) = less {
            row[self.first + less] = -1.0;
        }
        self.contrast(&row)
    }
}

/// Intercept, a column an arm, a column a block.
pub(super) fn design(
    marks: &[Mark],
    others: &[usize],
    blocks: &[usize],
) -> Result<Design, StatsError> {
    let column = |is: &dyn Fn(&Mark) -> bool| -> Vec<f64> {
        marks.iter().map(|mark| f64::from(u8::from(is(mark)))).collect()
    };
    let mut builder = Design::builder(marks.len()).intercept();
    for &arm in others {
        builder = builder.number(&arm_column(arm), &column(&|mark| mark.arm == arm));
    }
    for &block in blocks {
        builder = builder.number(&format!("block {block}"), &column(&|mark| mark.block == block));
    }
    builder.build()
}

pub(super) fn arm_column(arm: usize) -> String {
    format!("arm {arm}")
}

/// Each other arm with the present one: the interval of the look, for several arms by the multivariate t (Dunnett 1955).
fn compared(
    model: &Model,
    others: &[usize],
    nominal: f64,
    seed: u64,
) -> Result<Vec<Compared>, StatsError> {
    let each: Vec<Estimate> =
        (0..others.len()).map(|place| model.difference(place, None)).collect::<Result<_, _>>()?;
    if let [only] = each.as_slice() {
        let one = Compared {
            arm: others[0],
            estimate: *only,
            band: band(only, nominal),
            p: only.p_value(),
        };
        return Ok(vec![one]);
    }
    let mut covariance = Array2::zeros((each.len(), each.len()));
    for i in 0..each.len() {
        for j in 0..each.len() {
            let variance = |estimate: &Estimate| estimate.standard_error.powi(2);
            covariance[(i, j)] = if i == j {
                variance(&each[i])
            } else {
                let (low, high) = (i.min(j), i.max(j));
                let apart = variance(&model.difference(low, Some(high))?);
                0.5 * (variance(&each[i]) + variance(&each[j]) - apart)
            };
        }
    }
    let values: Vec<f64> = each.iter().map(|estimate| estimate.value).collect();
    let df = each.iter().map(|estimate| estimate.degrees_of_freedom).fold(f64::INFINITY, f64::min);
    let sampling = Sampling::from_seed(seed);
    let family = simultaneous(&values, &covariance, df, 1.0 - nominal, Sides::Two, sampling)?;
    let together = family.estimates.iter().zip(&each).zip(others);
    let one = |((together, estimate), &arm): (
        (&crate::stats::multiplicity::SimultaneousEstimate, &Estimate),
        &usize,
    )| Compared {
        arm,
        estimate: *estimate,
        band: Band { low: together.low, high: together.high, ..band(estimate, nominal) },
        p: together.p_value.value,
    };
    Ok(together.map(one).collect())
}

/// The interval of a two-sided level, and the inner half.
pub(super) fn band(estimate: &Estimate, significance: f64) -> Band {
    let reach =
        |tail: f64| -t_quantile(tail, estimate.degrees_of_freedom) * estimate.standard_error;
    let (wide, half) = (reach(0.5 * significance), reach(0.25));
    Band {
        estimate: estimate.value,
        low: estimate.value - wide,
        high: estimate.value + wide,
        half_low: estimate.value - half,
        half_high: estimate.value + half,
    }
}

pub(super) fn distinct(codes: impl Iterator<Item = usize>) -> Vec<usize> {
    codes.collect::<BTreeSet<usize>>().into_iter().collect()
}
