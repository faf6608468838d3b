//! Scores of probabilities.

use super::*;

#[test]
fn ties_count_one_half() {
    let outcome = BinomialOutcome::binary(&[0.0, 1.0, 1.0, 0.0]).unwrap();
    // pairs (success, failure): (.5, .5) 1/2, (.5, .2) 1, (.9, .5) 1, (.9, .2) 1
    let area = area_under_curve(&outcome, &[0.5, 0.5, 0.9, 0.2]).unwrap();
    assert_eq!(area, 3.5 / 4.0);
    assert_eq!(area_under_curve(&outcome, &[0.3; 4]).unwrap(), 0.5);
}

#[test]
fn counts_are_as_many_single_rows() {
    let counted = BinomialOutcome::counts(&[1.0, 2.0], &[2.0, 3.0]).unwrap();
    let single = BinomialOutcome::binary(&[1.0, 0.0, 1.0, 1.0, 0.0]).unwrap();
    let (few, many) = ([0.3, 0.6], [0.3, 0.3, 0.6, 0.6, 0.6]);
    close(brier_score(&counted, &few).unwrap(), brier_score(&single, &many).unwrap(), 1e-14);
    close(
        area_under_curve(&counted, &few).unwrap(),
        area_under_curve(&single, &many).unwrap(),
        1e-14,
    );
}

#[test]
fn a_hand_worked_goodness_of_fit() {
    // three groups of 10 trials: (3 - 2)^2 / 1.6 + (5 - 5)^2 / 2.5 + (7 - 8)^2 / 1.6
    let outcome = BinomialOutcome::counts(&[3.0, 5.0, 7.0], &[10.0; 3]).unwrap();
    let test = hosmer_lemeshow(&outcome, &[0.2, 0.5, 0.8], 3).unwrap();
    close(test.statistic, 1.25, 1e-12);
    assert_eq!(test.degrees_of_freedom, 1);
    assert_eq!(test.groups[2], [10.0, 7.0, 8.0]);
    let too_few = hosmer_lemeshow(&outcome, &[0.2, 0.2, 0.8], 10);
    assert_eq!(too_few, Err(StatsError::TooFewGroups { found: 2, needed: 3 }));
}

#[test]
fn what_is_no_probability_is_refused() {
    let outcome = BinomialOutcome::binary(&[0.0, 1.0]).unwrap();
    assert!(brier_score(&outcome, &[0.5, 1.5]).is_err());
    assert!(brier_score(&outcome, &[0.5]).is_err());
    assert!(area_under_curve(&outcome, &[0.5, f64::NAN]).is_err());
    let same = BinomialOutcome::binary(&[1.0, 1.0]).unwrap();
    assert!(matches!(area_under_curve(&same, &[0.5, 0.5]), Err(StatsError::NoVariation { .. })));
}
