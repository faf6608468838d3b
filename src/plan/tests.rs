use std::collections::BTreeMap;

use proptest::prelude::*;

use super::*;
use crate::problem::Error;

fn blocks(pieces: &[usize]) -> Vec<Block> {
    let named = pieces.iter().enumerate();
    named.map(|(i, &pieces)| Block { lot: format!("lot {}", i + 1), maker: None, pieces }).collect()
}

fn arms(count: usize) -> Vec<Arm> {
    let value = |i: usize| (7 * (i + 1)).to_string();
    (0..count)
        .map(|i| Arm { name: format!("{} days", value(i)), value: value(i), present: i == 0 })
        .collect()
}

fn plan(seed: u64, arm_count: usize, sizes: &[usize]) -> Plan {
    Plan {
        format: FORMAT,
        checksum: String::new(),
        key_sha256: String::new(),
        title: "Forming time, “winter”\nchecksum = \"\"".to_owned(),
        made_on: "2025-11-30".to_owned(),
        seed,
        spoiled: SpoiledCount::LeftOut,
        factor: PlannedFactor {
            name: "forming_days".to_owned(),
            label: "forming time".to_owned(),
            unit: Some("days".to_owned()),
        },
        outcome: PlannedOutcome {
            criterion: "overall".to_owned(),
            scale: [0.0, 10.0],
            good_at: 7.0,
            best: Best::High,
            target: None,
            settled: "after 3 ratings".to_owned(),
            worthwhile: 0.5,
        },
        analysis: Analysis {
            model: "reed scores on arms and blocks".to_owned(),
            comparisons: "each arm with the present one".to_owned(),
            level: 0.95,
            looks: vec![0.5, 1.0],
            spending: Spending::ObrienFleming,
        },
        reckoned: Reckoned {
            sd_within: 1.1,
            spoilage: 0.2,
            power: 0.81,
            smallest_difference: 0.49,
            pieces: sizes.iter().sum::<usize>() as u64,
            reeds: 0.8 * sizes.iter().sum::<usize>() as f64,
        },
        arms: arms(arm_count),
        blocks: blocks(sizes),
        pieces: Vec::new(),
    }
    .drawn(&BTreeSet::new())
}

fn counts(arms: usize, held: &[usize]) -> Vec<usize> {
    (0..arms).map(|arm| held.iter().filter(|other| **other == arm).count()).collect()
}

fn spread(counts: &[usize]) -> usize {
    counts.iter().max().unwrap() - counts.iter().min().unwrap()
}

proptest! {
    #[test]
    fn arms_are_balanced_in_every_block_and_over_all(
        seed in any::<u64>(), arms in 2_usize..=4, sizes in prop::collection::vec(0_usize..30, 1..12)
    ) {
        let drawn = allocate(seed, arms, &sizes);
        prop_assert_eq!(drawn.iter().map(Vec::len).collect::<Vec<_>>(), sizes);
        for block in &drawn {
            prop_assert!(spread(&counts(arms, block)) <= 1);
        }
        prop_assert!(spread(&counts(arms, &drawn.concat())) <= 1);
    }

    #[test]
    fn labels_are_unique_two_characters_apart_and_none_is_taken(seed in any::<u64>(), count in 0_usize..300) {
        let first = labels(seed, count, &BTreeSet::new());
        let taken: BTreeSet<String> = first.iter().take(count / 2).cloned().collect();
        let second = labels(seed, count, &taken);
        prop_assert!(second.iter().all(|label| !taken.contains(label)));
        prop_assert_eq!(second.len(), count);
        for (i, label) in second.iter().enumerate() {
            for other in &second[..i] {
                let differing = label.chars().zip(other.chars()).filter(|(a, b)| a != b).count();
                prop_assert!(differing >= 2, "{} {}", label, other);
            }
        }
    }

    #[test]
    fn a_plan_reads_back_as_it_was_written(seed in any::<u64>(), arms in 2_usize..=4, size in 4_usize..12) {
        let plan = plan(seed, arms, &[size, size + 1]);
        let read = parse("plan.toml", &plan.to_toml()).unwrap();
        prop_assert!(read.unchanged && read.key_holds);
        prop_assert_eq!(read.plan, plan);
    }
}

#[test]
fn a_label_holds_nothing_that_is_taken_for_something_else() {
    let all = labels(1, 5_000, &BTreeSet::new()).concat();
    assert!(!all.contains(['0', 'O', '1', 'I', 'L', '5', 'S', '2', 'Z', '8', 'B', 'A', 'E', 'U']));
}

#[test]
fn drawing_labels_ends_even_where_many_are_taken() {
    let taken: BTreeSet<String> = labels(1, 240, &BTreeSet::new()).into_iter().collect();
    assert_eq!(labels(2, 200, &taken).len(), 200);
    assert_eq!(labels(2, 20_000, &taken).len(), 20_000);
}

#[test]
fn one_seed_gives_one_plan_and_another_seed_another() {
    assert_eq!(plan(5, 2, &[8, 9]).to_toml(), plan(5, 2, &[8, 9]).to_toml());
    assert_ne!(plan(5, 2, &[8, 9]).key(), plan(6, 2, &[8, 9]).key());
    assert_ne!(plan(5, 2, &[8, 9]).arms_of_pieces(), plan(6, 2, &[8, 9]).arms_of_pieces());
}

#[test]
fn every_order_of_a_small_block_is_about_equally_frequent() {
    let mut seen: BTreeMap<Vec<usize>, usize> = BTreeMap::new();
    for seed in 0..6_000 {
        *seen.entry(allocate(seed, 2, &[4]).remove(0)).or_default() += 1;
    }
    assert_eq!(seen.len(), 6);
    // mean 1000, standard deviation 29: five of them
    assert!(seen.values().all(|count| (855..1145).contains(count)), "{seen:?}");
}

#[test]
fn the_piece_that_does_not_divide_goes_to_each_arm_equally_often() {
    let with_two = (0..2_000).filter(|&seed| counts(2, &allocate(seed, 2, &[3])[0])[0] == 2);
    // mean 1000, standard deviation 22: five of them
    assert!((890..1110).contains(&with_two.count()));
}

/// Chi-square of a table of counts against independence, and its degrees of freedom.
fn chi_square(table: &BTreeMap<(String, usize), f64>) -> (f64, f64) {
    let total: f64 = table.values().sum();
    let (mut rows, mut columns) = (BTreeMap::new(), BTreeMap::new());
    for ((row, column), count) in table {
        *rows.entry(row.clone()).or_insert(0.0) += count;
        *columns.entry(*column).or_insert(0.0) += count;
    }
    let mut sum = 0.0;
    for (row, of_row) in &rows {
        for (column, of_column) in &columns {
            let expected: f64 = of_row * of_column / total;
            let count = table.get(&(row.clone(), *column)).copied().unwrap_or(0.0);
            sum += (count - expected).powi(2) / expected;
        }
    }
    (sum, (rows.len() as f64 - 1.0) * (columns.len() as f64 - 1.0))
}

/// Independent draws would pass four standard deviations of chi-square (variance twice its degrees of freedom) in all but one test of thousands.
fn assert_tells_nothing(what: &str, seen: impl Fn(&PlannedPiece, usize) -> String) {
    let mut table = BTreeMap::new();
    for seed in 0..400 {
        let plan = plan(seed, 3, &[9, 12, 8]);
        let mut sorted: Vec<&str> = plan.pieces.iter().map(|piece| piece.label.as_str()).collect();
        sorted.sort_unstable();
        for (piece, arm) in plan.pieces.iter().zip(plan.arms_of_pieces()) {
            let rank = sorted.binary_search(&piece.label.as_str()).unwrap();
            *table.entry((seen(piece, rank), arm)).or_insert(0.0) += 1.0;
        }
    }
    let (sum, freedom) = chi_square(&table);
    assert!(freedom >= 8.0, "{what}: the table must be able to show something");
    assert!(sum < freedom + 4.0 * (2.0 * freedom).sqrt(), "{what}: {sum} with {freedom}");
}

#[test]
fn neither_label_nor_order_tells_of_the_arm() {
    for place in 0..4 {
        let character = |piece: &PlannedPiece, _| piece.label[place..=place].to_owned();
        assert_tells_nothing(&format!("character {place}"), character);
    }
    assert_tells_nothing("rank among the labels", |_, rank| rank.to_string());
    assert_tells_nothing("turn in the block", |piece, _| piece.order.to_string());
    assert_tells_nothing("place in the trial", |piece, _| {
        format!("{} {}", piece.block, piece.order)
    });
}

#[test]
fn the_test_for_telling_labels_finds_one_label_in_ten_that_tells() {
    let mut table = BTreeMap::new();
    for piece in 0..9_000_usize {
        let (arm, own) = (piece % 3, piece / 3 % 9);
        let shown = if piece % 10 == 0 { arm } else { own };
        *table.entry((shown.to_string(), arm)).or_insert(0.0) += 1.0;
    }
    let (sum, freedom) = chi_square(&table);
    assert!(sum > freedom + 4.0 * (2.0 * freedom).sqrt(), "{sum} with {freedom}");
}

#[test]
fn the_plan_file_lists_no_piece_with_its_arm() {
    let text = plan(3, 2, &[6]).to_toml();
    let pieces = text.split("[[pieces]]").skip(1).collect::<String>();
    let keys: BTreeSet<&str> = pieces.lines().filter_map(|line| line.split(" =").next()).collect();
    assert_eq!(keys, BTreeSet::from(["", "block", "label", "order"]));
}

#[test]
fn one_changed_character_anywhere_is_noticed() {
    let text = plan(3, 2, &[4, 4]).to_toml();
    let whole = parse("plan.toml", &text).unwrap();
    assert!(whole.unchanged && whole.key_holds);
    for (at, character) in text.char_indices() {
        for other in ['7', 'x', ' ', '"', '\n'].into_iter().filter(|other| *other != character) {
            let rest = &text[at + character.len_utf8()..];
            let changed = format!("{}{other}{rest}", &text[..at]);
            let noticed = parse("plan.toml", &changed).map_or(true, |read| !read.unchanged);
            assert!(noticed, "{character:?} to {other:?} at {at}");
        }
    }
}

#[test]
fn a_taken_out_or_added_line_is_noticed() {
    let text = plan(3, 2, &[4, 4]).to_toml();
    for skipped in 0..text.lines().count() {
        let kept = text.split_inclusive('\n').enumerate().filter(|(line, _)| *line != skipped);
        let changed: String = kept.map(|(_, line)| line).collect();
        assert!(parse("plan.toml", &changed).map_or(true, |read| !read.unchanged), "{skipped}");
    }
    assert!(!parse("plan.toml", &format!("{text}# a note\n")).unwrap().unchanged);
}

#[test]
fn line_endings_of_another_system_are_no_change() {
    let text = plan(3, 2, &[4, 4]).to_toml().replace('\n', "\r\n");
    assert!(parse("plan.toml", &text).unwrap().unchanged);
}

#[test]
fn a_plan_sealed_again_with_another_seed_no_longer_fits_its_key() {
    let mut changed = plan(3, 2, &[4, 4]);
    changed.seed = 4;
    changed.checksum = file::checksum(&changed);
    let read = parse("plan.toml", &changed.to_toml()).unwrap();
    assert!(read.unchanged && !read.key_holds);
}

fn problem_of(text: &str) -> crate::problem::Problem {
    match parse("plan.toml", text) {
        Err(Error::Unreadable(problem)) => *problem,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_plan_of_another_format_says_so_with_its_line() {
    let text = plan(3, 2, &[4, 4]).to_toml().replace("format = 1", "format = 2\nnew_key = true");
    let problem = problem_of(&text);
    assert_eq!(problem.message, "The plan has format 2.");
    assert_eq!(problem.place.line, Some(4));
    assert!(problem_of("a = 1").message.contains("does not say that it is a plan"));
}

#[test]
fn what_is_no_plan_is_refused_with_its_line() {
    let text = plan(3, 2, &[4, 4]).to_toml();
    let at = |found: &str, put: &str| problem_of(&text.replacen(found, put, 1));
    assert_eq!(
        at("[factor]", "[factor").place.line,
        text.lines().position(|l| l == "[factor]").map(|l| l as u64 + 1)
    );
    assert!(at("present = true", "present = false").message.contains("0 arms"));
    assert!(at("level = 0.95", "level = 95.0").place.line.is_some());
    assert!(at("worthwhile = 0.5", "worthwhile = nan").message.contains("not above 0"));
    assert!(at("looks = [0.5, 1.0]", "looks = [0.5]").message.contains("looks"));
    assert!(at("pieces = 4", "pieces = 5").message.contains("do not fill"));
    assert!(at("2025-11-30", "next Monday").message.contains("no date"));
    assert!(at("seed = \"3\"", "seed = \"three\"").message.contains("whole number"));
    assert!(problem_of("not a plan").place.line == Some(1));
}

#[test]
fn a_plan_whose_checksum_was_made_of_control_characters_can_be_written_and_read_again() {
    let altered = Plan { checksum: "9e8\u{8}\"\\b".to_owned(), ..plan(3, 2, &[6]) };
    let read = parse("plan.toml", &altered.to_toml()).unwrap();
    assert_eq!(read.plan.checksum, altered.checksum);
    assert!(!read.unchanged);
}
