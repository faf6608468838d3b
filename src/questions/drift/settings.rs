//! How the control charts are drawn.

/// What may be set of the charts.
///
/// | option | default | purpose |
/// | --- | --- | --- |
/// | `weight`, `width` | 0.2, 2.7 | of the weighted average: with limits known a false alarm in about 238 points, a shift of one standard deviation seen in about 9 |
/// | `slack`, `decision` | 0.5, 5 | of the cumulative sums, in standard deviations: a false alarm in about 465 points |
/// | `base` | 30 points, or half of fewer than 60, or all of fewer than 24 | where the limits come from |
/// | `target`, `sigma` | from the base period | what the readings should be and how much they may vary, where that is known |
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChartSettings {
    pub weight: f64,
    pub width: f64,
    pub slack: f64,
    pub decision: f64,
    pub base: Option<usize>,
    pub target: Option<f64>,
    pub sigma: Option<f64>,
}

impl Default for ChartSettings {
    fn default() -> Self {
        Self {
            weight: 0.2,
            width: 2.7,
            slack: 0.5,
            decision: 5.0,
            base: None,
            target: None,
            sigma: None,
        }
    }
}
