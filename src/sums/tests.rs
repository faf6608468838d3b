use super::*;
use crate::problem::{Error, Problem};

fn names(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

fn summed() -> Summed {
    let about = [("hardness".to_owned(), 20.0), ("rating".to_owned(), 6.5)];
    Summed::new(&names(&["hardness"]), "rating", &about).expect("a factor and a score")
}

/// Two lots about 20 and 6.5: hardness 19, 21, 24 with 6, 7, 5; hardness 18, 20 with 7, 8. A third lot has a reed without a rating.
const FILE: [&[&str]; 4] = [
    &[
        "lot",
        "score",
        "reeds",
        "used",
        "centre of hardness",
        "centre of rating",
        "sum of hardness",
        "sum of rating",
        "product of hardness and hardness",
        "product of hardness and rating",
        "product of rating and rating",
    ],
    &["Alder", "rating", "4", "3", "20", "6.5", "4", "-1.5", "18", "-5", "2.75"],
    &["Birch", "rating", "2", "2", "20", "6.5", "-2", "2", "4", "-1", "2.5"],
    &["Crane", "rating", "1", "0", "20", "6.5", "", "", "", "", ""],
];

fn file() -> Vec<Vec<String>> {
    FILE.iter().map(|row| names(row)).collect()
}

fn read_rows(rows: &[Vec<String>]) -> Result<Sums, Error> {
    let numbered: Vec<(u64, Vec<String>)> = (2..).zip(rows[1..].iter().cloned()).collect();
    read("sums.csv", &rows[0], &numbered)
}

/// The problem of a file in which one cell is another.
fn problem_with(row: usize, heading: &str, cell: &str) -> Problem {
    let mut rows = file();
    let column = rows[0].iter().position(|name| name == heading).expect("a column");
    cell.clone_into(&mut rows[row][column]);
    refused(&rows)
}

fn refused(rows: &[Vec<String>]) -> Problem {
    match read_rows(rows) {
        Err(Error::Unreadable(problem)) => *problem,
        other => panic!("not refused: {other:?}"),
    }
}

#[test]
fn a_hand_worked_file_gives_its_means_and_spreads() {
    let sums = read_rows(&file()).expect("sums");
    assert_eq!((sums.used(), sums.incomplete, sums.without_lot), (5, 2, 0));
    assert_eq!(sums.unsummed, [("Crane".to_owned(), 1)]);
    let products = sums.products().expect("products");
    let alder = &products.groups[0];
    // 19, 21, 24 about their mean 64/3, and 6, 7, 5 about 6
    assert!((alder.mean[1] - 64.0 / 3.0).abs() < 1e-14 && (alder.mean[2] - 6.0).abs() < 1e-15);
    assert!((alder.within[(1, 1)] - 38.0 / 3.0).abs() < 1e-13);
    assert!((alder.within[(1, 2)] - -3.0).abs() < 1e-14);
    assert!((alder.within[(2, 2)] - 2.0).abs() < 1e-14);
}

#[test]
fn what_is_written_is_read_again() {
    let sums = read_rows(&file()).expect("sums");
    let (heading, rows) = sums.rows();
    assert_eq!([vec![heading], rows].concat(), file());
}

#[test]
fn columns_may_stand_in_any_order_and_products_in_either() {
    let mut rows = file();
    for row in &mut rows {
        row.reverse();
    }
    rows[0][1] = "product of rating and hardness".to_owned();
    assert_eq!(read_rows(&rows).expect("sums"), read_rows(&file()).expect("sums"));
}

#[test]
fn a_score_may_stand_before_the_factors_in_the_file() {
    let mut rows = file();
    rows[0][4..6].swap(0, 1);
    for row in &mut rows[1..] {
        row[4..6].swap(0, 1);
    }
    assert_eq!(read_rows(&rows).expect("sums"), read_rows(&file()).expect("sums"));
}

#[test]
fn reeds_of_no_lot_are_counted_and_not_summed() {
    let mut rows = file();
    let mut loose = rows[2].clone();
    loose[0] = String::new();
    rows.push(loose);
    let sums = read_rows(&rows).expect("sums");
    assert_eq!((sums.without_lot, sums.used()), (2, 5));
}

#[test]
fn every_cell_that_no_sum_can_be_is_named() {
    for (row, heading, cell) in [
        (1, "used", "-3"),
        (1, "used", "2.5"),
        (1, "used", "5"),
        (1, "used", "NaN"),
        (1, "reeds", "many"),
        (1, "reeds", "1e300"),
        (2, "sum of hardness", "NaN"),
        (2, "sum of hardness", "inf"),
        (2, "sum of rating", ""),
        (2, "product of hardness and rating", "1,5"),
        (2, "centre of hardness", "21"),
        (2, "score", "hardness"),
        (1, "score", "tone"),
        (2, "lot", "Alder"),
    ] {
        let problem = problem_with(row, heading, cell);
        assert_eq!(problem.place.column.as_deref(), Some(heading), "{cell}: {problem:?}");
        assert_eq!((problem.place.line, problem.text.as_str()), (Some(row as u64 + 1), cell));
    }
}

#[test]
fn sums_that_no_reeds_have_are_refused_by_their_row() {
    for (heading, cell) in [
        ("product of hardness and hardness", "-18"),
        ("product of hardness and hardness", "5"),
        ("product of hardness and rating", "50"),
        ("product of rating and rating", "0.5"),
    ] {
        let problem = problem_with(1, heading, cell);
        assert_eq!(problem.place.line, Some(2), "{heading} {cell}");
        assert!(problem.message.contains("No reeds have"), "{problem:?}");
    }
}

#[test]
fn products_in_both_orders_must_agree() {
    let mut rows = file();
    rows[0].push("product of rating and hardness".to_owned());
    for (row, cell) in rows[1..].iter_mut().zip(["-5", "-1", ""]) {
        row.push(cell.to_owned());
    }
    assert_eq!(read_rows(&rows).expect("sums"), read_rows(&file()).expect("sums"));
    "-4".clone_into(&mut rows[1][11]);
    assert!(refused(&rows).message.contains("No reeds have"));
}

#[test]
fn a_missing_or_repeated_column_is_named_and_so_is_a_file_without_lots() {
    for (column, name) in FILE[0].iter().enumerate() {
        let mut rows = file();
        for row in &mut rows {
            row.remove(column);
        }
        let message = refused(&rows).message;
        // without its constant a column is not known to be summed
        let told = ["There is no column", "none of the summed", "No factor is named"];
        assert!(told.iter().any(|told| message.contains(told)), "{name}: {message}");
    }
    let mut rows = file();
    "lot".clone_into(&mut rows[0][6]);
    assert!(refused(&rows).message.contains("Two columns are named"));
    assert!(refused(&file()[..1]).message.contains("no lots"));
}

#[test]
fn names_that_no_column_can_have_are_refused() {
    let many: Vec<String> = (0..=MOST_FACTORS).map(|place| format!("x{place}")).collect();
    for factors in [
        names(&[]),
        names(&["a", "a"]),
        names(&["rating"]),
        names(&[" "]),
        names(&["a\n; DROP"]),
        many,
    ] {
        assert!(Summed::new(&factors, "rating", &[]).is_err(), "{factors:?}");
    }
    let stranger = [("tone".to_owned(), 1.0)];
    assert!(Summed::new(&names(&["a"]), "rating", &stranger).is_err());
}

#[test]
fn a_known_column_is_summed_about_the_middle_of_what_is_usual() {
    let columns = names(&["gouge_center_mm", "forming_days", "mood"]);
    let summed = Summed::new(&columns, "rating", &[]).expect("names");
    let usual = |name| catalogue::known(name).and_then(|column| column.usual).expect("a range");
    for (name, centre) in columns.iter().zip(&summed.centres()[..2]) {
        assert!(usual(name).holds(*centre), "{name}: {centre}");
    }
    assert_eq!(summed.centres()[2..], [0.0, 0.0]);
}

#[test]
fn the_query_is_one_plain_statement() {
    let source = Source::new("shop.my reeds", "lot").expect("names");
    let text = sql(&summed(), &source);
    let expected = r#"SELECT
  lot_of_reed AS "lot",
  'rating' AS "score",
  COUNT(*) AS "reeds",
  SUM(has_all) AS "used",
  2E1 AS "centre of hardness",
  6.5E0 AS "centre of rating",
  SUM(away_1) AS "sum of hardness",
  SUM(away_2) AS "sum of rating",
  SUM(away_1 * away_1) AS "product of hardness and hardness",
  SUM(away_1 * away_2) AS "product of hardness and rating",
  SUM(away_2 * away_2) AS "product of rating and rating"
FROM (
  SELECT
    "lot" AS lot_of_reed,
    CASE WHEN "hardness" IS NOT NULL AND "rating" IS NOT NULL THEN 1 ELSE 0 END AS has_all,
    CASE WHEN "hardness" IS NOT NULL AND "rating" IS NOT NULL THEN "hardness" - 2E1 END AS away_1,
    CASE WHEN "hardness" IS NOT NULL AND "rating" IS NOT NULL THEN "rating" - 6.5E0 END AS away_2
  FROM "shop"."my reeds"
) AS reeds_about_constants
GROUP BY lot_of_reed
"#;
    let (remarks, statement): (Vec<&str>, Vec<&str>) =
        text.lines().partition(|line| line.starts_with("--"));
    assert_eq!(statement.join("\n") + "\n", expected);
    assert_eq!(remarks.len(), 4);
}

#[test]
fn no_name_ends_its_own_quotes() {
    let about = [("a\"b".to_owned(), -1.5)];
    let summed = Summed::new(&names(&["a\"b"]), "it's", &about).expect("names");
    let source = Source::new("t\"; DROP", "l").expect("names");
    let text = sql(&summed, &source);
    for part in [r#""a""b" - (-1.5E0)"#, "'it''s' AS", r#"FROM "t""; DROP""#] {
        assert!(text.contains(part), "{part}: {text}");
    }
}

#[test]
fn a_name_that_could_end_the_remark_above_the_statement_is_refused() {
    for (table, lot) in [
        ("reeds\nDROP TABLE reeds; --", "lot"),
        ("reeds", "lot\r\nlot"),
        ("a..b", "lot"),
        ("", "lot"),
    ] {
        let told = Source::new(table, lot).expect_err("no name");
        assert!(told.contains("is no name") && !told.contains(char::is_control), "{told}");
    }
}
