//! Several makers: counted by hand, held against another program, told apart where they differ, and refused.

use std::fs;

use canewright::finding::{EffectAcrossMakers, MakersSection, MakersVerdict, Section};
use canewright::intake::{ReadOptions, read};
use canewright::study::Study;

use super::{answered, close, noise, reeds, refused, study, table};

fn makers(study: &Study) -> MakersSection {
    match answered("makers", study).section {
        Section::Makers(section) => section,
        other => panic!("{other:?}"),
    }
}

fn effect<'a>(section: &'a MakersSection, factor: &str) -> &'a EffectAcrossMakers {
    let found = section.effects.iter().find(|effect| effect.factor == factor);
    found.unwrap_or_else(|| panic!("{factor} is not among {:?}", section.effects))
}

/// Makers of forty reeds each in four lots; a step of hardness is worth `slopes` to each of them, one player rates all.
fn sloped(slopes: &[f64]) -> Study {
    let text = table("maker,lot,hardness,rating,fate", 40 * slopes.len(), |row| {
        let maker = row / 40;
        let hardness = 14.0 + 2.0 * noise(row, 1);
        let rating = 10.0 + slopes[maker] * (hardness - 14.0) + noise(row, 2);
        format!("maker {maker},lot {},{hardness:.2},{rating:.2},in_use", row / 10)
    });
    reeds(&text, "")
}

/// By hand: one of ann's four pieces is spoiled and two of the three rated reach 12; ben has two good of two. The exact interval of one in four is that of
/// `binom.test(1, 4)` in R 4.2.2.
#[test]
fn the_pieces_of_each_maker_are_counted_by_hand() {
    let text = "reed,maker,gouge_center_mm,rating,fate,spoiled_at\n\
                1,ann,1.30,13,in_use,\n2,ann,1.32,12,in_use,\n3,ann,1.31,9,in_use,\n4,ann,1.33,,spoiled,form\n\
                5,ben,1.40,15,in_use,\n6,ben,1.44,14,in_use,\n7,,1.5,10,in_use,\n";
    let study = reeds(text, "");
    let finding = answered("makers", &study);
    assert_eq!((finding.used.0, finding.left_out[0].n), (6, 1));
    let section = makers(&study);
    let [ann, ben] = section.list.as_slice() else { panic!("{:?}", section.list) };
    assert_eq!((ann.maker.as_str(), ann.pieces, ann.spoiled, ann.rated), ("ann", 4, Some(1), 3));
    let spoiled = ann.spoiled_per_ten.expect("fates are told");
    close(spoiled.estimate, 2.5, 1e-12, "spoiled of ten");
    close(spoiled.low, 0.06309463, 1e-7, "from");
    close(spoiled.high, 8.05879550, 1e-7, "to");
    assert_eq!(ann.good_per_ten.expect("ended").estimate, 5.0);
    assert_eq!((ben.pieces, ben.good_per_ten.expect("ended").estimate), (2, 10.0));
    let gouge = section.practices.iter().find(|one| one.factor == "gouge_center_mm");
    let gouge = gouge.expect("a practice");
    close(gouge.list[0].median.expect("known"), 1.315, 1e-9, "the middle of ann's");
    close(gouge.list[1].median.expect("known"), 1.42, 1e-9, "the middle of ben's");
    assert_eq!(gouge.overlap, None, "fewer than eight pieces each");
    assert!(section.effects.is_empty());
    assert!(finding.answer.contains("nothing is said of what holds for all"), "{}", finding.answer);
}

/// Dried weights of plants under three treatments (Dobson 1983; PlantGrowth of R 4.2.2), a treatment as a maker and each plant rated by the same scales.
/// `oneway.test(weight ~ group, PlantGrowth)`: p = 0.0173928214902; means by `tapply`.
#[test]
fn means_are_tested_as_another_program_tests_them() {
    let weights = [
        [4.17, 5.58, 5.18, 6.11, 4.50, 4.61, 5.17, 4.53, 5.33, 5.14],
        [4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69],
        [6.31, 5.12, 5.54, 5.50, 5.37, 5.29, 4.92, 6.15, 5.80, 5.26],
    ];
    let text = table("maker", 30, |row| ["ctrl", "trt1", "trt2"][row / 10].to_owned());
    let ratings = (0..30).map(|row| format!("{row},scales,{}\n", weights[row / 10][row % 10]));
    let ratings = format!("reed,player,rating\n{}", ratings.collect::<String>());
    let settings = "scale = [0, 20]\ngood_at = 12\noutcome = \"rating\"";
    let study = study(&[("reeds.csv", &text), ("ratings.csv", &ratings), ("study.toml", settings)]);
    let section = makers(&study);
    assert!(section.means_compared);
    close(section.p_means.expect("three means"), 0.0173928214902, 1e-9, "p");
    let expected = [(5.032, 0.184389683973), (4.661, 0.250982292425), (5.526, 0.139953960684)];
    for (maker, (mean, error)) in section.list.iter().zip(expected) {
        close(maker.mean.expect("rated"), mean, 1e-12, "mean");
        // 2.262157162741 is the 97.5 % point of t with 9 degrees of freedom (`qt(0.975, 9)`)
        close(maker.high.expect("rated"), mean + 2.262157162741 * error, 1e-8, "to");
        assert_eq!(maker.spoiled, None, "no fate is told");
    }
}

#[test]
fn opposite_effects_are_told_as_differing() {
    let section = makers(&sloped(&[0.8, -0.8]));
    let hardness = effect(&section, "hardness");
    assert_eq!(hardness.verdict, MakersVerdict::Differs);
    let [one, other] = hardness.list.as_slice() else { panic!("{hardness:?}") };
    assert!(one.low > 0.0 && other.high < 0.0, "{hardness:?}");
    assert!(hardness.sentence.starts_with("Hardness differs: for +"), "{}", hardness.sentence);
    close(one.estimate / hardness.step, 0.8, 0.15, "planted");
}

#[test]
fn the_same_effect_holds_for_all() {
    let section = makers(&sloped(&[0.8, 0.8, 0.8]));
    let hardness = effect(&section, "hardness");
    assert_eq!(hardness.verdict, MakersVerdict::HoldsForAll);
    assert!(hardness.low / hardness.step < 0.8 && 0.8 < hardness.high / hardness.step);
    assert!(hardness.sentence.contains("holds for all three makers"), "{}", hardness.sentence);
}

#[test]
fn no_effect_anywhere_is_neither_the_same_nor_different() {
    let section = makers(&sloped(&[0.0, 0.0]));
    let hardness = effect(&section, "hardness");
    assert_eq!(hardness.verdict, MakersVerdict::CannotTell);
    assert!(hardness.sentence.contains("cannot tell"), "{}", hardness.sentence);
}

/// An effect that stands out over all and lies on the other side for one of them does not hold for all.
#[test]
fn what_one_makers_reeds_speak_against_does_not_hold_for_all() {
    let section = makers(&sloped(&[0.8, 0.8, -0.3]));
    assert_ne!(effect(&section, "hardness").verdict, MakersVerdict::HoldsForAll);
}

/// A maker's effect is what `factors` says of that maker's log alone.
#[test]
fn each_makers_effect_is_that_of_their_own_log() {
    let study = sloped(&[0.5, 0.9]);
    let section = makers(&study);
    let hardness = effect(&section, "hardness");
    let keep: Vec<bool> =
        study.words("maker").iter().map(|maker| maker.as_deref() == Some("maker 1")).collect();
    let alone = super::factors(&study.restricted(&keep));
    let expected = super::per_unit(super::factor(&alone, "hardness"));
    close(hardness.list[1].estimate / hardness.step, expected, 1e-9, "the same model");
}

/// A log without a column of fates tells of no spoiled piece, whatever the other log has.
#[test]
fn a_maker_whose_log_could_not_say_so_has_no_count_of_spoiled_pieces() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let logs =
        [("ann", "reed,rating,fate\n1,9,in_use\n2,8,\n"), ("ben", "reed,rating\n1,9\n2,7\n")];
    let paths = logs.map(|(maker, text)| {
        let path = folder.path().join(maker);
        fs::create_dir(&path).expect("the folder can be written to");
        fs::write(path.join("reeds.csv"), text).expect("the folder can be written to");
        fs::write(path.join("study.toml"), super::SCALE).expect("the folder can be written to");
        path
    });
    let study = read(&paths, &ReadOptions::default()).expect("two logs").study;
    let spoiled: Vec<Option<usize>> = makers(&study).list.iter().map(|one| one.spoiled).collect();
    assert_eq!(spoiled, [Some(0), None]);
}

/// Two makers, each with a log of their own; `players` rate the reeds of each.
fn logs(players: [&[&str]; 2]) -> Study {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let mut paths = Vec::new();
    for (at, (maker, players)) in ["ann", "ben"].into_iter().zip(players).enumerate() {
        let path = folder.path().join(maker);
        fs::create_dir(&path).expect("the folder can be written to");
        let text = table("lot,hardness,fate", 24, |row| {
            format!("lot {},{:.1},in_use", row / 6, 14.0 + 2.0 * noise(row + 50 * at, 1))
        });
        let mut ratings = "reed,player,rating\n".to_owned();
        for row in 0..24 {
            for player in players {
                let rating = 10.0 + at as f64 + noise(row + 50 * at, 3);
                ratings += &format!("{row},{player},{rating:.1}\n");
            }
        }
        for (name, text) in
            [("reeds.csv", &text), ("ratings.csv", &ratings), ("study.toml", &super::SCALE.into())]
        {
            fs::write(path.join(name), text).expect("the folder can be written to");
        }
        paths.push(path);
    }
    let reading = read(&paths, &ReadOptions::default());
    reading.unwrap_or_else(|why| panic!("the logs can be read: {why}")).study
}

#[test]
fn where_each_maker_rates_only_their_own_reeds_means_are_not_compared_and_it_is_said() {
    let study = logs([&["Ann"], &["ben"]]);
    let section = makers(&study);
    assert!(!section.means_compared && section.p_means.is_none());
    assert!(section.list.iter().all(|maker| maker.mean.is_none()));
    assert_eq!((section.list[0].by_own_hand, section.list[0].ratings), (Some(24), 24));
    let caveats = answered("makers", &study).caveats;
    assert!(caveats[0].contains("cannot be told from a difference between players"), "{caveats:?}");
}

#[test]
fn ratings_without_a_players_name_are_not_compared_either() {
    let section = makers(&logs([&[""], &["carl"]]));
    assert!(!section.means_compared);
    assert!(section.means_not_compared.is_some_and(|why| why.contains("no player's name")));
}

#[test]
fn players_who_rate_for_both_make_the_means_comparable() {
    let section = makers(&logs([&["ann", "ben"], &["ann", "ben"]]));
    assert!(section.means_compared, "{:?}", section.means_not_compared);
    assert!(section.p_means.is_some_and(|p| p < 0.05), "{:?}", section.p_means);
    assert_eq!((section.list[1].by_own_hand, section.list[1].ratings), (Some(24), 48));
}

/// Five makers whose reeds lie about the same: each mean is drawn towards the average of all.
#[test]
fn from_five_makers_on_means_are_drawn_towards_their_average() {
    let text = table("maker", 30, |row| format!("maker {}", row % 5));
    let mut sums = [0.0; 5];
    let mut ratings = "reed,player,rating\n".to_owned();
    for row in 0..30 {
        let rating = 10.0 + 0.4 * (row % 5) as f64 + 2.0 * noise(row, 9);
        let rating = (rating * 10.0).round() / 10.0;
        sums[row % 5] += rating / 6.0;
        ratings += &format!("{row},carl,{rating}\n");
    }
    let study =
        study(&[("reeds.csv", &text), ("ratings.csv", &ratings), ("study.toml", super::SCALE)]);
    let section = makers(&study);
    let average = sums.iter().sum::<f64>() / 5.0;
    for (maker, plain) in section.list.iter().zip(sums) {
        let drawn = maker.mean.expect("rated") - average;
        assert!(drawn.abs() <= (plain - average).abs() + 1e-9, "{plain} {maker:?}");
    }
}

#[test]
fn a_practice_in_which_makers_have_nothing_in_common_is_named_first() {
    let text = table("maker,gouge_center_mm,shape,rating,fate", 40, |row| {
        let maker = row % 2;
        let gouge = 1.30 + 0.12 * maker as f64 + 0.02 * noise(row, 1);
        format!("maker {maker},{gouge:.2},{},9,in_use", ["narrow", "wide"][(row / 2) % 2])
    });
    let study = reeds(&text, "");
    let section = makers(&study);
    let [gouge, shape] = section.practices.as_slice() else { panic!("{:?}", section.practices) };
    assert_eq!((gouge.factor.as_str(), gouge.overlap), ("gouge_center_mm", Some(0.0)));
    assert_eq!((shape.overlap, shape.list[0].share), (Some(1.0), Some(0.5)));
    let more = answered("makers", &study).more;
    assert!(more.iter().any(|told| told.contains("lie mostly apart in gouge")), "{more:?}");
}

#[test]
fn one_maker_and_none_are_refused() {
    let one = table("maker,lot,rating", 40, |row| format!("ann,lot {},9", row % 4));
    let refusal = refused("makers", &reeds(&one, ""));
    assert_eq!(refusal.found, "The log is of one maker.");
    assert!(refusal.takes.starts_with("It takes two"), "{refusal}");
    let none = table("lot,rating", 40, |row| format!("lot {},9", row % 4));
    assert_eq!(refused("makers", &reeds(&none, "")).found, "The log names no maker.");
}

#[test]
fn thin_logs_are_counted_and_nothing_more_is_claimed() {
    let four =
        "reed,maker,lot,hardness,rating\n1,ann,A,12,9\n2,ann,A,13,9\n3,ben,B,14,9\n4,ben,B,15,9\n";
    let equal = table("maker,lot,hardness,rating,fate", 40, |row| {
        format!("maker {},only,{},9,in_use", row % 2, 10 + row % 7)
    });
    let unrated = table("maker,hardness", 20, |row| format!("maker {},{}", row % 2, 10 + row % 5));
    for text in [four, &equal, &unrated] {
        let study = reeds(text, "");
        let section = makers(&study);
        assert!(section.effects.is_empty() && section.p_means.is_none(), "{section:?}");
        assert!(section.list.iter().all(|maker| maker.low.is_none() || maker.low <= maker.high));
    }
}

#[test]
fn the_order_of_the_rows_changes_nothing() {
    let text = table("maker,lot,hardness,shape,rating,fate", 90, |row| {
        let hardness = 14.0 + 2.0 * noise(row, 1);
        let rating = 10.0 + 0.5 * hardness + noise(row, 2);
        let shape = ["narrow", "wide"][row % 2];
        format!("maker {},lot {},{hardness:.1},{shape},{rating:.1},in_use", row / 30, row / 10)
    });
    let mut lines: Vec<&str> = text.lines().collect();
    lines[1..].reverse();
    let [one, other] =
        [text.clone(), lines.join("\n") + "\n"].map(|text| makers(&reeds(&text, "")));
    assert_eq!(one.list, other.list);
    assert_eq!(one.practices, other.practices);
    for (one, other) in one.effects.iter().zip(&other.effects) {
        assert_eq!((one.verdict, &one.factor), (other.verdict, &other.factor));
        close(one.estimate, other.estimate, 1e-9, "the same effect");
    }
}

#[test]
fn very_long_and_steering_names_are_cut_in_sentences_and_kept_in_results() {
    let long = "x".repeat(10_000);
    let text = table("maker,lot,hardness,rating,fate", 60, |row| {
        let maker = if row < 30 { long.as_str() } else { "=cmd()<b>\u{202e}" };
        let rating = 10.0 + noise(row, 2);
        format!("{maker},lot {},{:.1},{rating:.1},in_use", row / 10, 14.0 + noise(row, 1))
    });
    let study = reeds(&text, "");
    let finding = answered("makers", &study);
    let told = finding.more.iter().chain([&finding.answer]).chain(&finding.caveats);
    assert!(told.clone().all(|told| told.len() < 2_000), "{finding:?}");
    assert!(told.clone().all(|told| !told.contains('\u{202e}')), "{finding:?}");
    assert!(makers(&study).list.iter().any(|maker| maker.maker == long));
}
