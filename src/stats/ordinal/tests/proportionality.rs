//! The score test.

use super::*;

/// Rows of a table of two groups by categories.
fn table(counts: [[usize; 4]; 2]) -> (Design, OrderedOutcome) {
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for (group, row) in counts.iter().enumerate() {
        for (category, &count) in row.iter().enumerate() {
            x.extend(vec![group as f64; count]);
            y.extend(vec![category as f64; count]);
        }
    }
    (line(&x), OrderedOutcome::new(&y).unwrap())
}

#[test]
fn for_two_groups_the_score_test_is_pearson_s_chi_squared_of_the_fit() {
    // the larger model fits the table exactly, and a score test against a saturated multinomial is Pearson's statistic (Smyth 2003)
    let counts = [[7, 9, 12, 4], [3, 15, 5, 11]];
    let (design, outcome) = table(counts);
    let fit = fit_ordinal(&design, &outcome).unwrap();
    let mut pearson = 0.0;
    for (group, row) in counts.iter().enumerate() {
        let all: usize = row.iter().sum();
        let shares = fit.probabilities(&[group as f64]).unwrap();
        for (&count, share) in row.iter().zip(shares) {
            let expected = all as f64 * share;
            pearson += (count as f64 - expected).powi(2) / expected;
        }
    }
    let found = fit.proportionality().unwrap();
    close(found.overall.statistic * found.overall.numerator, pearson, 1e-9);
    assert_eq!(found.overall.numerator, 2.0);
    assert_eq!(found.columns, [("x".into(), found.overall)]);
}

#[test]
fn a_table_with_proportional_odds_passes() {
    // cumulative odds 1/3, 1, 3 against 1/6, 1/2, 3/2, scaled: shares 1/4 each; 1/7, 4/21, 4/15, 2/5
    let (design, outcome) = table([[105, 105, 105, 105], [60, 80, 112, 168]]);
    let fit = fit_ordinal(&design, &outcome).unwrap();
    close(fit.coefficients[0], 2.0_f64.ln(), 1e-9);
    assert!(fit.proportionality().unwrap().overall.statistic.abs() < 1e-9);
}

#[test]
fn the_column_at_fault_is_named() {
    // x pushes to both ends, z is proportional
    let (mut x, mut z, mut y) = (Vec::new(), Vec::new(), Vec::new());
    for row in 0..400_u32 {
        let (a, b) = (row % 2, (row / 2) % 2);
        let draw = (row * 37) % 100;
        let middle = if a == 1 { 10 } else { 50 };
        let low = 50 - middle / 2 - 15 * b;
        y.push(f64::from(u8::from(draw >= low) + u8::from(draw >= low + middle)));
        x.push(f64::from(a));
        z.push(f64::from(b));
    }
    let design = Design::builder(400).number("x", &x).number("z", &z).build().unwrap();
    let fit = fit_ordinal(&design, &OrderedOutcome::new(&y).unwrap()).unwrap();
    let found = fit.proportionality().unwrap();
    assert!(found.overall.p_value() < 1e-6 && found.columns[0].1.p_value() < 1e-6);
    assert!(found.columns[1].1.p_value() > 0.05);
}

#[test]
fn the_unit_of_a_column_does_not_matter() {
    let (design, outcome, _) = example();
    let far: Vec<f64> = design.matrix.column(0).iter().map(|x| 1000.0 + 50.0 * x).collect();
    let mut moved = design.clone();
    moved.matrix.column_mut(0).assign(&ndarray::Array1::from(far));
    let test = |design: &Design| fit_ordinal(design, &outcome).unwrap().proportionality();
    let (one, other) = (test(&design).unwrap(), test(&moved).unwrap());
    close(one.overall.statistic, other.overall.statistic, 1e-7);
    close(one.columns[0].1.statistic, other.columns[0].1.statistic, 1e-7);
}

#[test]
fn two_categories_leave_nothing_to_test() {
    let fit = fit_ordinal(
        &line(&[1.0, 2.0, 3.0, 4.0, 2.5]),
        &OrderedOutcome::new(&[0.0, 1.0, 0.0, 1.0, 0.0]).unwrap(),
    );
    let fault = fit.unwrap().proportionality();
    assert!(matches!(fault, Err(StatsError::NoDegreesOfFreedom { .. })));
}
