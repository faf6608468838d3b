//! Rows in clusters.

use super::*;

#[test]
fn the_scores_of_all_clusters_add_up_to_nothing() {
    let (design, outcome, lots) = example();
    let fit = fit_ordinal(&design, &outcome).unwrap();
    let all: Vec<usize> = (0..30).collect();
    let total = fit.likelihood.score(fit.top.at.as_slice(), &all);
    assert!(total.amax() < 1e-9);
    let robust = fit.clustered(&lots).unwrap();
    assert_eq!(robust.clusters(), 5);
    let found = robust.contrast(&[1.0, 0.0, 0.0]).unwrap();
    assert!(found.standard_error > 0.0 && found.degrees_of_freedom == 4.0);
}

#[test]
fn every_row_twice_as_a_pair_has_the_error_of_the_rows_once() {
    let (design, outcome, _) = example();
    let twice: Vec<usize> = (0..60).map(|row| row / 2).collect();
    let rating: Vec<f64> = twice.iter().map(|&row| outcome.codes()[row] as f64).collect();
    let names = design.names.clone();
    let doubled = Design { names, matrix: design.matrix.select(ndarray::Axis(0), &twice) };
    let once = fit_ordinal(&design, &outcome).unwrap();
    let pairs = fit_ordinal(&doubled, &OrderedOutcome::new(&rating).unwrap()).unwrap();
    let rows: Vec<usize> = (0..30).collect();
    let (one, other) = (once.clustered(&rows).unwrap(), pairs.clustered(&twice).unwrap());
    let contrast = [1.0, 0.0, 0.0];
    let (one, other) = (one.contrast(&contrast).unwrap(), other.contrast(&contrast).unwrap());
    close(other.standard_error, one.standard_error, 1e-9);
    // the model's own error believes in twice the rows
    let naive = pairs.contrast(&contrast).unwrap().standard_error;
    close(naive, once.contrast(&contrast).unwrap().standard_error / 2.0_f64.sqrt(), 1e-9);
}

#[test]
fn two_clusters_are_refused() {
    let (design, outcome, _) = example();
    let fit = fit_ordinal(&design, &outcome).unwrap();
    assert!(matches!(fit.clustered(&[0; 30]), Err(StatsError::TooFewGroups { found: 1, .. })));
    assert!(fit.clustered(&[0, 1]).is_err());
}
