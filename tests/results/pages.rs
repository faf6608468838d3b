//! What a reader sees on the pages is what the results say, rounded.

use std::fs;

use serde_json::Value;

use super::{REVIEWS, list, review};

/// A number as a page prints it: true minus sign, thin spaces in thousands.
fn printed(cell: &str) -> f64 {
    let plain = cell.trim().replace('\u{2212}', "-").replace('\u{202f}', "");
    plain.parse().unwrap_or_else(|_| panic!("{cell} is a number"))
}

fn decimals(cell: &str) -> i32 {
    cell.trim().split_once('.').map_or(0, |(_, fraction)| fraction.len() as i32)
}

/// The printed number is the true one to the digits that are printed.
fn agrees(cell: &str, value: &Value, what: &str) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{what} is a number: {value}"));
    let half = 0.5 * 10f64.powi(-decimals(cell)) + 1e-9;
    assert!(
        (printed(cell) - value).abs() <= half,
        "{what}: the page says {cell}, the results {value}"
    );
}

/// The cells of the Markdown row that begins with these cells.
fn markdown_row(page: &str, first: &[&str]) -> Vec<String> {
    let rows = page.lines().filter(|line| line.starts_with("| "));
    let mut rows = rows.map(|line| {
        line.trim_matches('|').split(" | ").map(|cell| cell.trim().to_owned()).collect::<Vec<_>>()
    });
    let found = rows.find(|row| first.iter().zip(row).all(|(wanted, cell)| wanted == cell));
    found.unwrap_or_else(|| panic!("no row {first:?}"))
}

/// The cells of the HTML row whose heading cell is this text, without their tags.
fn html_row(page: &str, heading: &str) -> Vec<String> {
    let row = page.lines().find(|line| line.contains(&format!(">{heading}</th>")));
    let row = row.unwrap_or_else(|| panic!("no row {heading}"));
    let mut cells: Vec<String> = Vec::new();
    for piece in row.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').expect("a tag is closed");
        if tag.starts_with("th ") || tag.starts_with("td") {
            cells.push(text.to_owned());
        }
    }
    cells
}

#[test]
fn the_lots_on_both_pages_carry_the_numbers_of_the_results() {
    let demo = review("datasets/demo");
    let (markdown, html) = (demo.text("review.md"), demo.text("review.html"));
    for lot in list(&demo.results["lots"], "list") {
        let name = lot["lot"].as_str().expect("a name");
        for row in [markdown_row(&markdown, &[name]), html_row(&html, name)] {
            let keys = ["pieces", "spoiled", "rated", "raw_mean", "pooled_mean", "low", "high"];
            assert_eq!(row.len(), keys.len() + 1, "{row:?}");
            for (key, cell) in keys.iter().zip(&row[1..]) {
                agrees(cell, &lot[*key], &format!("{name}, {key}"));
            }
        }
    }
}

#[test]
fn the_factors_in_the_markdown_carry_the_numbers_of_the_results() {
    let demo = review("datasets/demo");
    let page = demo.text("review.md");
    for (factor, first) in [("hardness", "hardness"), ("forming_days", "days on the pin")] {
        let factors = list(&demo.results["factors"], "list");
        let result = factors.iter().find(|result| result["factor"] == factor).expect("looked at");
        let row = markdown_row(&page, &[first]);
        for (key, cell) in ["estimate", "low", "high"].iter().zip(&row[2..5]) {
            agrees(cell, &result[*key], &format!("{factor}, {key}"));
        }
        assert_eq!(row[5], result["used"].to_string());
        assert_eq!(result["verdict"], row[6].as_str());
    }
}

#[test]
fn the_tables_carry_every_digit_of_the_results() {
    let demo = review("datasets/demo");
    let text = demo.text("tables/lots.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let headings: Vec<String> =
        reader.headers().expect("headings").iter().map(str::to_owned).collect();
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    let lots = list(&demo.results["lots"], "list");
    assert_eq!(rows.len(), lots.len());
    for (row, lot) in rows.iter().zip(lots) {
        for (heading, cell) in headings.iter().zip(row) {
            match lot[heading].as_f64() {
                Some(value) => assert_eq!(cell.parse(), Ok(value), "{heading}"),
                None => assert_eq!(lot[heading], cell, "{heading}"),
            }
        }
    }
}

#[test]
fn every_lot_has_its_row_and_the_answer_to_the_families_stands_word_for_word_on_the_page() {
    let demo = review("datasets/demo");
    let page = demo.text("review.md");
    for lot in list(&demo.results["lots"], "list") {
        let name = lot["lot"].as_str().expect("a name");
        let row = format!("| {name} | {} | {} | {} |", lot["pieces"], lot["spoiled"], lot["rated"]);
        assert!(page.contains(&row), "{row}");
    }
    assert!(page.contains(demo.results["families"]["sentence"].as_str().expect("a sentence")));
}

#[test]
fn no_file_of_any_review_holds_a_number_that_is_none() {
    for review in REVIEWS.iter() {
        let mut open = vec![review.path("")];
        while let Some(folder) = open.pop() {
            for entry in fs::read_dir(folder).expect("a folder of the review") {
                let path = entry.expect("a folder of the review").path();
                if path.is_dir() {
                    open.push(path);
                    continue;
                }
                let text = fs::read_to_string(&path).expect("UTF-8");
                let mut words = text.split(|letter: char| !letter.is_alphanumeric());
                let bad = words.find(|word| ["NaN", "inf", "Infinity"].contains(word));
                assert_eq!(bad, None, "{}", path.display());
            }
        }
    }
}
