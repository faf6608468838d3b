//! `drift`: how the charts are drawn, and the question.

use super::arguments::Drift;
use super::outcome::Outcome;
use super::{question, told};
use crate::problem::Error;
use crate::questions::Options;
use crate::questions::drift::ChartSettings;

/// Asks with the settings of the call.
///
/// # Errors
/// Where a setting cannot be used, or as any question.
pub fn drift(call: &Drift) -> Result<Outcome, Error> {
    let positive = |what: &str, value: f64| match value > 0.0 && value.is_finite() {
        true => Ok(value),
        false => Err(Error::Call(format!("--{what} takes a number above 0."))),
    };
    let weight = positive("weight", call.weight)?;
    if weight > 1.0 {
        return Err(Error::Call("--weight takes a number of at most 1.".to_owned()));
    }
    if call.base.is_some_and(|base| base < 2) {
        return Err(Error::Call("--base takes 2 points or more.".to_owned()));
    }
    if call.target.is_some_and(|target| !target.is_finite()) {
        return Err(Error::Call("--target takes a number.".to_owned()));
    }
    let charts = ChartSettings {
        weight,
        width: positive("width", call.width)?,
        slack: positive("slack", call.slack)?,
        decision: positive("decision", call.decision)?,
        base: call.base,
        target: call.target,
        sigma: call.sigma.map(|sigma| positive("sigma", sigma)).transpose()?,
    };
    let factor = call.measure.clone();
    question("drift", &call.asked, Options { factor, charts, ..told(&call.asked) })
}
