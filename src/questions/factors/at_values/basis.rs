//! The columns that a value of a factor turns into.

use super::super::curve::Shape;
use super::super::model::Model;
use super::Value;

/// With fewer reeds, or fewer different values, the factor is a straight line.
const FEWEST_FOR_A_BEND: usize = 40;
const FEWEST_VALUES: usize = 3;

/// The columns that a value turns into.
pub(super) enum Basis {
    Curve(Shape),
    /// One 0/1 column a kind but the reference.
    Kinds(Vec<u32>),
}

impl Basis {
    pub fn of(model: &Model) -> Self {
        let Some(values) = model.raw.first().filter(|_| model.reference.is_none()) else {
            return Self::Kinds(model.levels.clone());
        };
        let may_bend = values.len() >= FEWEST_FOR_A_BEND && different(values) >= FEWEST_VALUES;
        let parabola = may_bend.then(|| Shape::parabola(values)).flatten();
        match parabola.or_else(|| Shape::line(values)) {
            Some(shape) => Self::Curve(shape),
            None => Self::Kinds(Vec::new()),
        }
    }

    /// The straight part of a curve alone.
    pub fn straight(&self) -> Self {
        match self {
            Self::Curve(Shape::Parabola { centre, scale }) => {
                Self::Curve(Shape::Line { centre: *centre, scale: *scale })
            }
            Self::Curve(shape) => Self::Curve(shape.clone()),
            Self::Kinds(levels) => Self::Kinds(levels.clone()),
        }
    }

    pub fn row(&self, value: Value) -> Vec<f64> {
        match (self, value) {
            (Self::Curve(shape), Value::Number(value)) => shape.basis(value),
            (Self::Kinds(levels), Value::Kind(code)) => {
                levels.iter().map(|level| f64::from(u8::from(*level == code))).collect()
            }
            // a number has a curve and a choice has kinds
            _ => Vec::new(),
        }
    }

    /// One entry a column: its value for each reed of a model.
    pub fn columns(&self, model: &Model) -> Vec<Vec<f64>> {
        match self {
            Self::Curve(shape) => model.raw.first().map_or(Vec::new(), |raw| shape.columns(raw)),
            Self::Kinds(levels) => {
                let of = |level: &u32| {
                    let place = model.levels.iter().position(|known| known == level);
                    place.map_or_else(
                        || self.of_reference(model, *level),
                        |place| model.raw[place].clone(),
                    )
                };
                levels.iter().map(of).collect()
            }
        }
    }

    /// A kind that is the reference of another model: what no column of that has.
    fn of_reference(&self, model: &Model, level: u32) -> Vec<f64> {
        let rows = model.scores.len();
        let is_other = |row: &usize| model.raw.iter().any(|column| column[*row] > 0.5);
        let is_it = model.reference == Some(level);
        (0..rows).map(|row| f64::from(u8::from(is_it && !is_other(&row)))).collect()
    }

    /// Variances beforehand. A curve is as likely to rise as to fall and its bend does half of what its slope does; kinds lie about their mean, so that two
    /// contrasts with the same reference go together.
    pub fn before(&self) -> Vec<Vec<f64>> {
        let square = |parts: usize, entry: fn(usize, usize) -> f64| {
            (0..parts).map(|a| (0..parts).map(|b| entry(a, b)).collect()).collect()
        };
        let on_diagonal = |a: usize, b: usize| match (a == b, a) {
            (true, 0) => 1.0,
            (true, _) => 0.25,
            (false, _) => 0.0,
        };
        match self {
            Self::Curve(Shape::Line { .. }) => square(1, on_diagonal),
            Self::Curve(Shape::Parabola { .. }) => square(2, on_diagonal),
            Self::Curve(Shape::Spline(_)) => square(3, on_diagonal),
            Self::Kinds(levels) => square(levels.len(), |a, b| if a == b { 2.0 } else { 1.0 }),
        }
    }
}

fn different(values: &[f64]) -> usize {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup();
    sorted.len()
}
