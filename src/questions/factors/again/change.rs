//! One step of a factor, or the way from the reference to a level, in the columns of any of the models.

use super::super::Looked;
use super::super::fit::{LOT_MEAN, own_name};
use super::super::model::Model;
use super::super::sample::Cells;
use super::Log;
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::whole;

/// What is asked about: what the headline is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::questions::factors) enum Asked {
    /// A step of a number among reeds of the same lot (or over all reeds).
    Within(f64),
    /// A step of a number from lot to lot.
    Between(f64),
    /// A level of a choice against the headline's reference; a model of other reeds may have another reference.
    Level { level: u32, reference: u32 },
}

/// Which side of the change a piece is moved to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::questions::factors) enum Side {
    Less,
    More,
}

impl Asked {
    /// None for a factor without an estimate, and for a choice that differs from lot to lot alone.
    pub fn of(log: &Log, entry: &Looked) -> Option<Self> {
        let result = &entry.result;
        result.estimate?;
        let is_between = result.scope == "between lots";
        match &log.columns.factors[entry.at].1 {
            Cells::Number(_) if is_between => Some(Self::Between(result.step?)),
            Cells::Number(_) => Some(Self::Within(result.step?)),
            Cells::Choice(..) if is_between => None,
            Cells::Choice(_, levels) => {
                let code = |name: &Option<String>| {
                    levels.iter().position(|level| Some(level) == name.as_ref())
                };
                let [level, reference] =
                    [code(&result.level)?, code(&result.reference)?].map(whole::code);
                Some(Self::Level { level, reference })
            }
        }
    }

    /// The change as a weighted sum of a model's coefficients; none where the model cannot tell it.
    pub fn contrast(self, model: &Model, names: &[String]) -> Option<Vec<f64>> {
        let mut contrast = vec![0.0; names.len()];
        for (name, weight) in self.weights(model)? {
            contrast[names.iter().position(|known| *known == name)?] += weight;
        }
        Some(contrast)
    }

    fn weights(self, model: &Model) -> Option<Vec<(String, f64)>> {
        match self {
            Self::Within(step) => Some(vec![(own_name(0), step)]),
            Self::Between(step) => Some(vec![(LOT_MEAN.to_owned(), step)]),
            Self::Level { level, reference } => {
                let ends = [(level, 1.0), (reference, -1.0)];
                let told = ends.into_iter().filter(|(code, _)| Some(*code) != model.reference);
                told.map(|(code, weight)| Some((own_name(place(model, code)?), weight))).collect()
            }
        }
    }

    /// The design, one row a reed of the model, had every reed been moved to one side of the change: half a step less or more than it was, or to the one or
    /// the other level.
    pub fn had(self, model: &Model, design: &Design, side: Side) -> Option<Design> {
        let half = if side == Side::Less { -0.5 } else { 0.5 };
        let mut moved = design.clone();
        match self {
            Self::Within(step) => shift(&mut moved, &own_name(0), |_| half * step)?,
            Self::Between(step) => shift(&mut moved, LOT_MEAN, |_| half * step)?,
            Self::Level { level, reference } => {
                let to = if side == Side::Less { reference } else { level };
                for (number, code) in model.levels.iter().enumerate() {
                    let raw = model.raw.get(number)?;
                    // a column that the others explain is not in the design and needs no move
                    let target = f64::from(*code == to);
                    let _ = shift(&mut moved, &own_name(number), |row| target - raw[row]);
                }
            }
        }
        Some(moved)
    }

    /// An effect from lot to lot is compared with as many degrees of freedom as lots leave beside a line.
    pub fn guided(self, model: &Model, estimate: Estimate) -> Option<Estimate> {
        let Self::Between(_) = self else { return Some(estimate) };
        let lots = model.lots as f64;
        let degrees_of_freedom = estimate.degrees_of_freedom.min(lots - 2.0);
        (lots > 2.0).then_some(Estimate { degrees_of_freedom, ..estimate })
    }
}

fn place(model: &Model, code: u32) -> Option<usize> {
    model.levels.iter().position(|level| *level == code)
}

fn shift(design: &mut Design, column: &str, by: impl Fn(usize) -> f64) -> Option<()> {
    let at = design.column(column).ok()?;
    for (row, value) in design.matrix.column_mut(at).iter_mut().enumerate() {
        *value += by(row);
    }
    Some(())
}
