//! The same seed gives the same bytes, on any number of threads.

use std::collections::BTreeMap;

use super::{Desk, dataset, files, json};

fn reviewed(log: &str, seed: &str, rayon: &str, polars: &str) -> BTreeMap<String, Vec<u8>> {
    let desk = Desk::new();
    desk.call(&["review", log, "--out", "report", "--seed", seed])
        .env("RAYON_NUM_THREADS", rayon)
        .env("POLARS_MAX_THREADS", polars)
        .assert()
        .success();
    files(&desk.path("report"))
}

#[test]
fn one_thread_and_four_give_the_same_bytes_in_every_file() {
    let log = dataset("demo");
    let alone = reviewed(&log, "11", "1", "1");
    for (rayon, polars) in [("4", "4"), ("4", "1"), ("1", "4")] {
        let other = reviewed(&log, "11", rayon, polars);
        for (name, bytes) in &alone {
            assert!(
                other.get(name) == Some(bytes),
                "{name} differs with {rayon} and {polars} threads"
            );
        }
        assert_eq!(alone.len(), other.len());
    }
}

#[test]
fn another_seed_moves_the_drawn_intervals_of_the_lots_a_little_and_no_estimate() {
    let desk = Desk::new();
    let lots =
        |seed: &str| json(&desk.printed(&["lots", &dataset("demo"), "--json", "--seed", seed]));
    let (one, other) = (lots("1"), lots("2"));
    let pairs = one["list"]
        .as_array()
        .into_iter()
        .flatten()
        .zip(other["list"].as_array().into_iter().flatten());
    let mut moved = 0;
    for (a, b) in pairs {
        assert_eq!(a["pooled_mean"], b["pooled_mean"]);
        let low =
            |lot: &serde_json::Value| lot["low"].as_f64().expect("every lot of the demo is rated");
        moved += usize::from(low(a) != low(b));
        assert!((low(a) - low(b)).abs() < 0.1, "{a} {b}");
    }
    assert!(moved > 0, "the intervals are drawn");
}
