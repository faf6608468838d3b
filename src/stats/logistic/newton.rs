//! Newton's method with step halving, and what it says when there is no top to reach.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// A step this small, beside the size of the parameters, ends the climb where the next one would be its square.
pub(crate) const SQUARING_STEP: f64 = 1e-7;
/// From this step on a climb that has not ended is asked whether it has gone astray.
const FIRST_DOUBT: usize = 8;
/// A pivot of the information below this share of the largest is rounding.
const WEAKEST_PIVOT: f64 = 1e-14;

/// First derivatives and minus the second ones.
#[derive(Debug)]
pub(crate) struct Slope {
    pub(crate) gradient: DVector<f64>,
    pub(crate) information: DMatrix<f64>,
}

/// A log-likelihood over its parameters.
pub(crate) trait Surface {
    /// The log-likelihood and its derivatives, which share most of their work; `None` where the parameters are not allowed.
    fn look(&self, at: &DVector<f64>) -> Option<(f64, Slope)>;
    /// The log-likelihood alone.
    fn value(&self, at: &DVector<f64>) -> Option<f64> {
        self.look(at).map(|seen| seen.0)
    }
    /// A step this small, beside the size of the parameters, is the last.
    fn last_step(&self) -> f64 {
        SQUARING_STEP
    }
    /// Relative size of what separates the value from the one whose derivatives these are: rounding, unless the value is approximate.
    fn resolution(&self) -> f64 {
        1e-13
    }
}

/// The parameters of the maximum, and the value there.
#[derive(Debug, Clone)]
pub(crate) struct Top {
    pub(crate) at: DVector<f64>,
    pub(crate) value: f64,
}

/// How a climb ended.
#[derive(Debug)]
pub(crate) enum Climb {
    /// At a maximum, with the derivatives there.
    Top(Top, Slope),
    /// On its way to infinity, in this direction.
    Astray(DVector<f64>),
    /// Out of steps.
    Tired,
}

/// Climbs from `start` inside the span of the columns of `free` (everywhere where there are none given). `astray` judges a direction in which the climb goes
/// on without end.
pub(crate) fn climb(
    surface: &impl Surface,
    start: DVector<f64>,
    free: Option<&DMatrix<f64>>,
    most_steps: usize,
    astray: impl Fn(&DVector<f64>) -> bool,
) -> Climb {
    let mut at = start;
    let Some((mut value, mut slope)) = surface.look(&at) else { return Climb::Tired };
    if free.is_some_and(|free| free.ncols() == 0) {
        return Climb::Top(Top { at, value }, slope);
    }
    for number in 0..most_steps {
        let Some((step, sound)) = newton_step(&slope, free) else { return Climb::Tired };
        let small = step.amax() <= surface.last_step() * (1.0 + at.amax());
        let look = |at: &DVector<f64>| surface.look(at);
        let from = (&at, value);
        let Some((next, seen)) = advance(look, surface.resolution(), from, &step) else {
            return if small { Climb::Top(Top { at, value }, slope) } else { Climb::Tired };
        };
        let direction = &next - &at;
        at = next;
        (value, slope) = seen;
        if small && sound {
            return Climb::Top(Top { at, value }, slope);
        }
        if number >= FIRST_DOUBT {
            for way in [&direction, &at] {
                if astray(way) {
                    return Climb::Astray(way.clone());
                }
            }
        }
    }
    Climb::Tired
}

/// One step of a climb, for a place that need not be the top.
pub(crate) fn one_step(surface: &impl Surface, start: &DVector<f64>) -> Option<Top> {
    let (value, slope) = surface.look(start)?;
    let (step, _) = newton_step(&slope, None)?;
    let look = |at: &DVector<f64>| surface.value(at).map(|value| (value, ()));
    let (at, (value, ())) = advance(look, surface.resolution(), (start, value), &step)?;
    Some(Top { at, value })
}

/// The Newton step inside the free directions, and whether the information was safely positive. Where it is not, it is raised until it is (Levenberg 1944).
fn newton_step(slope: &Slope, free: Option<&DMatrix<f64>>) -> Option<(DVector<f64>, bool)> {
    let (gradient, information) = match free {
        None => (slope.gradient.clone(), slope.information.clone()),
        Some(free) => (free.tr_mul(&slope.gradient), free.tr_mul(&(&slope.information * free))),
    };
    if !gradient.iter().chain(information.iter()).all(|value| value.is_finite()) {
        return None;
    }
    let size = information.diagonal().amax();
    let mut raised = 0.0;
    for _ in 0..16 {
        let mut matrix = information.clone();
        for place in 0..matrix.nrows() {
            matrix[(place, place)] += raised;
        }
        if let Some(factor) = Cholesky::new(matrix).filter(is_safe) {
            let inner = factor.solve(&gradient);
            let step = free.map_or_else(|| inner.clone(), |free| free * &inner);
            return Some((step, raised == 0.0));
        }
        raised = if raised == 0.0 { 1e-6 * size } else { 10.0 * raised };
    }
    None
}

/// Whether no pivot is lost in rounding.
fn is_safe(factor: &Cholesky<f64, Dyn>) -> bool {
    let pivots = factor.l_dirty().diagonal();
    pivots.min().powi(2) > WEAKEST_PIVOT * pivots.max().powi(2)
}

/// The step, halved until the value does not fall, and what is seen there; `None` where no length will do.
fn advance<More>(
    look: impl Fn(&DVector<f64>) -> Option<(f64, More)>,
    resolution: f64,
    (at, value): (&DVector<f64>, f64),
    step: &DVector<f64>,
) -> Option<(DVector<f64>, (f64, More))> {
    let slack = resolution * (1.0 + value.abs());
    let mut share = 1.0;
    for _ in 0..40 {
        let next = at + step * share;
        if let Some(seen) = look(&next).filter(|seen| seen.0 >= value - slack) {
            return Some((next, seen));
        }
        share *= 0.5;
    }
    None
}
