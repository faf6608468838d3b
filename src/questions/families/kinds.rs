//! Fit: one family or several, how many, and whether they come back.

use ndarray::{Array2, ArrayView1, Axis};

use crate::finding::FamiliesTried;
use crate::stats::StatsError;
use crate::stats::cluster::{
    ClusterOptions, Clusters, MixtureShape, adjusted_rand_index, bootstrap_jaccard,
    gaussian_mixture, k_means_each, one_family_test, sampled_rows, silhouettes_of_all,
    unimodal_gap,
};
use crate::stats::numeric::mean;

/// The number of families is chosen on so many pieces at most.
const MOST_LOOKED_AT: usize = 300;
/// References of the test, none of which may be as clustered as the pieces.
const REFERENCES: usize = 99;
const ALLOWED: f64 = 0.01;
/// Below, a family is not believed (Hennig 2007).
const STABLE_FROM: f64 = 0.6;
const FEWEST_IN_FAMILY: usize = 5;
const STARTS: usize = 12;
/// Starts of a parting in a bootstrap sample.
const SAMPLE_STARTS: usize = 4;
/// Starts of a mixture: the best parting by k-means and another.
const MIXTURE_STARTS: usize = 2;
/// With more measurements a covariance for each family takes more than a log has.
const FULL_UP_TO: usize = 3;
const SAMPLE: u64 = 0x6661_6d69_6c69_6573;

/// What was found.
pub(super) struct Kinds {
    pub p_one: f64,
    pub looked_at: usize,
    /// The measurements in which the pieces are most clustered.
    pub columns: Vec<usize>,
    pub tried: Vec<FamiliesTried>,
    /// A number of families that was found but does not come back.
    pub unstable: Option<usize>,
    /// The family of every piece, from 0, the largest first.
    pub labels: Vec<usize>,
    pub stability: Vec<f64>,
    pub agreement: Option<f64>,
}

impl Kinds {
    /// Of points with columns of standard deviation 1, in an order that is not the log's.
    ///
    /// # Errors
    /// Where the points do not differ.
    pub fn find(points: &Array2<f64>, seed: u64) -> Result<Self, StatsError> {
        let rows = sampled_rows(points.nrows(), MOST_LOOKED_AT, seed ^ SAMPLE);
        let sample = points.select(Axis(0), &rows);
        let test = one_family_test(&sample, REFERENCES, seed)?;
        let mut found = Self {
            p_one: test.p_value,
            looked_at: rows.len(),
            columns: test.columns,
            tried: Vec::new(),
            unstable: None,
            labels: vec![0; points.nrows()],
            stability: Vec::new(),
            agreement: None,
        };
        if found.p_one > ALLOWED {
            return Ok(found);
        }
        let sample = sample.select(Axis(1), &found.columns);
        let look = Look::at(&sample, seed)?;
        let wanted = look.number();
        match look.believed(wanted) {
            Some((clusters, stability)) => {
                found.settle(&points.select(Axis(1), &found.columns), clusters, stability);
                found.agreement = look.agreement(clusters);
            }
            None => found.unstable = Some(wanted),
        }
        found.tried = look.tried;
        Ok(found)
    }

    pub fn number(&self) -> usize {
        self.stability.len().max(1)
    }

    /// Every piece to the family with the nearest centre; families in the order of their size.
    fn settle(&mut self, points: &Array2<f64>, clusters: &Clusters, stability: Vec<f64>) {
        let nearest: Vec<usize> =
            points.rows().into_iter().map(|point| nearest(point, &clusters.centres)).collect();
        let count = stability.len();
        let mut sizes = vec![0_usize; count];
        nearest.iter().for_each(|&family| sizes[family] += 1);
        let mut order: Vec<usize> = (0..count).collect();
        order.sort_by_key(|&family| (std::cmp::Reverse(sizes[family]), family));
        let mut place = vec![0; count];
        order.iter().enumerate().for_each(|(at, &family)| place[family] = at);
        self.labels = nearest.into_iter().map(|family| place[family]).collect();
        self.stability = order.iter().map(|&family| stability[family]).collect();
    }
}

fn nearest(point: ArrayView1<'_, f64>, centres: &Array2<f64>) -> usize {
    let distance = |centre: ArrayView1<'_, f64>| {
        let pairs = point.iter().zip(centre);
        pairs.map(|(a, b)| (a - b) * (a - b)).sum::<f64>()
    };
    let each = centres.rows().into_iter().map(distance).enumerate();
    each.min_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(family, _)| family)
}

/// Every number of families, looked at in three ways.
struct Look<'a> {
    points: &'a Array2<f64>,
    options: ClusterOptions,
    by_gap: usize,
    /// Into 2, 3, ... families.
    partings: Vec<Clusters>,
    tried: Vec<FamiliesTried>,
}

impl<'a> Look<'a> {
    fn at(points: &'a Array2<f64>, seed: u64) -> Result<Self, StatsError> {
        let options =
            ClusterOptions { restarts: STARTS, references: 30, replicates: 50, seed, most: 8 };
        let gap = unimodal_gap(points, &options)?;
        let most = gap.gaps.len();
        let counts: Vec<usize> = (2..=most).collect();
        let partings = k_means_each(points, &counts, STARTS, seed)?;
        let memberships: Vec<&[usize]> =
            partings.iter().map(|parting| parting.memberships.as_slice()).collect();
        let silhouettes = silhouettes_of_all(points, &memberships)?;
        let bayesian = bayesian(points, most, seed);
        let tried = (1..=most)
            .map(|k| FamiliesTried {
                k,
                gap: gap.gaps[k - 1],
                gap_error: gap.standard_errors[k - 1],
                silhouette: k.checked_sub(2).and_then(|at| mean(&silhouettes[at]).ok()),
                bayesian: bayesian.get(k - 1).copied().flatten(),
            })
            .collect();
        Ok(Self { points, options, by_gap: gap.chosen, partings, tried })
    }

    /// The gap's, unless silhouette and Bayesian criterion agree on another.
    fn number(&self) -> usize {
        let best = |value: &dyn Fn(&FamiliesTried) -> Option<f64>| {
            let known = self.tried.iter().filter_map(|tried| Some((tried.k, value(tried)?)));
            known.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(k, _)| k)
        };
        let by_silhouette = best(&|tried| tried.silhouette.map(|silhouette| -silhouette));
        let by_mixture = best(&|tried| tried.bayesian);
        match by_silhouette {
            Some(k) if by_silhouette == by_mixture => k,
            _ => self.by_gap,
        }
    }

    /// The parting into so many families, or into the next fewer that are large enough and come back.
    fn believed(&self, wanted: usize) -> Option<(&Clusters, Vec<f64>)> {
        let fewer = self.partings.iter().take(wanted.saturating_sub(1)).rev();
        fewer.filter(|parting| parting.sizes.iter().all(|&size| size >= FEWEST_IN_FAMILY)).find_map(
            |parting| {
                let options = ClusterOptions { restarts: SAMPLE_STARTS, ..self.options };
                let stability = bootstrap_jaccard(self.points, parting, &options).ok()?;
                let stable = stability.iter().all(|share| *share >= STABLE_FROM);
                stable.then_some((parting, stability))
            },
        )
    }

    /// Whether a mixture of as many components parts the pieces in the same way.
    fn agreement(&self, clusters: &Clusters) -> Option<f64> {
        let (count, seed) = (clusters.sizes.len(), self.options.seed);
        let mixture =
            gaussian_mixture(self.points, count, MixtureShape::Common, MIXTURE_STARTS, seed)
                .ok()?;
        adjusted_rand_index(&clusters.memberships, &mixture.memberships).ok()
    }
}

/// The best Bayesian criterion of each number of components, none from where it has risen twice in a row: more components only fit chance, slowly.
fn bayesian(points: &Array2<f64>, most: usize, seed: u64) -> Vec<Option<f64>> {
    let few = points.ncols() <= FULL_UP_TO;
    let other = if few { MixtureShape::Full } else { MixtureShape::Diagonal };
    let mut found: Vec<Option<f64>> = Vec::with_capacity(most);
    for count in 1..=most {
        let criterion = |shape| {
            let mixture = gaussian_mixture(points, count, shape, MIXTURE_STARTS, seed);
            mixture.ok().map(|mixture| mixture.bayesian)
        };
        let each = [MixtureShape::Common, other].into_iter().filter_map(criterion);
        found.push(each.min_by(f64::total_cmp));
        if let [.., Some(first), Some(second), Some(third)] = found[..]
            && first < second
            && second < third
        {
            break;
        }
    }
    found
}
