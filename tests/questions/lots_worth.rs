//! What each lot is worth: good reeds of ten pieces, their cost, chances, advice, and what was made alike.

use canewright::finding::{ChartKind, Finding, LotResult, LotsSection, Section};
use canewright::questions::{Options, find};
use canewright::study::Study;

use super::{answered, close, lots, noise, reeds, study, table};

fn lot<'a>(section: &'a LotsSection, name: &str) -> &'a LotResult {
    section.list.iter().find(|lot| lot.lot == name).unwrap_or_else(|| panic!("lot {name}"))
}

/// Good (rated 15) and bad (rated 5) reeds and spoiled pieces of each lot.
fn counted(lots: &[(&str, usize, usize, usize)]) -> String {
    let mut text = "reed,lot,rating,fate,spoiled_at\n".to_owned();
    let mut reed = 0;
    for (lot, good, bad, spoiled) in lots {
        let kinds = [(*good, "15,in_use,"), (*bad, "5,in_use,"), (*spoiled, ",spoiled,form")];
        for (count, rest) in kinds {
            for _ in 0..count {
                text += &format!("{reed},{lot},{rest}\n");
                reed += 1;
            }
        }
    }
    text
}

const UNEQUAL: [(&str, usize, usize, usize); 5] =
    [("A", 18, 1, 1), ("B", 10, 6, 4), ("C", 3, 10, 7), ("D", 2, 0, 0), ("E", 9, 8, 3)];

/// By hand: where every lot has six good of ten, the lots do not differ and each is at six.
#[test]
fn six_good_of_ten_in_every_lot_is_six_of_ten_and_spoiled_pieces_count_as_not_good() {
    let text = counted(&["A", "B", "C", "D", "E"].map(|lot| (lot, 6, 2, 2)));
    for lot in &lots(&reeds(&text, "")).list {
        close(lot.good_per_ten.expect("counted"), 6.0, 1e-6, &lot.lot);
        let (low, high) = (lot.good_low.expect("drawn"), lot.good_high.expect("drawn"));
        // the 50 pieces as one lot leave 10 * 1.96 * sqrt(0.24 / 50) = 1.36 to either side, and a lot of ten alone 3.04
        assert!(high - low > 2.0 * 1.3 && high - low < 2.0 * 3.04, "{low} to {high}");
    }
}

/// The mode of a lot's log odds `x` given their mean `m` and variance `v` solves `good - n p(x) = (x - m) / v` (Pinheiro & Bates 1995), so
/// that over the lots `x` is a straight line of `good - n p(x)`.
#[test]
fn each_lots_good_reeds_of_ten_solve_the_equation_of_its_mode() {
    let section = lots(&reeds(&counted(&UNEQUAL), ""));
    let points: Vec<(f64, f64)> = UNEQUAL
        .iter()
        .map(|(name, good, bad, spoiled)| {
            let share = lot(&section, name).good_per_ten.expect("counted") / 10.0;
            let n = (good + bad + spoiled) as f64;
            (*good as f64 - n * share, (share / (1.0 - share)).ln())
        })
        .collect();
    let slope = (points[0].1 - points[2].1) / (points[0].0 - points[2].0);
    assert!(slope > 0.0, "the lots differ");
    for (gap, log_odds) in &points {
        close(*log_odds, points[0].1 + slope * (gap - points[0].0), 1e-5, "on one line");
    }
    let small = lot(&section, "D");
    assert!(small.good_per_ten.expect("counted") < 9.0, "two of two are drawn in");
    assert!(small.good_low.expect("drawn") < 6.0, "and little is known of them");
}

#[test]
fn pieces_whose_end_is_unknown_are_left_out_of_the_good_reeds_and_counted() {
    let known = reeds(&counted(&UNEQUAL), "");
    let more = counted(&UNEQUAL) + "900,A,,unfinished,\n901,B,,given_away,\n902,B,,unfinished,\n";
    let more = reeds(&more, "");
    for name in ["A", "B", "C"] {
        let found = lot(&lots(&more), name).good_per_ten.expect("counted");
        close(found, lot(&lots(&known), name).good_per_ten.expect("counted"), 1e-9, name);
    }
    let told = answered("lots", &more).caveats.join(" ");
    assert!(told.contains("leave out 3 pieces"), "{told}");
}

/// Six good of ten at 3 a piece: 3 * 10 / 6 = 5 for a good reed.
#[test]
fn a_good_reed_costs_the_price_of_the_pieces_it_takes_and_nothing_is_made_up_without_a_price() {
    let text = counted(&["A", "B", "C", "D", "E"].map(|lot| (lot, 6, 2, 2)));
    let section = lots(&study(&[
        ("reeds.csv", &text),
        ("lots.csv", "lot,price_per_piece\nA,3\nB,1.5\n"),
        ("study.toml", super::SCALE),
    ]));
    close(lot(&section, "A").cost_per_good.expect("priced"), 5.0, 1e-6, "A");
    close(lot(&section, "B").cost_per_good.expect("priced"), 2.5, 1e-6, "B");
    assert_eq!(lot(&section, "C").cost_per_good, None);
    let said = &lot(&section, "A").sentence;
    assert!(said.contains("5.00 in the money of the log"), "{said}");
}

/// Five lots of twelve reeds, 3 points apart, and one of four: 4, 7, 10, 13, 16 and 16, so that the average of the lots is 11 and
/// the third lies one point below it.
fn far_apart() -> String {
    table("lot,rating", 64, |row| match row {
        60.. => format!("F,{:.1}", 16.0 + noise(row, 2)),
        _ => {
            let lot = row % 5;
            format!(
                "{},{:.1}",
                ["A", "B", "C", "D", "E"][lot],
                4.0 + 3.0 * lot as f64 + noise(row, 2)
            )
        }
    })
}

#[test]
fn a_lot_far_above_is_bought_again_one_far_below_avoided_and_four_reeds_are_too_few_for_either() {
    let finding = answered("lots", &reeds(&far_apart(), ""));
    assert!(
        finding.answer.contains("Buy again: lots E and D. Avoid: lots C, B and A."),
        "{}",
        finding.answer
    );
    let Section::Lots(section) = finding.section else { panic!("lots") };
    let advice = |name| lot(&section, name).advice.as_deref();
    assert_eq!([advice("E"), advice("A")], [Some("buy again"), Some("avoid")]);
    let few = lot(&section, "F");
    assert!(few.p_above.expect("ranked") > 0.9);
    assert_eq!(few.advice.as_deref(), Some("keep trying"));
    assert!(few.sentence.contains("fewer than five rated reeds"), "{}", few.sentence);
    let best: f64 = section.list.iter().filter_map(|lot| lot.p_best).sum();
    close(best, 1.0, 1e-9, "one lot is the best");
}

#[test]
fn a_better_lot_that_is_dearer_a_good_reed_is_said_to_be() {
    let prices = "lot,price_per_piece\nA,1\nB,1\nC,1\nD,1\nE,90\n";
    let text = table("lot,rating", 60, |row| {
        let lot = row % 5;
        let rating = 6.0 + 2.5 * lot as f64 + 4.0 * noise(row, 2);
        format!("{},{rating:.1}", ["A", "B", "C", "D", "E"][lot])
    });
    let log = [("reeds.csv", text.as_str()), ("lots.csv", prices), ("study.toml", super::SCALE)];
    let section = lots(&study(&log));
    let said = |name| lot(&section, name).sentence.as_str();
    assert!(said("E").contains("more than in the middle lot"), "{}", said("E"));
    assert!(!said("D").contains("more than in the middle lot"), "{}", said("D"));
}

#[test]
fn under_five_lots_nothing_is_ranked_and_nothing_advised() {
    let text = table("lot,rating", 40, |row| {
        format!(
            "{},{:.1}",
            ["A", "B", "C", "D"][row % 4],
            5.0 + 3.0 * (row % 4) as f64 + noise(row, 2)
        )
    });
    for lot in &lots(&reeds(&text, "")).list {
        assert_eq!((lot.p_best, lot.p_above, &lot.advice), (None, None, &None), "{}", lot.lot);
        assert!(
            !lot.sentence.contains("Buy") && !lot.sentence.contains("Keep"),
            "{}",
            lot.sentence
        );
    }
}

/// 8, 10 and 12 have the standard deviation 2. Distances from the middle: A and B 2, 0, 2 and 0.2, 0, 0.2; by hand
/// F = 2.43 / 0.673 = 3.61 on 1 and 4 degrees, so p lies above 0.1 (tables: F of 4.54).
#[test]
fn the_scatter_of_a_lot_is_its_standard_deviation_and_six_reeds_cannot_tell_two_scatters_apart() {
    let text = "reed,lot,rating\n1,A,8\n2,A,10\n3,A,12\n4,B,9.8\n5,B,10\n6,B,10.2\n";
    let section = lots(&reeds(text, ""));
    close(lot(&section, "A").spread.expect("three reeds"), 2.0, 1e-9, "A");
    close(lot(&section, "B").spread.expect("three reeds"), 0.2, 1e-9, "B");
    let p = section.p_spread.expect("tested");
    assert!(p > 0.1 && p < 0.2, "{p}");
}

fn rated_twice(settings: &str, columns: &str, tube: impl Fn(usize) -> String) -> Study {
    let mut text = format!("reed,lot{columns}\n");
    let mut ratings = "reed,date,player,overall\n".to_owned();
    for reed in 0..48 {
        let group = reed / 8;
        text += &format!("{reed},L{group}{}\n", tube(reed));
        let kin = 3.0 * noise(reed / 4, 5);
        for visit in 0..2 {
            let score =
                10.0 + 1.5 * noise(group, 1) + kin + noise(reed, 2) + 0.5 * noise(reed, 3 + visit);
            ratings += &format!("{reed},2024-01-0{},ann,{score:.2}\n", visit + 1);
        }
    }
    study(&[("reeds.csv", &text), ("ratings.csv", &ratings), ("study.toml", settings)])
}

const OVERALL: &str = "scale = [0, 20]\ngood_at = 12\nworthwhile = 0.5\noutcome = \"overall\"";

/// With as many ratings for each reed and as many reeds a lot, both models have the same means: the mean of all and each lot's own, drawn in by
/// the spreads (Searle, Casella & McCulloch 1992, Variance Components, section 4.4: balanced data, from memory).
#[test]
fn ratings_in_equal_numbers_give_the_pooled_means_of_the_reeds_scores() {
    let section = lots(&rated_twice(OVERALL, "", |_| String::new()));
    let (b, w) =
        (section.sd_between.expect("fitted").powi(2), section.sd_within.expect("fitted").powi(2));
    assert!(b > 0.0);
    let centre = section.list.iter().filter_map(|lot| lot.raw_mean).sum::<f64>() / 6.0;
    for lot in &section.list {
        let expected = centre + 8.0 * b / (8.0 * b + w) * (lot.raw_mean.expect("rated") - centre);
        close(lot.pooled_mean.expect("rated"), expected, 1e-4, &lot.lot);
    }
}

#[test]
fn where_pieces_of_a_tube_are_alike_a_lots_mean_is_known_less_well() {
    let without = rated_twice(OVERALL, "", |_| String::new());
    let with = rated_twice(OVERALL, ",tube", |reed| format!(",{}", reed / 4));
    let width = |study: &Study| {
        let section = lots(study);
        let wide =
            section.list.iter().map(|lot| lot.high.expect("rated") - lot.low.expect("rated"));
        wide.sum::<f64>()
    };
    let (without, with_tubes) = (width(&without), width(&with));
    assert!(with_tubes >= without, "{with_tubes} and {without}");
    assert!(
        answered("lots", &with).method.model.contains("lots, tubes and reeds as random intercepts")
    );
}

fn adjusted(study: &Study) -> Finding {
    let options = Options { adjusted: true, ..Options::default() };
    (find("lots").expect("in the registry").ask)(study, &options).expect("answered")
}

/// The rating is the days on the pin and nothing else but scatter; lots differ only in how long they were left there.
#[test]
fn lots_that_differ_only_by_how_they_were_made_are_alike_once_the_making_is_taken_out() {
    let text = table("lot,forming_days,rating", 120, |row| {
        let group = row % 6;
        let days = 10.0 + group as f64 + (2.0 * noise(row, 7)).round();
        format!("L{group},{days},{:.2}", 10.0 + 1.0 * (days - 12.5) + 0.3 * noise(row, 2))
    });
    let study = reeds(&text, "");
    assert!(lots(&study).list.iter().all(|lot| lot.adjusted.is_none()), "only where asked for");
    let finding = adjusted(&study);
    let told = finding.caveats.join(" ");
    assert!(told.contains("from 120 reeds without gaps"), "{told}");
    let Section::Lots(section) = finding.section else { panic!("lots") };
    let range = |of: &dyn Fn(&LotResult) -> f64| {
        let values: Vec<f64> = section.list.iter().map(of).collect();
        let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        most - values.iter().copied().fold(f64::INFINITY, f64::min)
    };
    assert!(range(&|lot| lot.raw_mean.expect("rated")) > 3.5);
    assert!(range(&|lot| lot.adjusted.expect("asked for").estimate) < 0.5);
}

#[test]
fn where_there_is_nothing_to_take_out_it_is_said() {
    let text = counted(&UNEQUAL);
    let told = adjusted(&reeds(&text, "")).caveats.join(" ");
    assert!(told.contains("could not be taken out"), "{told}");
}

#[test]
fn the_grid_of_a_practice_that_went_with_the_lots_counts_their_reeds() {
    let text = table("lot,forming_days,rating", 30, |row| {
        let group = row % 5;
        let days = if group < 3 { 7 } else { 21 };
        format!("L{group},{days},{:.1}", 10.0 + noise(row, 2))
    });
    let finding = answered("lots", &reeds(&text, ""));
    let chart = finding.charts.iter().find(|chart| chart.name == "overlap_forming_days");
    let chart = chart.expect("a practice that is tangled with the lots");
    assert!(chart.description.contains("5 of them saw only one part"), "{}", chart.description);
    let ChartKind::Overlap { parts, lots, more, .. } = &chart.kind else { panic!("a grid") };
    assert_eq!((parts.len(), *more), (2, 0));
    for shown in lots {
        let early = ["L0", "L1", "L2"].contains(&shown.lot.as_str());
        assert_eq!(shown.reeds, if early { vec![6, 0] } else { vec![0, 6] }, "{}", shown.lot);
    }
}

#[test]
fn every_table_has_eight_columns_at_most_and_one_row_a_lot() {
    let finding = adjusted(&reeds(&far_apart(), ""));
    assert_eq!(finding.tables.len(), 3);
    for table in &finding.tables {
        assert!(table.columns.len() <= 8, "{}", table.name);
        assert_eq!(table.rows.len(), 6);
        assert!(table.rows.iter().all(|row| row.len() == table.columns.len()));
    }
}
