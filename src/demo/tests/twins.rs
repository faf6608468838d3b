//! The tidy and the messy log, read back by simple rules that share nothing with the writers.

use super::*;

/// What a messy cell says, in the spelling of the tidy log's column.
fn understood(column: &str, cell: &str) -> String {
    let cell = cell.trim();
    let number = |cell: &str| cell.replace(',', ".").parse::<f64>().expect("a number").to_string();
    match (column, cell) {
        (_, "" | "-" | "n/a" | "?" | "gave away") => String::new(),
        ("forming_days", "1 week") => "7".into(),
        ("forming_days", "2 wks") => "14".into(),
        ("forming_days", "3 weeks") => "21".into(),
        ("overall", mark) => number(mark.strip_suffix("/10").expect("out of ten")),
        ("gouge_center_mm", thou) => {
            (thou.replace(',', ".").parse::<f64>().expect("a number") * 0.0254).to_string()
        }
        ("lot", name) => name.to_lowercase(),
        ("line" | "fate", words) => words.replace(' ', "_"),
        ("measure", "Gouge centre (mm)") => "gouge_center_mm".into(),
        ("reed" | "note" | "tube", text) => text.into(),
        (_, date) if date.len() == 10 && date.matches('.').count() == 2 => {
            format!("{}-{}-{}", &date[6..], &date[3..5], &date[..2])
        }
        (_, other) if other.starts_with(|first: char| first.is_ascii_digit()) => number(other),
        (_, other) => other.into(),
    }
}

/// A tidy cell in the same spelling: numbers as Rust prints them, lots in lower case.
fn plain(column: &str, cell: &str) -> String {
    match column {
        "reed" | "note" | "tube" => cell.into(),
        "lot" => cell.to_lowercase(),
        _ => cell.parse::<f64>().map_or_else(|_| cell.into(), |number| number.to_string()),
    }
}

/// Fate and cause of a piece, wherever the messy log says them.
fn settle(column: &str, messy: &str, unheard: bool, cracked: bool) -> String {
    match (column, messy) {
        ("fate", "cracked") => "spoiled".into(),
        ("spoiled_by", "") if cracked => "cracked".into(),
        ("fate", "") if unheard => "given_away".into(),
        _ => messy.into(),
    }
}

#[test]
fn tidy_and_messy_hold_the_same_to_the_last_bit() {
    for seed in [DEFAULT_SEED, 1, 2] {
        let (neat, mess) = (workshop(seed), messy(seed));
        let gone: Vec<String> = records(&mess, "ratings.csv", b';')
            .into_iter()
            .filter(|row| row[4] == "gave away")
            .map(|row| row[0].clone())
            .collect();
        for name in TABLES {
            let (tidy, messy) = (records(&neat, name, b','), records(&mess, name, b';'));
            assert_eq!(tidy.len(), messy.len(), "{name}");
            for (tidy_row, messy_row) in tidy.iter().zip(&messy).skip(1) {
                let cracked = messy_row.contains(&"cracked".to_string());
                let unheard = gone.contains(&tidy_row[0]);
                assert!(messy_row[tidy_row.len()..].iter().all(String::is_empty), "{messy_row:?}");
                for ((column, cell), mess) in tidy[0].iter().zip(tidy_row).zip(messy_row) {
                    let mess = settle(column, &understood(column, mess), unheard, cracked);
                    assert_eq!(plain(column, cell), mess, "{name} {column} {tidy_row:?}");
                }
            }
        }
    }
}

#[test]
fn the_messy_log_is_messy_in_every_way_it_claims() {
    assert_eq!(
        records(&workshop(DEFAULT_SEED), "reeds.csv", b',')[0][messy::FIRST_PLAYED],
        "first_played"
    );
    let mess = messy(DEFAULT_SEED);
    let bytes = |name: &str| {
        mess.files.iter().find(|file| file.name == name).expect("written").contents.clone()
    };
    assert!(bytes("ratings.csv").starts_with(b"\xEF\xBB\xBF"));
    assert!(bytes("reeds.csv").contains(&0xB0), "a degree sign in Windows-1252");
    assert!(String::from_utf8(bytes("reeds.csv")).is_err());
    let reeds = text(&mess, "reeds.csv");
    assert!(reeds.contains("\r\n\r\n"), "an empty line");
    assert!(reeds.lines().next().is_some_and(|header| header.ends_with(";;")), "empty columns");
    for spelling in [
        "Days on pin",
        "Gouge centre (thou)",
        "2 wks",
        ";47,5;",
        "SALTMARSH",
        "saltmarsh",
        ";cracked;",
        ";n/a;",
    ] {
        assert!(reeds.contains(spelling), "{spelling}");
    }
    let ratings = text(&mess, "ratings.csv");
    for spelling in [";7/10;", ";7,5/10;", ";gave away;"] {
        assert!(ratings.contains(spelling), "{spelling}");
    }
}

#[test]
fn the_commonest_spelling_of_a_lot_is_the_tidy_one() {
    let mut spellings: BTreeMap<String, BTreeMap<String, usize>> = BTreeMap::new();
    for row in records(&messy(DEFAULT_SEED), "reeds.csv", b';').iter().skip(1) {
        let lot = spellings.entry(row[1].trim().to_lowercase()).or_default();
        *lot.entry(row[1].clone()).or_default() += 1;
    }
    for lot in simulate(DEFAULT_SEED, 1).lots {
        let counts = &spellings[&lot.name.to_lowercase()];
        let commonest =
            counts.iter().max_by_key(|(_, count)| **count).map(|(name, _)| name.as_str());
        assert_eq!(commonest, Some(lot.name));
    }
}
