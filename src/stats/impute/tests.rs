use super::*;
use crate::stats::design::Design;
use crate::stats::estimate::Estimate;
use crate::stats::impute::pool;
use crate::stats::linear::least_squares;
use crate::stats::numeric::normal_cdf;
use crate::stats::resample::stream;
use rand_distr::{Distribution, StandardNormal};

fn table(rows: usize) -> IncompleteTable {
    IncompleteTable::new(rows).unwrap()
}

fn there(values: &[f64]) -> Vec<Option<f64>> {
    values.iter().copied().map(Some).collect()
}

fn settings(imputations: usize) -> Settings {
    Settings { imputations, ..Settings::default() }
}

/// `x` complete; `y = x + noise` and a grade of it, both with gaps.
fn example(rows: usize) -> IncompleteTable {
    let mut generator = stream(9, 0);
    let mut normal = || -> f64 { StandardNormal.sample(&mut generator) };
    let x: Vec<f64> = (0..rows).map(|_| normal()).collect();
    let y: Vec<f64> = x.iter().map(|x| x + 0.5 * normal()).collect();
    let grade = |y: &f64| {
        if *y < -0.5 {
            "low"
        } else if *y < 0.5 {
            "middle"
        } else {
            "top"
        }
    };
    let grades = y.iter().enumerate().map(|(row, y)| (row % 4 != 1).then(|| grade(y).to_string()));
    let grades: Vec<Option<String>> = grades.collect();
    let gaps = y.iter().enumerate().map(|(row, &y)| (row % 5 != 0).then_some(y));
    let gaps: Vec<Option<f64>> = gaps.collect();
    table(rows)
        .number("x", &there(&x))
        .unwrap()
        .number("y", &gaps)
        .unwrap()
        .choice("grade", &grades)
        .unwrap()
}

#[test]
fn the_number_of_threads_does_not_matter() {
    let table = example(80);
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| impute(&table, &settings(6), 42).unwrap())
    };
    let one = on(1);
    assert_eq!(one, on(2));
    assert_eq!(one, on(7));
    assert_ne!(one, impute(&table, &settings(6), 43).unwrap());
}

#[test]
fn what_was_there_stays_and_what_is_filled_in_occurs() {
    let table = example(60);
    let filled = impute(&table, &settings(4), 1).unwrap();
    let Cells::Numbers(raw) = &table.columns[1].cells else { panic!("y is a number") };
    for imputation in 0..filled.count() {
        let y = filled.numbers(imputation, "y").unwrap();
        for &row in &table.columns[1].observed {
            assert_eq!(y[row], raw[row]);
        }
        let donors = filled.donors(imputation, "y").unwrap();
        for (&row, &donor) in table.columns[1].missing.iter().zip(donors) {
            assert!(donor % 5 != 0);
            assert_eq!(y[row], raw[donor]);
        }
        let grades = filled.choices(imputation, "grade").unwrap();
        assert!(grades.iter().all(|grade| ["low", "middle", "top"].contains(&grade.as_str())));
    }
    assert_ne!(filled.numbers(0, "y").unwrap(), filled.numbers(1, "y").unwrap());
}

#[test]
fn a_choice_is_filled_in_from_what_goes_with_it() {
    // the grade follows from y; where y is there, most grades that were taken away come back
    let table = example(400);
    let Cells::Numbers(y) = &table.columns[1].cells else { panic!("y is a number") };
    let filled = impute(&table, &settings(5), 3).unwrap();
    let (mut right, mut all) = (0, 0);
    for imputation in 0..5 {
        let grades = filled.choices(imputation, "grade").unwrap();
        for &row in table.columns[2].missing.iter().filter(|&&row| row % 5 != 0) {
            let truth = if y[row] < -0.5 {
                "low"
            } else if y[row] < 0.5 {
                "middle"
            } else {
                "top"
            };
            right += usize::from(grades[row] == truth);
            all += 1;
        }
    }
    // drawing at random would be right in about one of three
    let share = right as f64 / all as f64;
    assert!(share > 0.75, "{share}");
}

#[test]
fn a_table_without_gaps_comes_back_as_it_is() {
    let full = table(5).number("x", &there(&[1.0, 2.0, 3.0, 4.0, 5.0])).unwrap();
    let filled = impute(&full, &settings(3), 1).unwrap();
    assert_eq!(filled.numbers(2, "x").unwrap(), [1.0, 2.0, 3.0, 4.0, 5.0]);
    assert!(filled.donors(0, "x").unwrap().is_empty());
}

#[test]
fn columns_that_cannot_be_filled_are_refused() {
    let none = table(3).number("x", &[None, Some(1.0), Some(2.0)]).unwrap();
    assert_eq!(impute(&none, &settings(2), 1), Err(StatsError::NoCompleteColumn));
    let cells = [Some(1.0), None, None, Some(2.0)];
    let half =
        table(4).number("x", &there(&[1.0, 2.0, 3.0, 4.0])).unwrap().number("y", &cells).unwrap();
    let fault = StatsError::TooMuchMissing { what: "y".into(), share: 0.5, most: 0.4 };
    assert_eq!(impute(&half, &settings(2), 1), Err(fault));
    let loose = Settings { most_missing: 0.5, ..settings(2) };
    // two rows for a constant, a slope and an error
    assert_eq!(impute(&half, &loose, 1), Err(StatsError::TooFewRows { rows: 2, columns: 2 }));
    assert!(matches!(impute(&table(3), &settings(2), 1), Err(StatsError::Empty { .. })));
}

#[test]
fn settings_of_zero_are_refused() {
    let table = example(40);
    for bad in [
        settings(0),
        Settings { iterations: 0, ..settings(1) },
        Settings { donors: 0, ..settings(1) },
        Settings { most_missing: f64::NAN, ..settings(1) },
    ] {
        assert!(matches!(impute(&table, &bad, 1), Err(StatsError::OutOfRange { .. })));
    }
    let filled = impute(&table, &settings(1), 1).unwrap();
    assert!(matches!(filled.numbers(1, "y"), Err(StatsError::OutOfRange { .. })));
    assert!(matches!(filled.numbers(0, "grade"), Err(StatsError::UnknownColumn { .. })));
    assert!(matches!(filled.choices(0, "x"), Err(StatsError::UnknownColumn { .. })));
    assert!(matches!(filled.donors(0, "z"), Err(StatsError::UnknownColumn { .. })));
}

#[test]
fn columns_that_do_not_vary_repeat_others_or_predict_perfectly_are_borne() {
    let rows = 20;
    let x: Vec<f64> = (0..rows).map(f64::from).collect();
    let twice: Vec<f64> = x.iter().map(|x| 2.0 * x).collect();
    let gaps = |value: &dyn Fn(f64) -> f64| -> Vec<Option<f64>> {
        x.iter().map(|&x| (x as usize % 4 != 2).then(|| value(x))).collect()
    };
    let same = (0..rows).map(|row| (row % 4 != 1).then(|| "only".to_string()));
    let same: Vec<Option<String>> = same.collect();
    let table = table(20)
        .number("x", &there(&x))
        .and_then(|table| table.number("twice", &there(&twice)))
        .and_then(|table| table.number("constant", &gaps(&|_| 3.0)))
        .and_then(|table| table.number("exact", &gaps(&|x| 5.0 - x)))
        .and_then(|table| table.choice("same", &same))
        .unwrap();
    let filled = impute(&table, &settings(3), 4).unwrap();
    assert_eq!(filled.numbers(0, "constant").unwrap(), [3.0; 20]);
    assert!(filled.choices(0, "same").unwrap().iter().all(|level| level == "only"));
    let exact = filled.numbers(0, "exact").unwrap();
    for row in table.columns[3].missing.iter().filter(|&&row| (4..16).contains(&row)) {
        assert!((exact[*row] - (5.0 - *row as f64)).abs() <= 4.0);
    }
}

#[test]
fn one_huge_value_is_borne_and_overflow_is_said() {
    let with = |huge: f64| {
        let cells =
            (0..12).map(|row| (row % 4 != 1).then(|| if row == 0 { huge } else { f64::from(row) }));
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let table = table(12).number("x", &there(&x)).unwrap();
        table.number("y", &cells.collect::<Vec<_>>()).unwrap()
    };
    assert!(impute(&with(1e12), &settings(2), 1).is_ok());
    assert!(matches!(impute(&with(1e300), &settings(2), 1), Err(StatsError::NotConverged { .. })));
}

/// One log: `y = 1 + 2 x + e`, and `y` is missing in half of the rows with a positive `x` and in one of ten of the others.
fn log(number: u64) -> (Vec<f64>, Vec<Option<f64>>) {
    let mut generator = stream(77, number);
    let mut normal = || -> f64 { StandardNormal.sample(&mut generator) };
    let x: Vec<f64> = (0..200).map(|_| normal()).collect();
    let cells = x.iter().map(|x| {
        let (y, chance) = (1.0 + 2.0 * x + normal(), normal_cdf(normal()));
        (chance > if *x > 0.0 { 0.5 } else { 0.1 }).then_some(y)
    });
    let cells = cells.collect();
    (x, cells)
}

fn pooled(filled: &Imputations, estimate: impl Fn(&[f64]) -> Estimate) -> Estimate {
    let tables = 0..filled.count();
    let estimates = tables.map(|table| estimate(&filled.numbers(table, "y").unwrap()));
    pool(&estimates.collect::<Vec<_>>()).unwrap().estimate
}

fn holds(estimate: Estimate, truth: f64) -> usize {
    let (low, high) = estimate.interval(0.95).unwrap();
    usize::from(low <= truth && truth <= high)
}

fn centre(y: &[f64]) -> Estimate {
    let design = Design::builder(y.len()).intercept().build().unwrap();
    least_squares(&design, y).unwrap().classical(&[1.0]).unwrap()
}

fn slope(x: &[f64], y: &[f64]) -> Estimate {
    let design = Design::builder(y.len()).intercept().number("x", x).build().unwrap();
    least_squares(&design, y).unwrap().classical(&[0.0, 1.0]).unwrap()
}

/// Simulated truth: the mean of `y` is 1, that of the rows with a value far below; pooled intervals hold the mean about as often as they say.
/// Those of the slope fall short, as the method does where donors are scarce at one edge: in 2,000 such logs they held it in 89 %, and with the same algorithm
/// written apart in NumPy 2.4 in 90 % of 1,000.
#[test]
fn pooled_intervals_hold_the_truth_where_those_of_complete_rows_do_not() {
    let few = Settings { most_missing: 0.5, ..settings(10) };
    let (mut held_mean, mut held_slope, mut held_complete) = (0, 0, 0);
    for number in 0..200 {
        let (x, cells) = log(number);
        let table = table(200).number("x", &there(&x)).unwrap().number("y", &cells).unwrap();
        let filled = impute(&table, &few, number).unwrap();
        held_mean += holds(pooled(&filled, centre), 1.0);
        held_slope += holds(pooled(&filled, |y| slope(&x, y)), 2.0);
        held_complete += holds(centre(&cells.into_iter().flatten().collect::<Vec<_>>()), 1.0);
    }
    // of 200; standard deviation 3.4 at 94 %, 4.4 at 89 %
    assert!((176..=199).contains(&held_mean), "{held_mean}");
    assert!((161..=195).contains(&held_slope), "{held_slope}");
    assert!(held_complete < 100, "{held_complete}");
}
