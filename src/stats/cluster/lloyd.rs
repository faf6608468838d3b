//! Lloyd's steps, eight points at a time.

use ndarray::Array2;
use rand::{Rng, RngExt};

use crate::whole;

/// Points that are worked on side by side.
pub(super) const LANES: usize = 8;

/// Points in groups of eight: each group holds its first coordinates, then its second ones, and so on; the last group is filled up with zeros.
pub(super) struct Packed {
    pub rows: usize,
    pub columns: usize,
    groups: Vec<[f64; LANES]>,
}

impl Packed {
    /// The points of `order`, in that order.
    pub fn new(points: &Array2<f64>, order: impl ExactSizeIterator<Item = usize>) -> Self {
        let (rows, columns) = (order.len(), points.ncols());
        let mut groups = vec![[0.0; LANES]; rows.div_ceil(LANES) * columns];
        for (place, row) in order.enumerate() {
            let group = place / LANES * columns;
            for (column, &value) in points.row(row).iter().enumerate() {
                groups[group + column][place % LANES] = value;
            }
        }
        Self { rows, columns, groups }
    }

    /// The groups, each as its columns.
    pub fn groups(&self) -> impl Iterator<Item = &[[f64; LANES]]> {
        self.groups.chunks_exact(self.columns)
    }

    /// Adds the point at `place`, so many times, to a sum over points.
    fn add_to(&self, place: usize, times: f64, sums: &mut [f64]) {
        let group = &self.groups[place / LANES * self.columns..][..self.columns];
        for (sum, column) in sums.iter_mut().zip(group) {
            *sum += times * column[place % LANES];
        }
    }
}

/// Squared distances of the eight points of a group from one point.
#[inline]
pub(super) fn squared_distances(group: &[[f64; LANES]], point: &[f64]) -> [f64; LANES] {
    let mut squares = [0.0; LANES];
    for (column, &coordinate) in group.iter().zip(point) {
        for (square, value) in squares.iter_mut().zip(column) {
            let difference = value - coordinate;
            *square += difference * difference;
        }
    }
    squares
}

/// A parting of points on its way to an optimum.
#[derive(Debug, Clone)]
pub(super) struct Parting {
    pub memberships: Vec<usize>,
    /// `k x p`, one centre after the other.
    centres: Vec<f64>,
    /// Sums of the points of every cluster, as the centres; empty where they have to be computed anew.
    sums: Vec<f64>,
    /// Points that moved since the sums were right, with the cluster they left.
    moves: Vec<(usize, usize)>,
    /// Squared distances of the points of every group from every centre as it was when points were last given out; `k` a group.
    squares: Vec<[f64; LANES]>,
    /// Centres that are no longer where the squared distances were taken.
    is_moved: Vec<bool>,
    /// Squared distance of every point from its centre.
    distances: Vec<f64>,
    /// Their sum.
    pub within: f64,
}

impl Parting {
    /// Starts drawn with chances in proportion to the squared distance from the nearest start so far (Arthur & Vassilvitskii 2007, Proceedings of the 18th
    /// ACM-SIAM Symposium on Discrete Algorithms, 1027-1035). There must be as many different points as clusters.
    pub fn seeded(points: &Packed, count: usize, generator: &mut impl Rng) -> Self {
        let mut parting = Self::at(vec![0.0; count * points.columns], count, points.rows);
        let mut distances = vec![1.0; points.rows];
        for cluster in 0..count {
            let chosen = drawn(&distances, generator);
            let centre = &mut parting.centres[cluster * points.columns..][..points.columns];
            points.add_to(chosen, 1.0, centre);
            let places = parting.squares.chunks_exact_mut(count).zip(distances.chunks_mut(LANES));
            for (group, (squares, nearest)) in points.groups().zip(places) {
                squares[cluster] = squared_distances(group, centre);
                for (nearest, square) in nearest.iter_mut().zip(squares[cluster]) {
                    *nearest = if cluster == 0 { square } else { nearest.min(square) };
                }
            }
        }
        parting.is_moved.fill(false);
        parting.assign(points);
        parting
    }

    fn at(centres: Vec<f64>, count: usize, rows: usize) -> Self {
        Self {
            memberships: vec![0; rows],
            centres,
            sums: Vec::new(),
            moves: Vec::new(),
            squares: vec![[0.0; LANES]; rows.div_ceil(LANES) * count],
            is_moved: vec![true; count],
            distances: vec![0.0; rows],
            within: f64::INFINITY,
        }
    }

    /// Steps until no point moves or a step gains less than the share `least_gain`; whether that was reached within `most` steps.
    pub fn improve(&mut self, points: &Packed, least_gain: f64, most: usize) -> bool {
        for _ in 0..most {
            let before = self.within;
            self.centre(points);
            let moved = self.assign(points);
            if !moved || self.within >= before * (1.0 - least_gain) {
                return true;
            }
        }
        false
    }

    /// Steps until neither a step nor the move of a single point gains; whether that was reached within `most` rounds. A single point counts for its old
    /// centre and for its new one (Hartigan 1975, Clustering Algorithms, chapter 4), which finds gains where Lloyd's steps see none.
    pub fn finish(&mut self, points: &Packed, most: usize) -> bool {
        for _ in 0..most {
            if !self.improve(points, 0.0, most) {
                return false;
            }
            let old = self.clone();
            // the sums of all points anew, so that no rounding of earlier moves stays
            self.sums.clear();
            self.centre(points);
            self.assign(points);
            if !self.transfer(points) {
                return true;
            }
            self.sums.clear();
            self.centre(points);
            self.assign(points);
            // what only rounding says is a gain is none
            if self.within >= old.within * (1.0 - 1e-12) {
                *self = old;
                return true;
            }
        }
        false
    }

    /// Moves single points while that lessens the sum of squares, centres following at once; whether any moved.
    fn transfer(&mut self, points: &Packed) -> bool {
        let mut sizes = vec![0.0_f64; self.centres.len() / points.columns];
        self.memberships.iter().for_each(|&cluster| sizes[cluster] += 1.0);
        let mut point = vec![0.0; points.columns];
        let mut moved = false;
        for place in self.restless(&sizes) {
            point.fill(0.0);
            points.add_to(place, 1.0, &mut point);
            let own = self.memberships[place];
            let better = self.better_home(&point, own, &sizes);
            if let Some(other) = better {
                self.shift(&point, own, -sizes[own]);
                self.shift(&point, other, sizes[other]);
                sizes[own] -= 1.0;
                sizes[other] += 1.0;
                self.memberships[place] = other;
                moved = true;
            }
        }
        moved
    }

    /// Points whose move would lessen the sum of squares as the centres now stand.
    fn restless(&self, sizes: &[f64]) -> Vec<usize> {
        let mut found = Vec::new();
        for (number, squares) in self.squares.chunks_exact(sizes.len()).enumerate() {
            let mut least = [f64::INFINITY; LANES];
            let places = number * LANES..((number + 1) * LANES).min(self.memberships.len());
            let mut own = [0.0; LANES];
            for (own, &cluster) in own.iter_mut().zip(&self.memberships[places.clone()]) {
                *own = cluster as f64;
            }
            for (cluster, (squares, size)) in squares.iter().zip(sizes).enumerate() {
                let (share, label) = (size / (size + 1.0), cluster as f64);
                for lane in 0..LANES {
                    let cost =
                        if own[lane] == label { f64::INFINITY } else { share * squares[lane] };
                    least[lane] = least[lane].min(cost);
                }
            }
            for (place, least) in places.zip(least) {
                let size = sizes[self.memberships[place]];
                if size > 1.0 && least < self.distances[place] * size / (size - 1.0) {
                    found.push(place);
                }
            }
        }
        found
    }

    /// The cluster in which a point of cluster `own` would cost least, where that is less than at home.
    fn better_home(&self, point: &[f64], own: usize, sizes: &[f64]) -> Option<usize> {
        if sizes[own] <= 1.0 {
            return None;
        }
        let cost = |cluster: usize, share: f64| {
            let centre = &self.centres[cluster * point.len()..];
            let squares = point.iter().zip(centre).map(|(a, b)| (a - b) * (a - b));
            share * squares.sum::<f64>()
        };
        let mut best = (cost(own, sizes[own] / (sizes[own] - 1.0)), None);
        for (cluster, size) in sizes.iter().enumerate().filter(|&(cluster, _)| cluster != own) {
            let cost = cost(cluster, size / (size + 1.0));
            if cost < best.0 * (1.0 - 1e-12) {
                best = (cost, Some(cluster));
            }
        }
        best.1
    }

    /// The centre of a cluster of `size` points with one point more, or, where `size` is negative, of `-size` points with one point less.
    fn shift(&mut self, point: &[f64], cluster: usize, size: f64) {
        self.is_moved[cluster] = true;
        let centre = self.centres[cluster * point.len()..].iter_mut();
        for (value, coordinate) in centre.zip(point) {
            *value += (coordinate - *value) / (size + 1.0);
        }
    }

    /// Gives every point to its nearest centre; whether any moved.
    fn assign(&mut self, points: &Packed) -> bool {
        self.measure(points);
        let before = self.moves.len();
        let places = self.memberships.chunks_mut(LANES).zip(self.distances.chunks_mut(LANES));
        let groups = self.squares.chunks_exact(self.is_moved.len());
        for (number, (squares, (memberships, distances))) in groups.zip(places).enumerate() {
            let (least, nearest) = nearest_of(squares);
            for lane in 0..memberships.len() {
                let (old, new) = (memberships[lane], whole::part(nearest[lane]));
                if old != new {
                    self.moves.push((number * LANES + lane, old));
                    memberships[lane] = new;
                }
                distances[lane] = least[lane];
            }
        }
        self.within = self.distances.iter().sum();
        self.moves.len() > before
    }

    /// Takes the squared distances from the centres that moved.
    fn measure(&mut self, points: &Packed) {
        let count = self.is_moved.len();
        let centres = self.centres.chunks_exact(points.columns);
        let moved: Vec<(usize, &[f64])> =
            centres.enumerate().filter(|(cluster, _)| self.is_moved[*cluster]).collect();
        for (group, squares) in points.groups().zip(self.squares.chunks_exact_mut(count)) {
            for (cluster, centre) in &moved {
                squares[*cluster] = squared_distances(group, centre);
            }
        }
        self.is_moved.fill(false);
    }

    /// Moves every centre to the mean of its points. An empty cluster takes the point farthest from its centre.
    fn centre(&mut self, points: &Packed) {
        let mut sizes = vec![0.0_f64; self.centres.len() / points.columns];
        self.memberships.iter().for_each(|&cluster| sizes[cluster] += 1.0);
        while let Some(empty) = sizes.iter().position(|&size| size == 0.0) {
            self.sums.clear();
            self.fill(empty, &mut sizes);
        }
        self.add_up(points);
        let centres = self.centres.chunks_mut(points.columns).zip(&mut self.is_moved);
        for (((centre, is_moved), sums), size) in
            centres.zip(self.sums.chunks(points.columns)).zip(sizes)
        {
            for (value, sum) in centre.iter_mut().zip(sums) {
                let mean = sum / size;
                *is_moved |= mean != *value;
                *value = mean;
            }
        }
    }

    /// Brings the sums up to date: from the moves where they are few, else from all points, which also takes out the rounding of earlier moves.
    fn add_up(&mut self, points: &Packed) {
        let columns = points.columns;
        if self.sums.is_empty() || self.moves.len() > points.rows / 4 {
            self.sums = vec![0.0; self.centres.len()];
            for (place, &cluster) in self.memberships.iter().enumerate() {
                points.add_to(place, 1.0, &mut self.sums[cluster * columns..]);
            }
        } else {
            for &(place, old) in &self.moves {
                let new = self.memberships[place];
                points.add_to(place, -1.0, &mut self.sums[old * columns..]);
                points.add_to(place, 1.0, &mut self.sums[new * columns..]);
            }
        }
        self.moves.clear();
    }

    fn fill(&mut self, empty: usize, sizes: &mut [f64]) {
        let others =
            (0..self.distances.len()).filter(|&place| sizes[self.memberships[place]] > 1.0);
        // there are more points than clusters that are not empty, so some cluster has a point to spare
        let farthest = others.max_by(|&a, &b| self.distances[a].total_cmp(&self.distances[b]));
        if let Some(place) = farthest {
            sizes[self.memberships[place]] -= 1.0;
            self.memberships[place] = empty;
            self.distances[place] = 0.0;
        }
        sizes[empty] = 1.0;
    }
}

/// Least squared distance and nearest centre of every point of a group, the first centre among equals.
#[inline]
fn nearest_of(squares: &[[f64; LANES]]) -> ([f64; LANES], [f64; LANES]) {
    let mut least = [f64::INFINITY; LANES];
    // as doubles, so that the choice is made without a branch
    let mut nearest = [0.0; LANES];
    for (cluster, squares) in squares.iter().enumerate() {
        let label = cluster as f64;
        for lane in 0..LANES {
            let nearer = squares[lane] < least[lane];
            nearest[lane] = if nearer { label } else { nearest[lane] };
            least[lane] = if nearer { squares[lane] } else { least[lane] };
        }
    }
    (least, nearest)
}

/// A place drawn with chances in proportion to the weights, which are not all zero.
fn drawn(weights: &[f64], generator: &mut impl Rng) -> usize {
    let mut left = generator.random::<f64>() * weights.iter().sum::<f64>();
    let mut last = 0;
    for (place, &weight) in weights.iter().enumerate() {
        if weight > 0.0 {
            last = place;
            left -= weight;
            if left < 0.0 {
                break;
            }
        }
    }
    last
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;
    use ndarray::array;

    #[test]
    fn packed_points_keep_their_distances() {
        let points = Array2::from_shape_fn((11, 3), |(i, j)| (i * i + j) as f64);
        let packed = Packed::new(&points, 0..11);
        let distances: Vec<f64> =
            packed.groups().flat_map(|group| squared_distances(group, &[1.0, 2.0, 3.0])).collect();
        assert_eq!(distances[2], 3.0 * 9.0);
        assert_eq!(distances[10], 3.0 * 99.0 * 99.0);
    }

    #[test]
    fn a_weight_of_zero_is_never_drawn() {
        let mut generator = stream(1, 0);
        for _ in 0..200 {
            assert_eq!(drawn(&[0.0, 3.0, 0.0], &mut generator), 1);
        }
    }

    #[test]
    fn a_single_point_moves_where_steps_see_no_gain() {
        // 1.2 is nearer to its own centre 2.25 than to the zeros, but at home it costs 2 x 1.05^2 and with the three zeros 3/4 x 1.2^2
        let points = Packed::new(&array![[0.0], [0.0], [0.0], [1.2], [3.3]], 0..5);
        let start =
            || Parting { memberships: vec![0, 0, 0, 1, 1], ..Parting::at(vec![0.0, 2.25], 2, 5) };
        let (mut steps, mut single) = (start(), start());
        assert!(steps.improve(&points, 0.0, 10));
        assert_eq!(steps.memberships, [0, 0, 0, 1, 1]);
        assert!(single.finish(&points, 10));
        assert_eq!(single.memberships, [0, 0, 0, 0, 1]);
        assert!((single.within - 1.08).abs() < 1e-12);
    }

    #[test]
    fn an_empty_cluster_takes_the_farthest_point_of_a_cluster_with_points_to_spare() {
        let points = Packed::new(&array![[0.0], [1.0], [9.0]], 0..3);
        let mut parting =
            Parting { distances: vec![0.0, 1.0, 81.0], ..Parting::at(vec![0.0, 50.0], 2, 3) };
        assert!(parting.improve(&points, 0.0, 10));
        assert_eq!(parting.memberships, [0, 0, 1]);
        assert_eq!(parting.within, 0.5);
    }
}
