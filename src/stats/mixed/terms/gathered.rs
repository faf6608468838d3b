//! The term with most levels, taken out of the system before it is built.
//!
//! A level with `n` rows and a relative standard deviation `l` leaves of its rows their deviations from the level's mean and the `1 / (1 + n l^2)`th part of that
//! mean: `X'V^{-1}X = W + sum_i S_i S_i' / (n_i (1 + n_i l^2))`, `W` the products of the deviations and `S` the sums over a level (Sherman &
//! Morrison 1950, Annals of Mathematical Statistics 21, 124-127, from memory). Levels with as many rows that meet the same levels of the other terms share the divisor: their `S S'`
//! are added up once, and an evaluation of the deviance takes a step for each set of such levels (the reeds of a lot that have one rating) where it took one for
//! each level. Only sums of squares are added, so that nothing cancels.

use super::cross::{Cross, random_row};
use super::factor::Factor;
use super::inverse::{Inverse, Slopes, effects};
use super::model::{Parts, parts_of};
use super::structure::Structure;
use super::term::Grouping;
use crate::stats::mixed::Criterion;
use nalgebra::DMatrix;
use std::collections::BTreeMap;

/// A model without its first term, and what that term adds at any spread.
#[derive(Debug, Clone)]
pub(super) struct Gathered {
    /// The other terms.
    rest: Structure,
    /// Where each of them stands in the order of elimination of the whole model; the gathered one stands first.
    places: Vec<usize>,
    /// Products of the deviations from the levels' means; of the trailing ones the lower triangle.
    within: Cross,
    sets: Vec<Set>,
}

/// Levels with as many rows that meet the same levels of the other terms.
#[derive(Debug, Clone)]
struct Set {
    rows: f64,
    levels: f64,
    /// Its columns among the unknowns of the rest, then the fixed columns and the outcome.
    columns: Vec<usize>,
    /// How many of the columns belong to leading levels.
    leading: usize,
    /// For every pair of a leading column and itself or a later one, its place among the leading levels' values.
    at: Vec<usize>,
    /// Products of the levels' sums, for every column with itself and the later ones.
    sums: Vec<f64>,
    /// Products of the deviations, in the same order.
    deviations: Vec<f64>,
}

impl Gathered {
    /// None where a term has slopes, where there is no other term, where a level meets two levels of another term with many, or where too few levels are alike.
    pub(super) fn of(
        structure: &Structure,
        groupings: &[Grouping],
        basis: &DMatrix<f64>,
        residual: &[f64],
    ) -> Option<Self> {
        let first = structure.terms.first()?.given;
        if structure.terms.len() < 2 || structure.terms.iter().any(|term| term.size > 1) {
            return None;
        }
        let others: Vec<usize> = (0..groupings.len()).filter(|&given| given != first).collect();
        let rest_groupings: Vec<Grouping> =
            others.iter().map(|&given| groupings[given].clone()).collect();
        let rest = Structure::new(&rest_groupings, structure.fixed).ok()?;
        let leading_terms = rest.terms.iter().filter(|term| term.first < rest.leading).count();
        let levels = groupings[first].rows_by_level();
        let mut sets: BTreeMap<(usize, Vec<usize>), Set> = BTreeMap::new();
        for rows in &levels {
            let met = met(&rest, &rest_groupings, rows);
            if met.iter().filter(|&&unknown| unknown < rest.leading).count() != leading_terms {
                return None;
            }
            let set = sets.entry((rows.len(), met));
            let set = set.or_insert_with_key(|(rows, met)| Set::new(&rest, *rows, met));
            set.add_level(&table(set, &rest, &rest_groupings, (basis, residual), rows));
        }
        if 2 * sets.len() > levels.len() {
            return None;
        }
        let mut within = no_products(&rest);
        let sets: Vec<Set> = sets.into_values().collect();
        for set in &sets {
            set.add_to(&mut within, &rest, &set.deviations, 1.0);
        }
        let place = |given: usize| structure.terms.iter().position(|term| term.given == given);
        let places: Option<Vec<usize>> =
            rest.terms.iter().map(|term| place(others[term.given])).collect();
        Some(Self { rest, places: places?, within, sets })
    }

    pub(super) fn parts(&self, factors: &[DMatrix<f64>], criterion: Criterion) -> Option<Parts> {
        let spread = factors[0][(0, 0)];
        let factor = Factor::new(&self.rest, &self.cross(spread), &self.others(factors))?;
        Some(self.with_levels(parts_of(&factor, criterion), spread))
    }

    /// The fixed effects' block of the factor, the parts, and their derivatives in the order of elimination of the whole model.
    pub(super) fn slopes(
        &self,
        factors: &[DMatrix<f64>],
        criterion: Criterion,
    ) -> Option<(DMatrix<f64>, Parts, Slopes)> {
        let spread = factors[0][(0, 0)];
        let (cross, others) = (self.cross(spread), self.others(factors));
        let factor = Factor::new(&self.rest, &cross, &others)?;
        let inverse = Inverse::new(&self.rest, &factor, criterion == Criterion::Reml);
        let solution = factor.solution(&self.rest);
        let found = Slopes::new(&self.rest, &cross, &others, &solution, &inverse);
        let zeros = || vec![DMatrix::zeros(1, 1); factors.len()];
        let mut slopes = Slopes { log_determinant: zeros(), residual_square: zeros() };
        for (term, &place) in self.places.iter().enumerate() {
            slopes.log_determinant[place].copy_from(&found.log_determinant[term]);
            slopes.residual_square[place].copy_from(&found.residual_square[term]);
        }
        let known = effects(&self.rest, &others, &solution);
        let mut along = no_products(&self.rest);
        let mut own = 0.0;
        for set in &self.sets {
            let divisor = 1.0 + set.rows * spread * spread;
            own += 2.0 * set.rows * set.levels * spread / divisor;
            // d [1 / (n (1 + n l^2))] / dl
            set.add_to(&mut along, &self.rest, &set.sums, -2.0 * spread / (divisor * divisor));
        }
        let (trace, square) = against(&along, &self.rest, &others, &inverse, &known);
        slopes.log_determinant[0][(0, 0)] = own + trace;
        slopes.residual_square[0][(0, 0)] = square;
        let parts = self.with_levels(parts_of(&factor, criterion), spread);
        Some((factor.fixed_block(&self.rest), parts, slopes))
    }

    fn others(&self, factors: &[DMatrix<f64>]) -> Vec<DMatrix<f64>> {
        self.places.iter().map(|&place| factors[place].clone()).collect()
    }

    /// `(Z X y)'V^{-1}(Z X y)` of the rest, `V` the covariance that the term gives to the rows.
    fn cross(&self, spread: f64) -> Cross {
        let mut cross = self.within.clone();
        for set in &self.sets {
            let weight = 1.0 / (set.rows * (1.0 + set.rows * spread * spread));
            set.add_to(&mut cross, &self.rest, &set.sums, weight);
        }
        cross.trailing.fill_upper_triangle_with_lower_triangle();
        cross
    }

    /// `ln |V|` of the term's levels beside the determinant of the rest.
    fn with_levels(&self, parts: Parts, spread: f64) -> Parts {
        let each = self.sets.iter().map(|set| set.levels * (set.rows * spread * spread).ln_1p());
        Parts { log_determinant: parts.log_determinant + each.sum::<f64>(), ..parts }
    }
}

/// The unknowns of the rest that some rows meet, rising.
fn met(rest: &Structure, groupings: &[Grouping], rows: &[u32]) -> Vec<usize> {
    let each = rows.iter().flat_map(|&row| random_row(rest, groupings, row as usize));
    let mut met: Vec<usize> = each.map(|(unknown, _)| unknown).collect();
    met.sort_unstable();
    met.dedup();
    met
}

/// The columns of a set in some rows, row after row.
fn table(
    set: &Set,
    rest: &Structure,
    groupings: &[Grouping],
    (basis, residual): (&DMatrix<f64>, &[f64]),
    rows: &[u32],
) -> Vec<Vec<f64>> {
    let random = set.columns.len() - rest.fixed - 1;
    let of_row = |&row: &u32| {
        let row = row as usize;
        let mut values = vec![0.0; set.columns.len()];
        for (unknown, value) in random_row(rest, groupings, row) {
            values[set.columns[..random].partition_point(|&column| column < unknown)] = value;
        }
        let fixed = (0..rest.fixed).map(|column| basis[(row, column)]);
        values[random..].iter_mut().zip(fixed.chain([residual[row]])).for_each(|(v, x)| *v = x);
        values
    };
    rows.iter().map(of_row).collect()
}

impl Set {
    fn new(rest: &Structure, rows: usize, met: &[usize]) -> Self {
        let mut columns = met.to_vec();
        columns.extend(rest.random()..=rest.random() + rest.fixed);
        let leading = met.partition_point(|&unknown| unknown < rest.leading);
        let mut at = Vec::new();
        for (place, &unknown) in columns[..leading].iter().enumerate() {
            // a leading unknown has a level
            let Some(node) = rest.node_at(unknown).map(|node| &rest.nodes[node]) else { continue };
            let theirs = &rest.columns[node.columns.clone()];
            let position = |&column: &usize| theirs.partition_point(|&own| (own as usize) < column);
            at.extend(columns[place..].iter().map(|column| node.first + position(column)));
        }
        let pairs = columns.len() * (columns.len() + 1) / 2;
        let (sums, deviations) = (vec![0.0; pairs], vec![0.0; pairs]);
        Self { rows: rows as f64, levels: 0.0, columns, leading, at, sums, deviations }
    }

    fn add_level(&mut self, rows: &[Vec<f64>]) {
        self.levels += 1.0;
        let mut sum = vec![0.0; self.columns.len()];
        for row in rows {
            sum.iter_mut().zip(row).for_each(|(sum, value)| *sum += value);
        }
        add_products(&mut self.sums, &sum);
        if rows.len() > 1 {
            for row in rows {
                let away = |(value, sum): (&f64, &f64)| value - sum / self.rows;
                let away: Vec<f64> = row.iter().zip(&sum).map(away).collect();
                add_products(&mut self.deviations, &away);
            }
        }
    }

    /// Adds so many times the products of the set's columns where the cross-products hold them; of the trailing ones to the lower triangle alone.
    fn add_to(&self, cross: &mut Cross, rest: &Structure, products: &[f64], weight: f64) {
        let (of_levels, dense) = products.split_at(self.at.len());
        for (&at, product) in self.at.iter().zip(of_levels) {
            cross.values[at] += weight * product;
        }
        let size = cross.trailing.nrows();
        let trailing = cross.trailing.as_mut_slice();
        let fixed = self.columns.len() - rest.fixed - 1;
        let mut left = dense;
        for (place, &column) in self.columns.iter().enumerate().skip(self.leading) {
            let (here, later) = left.split_at(self.columns.len() - place);
            left = later;
            let target = &mut trailing[(column - rest.leading) * size..][..size];
            let (of_terms, of_fixed) = here.split_at(fixed.saturating_sub(place));
            for (&row, product) in self.columns[place..].iter().zip(of_terms) {
                target[row - rest.leading] += weight * product;
            }
            // the fixed columns and the outcome are the last, side by side
            let target = &mut target[size - of_fixed.len()..];
            target.iter_mut().zip(of_fixed).for_each(|(value, product)| *value += weight * product);
        }
    }
}

fn no_products(rest: &Structure) -> Cross {
    let size = rest.trailing() + 1;
    Cross { values: vec![0.0; rest.stored], trailing: DMatrix::zeros(size, size) }
}

/// `tr(L' G L H^{-1})` for products `G` of columns, of whose trailing ones the lower triangle is filled, and `e' G e` of what the effects leave of the outcome.
fn against(
    products: &Cross,
    rest: &Structure,
    factors: &[DMatrix<f64>],
    inverse: &Inverse,
    effects: &[f64],
) -> (f64, f64) {
    let outcome = rest.random() + rest.fixed;
    let scale = |column: usize| match column {
        column if column < rest.random() => factors[rest.term_of(column)][(0, 0)],
        column => f64::from(u8::from(column != outcome)),
    };
    let known = |column: usize| if column == outcome { -1.0 } else { effects[column] };
    let columns: Vec<(f64, f64)> =
        (0..=outcome).map(|column| (scale(column), known(column))).collect();
    let (mut trace, mut square) = (0.0, 0.0);
    let mut add = |first: usize, second: usize, product: f64, inverse: f64| {
        let twice = if first == second { product } else { 2.0 * product };
        trace += twice * columns[first].0 * columns[second].0 * inverse;
        square += twice * columns[first].1 * columns[second].1;
    };
    for node in &rest.nodes {
        let places = node.first..node.first + node.width;
        let met = &rest.columns[node.columns.clone()];
        for (&column, place) in met.iter().zip(places) {
            // the outcome's place in the inverse holds a zero
            add(node.unknown, column as usize, products.values[place], inverse.values[place]);
        }
    }
    let size = products.trailing.nrows();
    for column in 0..size {
        for row in column..size {
            let inverse = inverse.trailing.get((row, column)).copied().unwrap_or(0.0);
            let (first, second) = (rest.leading + column, rest.leading + row);
            add(first, second, products.trailing[(row, column)], inverse);
        }
    }
    (trace, square)
}

/// Adds the products of every value with itself and the later ones.
fn add_products(products: &mut [f64], values: &[f64]) {
    let mut left = products;
    for (place, value) in values.iter().enumerate() {
        let (here, later) = left.split_at_mut(values.len() - place);
        here.iter_mut()
            .zip(&values[place..])
            .for_each(|(product, other)| *product += value * other);
        left = later;
    }
}

#[cfg(test)]
mod tests {
    use super::super::model::Model;
    use super::super::{RandomTerm, parameters};
    use super::*;
    use crate::stats::design::Design;
    use crate::stats::resample::stream;
    use rand::RngExt;

    #[derive(Clone, Copy, PartialEq)]
    enum Beside {
        Nothing,
        Players,
        /// Of which a lot is a part.
        Harvests,
    }

    /// Lots of ten reeds, every third reed with two ratings, players in turn, two lots of a harvest.
    fn model(reeds: usize, beside: Beside) -> Model {
        let mut generator = stream(3, 0);
        let (mut reed, mut lot, mut player) = (Vec::new(), Vec::new(), Vec::new());
        for number in 0..reeds {
            for repeat in 0..=usize::from(number % 3 == 0) {
                reed.push(number);
                lot.push(number / 10);
                player.push((number + repeat) % 3);
            }
        }
        let column: Vec<f64> = reed.iter().map(|_| generator.random::<f64>()).collect();
        let outcome: Vec<f64> =
            lot.iter().map(|&lot| 0.3 * (lot % 8) as f64 + generator.random::<f64>()).collect();
        let design = Design::builder(reed.len()).intercept().number("x", &column).build().unwrap();
        let mut terms =
            vec![RandomTerm::intercept("lot", &lot), RandomTerm::intercept("reed", &reed)];
        let harvest: Vec<usize> = lot.iter().map(|lot| lot / 2).collect();
        match beside {
            Beside::Nothing => {}
            Beside::Players => terms.push(RandomTerm::intercept("player", &player)),
            Beside::Harvests => terms.push(RandomTerm::intercept("harvest", &harvest)),
        }
        Model::new(&design, &outcome, &terms).unwrap()
    }

    #[test]
    fn gathered_levels_give_the_deviance_and_the_slopes_of_the_whole_system() {
        // 120 lots and 60 harvests are eliminated level by level, a few are left in the dense matrix
        let cases = [Beside::Nothing, Beside::Players, Beside::Harvests];
        for (reeds, beside) in [80, 1200].into_iter().flat_map(|reeds| cases.map(|b| (reeds, b))) {
            let gathering = model(reeds, beside);
            assert!(gathering.gathered.is_some());
            let whole = Model { gathered: None, ..gathering.clone() };
            for criterion in [Criterion::Reml, Criterion::MaximumLikelihood] {
                for at in [[0.0, 0.4, 0.2], [0.7, 0.0, 0.3], [1.3, 0.6, 0.9], [40.0, 3.0, 0.1]] {
                    let at = &at[..gathering.sizes().len()];
                    let factors = parameters::factors(&gathering.sizes(), at);
                    let ours = gathering.slopes(&factors, criterion).unwrap();
                    let theirs = whole.slopes(&factors, criterion).unwrap();
                    let near =
                        |a: f64, b: f64| assert!((a - b).abs() < 1e-9 * (1.0 + b.abs()), "{a} {b}");
                    near(ours.1.log_determinant, theirs.1.log_determinant);
                    near(ours.1.residual_square, theirs.1.residual_square);
                    for term in 0..at.len() {
                        let one = |slopes: &Slopes| {
                            (
                                slopes.log_determinant[term][(0, 0)],
                                slopes.residual_square[term][(0, 0)],
                            )
                        };
                        near(one(&ours.2).0, one(&theirs.2).0);
                        near(one(&ours.2).1, one(&theirs.2).1);
                    }
                    near(ours.0.lower_triangle().norm(), theirs.0.lower_triangle().norm());
                }
            }
        }
    }

    #[test]
    fn levels_that_are_not_alike_are_left_in_the_system() {
        let (levels, other): (Vec<usize>, Vec<usize>) =
            ((0..24).map(|row| row / 2).collect(), (0..24).map(|row| row % 8).collect());
        let outcome: Vec<f64> = (0..24).map(|row| f64::from(row * row % 7)).collect();
        let design = Design::builder(24).intercept().build().unwrap();
        let terms = [RandomTerm::intercept("a", &levels), RandomTerm::intercept("b", &other)];
        assert!(Model::new(&design, &outcome, &terms).unwrap().gathered.is_none());
    }
}
