//! Products of groups from plain sums, as any query engine gives them, and back.

use super::{GroupProducts, Products};
use crate::stats::design::INTERCEPT;
use crate::stats::error::{StatsError, require_length};
use nalgebra::{DMatrix, DVector};

/// By so much of its scale a matrix of squares may miss what any numbers have: what rounding does to sums of many rows.
const ROUNDING: f64 = 1e-9;
/// A spread inside a group below this share of the squares about the constant is rounding: the column is constant there.
const CONSTANT: f64 = 1e-13;

/// Plain sums of one group: of each column's differences from a constant, and of the products of every two of them.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupSums {
    /// The group's code.
    pub code: usize,
    /// Rows `n`.
    pub count: usize,
    /// `sum (z - c)`, one a column; the outcome stands last.
    pub sums: Vec<f64>,
    /// `sum (z - c)(z - c)'`.
    pub products: DMatrix<f64>,
}

impl Products {
    /// From the sums of groups about common constants `c`, by rising code: `within = P - s s' / n` and `mean = c + s / n`. The nearer the constants lie to
    /// the means, the fewer digits the difference costs. The design has an intercept and then the columns `names`.
    ///
    /// # Errors
    /// `Empty`; `LengthMismatch`; `NotPositive` where no numbers have such sums; `OutOfRange` for a group without rows or a sum that is not finite.
    pub fn from_sums(
        names: &[String],
        constants: &[f64],
        groups: &[GroupSums],
    ) -> Result<Self, StatsError> {
        if groups.is_empty() {
            return Err(StatsError::Empty { what: "the list of groups".into() });
        }
        require_length("the list of constants", names.len() + 1, constants.len())?;
        let groups = groups.iter().map(|group| from_sums(constants, group));
        Ok(Self {
            names: std::iter::once(INTERCEPT.to_owned()).chain(names.iter().cloned()).collect(),
            groups: groups.collect::<Result<_, _>>()?,
        })
    }

    /// The sums about constants of a design whose first column is the intercept: what [`Products::from_sums`] takes.
    ///
    /// # Errors
    /// `LengthMismatch`.
    pub fn sums(&self, constants: &[f64]) -> Result<Vec<GroupSums>, StatsError> {
        require_length("the list of constants", self.names.len(), constants.len())?;
        let of_group = |group: &GroupProducts| {
            let rows = group.count as f64;
            let size = constants.len();
            let away = DVector::from_fn(size, |i, _| group.mean[i + 1] - constants[i]);
            let mut products = group.within.view((1, 1), (size, size)).into_owned();
            products.ger(rows, &away, &away, 1.0);
            let sums = away.iter().map(|value| value * rows).collect();
            GroupSums { code: group.code, count: group.count, sums, products }
        };
        Ok(self.groups.iter().map(of_group).collect())
    }
}

fn from_sums(constants: &[f64], group: &GroupSums) -> Result<GroupProducts, StatsError> {
    let size = constants.len();
    require_length("the list of sums", size, group.sums.len())?;
    require_length("the matrix of products", size, group.products.nrows())?;
    require_length("the matrix of products", size, group.products.ncols())?;
    let rows = group.count as f64;
    let all = || group.sums.iter().chain(group.products.iter()).copied();
    if let Some(value) = all().find(|value| !value.is_finite()) {
        return Err(out_of_range("a sum", value, "a number"));
    }
    if group.count == 0 {
        return Err(out_of_range("the number of rows of a group", 0.0, "at least 1"));
    }
    let sums = DVector::from_column_slice(&group.sums);
    let mut within = group.products.clone();
    within.ger(-1.0 / rows, &sums, &sums, 1.0);
    require_possible(&mut within, &group.products)?;
    let mut whole = DMatrix::zeros(size + 1, size + 1);
    whole.view_mut((1, 1), (size, size)).copy_from(&within);
    let mean = std::iter::once(1.0)
        .chain(constants.iter().zip(&group.sums).map(|(constant, sum)| constant + sum / rows));
    let mean = DVector::from_iterator(size + 1, mean);
    Ok(GroupProducts { code: group.code, count: group.count, mean, within: whole })
}

fn out_of_range(what: &str, value: f64, expected: &str) -> StatsError {
    StatsError::OutOfRange { what: what.into(), value, expected: expected.into() }
}

/// Refuses squares and products that no numbers have: not symmetric, less than nothing, larger than their squares allow. What rounding left is taken out.
fn require_possible(within: &mut DMatrix<f64>, plain: &DMatrix<f64>) -> Result<(), StatsError> {
    let size = within.nrows();
    let impossible = || StatsError::NotPositive { what: "the matrix of a group's products".into() };
    let slack: Vec<f64> = (0..size).map(|i| ROUNDING * plain[(i, i)].abs()).collect();
    for i in 0..size {
        if plain[(i, i)] < 0.0 || within[(i, i)] < -slack[i] {
            return Err(impossible());
        }
        if within[(i, i)] <= CONSTANT * plain[(i, i)] {
            within.row_mut(i).fill(0.0);
            within.column_mut(i).fill(0.0);
        }
    }
    for i in 0..size {
        for j in 0..i {
            let room = (slack[i] * slack[j]).sqrt();
            let most = (within[(i, i)] * within[(j, j)]).sqrt() + room;
            let apart = (plain[(i, j)] - plain[(j, i)]).abs();
            if apart > room || within[(i, j)].abs() > most {
                return Err(impossible());
            }
        }
    }
    let scaled = DMatrix::from_fn(size, size, |i, j| {
        let scale = (plain[(i, i)] * plain[(j, j)]).sqrt();
        if scale > 0.0 { 0.5 * (within[(i, j)] + within[(j, i)]) / scale } else { 0.0 }
    });
    let least = scaled.symmetric_eigenvalues().min();
    if size > 0 && least < -ROUNDING * size as f64 { Err(impossible()) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::design::Design;

    /// Three groups about 40 and 1.3, the last of one row.
    fn example() -> Products {
        let x: Vec<f64> = (0..41).map(|row| 40.0 + f64::from(row * row % 17)).collect();
        let y: Vec<f64> = x.iter().map(|x| 1.3 + (x * 0.7).sin() / 50.0).collect();
        let groups: Vec<usize> = (0..41).map(|row| if row == 40 { 7 } else { row % 2 }).collect();
        let design = Design::builder(41).intercept().number("x", &x).build().unwrap();
        Products::new(&design, &y, &groups).unwrap()
    }

    fn back(products: &Products, constants: &[f64]) -> Products {
        let sums = products.sums(constants).unwrap();
        Products::from_sums(&["x".to_owned()], constants, &sums).unwrap()
    }

    fn worst(a: &Products, b: &Products) -> f64 {
        assert_eq!(a.names, b.names);
        let mut worst = 0.0_f64;
        for (one, other) in a.groups.iter().zip(&b.groups) {
            assert_eq!((one.code, one.count), (other.code, other.count));
            let scale = one.within.amax().max(1e-300);
            worst = worst.max((&one.within - &other.within).amax() / scale);
            worst = worst.max((&one.mean - &other.mean).amax() / one.mean.amax());
        }
        worst
    }

    #[test]
    fn sums_about_any_constants_give_the_products_back() {
        let products = example();
        assert!(worst(&products, &back(&products, &[45.0, 1.3])) < 1e-13);
        assert!(worst(&products, &back(&products, &[0.0, 0.0])) < 1e-9);
    }

    #[test]
    fn constants_near_the_means_keep_the_digits_that_plain_sums_lose() {
        let rows: Vec<f64> = (0..300).map(|row| 1e8 + f64::from(row % 3)).collect();
        let design = Design::builder(300).intercept().number("x", &rows).build().unwrap();
        let products = Products::new(&design, &rows, &[0; 300]).unwrap();
        assert!(worst(&products, &back(&products, &[1e8, 1e8])) < 1e-14);
    }

    #[test]
    fn a_hand_worked_group_has_its_mean_and_spread() {
        // 1, 2, 6 about 2: sums 3 and 17; mean 3, squares 4 + 1 + 9
        let sums = GroupSums {
            code: 0,
            count: 3,
            sums: vec![3.0],
            products: DMatrix::from_element(1, 1, 17.0),
        };
        let products = Products::from_sums(&[], &[2.0], &[sums]).unwrap();
        assert_eq!((products.groups[0].mean[1], products.groups[0].within[(1, 1)]), (3.0, 14.0));
    }

    #[test]
    fn sums_that_no_numbers_have_are_refused() {
        let with = |sums: [f64; 2], products: [f64; 4], count: usize| {
            let products = DMatrix::from_row_slice(2, 2, &products);
            let group = GroupSums { code: 0, count, sums: sums.to_vec(), products };
            Products::from_sums(&["x".to_owned()], &[0.0, 0.0], &[group])
        };
        assert!(with([3.0, 0.0], [5.0, 1.0, 1.0, 2.0], 3).is_ok());
        for (sums, products) in [
            ([3.0, 0.0], [-5.0, 1.0, 1.0, 2.0]),
            ([3.0, 0.0], [2.0, 1.0, 1.0, 2.0]),
            ([3.0, 0.0], [5.0, 1.0, 1.5, 2.0]),
            ([3.0, 0.0], [5.0, 4.0, 4.0, 2.0]),
        ] {
            let fault = with(sums, products, 3);
            assert!(
                matches!(fault, Err(StatsError::NotPositive { .. })),
                "{products:?}: {fault:?}"
            );
        }
        for (sums, count) in [([f64::NAN, 0.0], 3), ([f64::INFINITY, 0.0], 3), ([3.0, 0.0], 0)] {
            let fault = with(sums, [5.0, 1.0, 1.0, 2.0], count);
            assert!(matches!(fault, Err(StatsError::OutOfRange { .. })), "{sums:?}: {fault:?}");
        }
    }
}
