use nalgebra::DMatrix;

use super::*;
use crate::finding::{OutOfLot, SlopeFromSums};
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::linear::least_squares;
use crate::stats::mixed::{Criterion, fit_mixed};
use crate::stats::products::GroupSums;
use crate::sums::{LotSums, Summed};

/// Reeds of nine lots in rows: hardness and days vary within and between lots, the kiln between lots alone.
struct Table {
    factors: [Vec<f64>; 3],
    score: Vec<f64>,
    lot: Vec<usize>,
}

const NAMES: [&str; 3] = ["hardness", "days", "kiln"];

fn table() -> Table {
    let rows = 120;
    // any numbers without a pattern serve
    let noise = |row: usize, salt: f64| (row as f64 * 12.9898 + salt).sin() * 43_758.545_3 % 1.0;
    let lot: Vec<usize> = (0..rows).map(|row| row * 7 % 31 % 9).collect();
    let of_lot = |row: usize, salt: f64| noise(lot[row] + 500, salt);
    let hardness: Vec<f64> =
        (0..rows).map(|row| 21.0 + 3.0 * noise(row, 1.0) + 2.0 * of_lot(row, 2.0)).collect();
    let days: Vec<f64> = (0..rows).map(|row| (14.0 + 9.0 * noise(row, 3.0)).round()).collect();
    let kiln: Vec<f64> = (0..rows).map(|row| 180.0 + 20.0 * of_lot(row, 4.0)).collect();
    let score = (0..rows)
        .map(|row| {
            6.0 - 0.2 * (hardness[row] - 21.0)
                + 0.01 * days[row]
                + of_lot(row, 5.0)
                + noise(row, 6.0)
        })
        .collect();
    Table { factors: [hardness, days, kiln], score, lot }
}

/// Plain sums, row by row, as an engine makes them.
fn summed(table: &Table, about: &[f64; 4]) -> Sums {
    let constants: Vec<(String, f64)> = NAMES
        .iter()
        .chain(&["rating"])
        .map(|name| (*name).to_owned())
        .zip(about.iter().copied())
        .collect();
    let of = Summed::new(&NAMES.map(str::to_owned), "rating", &constants).expect("names");
    let mut lots: Vec<LotSums> = Vec::new();
    for code in 0..9 {
        let rows: Vec<usize> = (0..table.lot.len()).filter(|&row| table.lot[row] == code).collect();
        let mut sums = GroupSums {
            code,
            count: rows.len(),
            sums: vec![0.0; 4],
            products: DMatrix::zeros(4, 4),
        };
        for &row in &rows {
            let columns = table.factors.iter().chain([&table.score]);
            let away: Vec<f64> =
                columns.zip(about).map(|(column, centre)| column[row] - centre).collect();
            for i in 0..4 {
                sums.sums[i] += away[i];
                for j in 0..4 {
                    sums.products[(i, j)] += away[i] * away[j];
                }
            }
        }
        lots.push(LotSums { lot: format!("lot {code}"), reeds: rows.len(), sums });
    }
    Sums { of, lots, unsummed: Vec::new(), incomplete: 0, without_lot: 0 }
}

fn lot_means(table: &Table, column: &[f64]) -> Vec<f64> {
    let mean = |lot: usize| {
        let own: Vec<f64> =
            (0..column.len()).filter(|&row| table.lot[row] == lot).map(|row| column[row]).collect();
        own.iter().sum::<f64>() / own.len() as f64
    };
    table.lot.iter().map(|&lot| mean(lot)).collect()
}

/// The split design in rows.
fn split_rows(table: &Table) -> Design {
    let means: Vec<Vec<f64>> =
        table.factors.iter().map(|column| lot_means(table, column)).collect();
    let inside = |factor: usize| -> Vec<f64> {
        table.factors[factor].iter().zip(&means[factor]).map(|(value, mean)| value - mean).collect()
    };
    Design::builder(table.score.len())
        .intercept()
        .number("hardness inside", &inside(0))
        .number("days inside", &inside(1))
        .number("hardness between", &means[0])
        .number("days between", &means[1])
        .number("kiln between", &means[2])
        .build()
        .expect("a design")
}

fn section(sums: &Sums) -> ProductsSection {
    match ask(sums).expect("an answer").section {
        Section::Products(section) => section,
        other => panic!("another section: {other:?}"),
    }
}

#[track_caller]
fn agree(found: f64, of_rows: f64, what: &str) {
    let apart = (found - of_rows).abs() / of_rows.abs();
    assert!(apart < 1e-10, "{what}: {found} from sums, {of_rows} from rows");
}

#[track_caller]
fn agree_in_all(found: Option<SlopeFromSums>, of_rows: Estimate, what: &str) {
    let found = found.expect("a slope");
    let (low, high) = of_rows.interval(0.95).expect("an interval");
    for (value, other) in [
        (found.estimate, of_rows.value),
        (found.standard_error, of_rows.standard_error),
        (found.df, of_rows.degrees_of_freedom),
        (found.low, low),
        (found.high, high),
        (found.p, of_rows.p_value()),
    ] {
        agree(value, other, what);
    }
}

#[test]
fn every_answer_is_that_of_the_rows_to_ten_digits() {
    let table = table();
    let found = section(&summed(&table, &[20.0, 15.0, 180.0, 6.0]));
    let design = split_rows(&table);
    let mixed = fit_mixed(&design, &table.score, &table.lot, Criterion::Reml).expect("a fit");
    let plain = least_squares(&design, &table.score).expect("a fit");
    let robust = plain.clustered(&table.lot).expect("robust errors");
    let pick = |column: usize| {
        (0..6).map(|other| f64::from(u8::from(other == column))).collect::<Vec<_>>()
    };
    for (factor, (inside, between)) in [(0, (1, 3)), (1, (2, 4))] {
        let one = &found.list[factor];
        agree_in_all(one.within, mixed.contrast(&pick(inside)).expect("a slope"), NAMES[factor]);
        agree_in_all(one.robust, robust.contrast(&pick(inside)).expect("a slope"), NAMES[factor]);
        agree_in_all(one.between, mixed.contrast(&pick(between)).expect("a slope"), NAMES[factor]);
        let apart: Vec<f64> = pick(inside).iter().zip(pick(between)).map(|(a, b)| a - b).collect();
        let differs = mixed.contrast(&apart).expect("a contrast").p_value();
        agree(one.p_differs.expect("both sides"), differs, NAMES[factor]);
    }
    let kiln = &found.list[2];
    assert_eq!((kiln.within, kiln.robust, kiln.q), (None, None, None));
    agree_in_all(kiln.between, mixed.contrast(&pick(5)).expect("a slope"), "kiln");
    agree(found.sd_between, mixed.sd_group, "between lots");
    agree(found.sd_within, mixed.sd_residual, "within lots");
    assert!(!mixed.at_boundary, "lots differ");
    agree_out_of_lot(&table, found.out_of_lot.expect("lots held out"));
}

/// Each lot left out of the rows in turn.
fn agree_out_of_lot(table: &Table, found: OutOfLot) {
    let (mut squares, mut of_mean) = (0.0, 0.0);
    for lot in 0..9 {
        let (own, others): (Vec<usize>, Vec<usize>) =
            (0..table.lot.len()).partition(|&row| table.lot[row] == lot);
        let column =
            |values: &[f64]| -> Vec<f64> { others.iter().map(|&row| values[row]).collect() };
        let mut design = Design::builder(others.len()).intercept();
        for (name, values) in NAMES.iter().zip(&table.factors) {
            design = design.number(name, &column(values));
        }
        let scores = column(&table.score);
        let fit = least_squares(&design.build().expect("a design"), &scores).expect("a fit");
        let mean = scores.iter().sum::<f64>() / scores.len() as f64;
        for row in own {
            let slopes = table.factors.iter().zip(&fit.coefficients[1..]);
            let foretold =
                fit.coefficients[0] + slopes.map(|(values, b)| values[row] * b).sum::<f64>();
            squares += (table.score[row] - foretold).powi(2);
            of_mean += (table.score[row] - mean).powi(2);
        }
    }
    let rows = table.score.len() as f64;
    agree(found.error, (squares / rows).sqrt(), "error");
    agree(found.error_of_mean, (of_mean / rows).sqrt(), "error of the mean");
    agree(found.r2, 1.0 - squares / of_mean, "share");
}

#[test]
fn constants_far_off_cost_few_digits_and_near_ones_none() {
    let table = table();
    let near = section(&summed(&table, &[20.0, 15.0, 180.0, 6.0]));
    let far = section(&summed(&table, &[0.0, 0.0, 0.0, 0.0]));
    for (a, b) in near.list.iter().zip(&far.list).take(2) {
        let (a, b) = (a.within.expect("a slope"), b.within.expect("a slope"));
        assert!((a.estimate - b.estimate).abs() < 1e-9 * a.estimate.abs());
    }
}

#[test]
fn what_the_sums_cannot_carry_is_refused() {
    let found = |sums: &Sums| ask(sums).expect_err("a refusal").found;
    let whole = summed(&table(), &[20.0, 15.0, 180.0, 6.0]);
    let few = Sums { lots: whole.lots[..2].to_vec(), ..whole.clone() };
    assert!(found(&few).contains("2 lots"), "{}", found(&few));
    let mut same = table();
    let means: Vec<Vec<f64>> = same.factors.iter().map(|column| lot_means(&same, column)).collect();
    same.factors[0].clone_from(&means[0]);
    same.factors[1].clone_from(&means[1]);
    assert!(found(&summed(&same, &[20.0, 15.0, 180.0, 6.0])).contains("No factor varies"));
    let mut twins = table();
    twins.factors[1] = twins.factors[0].iter().map(|hardness| 2.0 * hardness - 5.0).collect();
    assert!(found(&summed(&twins, &[20.0, 37.0, 180.0, 6.0])).contains("cannot be told apart"));
    let mut flat = table();
    flat.score.fill(6.0);
    assert!(found(&summed(&flat, &[20.0, 15.0, 180.0, 6.0])).contains("no spread"));
}

#[test]
fn with_few_lots_the_slopes_between_them_are_left_out_and_that_is_said() {
    let whole = summed(&table(), &[20.0, 15.0, 180.0, 6.0]);
    let finding = ask(&Sums { lots: whole.lots[..5].to_vec(), ..whole }).expect("an answer");
    assert_eq!(finding.caveats.len(), 1);
    let Section::Products(section) = finding.section else { panic!("another section") };
    assert!(section.list.iter().all(|one| one.between.is_none()));
    assert!(section.list[0].within.is_some());
}
