//! Many questions at once: adjusted p values.

/// The adjusted p values that keep the expected share of false discoveries (Benjamini & Hochberg 1995, JRSS B 57,
/// 289-300): the smallest of p(j) m / j over j at or above each rank, at most one.
///
/// NaN stays NaN and does not count as a question.
pub fn benjamini_hochberg(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).filter(|&at| !p[at].is_nan()).collect();
    order.sort_by(|&a, &b| p[b].total_cmp(&p[a]));
    let m = order.len();
    let mut adjusted = vec![f64::NAN; p.len()];
    let mut smallest = 1.0f64;
    for (from_top, &at) in order.iter().enumerate() {
        smallest = smallest.min(p[at] * m as f64 / (m - from_top) as f64);
        adjusted[at] = smallest;
    }
    adjusted
}
