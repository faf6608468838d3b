//! What kinds of reeds there are: clouds made for the purpose, published data written as a log, thin logs.

use std::collections::BTreeSet;

use canewright::finding::{FamiliesSection, Finding, Section};
use canewright::questions::{Options, find};
use canewright::stats::cluster::adjusted_rand_index;
use canewright::study::Study;

use super::{answered, close, families, noise, reeds, refused, study, table};

/// A sum of twelve even draws is close to normal.
fn normal(row: usize, stream: usize) -> f64 {
    (0..12).map(|draw| noise(row, stream + draw)).sum::<f64>() / 2.0
}

/// Pieces in as many clouds as there are centres, each a hardness and a gouge.
fn cloud_lines(pieces: usize, centres: &[(f64, f64)]) -> Vec<String> {
    let line = |row: usize| {
        let (hardness, gouge) = centres[row % centres.len()];
        format!(
            "{row},{:.2},{:.4},{:.1}",
            hardness + 0.5 * normal(row, 100),
            gouge + 0.01 * normal(row, 200),
            10.0 + noise(row, 3)
        )
    };
    (0..pieces).map(line).collect()
}

const CLOUD_HEAD: &str = "reed,hardness,gouge_center_mm,rating\n";

fn clouds(pieces: usize, centres: &[(f64, f64)]) -> Study {
    reeds(&(CLOUD_HEAD.to_owned() + &cloud_lines(pieces, centres).join("\n") + "\n"), "")
}

const TWO: [(f64, f64); 2] = [(11.0, 1.20), (18.0, 1.34)];
const THREE: [(f64, f64); 3] = [(11.0, 1.20), (18.0, 1.20), (14.5, 1.34)];

fn with_seed(study: &Study, seed: u64) -> FamiliesSection {
    let options = Options { seed, ..Options::default() };
    let finding = (find("families").expect("in the registry").ask)(study, &options);
    match finding.expect("answered").section {
        Section::Families(section) => section,
        other => panic!("{other:?}"),
    }
}

fn labels(section: &FamiliesSection) -> Vec<usize> {
    section.assigned.iter().map(|member| member.family).collect()
}

fn words(finding: &Finding) -> String {
    [&finding.more[..], &finding.caveats[..]].concat().join(" ")
}

#[test]
fn two_clouds_far_apart_are_found_and_each_piece_put_into_its_own() {
    let study = clouds(60, &TWO);
    let section = families(&study);
    assert_eq!(section.k, 2, "{}", section.sentence);
    assert!(section.stability.iter().all(|stability| *stability > 0.9), "{:?}", section.stability);
    let family = |row: usize| section.assigned[row].family;
    for row in 0..60 {
        assert_eq!(section.assigned[row].piece, row.to_string());
        assert_eq!(family(row) == family(0), row % 2 == 0, "piece {row}");
    }
    assert_eq!(section.list.iter().map(|family| family.n).collect::<Vec<_>>(), [30, 30]);
    assert_eq!(section.p_one, 0.01, "none of 99");
    assert!(section.agreement.is_some_and(|index| index > 0.95));
}

#[test]
fn three_clouds_are_found_again_under_other_seeds_and_another_order_of_the_rows() {
    let lines = cloud_lines(60, &THREE);
    let truth: Vec<usize> = (0..60).map(|row| row % 3).collect();
    let study = reeds(&(CLOUD_HEAD.to_owned() + &lines.join("\n") + "\n"), "");
    for seed in [1, 2025] {
        let section = with_seed(&study, seed);
        assert_eq!(section.k, 3, "{}", section.sentence);
        assert!(adjusted_rand_index(&labels(&section), &truth).expect("labels") >= 0.95);
    }
    let turned: Vec<String> = lines.iter().rev().cloned().collect();
    let other = families(&reeds(&(CLOUD_HEAD.to_owned() + &turned.join("\n") + "\n"), ""));
    let one = families(&study);
    assert_eq!(other.assigned, one.assigned, "the order of the rows does not matter");
    assert_eq!(other.stability, one.stability);
    assert_eq!(other.explained, one.explained);
}

/// By hand: hardness 10 to 12 in the one kind and 20 to 22 in the other, both with mean 11 and 21; the difference is 10 exactly.
#[test]
fn each_kind_is_told_by_what_sets_it_apart_with_its_size_and_nobody_is_told_to_prefer_one() {
    let text = table("hardness,gouge_center_mm,rating", 60, |row| {
        let hardness = if row % 2 == 0 { 10.0 } else { 20.0 } + 0.5 * (row / 2 % 5) as f64;
        format!("{hardness},{:.4},{}", 1.27 + 0.03 * noise(row, 7), 10 + row % 2 * 2)
    });
    let finding = answered("families", &reeds(&text, "[columns.hardness]\nhigher_is = \"softer\""));
    let section = match &finding.section {
        Section::Families(section) => section,
        other => panic!("{other:?}"),
    };
    assert_eq!(section.k, 2, "{}", section.sentence);
    let feature = &section.list[0].features[0];
    close(feature.difference.abs(), 10.0, 1e-9, "the difference in hardness");
    assert!(finding.answer.contains("hardness 10.00 higher (softer)"), "{}", finding.answer);
    assert!(finding.answer.contains("lower (a higher reading is softer)"), "{}", finding.answer);
    assert!(words(&finding).contains("Nobody assigned the reeds"), "{:?}", finding.caveats);
    assert_eq!(section.told_by, ["hardness"]);
    assert!(words(&finding).contains("lie apart in hardness"), "{:?}", finding.more);
}

/// Rated 10 and 12 in turns with a reed more or less: the difference of the means is 2.
#[test]
fn kinds_are_compared_on_the_rating_among_reeds_of_the_same_lots() {
    let text = table("lot,hardness,gouge_center_mm,rating", 60, |row| {
        let (hardness, gouge) = TWO[row % 2];
        let rating = 10.0 + 2.0 * (row % 2) as f64 + 0.5 * (row / 2 % 3) as f64;
        format!(
            "lot {},{:.2},{:.4},{rating}",
            row / 10,
            hardness + 0.5 * normal(row, 100),
            gouge + 0.01 * normal(row, 200)
        )
    });
    let finding = answered("families", &reeds(&text, ""));
    let section = match &finding.section {
        Section::Families(section) => section,
        other => panic!("{other:?}"),
    };
    assert_eq!(section.list.iter().map(|family| family.rated).collect::<Vec<_>>(), [30, 30]);
    let [difference] = section.differences[..] else { panic!("{:?}", section.differences) };
    close(difference.difference.estimate.abs(), 2.0, 1e-6, "points between the kinds");
    assert!(difference.difference.low.abs().min(difference.difference.high.abs()) > 1.5);
    assert!(words(&finding).contains("was rated, against kind"), "{:?}", finding.more);
    assert!(finding.method.model.contains("random intercepts of lots"), "{}", finding.method.model);
}

#[test]
fn a_kind_that_is_a_lot_is_called_so() {
    let text = table("lot,hardness,gouge_center_mm,rating", 60, |row| {
        let soft = row < 20;
        let (hardness, gouge) = TWO[usize::from(soft)];
        format!(
            "lot {},{:.2},{:.4},10",
            if soft { 9 } else { row % 4 },
            hardness + 0.5 * normal(row, 100),
            gouge + 0.01 * normal(row, 200)
        )
    });
    let finding = answered("families", &reeds(&text, ""));
    assert!(
        words(&finding).contains("20 of the 20 pieces of kind 2 come from lot “lot 9”"),
        "{:?}",
        finding.more
    );
}

/// Kind by hardness and gouge; `columns` gives a reed's maker and rating by its row and kind.
fn two_kinds(columns: fn(usize, usize) -> (&'static str, f64)) -> Finding {
    let text = table("maker,lot,hardness,gouge_center_mm,rating", 60, |row| {
        let kind = row % 2;
        let (hardness, gouge) = TWO[kind];
        let (maker, rating) = columns(row, kind);
        format!(
            "{maker},lot {},{:.2},{:.4},{rating}",
            row / 10,
            hardness + 0.5 * normal(row, 100),
            gouge + 0.01 * normal(row, 200)
        )
    });
    answered("families", &reeds(&text, ""))
}

fn differences(finding: &Finding) -> Vec<f64> {
    match &finding.section {
        Section::Families(section) => {
            section.differences.iter().map(|one| one.difference.estimate).collect()
        }
        other => panic!("{other:?}"),
    }
}

/// Two of three reeds of a kind are by its own maker. Plain means of the kinds lie 1 + 4 / 3 apart, reeds of the same maker 1.
#[test]
fn the_better_maker_does_not_make_the_kind_that_is_mostly_theirs_better() {
    let finding = two_kinds(|row, kind| {
        let maker = if row / 2 % 3 == 0 { 1 - kind } else { kind };
        let scatter = 0.2 * normal(row, 300);
        (["ann", "bea"][maker], 8.0 + kind as f64 + 4.0 * maker as f64 + scatter)
    });
    let [apart] = differences(&finding)[..] else { panic!("{finding:?}") };
    close(apart.abs(), 1.0, 0.2, "points between the kinds");
    assert!(finding.method.model.contains("the kinds and the makers"), "{}", finding.method.model);
    assert!(!words(&finding).contains("were made by"), "two of three are not most");
}

#[test]
fn a_kind_that_one_maker_made_is_called_so_and_not_compared() {
    let finding = two_kinds(|row, kind| {
        (["ann", "bea"][kind], 8.0 + 4.0 * kind as f64 + 0.2 * normal(row, 300))
    });
    assert_eq!(differences(&finding), [0.0; 0]);
    let told = words(&finding);
    assert!(told.contains("The kinds cannot be told from who made or played their reeds"));
    assert!(told.contains("30 of the 30 pieces of kind 2 were made by “"), "{told}");
}

#[test]
fn a_kind_is_called_a_makers_only_where_most_of_its_makers_are_known() {
    let told_with = |is_named: fn(usize) -> bool| {
        let text = table("maker,hardness,gouge_center_mm,rating", 60, |row| {
            let (hardness, gouge) = TWO[row % 2];
            let maker = if is_named(row / 2) { ["ann", "bea"][row % 2] } else { "" };
            let (hardness, gouge) =
                (hardness + 0.5 * normal(row, 100), gouge + 0.01 * normal(row, 200));
            format!("{maker},{hardness:.2},{gouge:.4},{}", 10 + row % 3)
        });
        words(&answered("families", &reeds(&text, "")))
    };
    assert!(!told_with(|turn| turn % 3 == 0).contains("were made by"));
    let told = told_with(|turn| turn % 3 > 0);
    assert!(
        told.contains("20 of the 20 pieces of kind 2 whose maker is known were made by"),
        "{told}"
    );
}

/// Three kinds: ann and bea made each half of the first two, whose reeds lie three points apart; the third is all cleo's.
#[test]
fn a_kind_that_a_visitor_made_leaves_the_others_to_be_compared() {
    let text = table("maker,lot,hardness,gouge_center_mm,rating", 90, |row| {
        let kind = row % 3;
        let (hardness, gouge) = [(10.0, 1.0), (20.0, 1.0), (10.0, 1.4)][kind];
        let maker = if kind == 2 { "cleo" } else { ["ann", "bea"][row / 3 % 2] };
        let rating = [8.0, 11.0, 15.0][kind] + if maker == "bea" { 2.0 } else { 0.0 };
        format!(
            "{maker},lot {},{:.2},{:.4},{:.2}",
            row / 15,
            hardness + 0.5 * normal(row, 100),
            gouge + 0.01 * normal(row, 200),
            rating + 0.2 * normal(row, 300)
        )
    });
    let finding = answered("families", &reeds(&text, ""));
    let Section::Families(section) = &finding.section else { panic!("{finding:?}") };
    assert_eq!(section.k, 3);
    let [apart] = section.differences[..] else { panic!("{:?}", section.differences) };
    close(apart.difference.estimate.abs(), 3.0, 0.2, "points between the kinds of both makers");
    let visitors = section.list.iter().find(|family| family.maker.is_some()).expect("cleo's kind");
    assert_eq!(visitors.rating.rating, None);
    let left = format!("Kind {} cannot be told from who made or played its reeds", visitors.family);
    assert!(words(&finding).contains(&left), "{:?}", finding.more);
    let others = section.list.iter().filter(|family| family.maker.is_none());
    assert!(others.clone().count() == 2 && others.clone().all(|one| one.rating.rating.is_some()));
}

/// The reeds of one kind are all rated by two players, who differ by a point; those of the other by a third, whom no reed compares with them. Without lots each reed is a lot of
/// its own, and of over 200 each reed counts once.
#[test]
fn kinds_that_only_their_own_players_rated_are_not_compared_however_many_reeds_there_are() {
    for reeds in [60, 240] {
        let text = table("hardness,gouge_center_mm", reeds, |row| {
            let (hardness, gouge) = TWO[row % 2];
            let (hardness, gouge) =
                (hardness + 0.5 * normal(row, 100), gouge + 0.01 * normal(row, 200));
            format!("{hardness:.2},{gouge:.4}")
        });
        let rated = |row: usize| {
            let mark = |level: f64, player: usize| level + 0.2 * normal(row, 100 * player);
            match row % 2 {
                0 => format!("{row},ann,{}\n{row},bea,{}\n", mark(8.0, 3), mark(9.0, 4)),
                _ => format!("{row},cleo,{}\n", mark(12.0, 5)),
            }
        };
        let ratings: String = (0..reeds).map(rated).collect();
        let study = study(&[
            ("reeds.csv", &text),
            ("ratings.csv", &format!("reed,player,rating\n{ratings}")),
            ("study.toml", super::SCALE),
        ]);
        let finding = answered("families", &study);
        assert_eq!(differences(&finding), [0.0; 0]);
        let why = "The kinds cannot be told from who made or played their reeds";
        assert!(words(&finding).contains(why), "{:?}", finding.more);
    }
}

/// Ann and bea rated no reed together, and bea is a point more lenient; each rated reeds of both kinds, which lie two points apart. Of over 200 reeds each counts once.
#[test]
fn players_whom_no_reed_compares_are_held_apart_in_a_large_log_too() {
    let text = table("hardness,gouge_center_mm", 240, |row| {
        let (hardness, gouge) = TWO[row % 2];
        format!("{:.2},{:.4}", hardness + 0.5 * normal(row, 100), gouge + 0.01 * normal(row, 200))
    });
    // two of three reeds of a kind are rated by the same player
    let rated = |row: usize| {
        let kind = row % 2;
        let player = if (row / 2).is_multiple_of(3) { 1 - kind } else { kind };
        let mark = 8.0 + 2.0 * kind as f64 + 3.0 * player as f64 + 0.2 * normal(row, 300);
        format!("{row},{},{mark}\n", ["ann", "bea"][player])
    };
    let ratings: String = (0..240).map(rated).collect();
    let study = study(&[
        ("reeds.csv", &text),
        ("ratings.csv", &format!("reed,player,rating\n{ratings}")),
        ("study.toml", super::SCALE),
    ]);
    let finding = answered("families", &study);
    let [apart] = differences(&finding)[..] else { panic!("{finding:?}") };
    close(apart.abs(), 2.0, 0.15, "points between the kinds");
}

#[test]
fn one_cloud_is_one_family_and_that_is_the_answer() {
    let study = clouds(60, &[(14.0, 1.27)]);
    let finding = answered("families", &study);
    let section = families(&study);
    assert_eq!((section.k, section.list.len(), section.list[0].n), (1, 1, 60));
    assert!(section.assigned.iter().all(|member| member.family == 1));
    assert!(section.sentence.starts_with("Your reeds are one family"), "{}", section.sentence);
    assert!(section.p_one > 0.01 && section.tried.is_empty() && section.stability.is_empty());
    assert!(words(&finding).contains("would not have been seen"), "{:?}", finding.caveats);
}

/// Ten different values in half the pieces and far out in a handful: no kind.
#[test]
fn a_few_odd_pieces_far_out_are_no_kind() {
    let text = table("hardness,gouge_center_mm,density_g_cm3,rating", 60, |row| {
        let odd = if row < 3 { 1.0 } else { 0.0 };
        format!(
            "{:.1},{:.3},{:.3},10",
            14.0 + normal(row, 100) + 9.0 * odd,
            1.27 + 0.02 * normal(row, 200) + 0.15 * odd,
            0.55 + 0.02 * normal(row, 300)
        )
    });
    assert_eq!(families(&reeds(&text, "")).k, 1);
}

#[test]
fn a_number_with_few_values_is_a_choice_and_no_coordinate() {
    let text = table("hardness,gouge_center_mm,forming_days,rating", 60, |row| {
        format!(
            "{:.1},{:.3},{},10",
            14.0 + normal(row, 100),
            1.27 + 0.02 * normal(row, 200),
            [7, 21][row % 2]
        )
    });
    let finding = answered("families", &reeds(&text, ""));
    assert!(finding.answer.starts_with("Your reeds are one family"), "{}", finding.answer);
    assert!(words(&finding).contains("fewer than six different values"), "{:?}", finding.caveats);
}

#[test]
fn fewer_than_twenty_whole_pieces_are_refused_and_told_that_it_takes_twenty() {
    let refusal = refused("families", &clouds(19, &TWO));
    assert_eq!(refusal.found, "Only 19 pieces have all of the measurements.");
    assert!(refusal.takes.contains("20"), "{}", refusal.takes);
    assert_eq!(families(&clouds(20, &TWO)).assigned.len(), 20);
    assert!(
        refused("families", &clouds(4, &TWO)).takes.contains("two"),
        "four differ in too little"
    );
}

#[test]
fn one_measurement_and_none_that_differs_are_refused_and_told_that_it_takes_two() {
    let text = table("hardness,rating", 40, |row| format!("{:.1},9", 14.0 + 3.0 * noise(row, 1)));
    let refusal = refused("families", &reeds(&text, ""));
    assert!(refusal.takes.starts_with("It takes two"), "{}", refusal.takes);
    for cells in ["14,1.27,9", ",,9", ",,"] {
        let text = table("hardness,gouge_center_mm,rating", 40, |_| cells.to_owned());
        let refusal = refused("families", &reeds(&text, ""));
        assert!(refusal.takes.starts_with("It takes two"), "{cells}: {}", refusal.takes);
    }
    let choices = table("hardness,gouge_center_mm,rating", 40, |row| {
        format!("{},1.{},9", row % 3, 2 + row % 2)
    });
    let refusal = refused("families", &reeds(&choices, ""));
    assert!(refusal.found.contains("2 numbers take fewer than six"), "{}", refusal.found);
}

#[test]
fn a_log_without_a_rating_still_has_its_kinds() {
    let text = table("hardness,gouge_center_mm", 60, |row| {
        let (hardness, gouge) = TWO[row % 2];
        format!("{:.2},{:.4}", hardness + 0.5 * normal(row, 1), gouge + 0.01 * normal(row, 20))
    });
    let finding = answered("families", &study(&[("reeds.csv", &text)]));
    assert!(finding.answer.contains("2 kinds"), "{}", finding.answer);
    assert!(finding.more.join(" ").contains("none of them was rated"));
}

#[test]
fn a_measurement_that_most_pieces_lack_and_a_piece_with_a_gap_stay_out() {
    let text = table("hardness,gouge_center_mm,crow_hz,rating", 40, |row| {
        let gouge =
            if row < 3 { String::new() } else { format!("{:.3}", 1.27 + 0.05 * noise(row, 2)) };
        let crow =
            if row < 20 { String::new() } else { format!("{:.0}", 480.0 + 20.0 * noise(row, 3)) };
        format!("{:.1},{gouge},{crow},9", 14.0 + 3.0 * noise(row, 1))
    });
    let finding = answered("families", &reeds(&text, ""));
    assert_eq!(finding.used, (37, "pieces"));
    assert_eq!(finding.left_out.iter().map(|out| out.n).sum::<usize>(), 3);
    assert!(!finding.method.model.contains("crow"), "{}", finding.method.model);
    assert!(words(&finding).contains("too many pieces lack it"), "{:?}", finding.caveats);
}

/// A study file that makes measurements of the cane out of columns of other names.
fn as_measurements(columns: &[&str]) -> String {
    let one = |name: &&str| {
        format!("[columns.{name}]\nis = \"{name}\"\nstage = \"cane\"\nkind = \"number\"\n")
    };
    columns.iter().map(one).collect()
}

fn published(path: &str, columns: &[&str]) -> Study {
    let text = std::fs::read_to_string(path).expect("the data set is there");
    let mut lines = text.lines();
    let head = lines.next().expect("a header");
    let first_is_name = head.split(',').count() > columns.len();
    let own =
        if first_is_name { head.replacen("state", "reed", 1) } else { format!("reed,{head}") };
    let mut log = own + "\n";
    for (row, line) in lines.enumerate() {
        log += &if first_is_name { format!("{line}\n") } else { format!("{row},{line}\n") };
    }
    study(&[("reeds.csv", &log), ("study.toml", &as_measurements(columns))])
}

/// Shares of the four components of the correlation matrix of USArrests (McNeil 1977), as in the reference case `pca_usarrests`: R's prcomp(scale. = TRUE) and
/// James et al. 2013, An Introduction to Statistical Learning, section 10.4. There it is one cloud along its first component, and it is one here.
#[test]
fn the_components_of_usarrests_hold_the_published_shares_and_the_states_are_one_family() {
    let columns = ["murder", "assault", "urbanpop", "rape"];
    let section = families(&published("tests/reference/pca_usarrests/data.csv", &columns));
    assert_eq!(section.explained.len(), 4, "{}", section.sentence);
    let shares = [0.620060394787373, 0.24744128813496, 0.0891407951452074, 0.0433575219324588];
    for (found, expected) in section.explained.iter().zip(shares) {
        close(*found, expected, 1e-6, "share of a component");
    }
    assert_eq!(section.k, 1, "{}", section.sentence);
}

/// The same numbers as thicknesses at four distances, 0.1 mm + value / 400: the covariance components, which do not see the shift and the scale (`cov_prop_1` to
/// `cov_prop_4` and the first loadings of the same case).
#[test]
fn the_components_of_a_profile_are_those_of_the_covariance_matrix() {
    let text = std::fs::read_to_string("tests/reference/pca_usarrests/data.csv").expect("data");
    let mut pieces = "reed,hardness,gouge_center_mm\n".to_owned();
    let mut profile = "reed,from_tip_mm,line,thickness_mm,repeat\n".to_owned();
    for (row, line) in text.lines().skip(1).enumerate() {
        pieces +=
            &format!("{row},{:.2},{:.3}\n", 14.0 + noise(row, 1), 1.27 + 0.03 * noise(row, 2));
        for (value, at) in line.split(',').skip(1).zip([2, 8, 14, 20]) {
            let value: f64 = value.parse().expect("a number");
            // the repeats err by as much on either side
            for (repeat, error) in [(1, 0.01), (2, -0.01)] {
                profile +=
                    &format!("{row},{at},spine,{:.7},{repeat}\n", 0.1 + value / 400.0 + error);
            }
        }
    }
    let section = families(&study(&[("reeds.csv", &pieces), ("profile.csv", &profile)]));
    let shape = section.profile.expect("a profile");
    assert_eq!((shape.pieces, shape.points.len()), (50, 4));
    let shares = [0.965534220566882, 0.0278173366321749, 0.00579953492234191];
    for (found, expected) in shape.components.iter().zip(shares) {
        close(found.explained, expected, 1e-6, "share of a component");
    }
    assert!(
        shape.components[0].kept && !shape.components[1].kept,
        "the second holds under a tenth"
    );
    let loadings = [0.0417043206282872, 0.995221281426497, 0.0463357461197108, 0.0751555005855468];
    let sd = 83.7324002464017 / 400.0;
    for (found, expected) in shape.components[0].one_sd.iter().zip(loadings) {
        close(*found, expected * sd, 1e-6, "one standard deviation, mm");
    }
}

/// Old Faithful (Azzalini & Bowman 1990): short and long eruptions. On both standardised columns `kmeans(scale(faithful), 2, nstart = 200)` of R 4.2.2 gives sizes
/// 174 and 98; on the eruptions or the waiting alone it gives 174 and 98, 172 and 100.
#[test]
fn the_eruptions_of_old_faithful_are_two_kinds_of_174_and_98() {
    let columns = ["eruptions", "waiting"];
    let section = families(&published("tests/reference/cluster_faithful/data.csv", &columns));
    assert_eq!(section.k, 2, "{}", section.sentence);
    let sizes: Vec<usize> = section.list.iter().map(|family| family.n).collect();
    assert_eq!(sizes, [174, 98], "told by {:?}", section.told_by);
    if section.told_by.len() == 2 {
        // scikit-learn 1.9.1, silhouette_score on the same parting
        let silhouette = section.tried[1].silhouette.expect("of two kinds");
        close(silhouette, 0.745_177_44, 1e-6, "mean silhouette");
    }
}

/// Blades of two makes: one thinner at the back by 0.08 mm. Hardness and gouge are the same in both.
#[test]
fn two_kinds_of_profile_are_found_told_by_their_thickness_and_shown_as_curves() {
    let mut pieces = "reed,hardness,gouge_center_mm,rating\n".to_owned();
    let mut profile = "reed,from_tip_mm,line,thickness_mm,repeat\n".to_owned();
    for row in 0..60 {
        pieces += &format!(
            "{row},{:.2},{:.3},{:.1}\n",
            14.0 + normal(row, 1),
            1.27 + 0.02 * normal(row, 20),
            10.0 + noise(row, 5)
        );
        for (place, at) in [2.0, 8.0, 14.0, 20.0, 26.0].into_iter().enumerate() {
            let thin = if row % 2 == 0 { 0.08 * at / 26.0 } else { 0.0 };
            let thick = 0.15 + 0.025 * at - thin + 0.004 * normal(row, 300 + 20 * place);
            profile += &format!("{row},{at},spine,{thick:.3},1\n");
        }
    }
    let finding =
        answered("families", &study(&[("reeds.csv", &pieces), ("profile.csv", &profile)]));
    let section = match &finding.section {
        Section::Families(section) => section,
        other => panic!("{other:?}"),
    };
    assert_eq!(section.k, 2, "{}", section.sentence);
    assert!(section.told_by.contains(&"profile component 1".to_owned()), "{:?}", section.told_by);
    assert!(section.sentence.contains("mm thinner"), "{}", section.sentence);
    assert!(section.sentence.contains("from the tip"), "{}", section.sentence);
    let names: BTreeSet<&str> = finding.charts.iter().map(|chart| chart.name.as_str()).collect();
    let expected = ["families", "families_curves", "families_profile"];
    assert_eq!(names, BTreeSet::from(expected));
    let tables: BTreeSet<&str> = finding.tables.iter().map(|table| table.name.as_str()).collect();
    assert_eq!(tables, BTreeSet::from(["families", "families_number", "families_profile"]));
}

#[test]
fn kinds_that_differ_in_different_measurements_are_all_found() {
    let text = table("hardness,gouge_center_mm,density_g_cm3,rating", 90, |row| {
        format!(
            "{:.2},{:.4},{:.4},10",
            if row % 3 == 2 { 20.0 } else { 14.0 } + 0.8 * normal(row, 100),
            if row % 3 == 1 { 1.36 } else { 1.27 } + 0.012 * normal(row, 200),
            0.55 + 0.01 * normal(row, 300)
        )
    });
    let section = families(&reeds(&text, ""));
    assert_eq!(section.k, 3, "{}", section.sentence);
    assert_eq!(section.told_by.len(), 2, "{:?}", section.told_by);
}

#[test]
fn wide_columns_of_a_profile_are_the_same_as_its_own_file() {
    let mut wide =
        "reed,hardness,profile_2_spine_mm,profile_10_spine_mm,profile_20_spine_mm\n".to_owned();
    for row in 0..30 {
        let thick = |at: f64| 0.1 + 0.03 * at + 0.02 * noise(row, at as usize);
        wide += &format!(
            "{row},{:.2},{:.3},{:.3},{:.3}\n",
            14.0 + noise(row, 1),
            thick(2.0),
            thick(10.0),
            thick(20.0)
        );
    }
    let shape = families(&study(&[("reeds.csv", &wide)])).profile.expect("a profile");
    let at: Vec<f64> = shape.points.iter().map(|point| point.from_tip_mm).collect();
    assert_eq!((shape.pieces, at.as_slice()), (30, &[2.0, 10.0, 20.0][..]));
}

#[test]
fn a_large_log_is_judged_by_a_sample_and_says_so() {
    let study = clouds(900, &TWO);
    let finding = answered("families", &study);
    let Section::Families(section) = &finding.section else { panic!("{:?}", finding.section) };
    assert_eq!((section.k, section.looked_at, section.assigned.len()), (2, 300, 900));
    assert!(words(&finding).contains("300 of the 900 pieces"), "{:?}", finding.caveats);
    let truth: Vec<usize> = (0..900).map(|row| row % 2).collect();
    assert_eq!(adjusted_rand_index(&labels(section), &truth).expect("labels"), 1.0);
}

#[test]
fn text_of_the_log_is_cut_and_made_plain_where_it_is_told() {
    let long = "x".repeat(3_000);
    let text = table("lot,hardness,gouge_center_mm,rating", 60, |row| {
        let (hardness, gouge) = TWO[usize::from(row < 20)];
        let lot = if row < 20 { format!("<b>{long}\u{202e}") } else { format!("b{}", row % 4) };
        format!(
            "{lot},{:.2},{:.4},10",
            hardness + 0.5 * normal(row, 1),
            gouge + 0.01 * normal(row, 30)
        )
    });
    let told = words(&answered("families", &reeds(&text, "")));
    assert!(told.contains("come from lot “<b>xxx") && told.len() < 2_000, "{}", told.len());
    assert!(!told.contains('\u{202e}'));
}
