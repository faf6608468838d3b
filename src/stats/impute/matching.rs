//! Predictive mean matching of one column: whose value is lent to a row that has none.

use nalgebra::linalg::Cholesky;
use nalgebra::{DMatrix, DVector, Dyn};
use rand::{Rng, RngExt};
use rand_distr::{ChiSquared, Distribution, StandardNormal};
use std::ops::Range;

/// What is added to the diagonal of the cross-products, as a share of it, so that columns that repeat each other do no harm (van Buuren 2018, algorithm 3.1).
const RIDGE: f64 = 1e-5;
/// A predictor with less variance than this among the rows with a value, where 1 is usual, predicts nothing.
const CONSTANT: f64 = 1e-10;
/// What keeps a residual covariance positive where a fit is perfect, in units of the column's variance.
const PERFECT: f64 = 1e-12;

/// All columns in working units, row by row: numbers with mean 0 and standard deviation 1, indicators likewise.
#[derive(Debug, Clone)]
pub(super) struct Filled {
    pub width: usize,
    pub values: Vec<f64>,
}

impl Filled {
    pub fn row(&self, row: usize) -> &[f64] {
        &self.values[row * self.width..(row + 1) * self.width]
    }
}

/// The regression of one column (a block of `d` numbers) on all others.
struct Regression {
    /// Places of the predictors; the constant comes first and has no place.
    predictors: Vec<usize>,
    factor: Cholesky<f64, Dyn>,
    /// `q x d`
    coefficients: DMatrix<f64>,
    /// Lower root of the residual cross-products, `d x d`.
    root: DMatrix<f64>,
    degrees: f64,
}

/// For each row without a value a row with one: of the `donors` rows whose predicted value is nearest, one at random (Rubin 1986, Journal of Business & Economic
/// Statistics 4, 87-94; Little 1988, the same, 6, 287-296; van Buuren 2018, algorithm 3.3). Rows with a value are predicted with the estimated coefficients, those
/// without with coefficients drawn from their posterior distribution. A choice of `K` levels is predicted by its `K - 1` indicators together, and nearness is
/// Little's: the residual covariance of the predictions is the unit.
///
/// Drawn coefficients are `B + L^{-T} Z F'` with `L L' = X'X` and `F F'` a draw of the residual covariance, inverse Wishart. `None` where the cross-products are not
/// positive, which the ridge prevents for finite values.
pub(super) fn match_rows(
    filled: &Filled,
    block: Range<usize>,
    observed: &[usize],
    missing: &[usize],
    donors: usize,
    generator: &mut impl Rng,
) -> Option<Vec<usize>> {
    if block.is_empty() {
        // one level: every row with a value has the same
        let draw = |_| observed[generator.random_range(0..observed.len())];
        return Some(missing.iter().map(draw).collect());
    }
    let regression = Regression::new(filled, block, observed)?;
    let drawn = regression.draw(generator)?;
    let metric = &regression.root;
    let sites = Sites::new(
        observed,
        |row, into| {
            regression.predict(filled.row(row), &regression.coefficients, metric, into);
        },
        metric.nrows(),
    );
    let mut point = vec![0.0; metric.nrows()];
    let mut search = Search::default();
    let lent = missing.iter().map(|&row| {
        regression.predict(filled.row(row), &drawn, metric, &mut point);
        search.nearest(&sites, &point, donors.min(observed.len()));
        search.draw(&sites, donors.min(observed.len()), generator)
    });
    Some(lent.collect())
}

impl Regression {
    fn new(filled: &Filled, block: Range<usize>, observed: &[usize]) -> Option<Self> {
        let others = (0..filled.width).filter(|place| !block.contains(place));
        let predictors: Vec<usize> =
            others.filter(|&place| varies(filled, place, observed)).collect();
        let size = predictors.len() + 1;
        let mut products = DMatrix::<f64>::zeros(size, size);
        let mut targets = DMatrix::<f64>::zeros(size, block.len());
        let mut x = vec![1.0; size];
        for &row in observed {
            let values = filled.row(row);
            gather(&mut x, values, &predictors);
            for i in 0..size {
                for j in 0..=i {
                    products[(i, j)] += x[i] * x[j];
                }
                for (column, &y) in values[block.clone()].iter().enumerate() {
                    targets[(i, column)] += x[i] * y;
                }
            }
        }
        for place in 1..size {
            products[(place, place)] *= 1.0 + RIDGE;
        }
        let factor = Cholesky::new(products)?;
        let coefficients = factor.solve(&targets);
        let root = residual_root(filled, block, observed, &predictors, &coefficients)?;
        let degrees = observed.len() as f64 - size as f64;
        Some(Self { predictors, factor, coefficients, root, degrees })
    }

    /// Coefficients from their posterior distribution under a flat prior.
    fn draw(&self, generator: &mut impl Rng) -> Option<DMatrix<f64>> {
        let (size, width) = self.coefficients.shape();
        // Bartlett's decomposition of a Wishart matrix (Bartlett 1933)
        let mut bartlett = DMatrix::<f64>::zeros(width, width);
        for i in 0..width {
            let degrees = self.degrees - i as f64;
            let chi = ChiSquared::new(degrees).ok()?;
            bartlett[(i, i)] = f64::sqrt(chi.sample(generator));
            for j in 0..i {
                bartlett[(i, j)] = StandardNormal.sample(generator);
            }
        }
        // F = root T^{-T}, so F' solves T F' = root'
        let spread = bartlett.solve_lower_triangular(&self.root.transpose())?;
        let noise: DMatrix<f64> =
            DMatrix::from_fn(size, width, |_, _| StandardNormal.sample(generator));
        let shift: DMatrix<f64> = self.factor.l().tr_solve_lower_triangular(&(noise * spread))?;
        Some(&self.coefficients + shift)
    }

    /// The prediction in units of the residual covariance: `root^{-1} B'x`, by forward substitution.
    fn predict(
        &self,
        row: &[f64],
        coefficients: &DMatrix<f64>,
        root: &DMatrix<f64>,
        into: &mut [f64],
    ) {
        for place in 0..into.len() {
            let column = coefficients.column(place);
            let slopes = column.iter().skip(1).zip(&self.predictors);
            let mut value = column[0] + slopes.map(|(b, &place)| b * row[place]).sum::<f64>();
            for before in 0..place {
                value -= root[(place, before)] * into[before];
            }
            into[place] = value / root[(place, place)];
        }
    }
}

fn gather(x: &mut [f64], values: &[f64], predictors: &[usize]) {
    x[1..].iter_mut().zip(predictors).for_each(|(x, &place)| *x = values[place]);
}

/// Whether a predictor varies among the rows with a value.
fn varies(filled: &Filled, place: usize, observed: &[usize]) -> bool {
    let values = || observed.iter().map(|&row| filled.row(row)[place]);
    let count = observed.len() as f64;
    let centre = values().sum::<f64>() / count;
    values().map(|value| (value - centre).powi(2)).sum::<f64>() > CONSTANT * count
}

/// The lower Cholesky root of the residual cross-products.
fn residual_root(
    filled: &Filled,
    block: Range<usize>,
    observed: &[usize],
    predictors: &[usize],
    coefficients: &DMatrix<f64>,
) -> Option<DMatrix<f64>> {
    let width = block.len();
    let mut squares = DMatrix::<f64>::identity(width, width) * (PERFECT * observed.len() as f64);
    let mut x = vec![1.0; predictors.len() + 1];
    let mut residual = DVector::<f64>::zeros(width);
    for &row in observed {
        let values = filled.row(row);
        gather(&mut x, values, predictors);
        for (column, &y) in values[block.clone()].iter().enumerate() {
            let fit: f64 = coefficients.column(column).iter().zip(&x).map(|(b, x)| b * x).sum();
            residual[column] = y - fit;
        }
        squares.ger(1.0, &residual, &residual, 1.0);
    }
    Some(squares.cholesky()?.l())
}

/// Rows with a value by their predicted point. Rows with the same point share a site, so that ties are drawn from evenly; sites are sorted by their first coordinate.
struct Sites {
    width: usize,
    /// `width` coordinates a site.
    points: Vec<f64>,
    /// Where in `rows` each site begins, and the end.
    starts: Vec<usize>,
    rows: Vec<usize>,
}

impl Sites {
    fn new(observed: &[usize], mut predict: impl FnMut(usize, &mut [f64]), width: usize) -> Self {
        let mut raw = vec![0.0; observed.len() * width];
        for (&row, point) in observed.iter().zip(raw.chunks_exact_mut(width)) {
            predict(row, point);
        }
        let point = |place: usize| &raw[place * width..(place + 1) * width];
        let compare = |&a: &usize, &b: &usize| {
            let pairs = point(a).iter().zip(point(b)).map(|(a, b)| a.total_cmp(b));
            pairs.fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then)
        };
        let mut order: Vec<usize> = (0..observed.len()).collect();
        order.sort_by(compare);
        let mut sites = Self { width, points: Vec::new(), starts: Vec::new(), rows: Vec::new() };
        for (at, &place) in order.iter().enumerate() {
            if at == 0 || compare(&order[at - 1], &place).is_ne() {
                sites.starts.push(at);
                sites.points.extend_from_slice(point(place));
            }
            sites.rows.push(observed[place]);
        }
        sites.starts.push(order.len());
        sites
    }

    fn count(&self) -> usize {
        self.starts.len() - 1
    }

    fn first(&self, site: usize) -> f64 {
        self.points[site * self.width]
    }

    fn rows(&self, site: usize) -> &[usize] {
        &self.rows[self.starts[site]..self.starts[site + 1]]
    }

    /// Squared distance.
    fn distance(&self, site: usize, point: &[f64]) -> f64 {
        let own = &self.points[site * self.width..(site + 1) * self.width];
        own.iter().zip(point).map(|(a, b)| (a - b).powi(2)).sum()
    }

    /// The first site whose first coordinate is not below this.
    fn place(&self, coordinate: f64) -> usize {
        let (mut low, mut high) = (0, self.count());
        while low < high {
            let middle = (low + high) / 2;
            if self.first(middle) < coordinate { low = middle + 1 } else { high = middle }
        }
        low
    }
}

/// The sites nearest to a point, nearest first, as few as hold the wanted number of rows.
#[derive(Default)]
struct Search {
    near: Vec<(f64, usize)>,
}

impl Search {
    /// Walks outwards along the first coordinate until it alone is farther than the last site that is needed (Friedman, Baskett & Shustek 1975).
    fn nearest(&mut self, sites: &Sites, point: &[f64], wanted: usize) {
        self.near.clear();
        let mut right = sites.place(point[0]);
        let mut left = right;
        let mut farthest = f64::INFINITY;
        loop {
            let below = left.checked_sub(1).map(|site| (point[0] - sites.first(site), site));
            let above = (right < sites.count()).then(|| (sites.first(right) - point[0], right));
            let next = match (below, above) {
                (Some(below), Some(above)) => {
                    if below.0 <= above.0 {
                        below
                    } else {
                        above
                    }
                }
                (Some(only), None) | (None, Some(only)) => only,
                (None, None) => return,
            };
            if next.0 * next.0 >= farthest {
                return;
            }
            if next.1 < left {
                left -= 1
            } else {
                right += 1
            }
            farthest = self.insert(sites, point, next.1, wanted);
        }
    }

    /// Takes a site in and drops those no longer needed; gives the distance of the last one once there are rows enough.
    fn insert(&mut self, sites: &Sites, point: &[f64], site: usize, wanted: usize) -> f64 {
        let distance = sites.distance(site, point);
        let place = self.near.partition_point(|other| other.0 <= distance);
        self.near.insert(place, (distance, site));
        let mut rows = 0;
        for (place, &(distance, site)) in self.near.iter().enumerate() {
            rows += sites.rows(site).len();
            if rows >= wanted {
                self.near.truncate(place + 1);
                return distance;
            }
        }
        f64::INFINITY
    }

    /// One of the wanted number of rows; a site of which only some are wanted lends any of its rows.
    fn draw(&self, sites: &Sites, wanted: usize, generator: &mut impl Rng) -> usize {
        let mut number = generator.random_range(0..wanted);
        for &(_, site) in &self.near {
            let rows = sites.rows(site);
            if number < rows.len() {
                return rows[generator.random_range(0..rows.len())];
            }
            number -= rows.len();
        }
        // the sites hold the wanted number of rows, so this is not reached
        sites.rows[0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;
    use proptest::prelude::*;

    fn sites(points: &[Vec<f64>]) -> Sites {
        let rows: Vec<usize> = (0..points.len()).collect();
        Sites::new(&rows, |row, into| into.copy_from_slice(&points[row]), points[0].len())
    }

    proptest! {
        #[test]
        fn the_walk_finds_the_nearest_rows(
            points in prop::collection::vec(prop::collection::vec(-3_i8..4, 2), 1..40),
            at in prop::collection::vec(-3.0_f64..3.0, 2), wanted in 1_usize..7,
        ) {
            let points: Vec<Vec<f64>> = points.into_iter().map(|p| p.into_iter().map(f64::from).collect()).collect();
            let sites = sites(&points);
            let wanted = wanted.min(points.len());
            let mut search = Search::default();
            search.nearest(&sites, &at, wanted);
            let distance = |p: &Vec<f64>| p.iter().zip(&at).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
            let mut all: Vec<f64> = points.iter().map(distance).collect();
            all.sort_by(f64::total_cmp);
            let found = search.near.iter().flat_map(|&(d, site)| vec![d; sites.rows(site).len()]);
            let found: Vec<f64> = found.take(wanted).collect();
            prop_assert_eq!(found, all[..wanted].to_vec());
        }
    }

    #[test]
    fn tied_donors_are_drawn_evenly() {
        // ten rows with the same prediction: five donors, but each of the ten lends as often
        let sites = sites(&vec![vec![0.5]; 10]);
        let mut search = Search::default();
        search.nearest(&sites, &[0.0], 5);
        let mut generator = stream(1, 0);
        let mut lent = [0; 10];
        for _ in 0..10_000 {
            lent[search.draw(&sites, 5, &mut generator)] += 1;
        }
        // mean 1000, standard deviation 30: five of them
        assert!(lent.iter().all(|count| (850..1150).contains(count)), "{lent:?}");
    }

    #[test]
    fn drawn_coefficients_scatter_as_their_posterior_does() {
        // y on a constant and x: variance of the slope is s^2 / sum (x - mean)^2 times df / (df - 2)
        let x = [-2.0, -1.0, 0.0, 1.0, 2.0, -1.5, 1.5, 0.5, -0.5, 0.0, 1.0, -1.0];
        let noise = [0.3, -0.2, 0.5, -0.4, 0.1, -0.3, 0.2, 0.4, -0.1, -0.5, 0.2, -0.2];
        let mut values = Vec::new();
        x.iter().zip(noise).for_each(|(x, e)| values.extend([*x, 0.8 * x + e]));
        let filled = Filled { width: 2, values };
        let rows: Vec<usize> = (0..12).collect();
        let regression = Regression::new(&filled, 1..2, &rows).unwrap();
        let mut generator = stream(2, 0);
        let draws = (0..4000).map(|_| regression.draw(&mut generator).unwrap()[(1, 0)]);
        let draws: Vec<f64> = draws.collect();
        let squares: f64 = x.iter().map(|x| x * x).sum();
        let expected = regression.root[(0, 0)].powi(2) / 10.0 / squares * 10.0 / 8.0;
        let found = crate::stats::numeric::variance(&draws).unwrap();
        // heavy tails: standard error of the ratio about 0.03
        assert!((found / expected - 1.0).abs() < 0.15, "{found} {expected}");
        let centre = crate::stats::numeric::mean(&draws).unwrap();
        assert!((centre - regression.coefficients[(1, 0)]).abs() < 0.01);
    }
}
