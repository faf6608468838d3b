//! Columns split into what varies inside groups and what varies between them.

use super::{GroupProducts, Products};
use nalgebra::{DMatrix, DVector};

impl Products {
    /// The design that keeps groups apart (Mundlak 1978): the intercept, then what the columns `inside` deviate from their groups' means, then the groups' means
    /// of the columns `between`. Columns are counted behind the intercept, which the design must have. Deviations add nothing to the groups' means and means
    /// nothing to the spread inside groups, so no row is needed.
    pub fn split(&self, inside: &[usize], between: &[usize]) -> Self {
        let outcome = self.names.len();
        let place = |columns: &[usize]| columns.iter().map(|column| column + 1).collect::<Vec<_>>();
        let (inside, between) = (place(inside), place(between));
        let named = |columns: &[usize], what: &str| {
            columns
                .iter()
                .map(|&column| format!("{} {what}", self.names[column]))
                .collect::<Vec<_>>()
        };
        let mut names = vec![self.names[0].clone()];
        names.extend(named(&inside, "inside groups"));
        names.extend(named(&between, "between groups"));
        let groups = self.groups.iter().map(|group| split(group, &inside, &between, outcome));
        Self { groups: groups.collect(), names }
    }

    /// The design of the intercept and these columns alone, counted behind the intercept.
    pub fn selected(&self, columns: &[usize]) -> Self {
        let kept = || std::iter::once(0).chain(columns.iter().map(|column| column + 1));
        // the outcome stands behind the columns
        let places: Vec<usize> = kept().chain([self.names.len()]).collect();
        let of_group = |group: &GroupProducts| GroupProducts {
            code: group.code,
            count: group.count,
            mean: DVector::from_fn(places.len(), |i, _| group.mean[places[i]]),
            within: DMatrix::from_fn(places.len(), places.len(), |i, j| {
                group.within[(places[i], places[j])]
            }),
        };
        Self {
            names: kept().map(|place| self.names[place].clone()).collect(),
            groups: self.groups.iter().map(of_group).collect(),
        }
    }

    /// Which columns behind the intercept vary inside any group, and which between groups.
    pub fn varying(&self) -> (Vec<usize>, Vec<usize>) {
        let (within, mean) = (self.within(), self.grand_mean());
        let columns = 1..self.names.len();
        // a column that is constant in its group has exactly no spread there
        let inside = columns.clone().filter(|&c| within[(c, c)] > 0.0).map(|c| c - 1);
        let spread = |column: usize| {
            let away = |group: &GroupProducts| (group.mean[column] - mean[column]).powi(2);
            self.groups.iter().map(|group| group.count as f64 * away(group)).sum::<f64>()
        };
        // means are known to rounding of their size
        let rounding =
            |column: usize| self.rows() as f64 * (8.0 * f64::EPSILON * mean[column]).powi(2);
        let between = columns.filter(|&c| spread(c) > rounding(c)).map(|c| c - 1);
        (inside.collect(), between.collect())
    }
}

fn split(
    group: &GroupProducts,
    inside: &[usize],
    between: &[usize],
    outcome: usize,
) -> GroupProducts {
    let size = 1 + inside.len() + between.len() + 1;
    let last = size - 1;
    // which column of the old design varies inside groups as a column of the new one does
    let source = |column: usize| {
        if column == last {
            Some(outcome)
        } else {
            column.checked_sub(1).and_then(|at| inside.get(at)).copied()
        }
    };
    let within = DMatrix::from_fn(size, size, |i, j| match (source(i), source(j)) {
        (Some(i), Some(j)) => group.within[(i, j)],
        _ => 0.0,
    });
    let mut mean = DVector::zeros(size);
    mean[0] = 1.0;
    mean[last] = group.mean[outcome];
    for (place, &column) in between.iter().enumerate() {
        mean[1 + inside.len() + place] = group.mean[column];
    }
    GroupProducts { code: group.code, count: group.count, mean, within }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::design::Design;

    /// Rows, their groups, a column that varies everywhere and one that varies between groups alone.
    fn rows() -> (Vec<f64>, Vec<f64>, Vec<f64>, Vec<usize>) {
        let groups: Vec<usize> = (0..60).map(|row| row * 7 % 11 % 5).collect();
        let x: Vec<f64> = (0..60).map(|row| 20.0 + f64::from(row * row % 13)).collect();
        let lot: Vec<f64> = groups.iter().map(|&group| (group * group) as f64).collect();
        let y = x.iter().zip(&lot).map(|(x, lot)| x * 0.3 - lot + (x * 5.0).sin()).collect();
        (x, lot, y, groups)
    }

    fn means(x: &[f64], groups: &[usize]) -> Vec<f64> {
        let mean = |group: usize| {
            let own: Vec<f64> =
                (0..x.len()).filter(|&r| groups[r] == group).map(|r| x[r]).collect();
            own.iter().sum::<f64>() / own.len() as f64
        };
        groups.iter().map(|&group| mean(group)).collect()
    }

    #[test]
    fn split_products_are_those_of_the_split_columns() {
        let (x, lot, y, groups) = rows();
        let plain =
            Design::builder(60).intercept().number("x", &x).number("lot", &lot).build().unwrap();
        let split = Products::new(&plain, &y, &groups).unwrap().split(&[0], &[0, 1]);
        let between = means(&x, &groups);
        let inside: Vec<f64> = x.iter().zip(&between).map(|(x, mean)| x - mean).collect();
        let by_row = Design::builder(60)
            .intercept()
            .number("x inside groups", &inside)
            .number("x between groups", &between)
            .number("lot between groups", &lot)
            .build()
            .unwrap();
        let direct = Products::new(&by_row, &y, &groups).unwrap();
        assert_eq!(split.names, direct.names);
        for (a, b) in split.groups.iter().zip(&direct.groups) {
            assert!((&a.within - &b.within).amax() < 1e-11, "{} {}", a.within, b.within);
            assert!((&a.mean - &b.mean).amax() < 1e-12);
        }
    }

    #[test]
    fn a_column_that_does_not_vary_on_one_side_is_named_on_the_other_alone() {
        let (x, lot, y, groups) = rows();
        let inside: Vec<f64> = x.iter().zip(means(&x, &groups)).map(|(x, mean)| x - mean).collect();
        let design = Design::builder(60)
            .intercept()
            .number("x", &x)
            .number("lot", &lot)
            .number("inside", &inside)
            .build()
            .unwrap();
        let products = Products::new(&design, &y, &groups).unwrap();
        let (within, between) = products.varying();
        assert_eq!(within, [0, 2]);
        assert_eq!(between[..2], [0, 1]);
    }
}
