//! A correlation matrix as a triangle, for drawing one variable after the other.

use ndarray::Array2;

/// A variable with less variance left is a combination of those before it.
const NO_VARIANCE: f64 = 1e-10;
/// A smaller coefficient is rounding.
const NO_SHARE: f64 = 1e-7;

/// `R = L L'` (Cholesky with pivoting, the given first variable first), with every variable listed at the last of the independent directions it depends on.
/// So a variable that is a combination of others narrows the range of a direction, rather than being right or wrong afterwards (Genz & Kwong 2000, Journal of
/// Statistical Computation and Simulation 68, 1-21).
#[derive(Debug, Clone)]
pub(super) struct Factor {
    pub(super) steps: Vec<Vec<Row>>,
}

/// A variable as `known' y[..k] + pivot y[k]`.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) variable: usize,
    pub(super) known: Vec<f64>,
    pub(super) pivot: f64,
}

impl Factor {
    /// Factorises the part of a correlation matrix that belongs to some variables; the first of them comes first.
    pub(super) fn new(correlation: &Array2<f64>, variables: &[usize]) -> Self {
        let triangle = pivoted_cholesky(correlation, variables);
        let rank = triangle.iter().map(Vec::len).max().unwrap_or(0);
        let mut steps = vec![Vec::new(); rank];
        for (&variable, row) in variables.iter().zip(triangle) {
            if let Some(last) = row.iter().rposition(|value| value.abs() > NO_SHARE) {
                let known = row[..last].to_vec();
                steps[last].push(Row { variable, known, pivot: row[last] });
            }
        }
        Self { steps }
    }

    /// How many independent directions there are.
    pub(super) fn rank(&self) -> usize {
        self.steps.len()
    }

    /// The largest difference between the product of the triangle and the matrix: large when that is no matrix of correlations.
    pub(super) fn misfit(&self, correlation: &Array2<f64>, variables: &[usize]) -> f64 {
        let rows: Vec<&Row> = self.steps.iter().flatten().collect();
        if rows.len() < variables.len() {
            return f64::INFINITY;
        }
        let mut worst = 0.0_f64;
        for (place, one) in rows.iter().enumerate() {
            for other in &rows[..=place] {
                let expected = correlation[(one.variable, other.variable)];
                worst = worst.max((product(one, other) - expected).abs());
            }
        }
        worst
    }
}

/// The scalar product of two rows, the second not longer than the first.
fn product(one: &Row, other: &Row) -> f64 {
    let shared: f64 = one.known.iter().zip(&other.known).map(|(a, b)| a * b).sum();
    // the pivot of the shorter row meets an entry of the longer, or its pivot
    let last = one.known.get(other.known.len()).unwrap_or(&one.pivot);
    shared + last * other.pivot
}

/// The rows of `L` in the order of the variables, each as long as there were directions when it was finished.
fn pivoted_cholesky(correlation: &Array2<f64>, variables: &[usize]) -> Vec<Vec<f64>> {
    let count = variables.len();
    let mut rows: Vec<Vec<f64>> = vec![Vec::new(); count];
    let mut left = vec![1.0_f64; count];
    let mut open: Vec<usize> = (0..count).collect();
    let mut pivot = 0;
    while !open.is_empty() {
        let root = left[pivot].sqrt();
        open.retain(|&place| place != pivot);
        let pivot_row = rows[pivot].clone();
        rows[pivot].push(root);
        for &place in &open {
            let explained: f64 = rows[place].iter().zip(&pivot_row).map(|(a, b)| a * b).sum();
            let share = (correlation[(variables[place], variables[pivot])] - explained) / root;
            rows[place].push(share);
            left[place] -= share * share;
        }
        let largest = open.iter().copied().max_by(|&a, &b| left[a].total_cmp(&left[b]));
        match largest.filter(|&place| left[place] > NO_VARIANCE) {
            Some(place) => pivot = place,
            None => break,
        }
    }
    rows
}
