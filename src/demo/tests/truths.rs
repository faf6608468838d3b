//! A hundred times as many pieces, and the effects asked back by plain least squares within lots.
//!
//! Marks stop at ten, and about one in twenty would be higher: slopes on the
//! marks are that much weaker, and the tolerances allow for it.

use super::*;

const TIMES: usize = 100;

fn large() -> Log {
    simulate(11, TIMES)
}

/// The maker's first mark of each piece that has one.
fn first_marks(log: &Log) -> BTreeMap<usize, f64> {
    let mut marks = BTreeMap::new();
    for rating in log.ratings.iter().filter(|rating| rating.player == PLAYER_ONE) {
        if let Some(mark) = rating.overall {
            marks.entry(rating.piece).or_insert(mark);
        }
    }
    marks
}

/// Slope of `y` on `x` with a level of its own for each lot: both are centred by lot.
fn slope_within_lots(points: &[(usize, f64, f64)]) -> f64 {
    let mut sums: BTreeMap<usize, (f64, f64, f64)> = BTreeMap::new();
    for (lot, x, y) in points {
        let sum = sums.entry(*lot).or_default();
        *sum = (sum.0 + 1.0, sum.1 + x, sum.2 + y);
    }
    let (mut xy, mut xx) = (0.0, 0.0);
    for (lot, x, y) in points {
        let (n, sum_x, sum_y) = sums[lot];
        let (x, y) = (x - sum_x / n, y - sum_y / n);
        (xy, xx) = (xy + x * y, xx + x * x);
    }
    xy / xx
}

/// Slope of the maker's first mark on something written down.
fn slope_of_marks(log: &Log, value: impl Fn(&Piece) -> Option<f64>) -> f64 {
    let points: Vec<_> = first_marks(log)
        .into_iter()
        .filter_map(|(number, mark)| {
            let piece = &log.pieces[number];
            Some((piece.lot, value(piece)?, mark))
        })
        .collect();
    slope_within_lots(&points)
}

fn assert_near(found: f64, truth: f64, tolerance: f64) {
    assert!((found - truth).abs() <= tolerance, "found {found}, the truth is {truth}");
}

#[test]
fn softer_cane_is_rated_lower_by_what_the_truth_says_less_the_reading_error() {
    let (within, error) = (truth::HARDNESS_WITHIN_SD.powi(2), truth::HARDNESS_READING_SD.powi(2));
    let expected = truth::HARDNESS * within / (within + error);
    assert_near(slope_of_marks(&large(), |piece| piece.hardness), expected, 0.02);
}

#[test]
fn scraping_lowers_the_mark_and_the_gouge_does_so_by_way_of_it() {
    let log = large();
    assert_near(slope_of_marks(&log, |piece| piece.scrape_min), truth::SCRAPE, 0.008);
    let gouge = |piece: &Piece| piece.gouge_center_thou.map(|thou| thou * THOU_MM);
    // 0.04² / (0.04² + 0.008²) = 0.96 for the reading, and 1 % for the dial's marks
    assert_near(slope_of_marks(&log, gouge), truth::GOUGE_IN_ALL * 0.95, 0.8);
    let minutes: Vec<_> = log
        .pieces
        .iter()
        .filter_map(|piece| Some((piece.lot, gouge(piece)?, piece.scrape_min?)))
        .collect();
    assert_near(slope_within_lots(&minutes), truth::SCRAPE_PER_GOUGE * 0.95, 6.0);
}

#[test]
fn a_day_on_the_pin_adds_a_little() {
    assert_near(slope_of_marks(&large(), |piece| piece.forming_days), truth::FORMING, 0.01);
}

#[test]
fn the_tip_opening_has_its_sweet_spot_where_the_truth_says() {
    let log = large();
    let off_best = |best: f64| {
        move |piece: &Piece| piece.tip_opening_mm.map(|opening| (opening - best).powi(2))
    };
    assert_near(slope_of_marks(&log, off_best(truth::OPENING_BEST)), truth::OPENING_BEND, 1.0);
    // the residual left by the true bend has no slope on either side of the best
    let points: Vec<_> = first_marks(&log)
        .into_keys()
        .filter_map(|number| {
            let piece = &log.pieces[number];
            let off = piece.tip_opening_mm? - truth::OPENING_BEST;
            Some((piece.lot, off, log.hidden.qualities[number] - truth::OPENING_BEND * off * off))
        })
        .collect();
    assert_near(slope_within_lots(&points), 0.0, 0.2);
}

#[test]
fn dry_air_cracks_pieces_and_does_nothing_to_the_reeds_that_survive() {
    let log = large();
    let cracked_at = |low: f64, high: f64| {
        let at_the_pin: Vec<_> = log
            .pieces
            .iter()
            .filter(|piece| piece.forming_rh_pct.is_some_and(|rh| (low..high).contains(&rh)))
            .collect();
        let cracked =
            at_the_pin.iter().filter(|piece| matches!(piece.fate, Fate::Spoiled(_, "cracked")));
        let share = cracked.count() as f64 / at_the_pin.len() as f64;
        (share / (1.0 - share)).ln()
    };
    assert_near(cracked_at(44.0, 47.0), truth::CRACK_AT_45, 0.35);
    assert_near(
        cracked_at(29.0, 32.0) - cracked_at(44.0, 47.0),
        15.0 * truth::CRACK_PER_DRY_POINT,
        0.45,
    );
    let qualities: Vec<_> = first_marks(&log)
        .into_keys()
        .filter_map(|number| {
            let piece = &log.pieces[number];
            Some((piece.lot, piece.forming_rh_pct?, log.hidden.qualities[number]))
        })
        .collect();
    // within a lot humidity and practice share a little of the calendar; a spread of 10 points moves quality by less than 0.1
    assert_near(slope_within_lots(&qualities), 0.0, 0.01);
}

#[test]
fn the_second_player_is_kinder_by_half_a_point() {
    let log = large();
    let firsts = first_marks(&log);
    let differences: Vec<f64> = log
        .ratings
        .iter()
        .filter(|rating| rating.player == PLAYER_TWO)
        .filter_map(|rating| Some(rating.overall? - firsts.get(&rating.piece)?))
        .collect();
    assert_near(differences.iter().sum::<f64>() / differences.len() as f64, truth::LENIENCY, 0.08);
}

fn variance(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / values.len() as f64
}

#[test]
fn one_rating_is_half_reed_and_half_the_day_and_lots_are_a_tenth_to_a_fifth_of_the_reeds() {
    let log = large();
    let between = variance(&log.hidden.qualities);
    let icc = between / (between + truth::DAY_SD.powi(2));
    assert!((0.4..0.6).contains(&icc), "{icc}");
    let lots: Vec<f64> = log.pieces.iter().map(|piece| log.hidden.lot_effects[piece.lot]).collect();
    let share = variance(&lots) / between;
    assert!((0.1..0.2).contains(&share), "{share}");
}

#[test]
fn forming_is_tangled_with_the_lots_but_varies_within_each() {
    let log = simulate(DEFAULT_SEED, 1);
    let mut by_lot: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for piece in &log.pieces {
        by_lot.entry(piece.lot).or_default().extend(piece.forming_days);
    }
    let all: Vec<f64> = by_lot.values().flatten().copied().collect();
    let within = by_lot.values().map(|days| variance(days) * days.len() as f64).sum::<f64>()
        / all.len() as f64;
    let kept = within / variance(&all);
    assert!((0.2..0.7).contains(&kept), "share of the spread left within lots: {kept}");
    assert!(by_lot.values().all(|days| variance(days) > 1.0));
}

#[test]
fn the_lucky_small_lot_tops_the_raw_table_and_is_average_in_truth() {
    let log = simulate(DEFAULT_SEED, 1);
    assert_eq!(log.hidden.lot_effects[LUCKY], 0.0);
    let mut by_lot: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for (number, mean) in mean_by_piece(&log) {
        by_lot.entry(log.pieces[number].lot).or_default().push(mean);
    }
    assert_eq!(by_lot[&LUCKY].len(), 3);
    let mean = |marks: &Vec<f64>| marks.iter().sum::<f64>() / marks.len() as f64;
    assert!(by_lot.iter().all(|(lot, marks)| *lot == LUCKY || mean(marks) < mean(&by_lot[&LUCKY])));
}
