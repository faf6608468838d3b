//! The worlds as a specification: the planted truth is in the pieces.

use super::scenarios::{self, Scenario};
use super::*;
use crate::demo::entries::{Fate, Step};

/// A world of so many pieces a lot, so that averages come close to the truth.
fn large(world: World, times: usize) -> World {
    World { lots: world.lots.iter().map(|pieces| pieces * times).collect(), ..world }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Values less the mean of their lot.
fn within_lots(pieces: &[&Made], value: impl Fn(&Made) -> f64) -> Vec<f64> {
    let mean_of = |lot: usize| {
        let own: Vec<f64> =
            pieces.iter().filter(|piece| piece.lot == lot).map(|piece| value(piece)).collect();
        mean(&own)
    };
    let lots = pieces.iter().map(|piece| piece.lot + 1).max().unwrap_or(0);
    let means: Vec<f64> = (0..lots).map(mean_of).collect();
    pieces.iter().map(|piece| value(piece) - means[piece.lot]).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Slope of quality on one factor alone, within lots.
fn slope(world: &World, pieces: &[&Made], name: &str) -> f64 {
    let place = world.place(name).expect("a factor");
    let x = within_lots(pieces, |piece| piece.values[place]);
    let y = within_lots(pieces, |piece| piece.quality);
    dot(&x, &y) / dot(&x, &x)
}

fn all(drawn: &Drawn) -> Vec<&Made> {
    drawn.pieces.iter().collect()
}

fn alive(drawn: &Drawn) -> Vec<&Made> {
    drawn.pieces.iter().filter(|piece| piece.fate == Fate::InUse).collect()
}

#[test]
fn one_seed_gives_the_same_log_and_another_seed_another() {
    for Scenario { name, world } in scenarios::ALL {
        assert_eq!(world().draw(7), world().draw(7), "{name}");
        assert_ne!(world().draw(7), world().draw(8), "{name}");
    }
}

#[test]
fn each_scenario_has_a_name_of_its_own_and_is_found_by_it() {
    for Scenario { name, world } in scenarios::ALL {
        let found = scenarios::find(name).expect("it is in the list");
        assert_eq!((found.world)(), world(), "{name}");
    }
    assert!(scenarios::find("no such world").is_none());
}

#[test]
fn follows_name_earlier_factors_and_no_name_stands_twice() {
    for Scenario { name, world } in scenarios::ALL {
        let world = world();
        let mut names: Vec<&str> = world.factors.iter().map(|factor| factor.name).collect();
        for factor in &world.factors {
            let Some(follows) = factor.follows else { continue };
            let earlier = world.place(follows.earlier).expect("a factor of the world");
            assert!(world.factors[earlier].made_at < factor.made_at, "{name}: {}", factor.name);
        }
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), world.factors.len(), "{name}");
    }
}

#[test]
fn the_identified_world_has_150_pieces_of_12_lots_and_ten_factors_of_which_three_matter() {
    let world = scenarios::identified();
    assert_eq!((world.lots.len(), world.lots.iter().sum::<usize>()), (12, 150));
    let effects: Vec<f64> = world
        .factors
        .iter()
        .map(|factor| world.total_effect(factor))
        .filter(|effect| *effect != 0.0)
        .collect();
    assert_eq!((world.factors.len(), effects), (10, vec![0.5, 0.3, -0.4]));
}

/// 15,000 pieces. Sheen is held against its own step only, which it shares a cause with; the others of its step do nothing, so its slope alone is its effect.
#[test]
fn effects_and_correlations_are_as_planted() {
    let world = large(scenarios::identified(), 100);
    let drawn = world.draw(1);
    let pieces = all(&drawn);
    for (name, effect) in [("sheen", 0.5), ("glide", 0.3), ("snug", -0.4)] {
        let found = slope(&world, &pieces, name);
        assert!((found - effect).abs() < 0.04, "{name}: {found}");
    }
    let column = |place: usize| within_lots(&pieces, |piece| piece.values[place]);
    let correlation = |a: &[f64], b: &[f64]| dot(a, b) / (dot(a, a) * dot(b, b)).sqrt();
    let (sheen, heft, glide) = (column(0), column(2), column(4));
    assert!((correlation(&sheen, &heft) - 0.3).abs() < 0.03, "of the same step");
    assert!(correlation(&sheen, &glide).abs() < 0.03, "of another step");
}

/// On the way: 0.8 steps of gloss for one of glide, at 0.625 points each; alone, glide has nothing.
#[test]
fn the_early_factor_works_by_way_of_the_later_one_only() {
    let (way, direct) = (scenarios::by_way_of_later(), scenarios::the_same_directly());
    for world in [&way, &direct] {
        let glide = world.factors[world.place("glide").expect("a factor")];
        assert!((world.total_effect(&glide) - 0.5).abs() < 1e-12);
        let found = slope(world, &all(&large(world.clone(), 200).draw(3)), "glide");
        assert!((found - 0.5).abs() < 0.04, "{found}");
    }
    let (a, b) = (way.draw(5), direct.draw(5));
    for (a, b) in a.pieces.iter().zip(&b.pieces) {
        assert!(
            (a.quality - b.quality).abs() < 0.01,
            "the two worlds' reeds are the same but for rounding"
        );
    }
}

/// By hand: 0.5 points times 0.8 steps, over the variance of gloss, 0.8² + 0.6² = 1.
#[test]
fn what_follows_a_factor_that_matters_seems_to_matter_when_looked_at_alone() {
    let world = large(scenarios::follows_what_matters(), 100);
    let gloss = world.factors[world.place("gloss").expect("a factor")];
    assert_eq!(world.total_effect(&gloss), 0.0);
    let found = slope(&world, &all(&world.draw(9)), "gloss");
    assert!((found - 0.4).abs() < 0.04, "{found}");
}

#[test]
fn days_follow_the_lots_quality_and_do_nothing_within_a_lot() {
    let world = scenarios::assigned_by_lot_quality();
    let days = world.place("forming_days").expect("a factor");
    let (mut together, mut squares) = (0.0, 0.0);
    for seed in 0..100 {
        let drawn = world.draw(seed);
        for lot in 0..world.lots.len() {
            let own = drawn.pieces.iter().filter(|piece| piece.lot == lot);
            let habit = mean(&own.map(|piece| piece.values[days]).collect::<Vec<f64>>());
            together += habit * drawn.lot_effects[lot] / world.lot_sd;
            squares += (drawn.lot_effects[lot] / world.lot_sd).powi(2);
        }
    }
    assert!((together / squares - 1.0).abs() < 0.05, "{}", together / squares);
    let found = slope(&world, &all(&large(world.clone(), 100).draw(1)), "forming_days");
    assert!(found.abs() < 0.05, "{found}");
}

/// By hand, over all reeds together: a lot one standard deviation better is 0.6 points better and formed a week longer, so the slope is
/// 0.6 over the variance of the days, 1 + 0.3² + 0.5².
#[test]
fn days_assigned_by_lot_quality_seem_to_matter_when_lots_are_not_kept_apart() {
    let world = World { trend: 0.0, ..scenarios::assigned_by_lot_quality() };
    let days = world.place("forming_days").expect("a factor");
    let (mut together, mut squares) = (0.0, 0.0);
    for seed in 0..200 {
        for piece in world.draw(seed).pieces {
            together += piece.values[days] * (piece.quality - world.base);
            squares += piece.values[days].powi(2);
        }
    }
    let (found, expected) = (together / squares, 0.6 / (1.0 + 0.09 + 0.25));
    assert!((found - expected).abs() < 0.05, "{found}, expected {expected}");
}

#[test]
fn days_that_are_fixed_by_lot_are_one_value_a_lot_and_differ_between_lots() {
    let world = scenarios::fixed_by_lot();
    let days = world.place("forming_days").expect("a factor");
    let drawn = world.draw(2);
    let mut by_lot = std::collections::BTreeMap::new();
    for piece in &drawn.pieces {
        let habit = *by_lot.entry(piece.lot).or_insert(piece.readings[days][0]);
        assert_eq!(piece.readings[days][0], habit);
    }
    let mut habits: Vec<String> = by_lot.values().map(f64::to_string).collect();
    habits.sort();
    habits.dedup();
    assert!(habits.len() >= 6, "{habits:?}");
}

#[test]
fn survivors_rate_higher_though_the_factor_does_nothing_or_harm_and_costs_good_reeds() {
    for effect in [0.0, -0.1] {
        let world = large(scenarios::spoils_the_weak(effect), 100);
        let drawn = world.draw(4);
        assert!((slope(&world, &all(&drawn), "snug") - effect).abs() < 0.03);
        let survivors = slope(&world, &alive(&drawn), "snug");
        assert!(survivors > 0.1, "{survivors}");
        let snug = world.place("snug").expect("a factor");
        let good = |high: bool| {
            let side = drawn.pieces.iter().filter(|piece| (piece.values[snug] > 0.0) == high);
            let good =
                side.map(|piece| f64::from(piece.fate == Fate::InUse && piece.quality >= 10.5));
            mean(&good.collect::<Vec<f64>>())
        };
        assert!(good(true) < good(false), "{} and {}", good(true), good(false));
        let lost = 1.0 - alive(&drawn).len() as f64 / drawn.pieces.len() as f64;
        assert!((0.15..0.4).contains(&lost), "{lost}");
    }
}

#[test]
fn lots_differ_by_as_much_as_they_are_told_to() {
    for sd in [0.0, 0.3, 0.6, 1.0] {
        let world = scenarios::lots_differ(sd);
        assert!(world.lots.contains(&3), "a lot of three");
        let effects: Vec<f64> = (0..200).flat_map(|seed| world.draw(seed).lot_effects).collect();
        let found =
            mean(&effects.iter().map(|effect| effect * effect).collect::<Vec<f64>>()).sqrt();
        assert!((found - sd).abs() <= 0.05 * sd, "{found}");
    }
}

#[test]
fn the_mean_of_a_lots_ratings_comes_to_its_true_mean() {
    let world = large(scenarios::lots_differ(1.0), 50);
    let drawn = world.draw(6);
    for lot in 0..world.lots.len() {
        let own = drawn.pieces.iter().filter(|piece| piece.lot == lot);
        let marks: Vec<f64> = own.flat_map(|piece| &piece.ratings).map(|(_, mark)| *mark).collect();
        let truth = drawn.lot_mean(&world, lot).expect("a lot of the world");
        let error = (world.reed_sd / (marks.len() as f64 / 2.0).sqrt()) * 4.0;
        assert!((mean(&marks) - truth).abs() < error, "{} and {truth}", mean(&marks));
    }
}

/// Reliability within lots: 1 / (1 + 1) of one reading.
#[test]
fn a_reading_is_half_error_and_a_third_of_the_pieces_is_read_again() {
    let world = large(scenarios::read_with_error(), 50);
    let heft = world.place("heft").expect("a factor");
    let drawn = world.draw(8);
    let pieces = all(&drawn);
    let read = within_lots(&pieces, |piece| piece.readings[heft][0] - 50.0);
    let truth = within_lots(&pieces, |piece| piece.values[heft]);
    let reliability = dot(&read, &truth) / dot(&read, &read);
    assert!((reliability - 0.5).abs() < 0.03, "{reliability}");
    let again = pieces.iter().filter(|piece| piece.readings[heft].len() == 3).count();
    assert!((again as f64 / pieces.len() as f64 - 1.0 / 3.0).abs() < 0.03);
}

#[test]
fn the_sweet_spot_is_where_it_was_put() {
    for (bend, best_mm) in
        [(Bend { best: 0.3, lost: 0.4 }, 1.23), (Bend { best: 3.5, lost: 0.08 }, 1.55)]
    {
        let world = scenarios::sweet_spot(bend);
        let opening = world.factors[world.place("tip_opening_mm").expect("a factor")];
        let at_best = world.rating_at(&opening, best_mm);
        for away in [-0.1, 0.1] {
            let lost = at_best - world.rating_at(&opening, best_mm + away);
            assert!((lost - bend.lost).abs() < 1e-9, "one step off costs {lost}");
        }
    }
}

#[test]
fn the_regret_of_a_forming_time_counts_from_the_best_candidate() {
    let world = scenarios::forming_free();
    let days = world.factors[world.place("forming_days").expect("a factor")];
    // 28 days are best; three weeks are a step off, two weeks two: 0.3 and 4 times 0.3 points
    for (value, lost) in [(28.0, 0.0), (21.0, 0.3), (35.0, 0.3), (14.0, 1.2)] {
        let regret = world.regret(&days, value, days.candidates);
        assert!((regret - lost).abs() < 1e-9, "{value} days: {regret}");
    }
    assert!(
        (world.regret(&days, 14.0, &[14.0, 21.0]) - 0.9).abs() < 1e-9,
        "only what is asked about counts"
    );
}

#[test]
fn a_lost_piece_is_not_rated_and_has_no_cell_of_a_later_step() {
    let drawn = scenarios::sweet_spot(Bend { best: 0.3, lost: 0.4 }).draw(1);
    let lost = drawn.pieces.iter().filter(|piece| piece.fate != Fate::InUse);
    assert!(lost.clone().count() > 3);
    assert!(lost.clone().all(|piece| piece.ratings.is_empty()));
    let reeds = drawn.files.files.iter().find(|file| file.name == "reeds.csv").expect("reeds");
    let mut reader = csv::Reader::from_reader(reeds.contents.as_slice());
    let header = reader.headers().expect("a header").clone();
    let column = |name: &str| header.iter().position(|header| header == name).expect("a column");
    let (opening, sheen, fate) = (column("tip_opening_mm"), column("sheen"), column("fate"));
    for row in reader.records() {
        let row = row.expect("well-formed CSV");
        assert_eq!(row[opening].is_empty(), &row[fate] == "spoiled", "{row:?}");
        assert!(!row[sheen].is_empty());
    }
}

#[test]
fn what_is_written_without_error_is_what_acts() {
    let world = scenarios::assigned_by_lot_quality();
    let days = world.place("forming_days").expect("a factor");
    for piece in world.draw(3).pieces {
        assert_eq!(piece.readings[days].len(), 1);
        let read = piece.readings[days][0];
        assert_eq!(read, read.round());
        assert!(read >= 1.0);
        assert!((21.0 + 7.0 * piece.values[days] - read).abs() < 1e-9);
    }
}

#[test]
fn no_piece_is_lost_or_every_one_where_the_world_says_so() {
    assert!(scenarios::none_lost().draw(1).pieces.iter().all(|piece| piece.fate == Fate::InUse));
    let lost = Fate::Spoiled(Step::Form, "cracked");
    assert!(scenarios::all_lost().draw(1).pieces.iter().all(|piece| piece.fate == lost));
}

#[test]
fn skill_season_and_a_kinder_player_are_in_the_marks() {
    let world = large(scenarios::season(), 20);
    let drawn = world.draw(3);
    let near = |day: i32| {
        let near = drawn.pieces.iter().filter(|piece| (piece.day - day).abs() < 20);
        mean(&near.map(|piece| piece.quality).collect::<Vec<f64>>())
    };
    // half a year apart: from one point above to one below, skill aside
    let apart = near(365) - near(183) - world.trend * 6.0;
    assert!((apart - 2.0).abs() < 0.6, "{apart}");

    let world = large(scenarios::lenient_player_comes(), 20);
    let drawn = world.draw(3);
    let both = drawn.pieces.iter().filter(|piece| piece.ratings.len() == 2);
    let kinder: Vec<f64> = both.map(|piece| piece.ratings[1].1 - piece.ratings[0].1).collect();
    assert!((mean(&kinder) - 2.0).abs() < 0.1, "{}", mean(&kinder));
    let friends = |piece: &&Made| piece.ratings.iter().any(|(player, _)| *player == 1);
    let earliest = drawn.pieces.iter().filter(friends).map(|piece| piece.day).min();
    assert!(earliest.is_some_and(|day| 2 * day >= world.days), "{earliest:?}");
}

#[test]
fn one_cell_in_eight_is_empty_and_the_piece_is_what_it_is() {
    let drawn = large(scenarios::empty_cells(), 20).draw(3);
    let readings = drawn.pieces.iter().flat_map(|piece| &piece.readings);
    let empty: Vec<f64> = readings.map(|read| f64::from(u8::from(read.is_empty()))).collect();
    assert!((mean(&empty) - 0.125).abs() < 0.01, "{}", mean(&empty));
    let reeds = drawn.files.files.iter().find(|file| file.name == "reeds.csv").expect("the table");
    let text = String::from_utf8_lossy(&reeds.contents);
    // the first factor stands after reed, lot and the two dates
    let sheen = text.lines().skip(1).map(|line| line.split(',').nth(4).unwrap_or_default());
    let empty: Vec<f64> = sheen.map(|cell| f64::from(u8::from(cell.is_empty()))).collect();
    assert!((mean(&empty) - 0.125).abs() < 0.03, "{}", mean(&empty));
}
