//! Predictive mean matching of one column: whose value is lent to a row that has none.

use super::regression::{Filled, Regression};
use rand::{Rng, RngExt};
use std::cmp::Ordering;
use std::ops::Range;

/// For each row without a value a row with one: of the `donors` rows whose predicted value is nearest, one at random (Rubin 1986, Journal of Business &
/// Economic Statistics 4, 87-94; Little 1988, the same, 6, 287-296; van Buuren 2018, algorithm 3.3). Rows with a value are predicted with the estimated
/// coefficients, those without with coefficients drawn from their posterior distribution. A choice of `K` levels is predicted by its `K - 1` indicators
/// together, and nearness is Little's: the residual covariance of the predictions is the unit.
///
/// Drawn coefficients are `B + L^{-T} Z F'` with `L L' = X'X` and `F F'` a draw of the residual covariance, inverse Wishart. `None` where the cross-products
/// are not positive, which the ridge prevents for finite values.
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
    let (regression, predicted) = Regression::new(filled, block, observed)?;
    let sites = Sites::new(observed, predicted, regression.root.nrows());
    let drawn = regression.draw(generator)?;
    let wanted = donors.min(observed.len());
    let mut point = vec![0.0; sites.width];
    let mut search = Search::default();
    let lent = missing.iter().map(|&row| {
        regression.predict(filled.row(row), &drawn, &mut point);
        regression.scale(&mut point);
        search.nearest(&sites, &point, wanted);
        search.draw(&sites, wanted, generator)
    });
    Some(lent.collect())
}

/// Rows with a value by their predicted point. Rows with the same point share a site, so that ties are drawn from evenly; sites are sorted by their first
/// coordinate.
struct Sites {
    width: usize,
    /// `width` coordinates a site.
    points: Vec<f64>,
    /// Where in `rows` each site begins, and the end.
    starts: Vec<usize>,
    rows: Vec<usize>,
}

impl Sites {
    /// From one point a row, `width` coordinates each.
    fn new(observed: &[usize], points: Vec<f64>, width: usize) -> Self {
        let mut order: Vec<(&[f64], usize)> =
            points.chunks_exact(width).zip(observed.iter().copied()).collect();
        let compare = |a: &[f64], b: &[f64]| {
            let pairs = a.iter().zip(b).map(|(a, b)| a.total_cmp(b));
            pairs.fold(Ordering::Equal, Ordering::then)
        };
        order.sort_unstable_by(|a, b| compare(a.0, b.0).then(a.1.cmp(&b.1)));
        let mut sites = Self { width, points: Vec::new(), starts: Vec::new(), rows: Vec::new() };
        let mut last: Option<&[f64]> = None;
        for (at, (point, row)) in order.into_iter().enumerate() {
            if last.is_none_or(|last| compare(last, point).is_ne()) {
                sites.starts.push(at);
                sites.points.extend_from_slice(point);
            }
            sites.rows.push(row);
            last = Some(point);
        }
        sites.starts.push(sites.rows.len());
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
            let distance = sites.distance(next.1, point);
            if distance < farthest {
                farthest = self.insert(sites, distance, next.1, wanted);
            }
        }
    }

    /// Takes a site in and drops those no longer needed; gives the distance of the last one once there are rows enough.
    fn insert(&mut self, sites: &Sites, distance: f64, site: usize, wanted: usize) -> f64 {
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
        Sites::new(&rows, points.concat(), points[0].len())
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
}
