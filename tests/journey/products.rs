//! Sums by lot: the query, the sums of a log that is here, and the answers from a file of sums.

use std::fs;

use super::{Desk, dataset, json};

const FACTORS: [&str; 3] = ["hardness", "gouge_center_mm", "forming_days"];

/// The sums of the demo log on the desk.
fn desk_with_sums() -> (Desk, String) {
    let desk = Desk::new();
    let demo = dataset("demo");
    let words = ["products", FACTORS[0], FACTORS[1], FACTORS[2], "--of", &demo];
    let sums = desk.printed(&words);
    fs::write(desk.path("sums.csv"), &sums).expect("the desk can be written to");
    (desk, sums)
}

fn told(desk: &Desk, words: &[&str]) -> String {
    let output = desk.call(words).output().expect("the program can be called");
    assert_eq!(output.status.code(), Some(2), "{words:?}");
    assert!(output.stdout.is_empty(), "{words:?}");
    String::from_utf8(output.stderr).expect("the program prints UTF-8")
}

#[test]
fn the_query_and_the_sums_of_a_log_have_the_same_columns() {
    let (desk, sums) = desk_with_sums();
    let query = desk.printed(&["products", FACTORS[0], FACTORS[1], FACTORS[2]]);
    assert!(query.contains("GROUP BY"), "{query}");
    let header = sums.lines().next().expect("a header");
    let columns: Vec<&str> = header.split(',').collect();
    assert_eq!(columns.len(), 4 + 4 + 4 + 10);
    for column in columns {
        assert!(query.contains(&format!(" AS \"{column}\"")), "{column} is not in {query}");
    }
}

#[test]
fn the_answers_from_sums_come_as_a_page_and_as_numbers() {
    let (desk, _) = desk_with_sums();
    let page = desk.printed(&["factors", "--products", "sums.csv"]);
    let numbers = json(&desk.printed(&["factors", "--products", "sums.csv", "--json"]));
    let list = numbers["list"].as_array().expect("a list");
    assert_eq!(list.len(), FACTORS.len());
    let flat = page.split_whitespace().collect::<Vec<_>>().join(" ");
    for (one, name) in list.iter().zip(FACTORS) {
        assert_eq!(one["factor"], name);
        let within = &one["within"];
        let bound = |key: &str| within[key].as_f64().expect("a number");
        assert!(bound("low") < bound("estimate") && bound("estimate") < bound("high"));
        let sentence = one["sentence"].as_str().expect("a sentence");
        assert!(
            flat.contains(&sentence.split_whitespace().collect::<Vec<_>>().join(" ")),
            "{sentence}: {page}"
        );
    }
    assert!(numbers["out_of_lot"]["error"].as_f64().is_some_and(|error| error > 0.0));
}

#[test]
fn a_slip_is_answered_with_what_is_known() {
    let (desk, sums) = desk_with_sums();
    let demo = dataset("demo");
    assert!(told(&desk, &["products", "hardnes", "--of", &demo]).contains("“hardness”"));
    assert!(told(&desk, &["products", "hardness", "hardness"]).contains("twice"));
    assert!(
        told(&desk, &["products", "hardness", "--about", "hardness=soft"]).contains("hardness=20")
    );
    assert!(told(&desk, &["factors"]).contains("--products"));
    assert!(
        told(&desk, &["factors", "my_log", "--products", "sums.csv"]).contains("cannot be used")
    );
    assert!(told(&desk, &["factors", "--products", "none.csv"]).contains("none.csv"));
    let spoiled = sums.replacen("sum of hardness", "total of hardness", 1);
    fs::write(desk.path("spoiled.csv"), spoiled).expect("the desk can be written to");
    assert!(told(&desk, &["factors", "--products", "spoiled.csv"]).contains("“sum of hardness”"));
}

#[test]
fn sums_of_too_few_lots_are_refused_in_words_and_in_json() {
    let (desk, sums) = desk_with_sums();
    let few: Vec<&str> = sums.lines().take(3).collect();
    fs::write(desk.path("few.csv"), few.join("\n")).expect("the desk can be written to");
    assert!(desk.printed(&["factors", "--products", "few.csv"]).contains("three lots"));
    let refusal = json(&desk.printed(&["factors", "--products", "few.csv", "--json"]));
    assert_eq!(refusal["question"], "products");
}
