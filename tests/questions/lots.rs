//! Which cane lots played well: a published table, and what luck must not do.

use canewright::finding::{LotResult, LotsSection};
use canewright::study::Study;

use super::{answered, close, lots, noise, reeds, refused, study, table};

/// Davies & Goldsmith 1972, Statistical Methods in Research and Production, 4th ed.: yield of dyestuff in grams, five
/// samples of each of six batches.
const DYESTUFF: [(&str, [u32; 5]); 6] = [
    ("A", [1545, 1440, 1440, 1520, 1580]),
    ("B", [1540, 1555, 1490, 1560, 1495]),
    ("C", [1595, 1550, 1605, 1510, 1560]),
    ("D", [1445, 1440, 1595, 1465, 1545]),
    ("E", [1595, 1630, 1515, 1635, 1625]),
    ("F", [1520, 1455, 1450, 1480, 1445]),
];

fn dyestuff() -> Study {
    let rows: Vec<(&str, u32)> =
        DYESTUFF.iter().flat_map(|(lot, values)| values.map(|value| (*lot, value))).collect();
    let text = table("lot,rating", 30, |row| format!("{},{}", rows[row].0, rows[row].1));
    reeds(&text, "scale = [1000, 2000]\noutcome = \"rating\"")
}

fn lot<'a>(section: &'a LotsSection, name: &str) -> &'a LotResult {
    section.list.iter().find(|lot| lot.lot == name).unwrap_or_else(|| panic!("lot {name}"))
}

/// Bates, Maechler, Bolker & Walker 2015, J. Stat. Softw. 67(1): REML standard deviations 42.00 between and 49.51 within,
/// mean 1527.5. The conditional means follow by hand: the lot's mean less 1527.5, times 42.00²/(42.00² + 49.51²/5) = 0.7825.
#[test]
fn six_batches_of_dyestuff_have_their_published_spread_and_are_drawn_in_by_hand() {
    let section = lots(&dyestuff());
    close(section.sd_between.expect("fitted"), 42.00, 0.005, "between");
    close(section.sd_within.expect("fitted"), 49.51, 0.005, "within");
    close(
        section.icc.expect("fitted"),
        42.0006f64.powi(2) / (42.0006f64.powi(2) + 49.5101f64.powi(2)),
        1e-5,
        "icc",
    );
    let drawn_in = 0.78253;
    for (name, values) in DYESTUFF {
        let mean = f64::from(values.iter().sum::<u32>()) / 5.0;
        let result = lot(&section, name);
        close(result.raw_mean.expect("rated"), mean, 1e-9, name);
        close(result.pooled_mean.expect("rated"), 1527.5 + drawn_in * (mean - 1527.5), 0.01, name);
    }
    let order: Vec<&str> = section.list.iter().map(|lot| lot.lot.as_str()).collect();
    assert_eq!(order, ["E", "C", "B", "A", "D", "F"]);
}

/// How far the twelve reeds of an ordinary lot lie from its mean; they add up to nothing.
const SCATTER: [f64; 12] = [-2.5, -2.0, -1.5, -1.0, -0.5, -0.2, 0.2, 0.5, 1.0, 1.5, 2.0, 2.5];

/// Five ordinary lots of twelve reeds and one of three, all three lucky.
fn with_a_lucky_lot(best: &str) -> Study {
    let sign = if best == "low" { -1.0 } else { 1.0 };
    let ordinary = [("Ash", 9.6), ("Box", 9.8), ("Cob", 10.0), ("Dell", 10.2), ("Elm", 11.6)];
    let text = table("lot,rating,fate,spoiled_at", 65, |row| {
        let (lot, rating) = match row {
            63.. => return "Lucky,,spoiled,form".to_owned(),
            60.. => ("Lucky", 12.0 + 0.2 * (row as f64 - 61.0)),
            _ => (ordinary[row % 5].0, ordinary[row % 5].1 + SCATTER[row / 5]),
        };
        format!("{lot},{:.1},in_use,", 10.0 + sign * (rating - 10.0))
    });
    reeds(&text, &format!("scale = [0, 20]\noutcome = \"rating\"\nbest = \"{best}\""))
}

#[test]
fn three_lucky_reeds_do_not_top_the_table() {
    for best in ["high", "low"] {
        let study = with_a_lucky_lot(best);
        let section = lots(&study);
        let sign = if best == "low" { -1.0 } else { 1.0 };
        let raw = |lot: &&LotResult| sign * lot.raw_mean.expect("rated");
        let raw_best = section.list.iter().max_by(|a, b| raw(a).total_cmp(&raw(b)));
        assert_eq!(raw_best.expect("lots").lot, "Lucky", "the plain mean would have it on top");
        assert_eq!(section.list[0].lot, "Elm", "{best}");
        let told = answered("lots", &study).more.join(" ");
        assert!(
            told.contains("Lucky has the best plain mean")
                && told.contains("drawn towards the average of all lots")
        );
    }
}

/// Henderson 1975: with the spreads as fitted, a lot's pooled mean is m + n b/(n b + w) (its mean - m), b and w the variances
/// between and within, m the mean of the lots weighted by 1/(b + w/n).
#[test]
fn the_pooled_means_follow_from_the_spreads_by_hand() {
    let section = lots(&with_a_lucky_lot("high"));
    let (b, w) =
        (section.sd_between.expect("fitted").powi(2), section.sd_within.expect("fitted").powi(2));
    assert!(b > 0.0);
    let weight = |lot: &LotResult| 1.0 / (b + w / lot.rated as f64);
    let sum = |value: &dyn Fn(&LotResult) -> f64| section.list.iter().map(value).sum::<f64>();
    let centre = sum(&|lot| weight(lot) * lot.raw_mean.expect("rated")) / sum(&|lot| weight(lot));
    for lot in &section.list {
        let n = lot.rated as f64;
        let expected = centre + n * b / (n * b + w) * (lot.raw_mean.expect("rated") - centre);
        close(lot.pooled_mean.expect("rated"), expected, 1e-6, &lot.lot);
    }
    let width = |name: &str| lot(&section, name).high.unwrap() - lot(&section, name).low.unwrap();
    assert!(width("Lucky") > width("Elm"), "few reeds know less");
    assert_eq!((lot(&section, "Lucky").pieces, lot(&section, "Lucky").spoiled), (5, 2));
}

#[test]
fn lots_that_are_alike_cannot_be_told_apart_and_a_spread_of_zero_is_kept() {
    let text = table("lot,rating", 15, |row| {
        format!("{},{}", ["A", "B", "C", "D", "E"][row % 5], 9 + row / 5)
    });
    let study = reeds(&text, "");
    let section = lots(&study);
    assert_eq!((section.sd_between, section.icc), (Some(0.0), Some(0.0)));
    close(section.sd_within.expect("fitted"), 1.0 * (10.0f64 / 14.0).sqrt(), 1e-6, "within");
    for lot in &section.list {
        close(lot.pooled_mean.expect("rated"), 10.0, 1e-6, &lot.lot);
    }
    let answer = answered("lots", &study).answer;
    assert!(answer.contains("cannot be told apart") && answer.contains("5 rated lots"), "{answer}");
}

/// Means of 9.9 to 10.1 among reeds that scatter by 2: the likeliest spread is none, and all lots are drawn to one mean.
#[test]
fn where_the_likeliest_spread_is_none_the_lots_still_stand_in_the_order_of_their_reeds() {
    let text = table("lot,rating", 30, |row| {
        let (lot, reed) = (row % 5, row / 5);
        let mean = [9.9, 9.95, 10.0, 10.05, 10.1][lot];
        format!("{},{:.2}", ["A", "B", "C", "D", "E"][lot], mean + [-2.0, 2.0][reed % 2])
    });
    let section = lots(&reeds(&text, ""));
    assert_eq!(section.sd_between, Some(0.0));
    let order: Vec<&str> = section.list.iter().map(|lot| lot.lot.as_str()).collect();
    assert_eq!(order, ["E", "D", "C", "B", "A"]);
}

#[test]
fn two_equal_lots_are_both_at_their_common_mean_and_neither_is_called_better() {
    let text = table("lot,rating", 6, |row| format!("{},{}", ["A", "B"][row % 2], 9 + row / 2));
    let study = reeds(&text, "");
    for lot in &lots(&study).list {
        close(lot.pooled_mean.expect("rated"), 10.0, 1e-6, &lot.lot);
    }
    let finding = answered("lots", &study);
    assert!(finding.answer.contains("too few to rank"), "{}", finding.answer);
    assert!(!finding.answer.contains("better"), "{}", finding.answer);
}

#[test]
fn four_lots_are_shown_and_not_ranked() {
    let text = table("lot,rating", 24, |row| {
        format!(
            "{},{:.1}",
            ["A", "B", "C", "D"][row % 4],
            6.0 + 3.0 * (row % 4) as f64 + noise(row, 2)
        )
    });
    let study = reeds(&text, "");
    assert_eq!(lots(&study).list.len(), 4);
    let finding = answered("lots", &study);
    assert!(
        finding.answer.starts_with("Four lots with rated reeds are too few to rank; it takes five")
    );
    let told = finding.more.join(" ");
    assert!(!told.contains("better bet") && !told.contains("best plain mean"), "{told}");
}

#[test]
fn five_lots_that_differ_by_far_are_told_apart() {
    let text = table("lot,rating", 50, |row| {
        format!(
            "{},{:.1}",
            ["A", "B", "C", "D", "E"][row % 5],
            4.0 + 3.0 * (row % 5) as f64 + noise(row, 2)
        )
    });
    let answer = answered("lots", &reeds(&text, "")).answer;
    assert!(answer.contains("E") && answer.contains("played better than the average"), "{answer}");
    assert!(answer.contains("A") && answer.contains("played worse"), "{answer}");
}

#[test]
fn one_lot_or_none_is_refused_and_told_what_it_takes() {
    let one = refused("lots", &reeds("reed,lot,rating\n1,A,8\n2,A,9\n3,B,\n", ""));
    assert_eq!(one.found, "All rated reeds are of one lot.");
    assert!(one.takes.contains("It takes two to compare and five to rank"), "{}", one.takes);
    let none = refused("lots", &reeds("reed,rating\n1,8\n2,9\n", ""));
    assert_eq!(none.found, "No rated reed has a lot.");
}

#[test]
fn lots_without_two_reeds_that_differ_are_refused() {
    let refusal = refused("lots", &reeds("reed,lot,rating\n1,A,8\n2,B,9\n", ""));
    assert!(refusal.takes.contains("two rated reeds"), "{refusal}");
}

#[test]
fn a_lot_whose_pieces_all_spoiled_is_listed_last_and_given_no_mean() {
    let text = "reed,lot,rating,fate,spoiled_at\n1,A,8,in_use,\n2,A,9,in_use,\n3,B,7,in_use,\n4,B,9,in_use,\n\
                5,Aa,,spoiled,form\n6,Aa,,spoiled,form\n";
    let section = lots(&reeds(text, ""));
    let last = section.list.last().expect("three lots");
    assert_eq!((last.lot.as_str(), last.pieces, last.spoiled, last.rated), ("Aa", 2, 2, 0));
    assert_eq!((last.raw_mean, last.pooled_mean, last.low, last.high), (None, None, None, None));
}

#[test]
fn a_reed_rated_often_counts_once_with_its_mean() {
    let reeds = "reed,lot\n1,A\n2,A\n3,B\n4,B\n";
    let ratings = "reed,date,player,overall\n1,2024-01-01,ann,2\n1,2024-01-02,ann,4\n1,2024-01-03,ann,6\n\
                   2,2024-01-01,ann,8\n3,2024-01-01,ann,5\n4,2024-01-01,ann,7\n";
    let section = lots(&study(&[
        ("reeds.csv", reeds),
        ("ratings.csv", ratings),
        ("study.toml", "scale = [1, 10]\noutcome = \"overall\""),
    ]));
    let a = lot(&section, "A");
    assert_eq!((a.rated, a.raw_mean), (2, Some(6.0)), "(4 + 8) / 2, not the mean of four ratings");
}
