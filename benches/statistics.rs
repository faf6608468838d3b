//! The statistics alone, in memory: `cargo bench --bench statistics`.

use canewright::stats::cluster::{k_means_each, silhouettes_of_all};
use canewright::stats::linear::least_squares;
use canewright::stats::mixed::{Criterion, fit_mixed};
use canewright::stats::products::Products;
use canewright::stats::refit::Refit;
use divan::Bencher;

mod made_up;
use made_up::Table;

fn main() {
    divan::main();
}

/// One random intercept, REML, 25 lots, 13 columns: the pass over the rows and the fit.
#[divan::bench(args = [500, 5_000, 100_000, 1_000_000], sample_count = 10)]
fn mixed_model(bencher: Bencher, rows: usize) {
    let table = Table::draw(rows);
    let design = table.design();
    bencher.bench(|| fit_mixed(&design, &table.score, &table.lot, Criterion::Reml));
}

/// Least squares and the CR2 error of one slope with the lots as clusters.
#[divan::bench(args = [500, 5_000, 100_000], sample_count = 20)]
fn cluster_robust(bencher: Bencher, rows: usize) {
    let table = Table::draw(rows);
    let design = table.design();
    bencher.bench(|| {
        let fit = least_squares(&design, &table.score)?;
        fit.clustered(&table.lot)?.contrast(&fit.pick("tip_mm")?)
    });
}

/// 2,000 least-squares fits of lots drawn with replacement, after the pass over the rows.
#[divan::bench(args = [500, 5_000, 100_000], sample_count = 20)]
fn lot_bootstrap(bencher: Bencher, rows: usize) {
    let table = Table::draw(rows);
    let products = Products::new(&table.design(), &table.score, &table.lot).expect("products");
    bencher.bench(|| Refit::new(&products)?.lot_bootstrap(2_000, 1));
}

/// k-means for 2 to 8 groups, 10 starts each, with the silhouettes of each.
#[divan::bench(args = [500, 5_000], sample_count = 5)]
fn k_means_and_silhouettes(bencher: Bencher, rows: usize) {
    let points = Table::draw(rows).points();
    bencher.bench(|| {
        let found = k_means_each(&points, &[2, 3, 4, 5, 6, 7, 8], 10, 1)?;
        let partings: Vec<&[usize]> = found.iter().map(|one| one.memberships.as_slice()).collect();
        silhouettes_of_all(&points, &partings)
    });
}
