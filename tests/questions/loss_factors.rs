//! What went with losing a piece, and what lost pieces took: worked by hand.

use canewright::catalogue::Stage;
use canewright::finding::{LossFactor, LossWorth, LossesSection, Verdict};
use canewright::study::Study;

use super::{SCALE, answered, close, losses, noise, reeds, study, table};

const KNIFE: &str = "[columns.knife]\nis = \"knife\"\nstage = \"profile\"\nkind = \"choice\"\n";

/// So many pieces with each knife; `fate` says by the knife and the place among its pieces where a piece is lost, or nothing.
fn knives(each: usize, lot: &str, lost_at: impl Fn(bool, usize) -> &'static str) -> Study {
    let text = table("lot,knife,fate,spoiled_at,rating", 2 * each, |row| {
        let (is_new, place) = (row < each, row % each);
        let knife = if is_new { "new" } else { "old" };
        match lost_at(is_new, place) {
            "" => format!("{lot},{knife},in_use,,{:.1}", 12.0 + noise(row, 1)),
            stage => format!("{lot},{knife},spoiled,{stage},"),
        }
    });
    reeds(&text, KNIFE)
}

/// Forty pieces a knife, 16 lost with the new one and 6 with the old one.
fn two_knives(lot: &str) -> Study {
    knives(40, lot, |is_new, place| if place < if is_new { 16 } else { 6 } { "form" } else { "" })
}

fn knife(section: &LossesSection) -> &LossFactor {
    section.factors.iter().find(|factor| factor.factor == "knife").expect("knife is asked")
}

/// Log odds turned to the change from the old knife to the new one, whichever of the two the log takes as the reference.
fn towards_new(factor: &LossFactor, ratio: Option<f64>) -> f64 {
    let sign = if factor.level.as_deref() == Some("new") { 1.0 } else { -1.0 };
    sign * ratio.expect("fitted").ln()
}

/// Log odds with half a piece in each cell: `lost` and `kept` with the new knife, then with the old one.
fn with_halves([lost, kept, lost_old, kept_old]: [f64; 4]) -> f64 {
    ((lost + 0.5) / (kept + 0.5)).ln() - ((lost_old + 0.5) / (kept_old + 0.5)).ln()
}

/// In a table of two by two Firth's penalty adds half a piece to each cell (Heinze & Schemper 2002, Statistics in Medicine 21, 2409-2419).
#[test]
fn the_odds_of_a_loss_are_those_of_the_table_with_half_a_piece_in_each_cell() {
    let section = losses(&two_knives(""));
    let knife = knife(&section);
    let expected = with_halves([16.0, 24.0, 6.0, 34.0]);
    close(towards_new(knife, knife.estimate), expected, 1e-6, "log odds");
    let per_ten = knife.lost_per_ten.expect("told").estimate.abs();
    close(per_ten, 10.0 * (16.5 - 6.5) / 41.0, 1e-6, "lost pieces in ten");
    assert_eq!((knife.used, knife.lost, knife.scope.as_str()), (80, 22, "no lots"));
}

/// The penalised likelihood of the table is that of the cells with their halves. At each end of the interval its maximum over the other odds lies half the
/// 95 % point of chi-squared with one degree of freedom, 3.841459, below the top (Venzon & Moolgavkar 1988, Applied Statistics 37, 87-94).
#[test]
fn the_ends_of_the_interval_are_where_the_penalised_likelihood_has_fallen_by_1_9207() {
    let section = losses(&two_knives(""));
    let knife = knife(&section);
    let height = |new: f64, old: f64| {
        let cell = |log_odds: f64, lost: f64, pieces: f64| {
            lost * log_odds - pieces * (1.0 + log_odds.exp()).ln()
        };
        cell(new, 16.5, 41.0) + cell(old, 6.5, 41.0)
    };
    let top = height((16.5f64 / 24.5).ln(), (6.5f64 / 34.5).ln());
    for end in [knife.low, knife.high] {
        let apart = towards_new(knife, end);
        let places = (0..=80_000).map(|step| -6.0 + f64::from(step) * 1e-4);
        let best = places.map(|old| height(old + apart, old)).fold(f64::NEG_INFINITY, f64::max);
        close(top - best, 3.841_459 / 2.0, 1e-5, "the fall of the likelihood");
    }
}

#[test]
fn a_knife_that_foretells_every_loss_has_finite_odds() {
    let study = knives(40, "", |is_new, place| if is_new && place < 20 { "form" } else { "" });
    let section = losses(&study);
    let knife = knife(&section);
    let expected = with_halves([20.0, 20.0, 0.0, 40.0]);
    close(towards_new(knife, knife.estimate), expected, 1e-5, "log odds");
    let (low, high) = (knife.low.expect("an end"), knife.high.expect("an end"));
    assert!(low > 0.0 && high.is_finite() && low < high, "{low} to {high}");
    assert!(low > 1.0 || high < 1.0, "the interval leaves out equal odds");
    assert!(matches!(knife.verdict, Verdict::Clear | Verdict::Leaning));
}

/// Sixty pieces a knife: the new one cracks 16 on the pin and the old one 4; of those that came to the wires 2 of 44 and 12 of 56 leak.
#[test]
fn stages_are_kept_apart_and_count_the_pieces_that_came_to_them() {
    let study = knives(60, "", |is_new, place| match (is_new, place) {
        (true, 0..16) | (false, 0..4) => "form",
        (true, 16..18) | (false, 4..16) => "bind",
        _ => "",
    });
    let section = losses(&study);
    let knife = knife(&section);
    let told: Vec<(Stage, usize, usize)> =
        knife.by_stage.iter().map(|at| (at.stage, at.lost, at.used)).collect();
    assert_eq!(told, [(Stage::Form, 20, 120), (Stage::Bind, 14, 100)]);
    let log_odds = |at: usize| towards_new(knife, Some(knife.by_stage[at].estimate));
    close(log_odds(0), with_halves([16.0, 44.0, 4.0, 56.0]), 1e-5, "on the pin");
    close(log_odds(1), with_halves([2.0, 42.0, 12.0, 44.0]), 1e-5, "at the wires");
    let tables = answered("losses", &study).tables;
    assert!(tables.iter().any(|table| table.name == "loss_factors_by_stage"));
}

#[test]
fn one_lot_compares_over_all_pieces() {
    let section = losses(&two_knives("a"));
    assert_eq!(knife(&section).scope, "no lots");
    close(
        towards_new(knife(&section), knife(&section).estimate),
        with_halves([16.0, 24.0, 6.0, 34.0]),
        1e-6,
        "log odds",
    );
}

#[test]
fn a_knife_that_each_lot_has_its_own_of_is_tangled_with_the_lots() {
    let text = table("lot,knife,fate,spoiled_at,rating", 120, |row| {
        let (lot, is_lost) = (row % 6, row % 5 == 0);
        let knife = if lot < 3 { "new" } else { "old" };
        match is_lost {
            true => format!("{lot},{knife},spoiled,form,"),
            false => format!("{lot},{knife},in_use,,{:.1}", 12.0 + noise(row, 1)),
        }
    });
    let study = reeds(&text, KNIFE);
    let section = losses(&study);
    let knife = knife(&section);
    assert_eq!((knife.verdict, knife.estimate), (Verdict::Tangled, None));
    assert!(knife.sentence.contains("tangled"), "{}", knife.sentence);
}

#[test]
fn without_a_loss_nothing_is_modelled_and_it_is_said_why() {
    let section = losses(&knives(20, "", |_, _| ""));
    assert!(section.factors.is_empty() && section.worth.is_none());
    let why = section.not_modelled.expect("a reason");
    assert!(why.contains("no piece was lost before the first note, and it takes five"), "{why}");
}

#[test]
fn where_four_are_lost_or_all_nothing_is_modelled() {
    let four = knives(20, "", |is_new, place| if is_new && place < 4 { "form" } else { "" });
    let why = losses(&four).not_modelled.expect("a reason");
    assert!(why.contains("only four pieces were lost"), "{why}");
    let why = losses(&knives(20, "", |_, _| "form")).not_modelled.expect("a reason");
    assert!(why.contains("no piece came through to the first note"), "{why}");
}

/// Ten pieces were cut at the gouge and have no day on the pin; of the other 60, 12 crack there.
#[test]
fn a_piece_lost_before_the_factor_is_not_at_risk() {
    let text = table("forming_days,fate,spoiled_at,rating", 70, |row| match row {
        0..10 => ",spoiled,gouge,".to_owned(),
        10..22 => format!("{},spoiled,form,", 8 + row % 7),
        _ => format!("{},in_use,,{:.1}", 8 + row % 7, 12.0 + noise(row, 1)),
    });
    let study = reeds(&text, "");
    let section = losses(&study);
    let days = section.factors.iter().find(|factor| factor.factor == "forming_days");
    let days = days.expect("days are asked");
    assert_eq!((days.used, days.lost), (60, 12));
    let earlier = days.left_out.iter().find(|out| out.why == "lost at an earlier stage");
    assert_eq!(earlier.map(|out| out.n), Some(10));
    let caveats = answered("losses", &study).caveats;
    assert!(caveats.iter().any(|caveat| caveat.contains("shorter time than it was meant")));
}

/// Newcombe 1998, Statistics in Medicine 17, 857-872, table I, exact intervals (from memory).
#[test]
fn the_shares_of_a_stage_are_published_intervals() {
    for (lost, pieces, low, high) in [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0, 0.1684),
        (1, 29, 0.0009, 0.1776),
    ] {
        let text = table("fate,spoiled_at,rating", pieces, |row| match row < lost {
            true => "spoiled,form,".to_owned(),
            false => "in_use,,12".to_owned(),
        });
        let section = losses(&reeds(&text, ""));
        let form = section.stages.iter().find(|stage| stage.stage == Stage::Form);
        let form = form.expect("forming is counted");
        assert_eq!((form.lost, form.entered), (lost, pieces));
        close(form.low, low, 5e-5, "the lower end");
        close(form.high, high, 5e-5, "the upper end");
    }
}

/// Ten pieces on New Year's Day and ten in June. Lost are two of lot a at 2 each, one of lot b at 3 and one of lot c without a price; two of them had been
/// scraped for 20 and 10 minutes.
fn priced() -> LossWorth {
    let text = table("lot,started_on,scrape_min,fate,spoiled_at,rating", 20, |row| {
        let day = if row < 10 { "2024-01-01" } else { "2024-06-01" };
        match row {
            0 => format!("a,{day},20,spoiled,finish,"),
            1 => format!("a,{day},,spoiled,form,"),
            10 => format!("b,{day},10,spoiled,finish,"),
            11 => format!("c,{day},,spoiled,form,"),
            12..16 => format!("a,{day},30,in_use,,14"),
            16..20 => format!("b,{day},30,in_use,,9"),
            _ => format!("a,{day},30,in_use,,14"),
        }
    });
    let lots = "lot,price_per_piece\na,2.0\nb,3.0\nc,\n";
    let log = study(&[("reeds.csv", &text), ("lots.csv", lots), ("study.toml", SCALE)]);
    losses(&log).worth.expect("prices are known")
}

#[test]
fn what_lost_pieces_took_is_the_sum_of_what_is_known() {
    let worth = priced();
    assert_eq!((worth.lost, worth.priced, worth.timed), (4, 3, 2));
    assert_eq!((worth.cane, worth.minutes), (Some(7.0), Some(30.0)));
    // twelve reeds are rated 14, which is good
    assert_eq!(worth.good, 12);
    close(worth.cane_per_good.expect("known"), 7.0 / 12.0, 1e-12, "cane a good reed");
    let finish = worth.by_stage.iter().find(|at| at.stage == Some(Stage::Finish)).expect("there");
    assert_eq!((finish.lost, finish.cane, finish.minutes), (2, Some(5.0), Some(30.0)));
}

/// In the last ninety days ten pieces were started: four of lot a, five of lot b, one without a price; their mean price is (4 × 2 + 5 × 3) / 9. One fewer in
/// ten of 10 × 91 / 90 a quarter; a lost piece had taken 30 / 4 minutes.
#[test]
fn a_quarter_spares_a_tenth_of_the_pieces_at_the_present_rate() {
    let quarter = priced().quarter.expect("the pieces have days");
    assert_eq!((quarter.started, quarter.days), (10, 90));
    let pieces = 91.0 / 90.0;
    close(quarter.pieces, pieces, 1e-12, "pieces");
    close(quarter.cane.expect("known"), pieces * 23.0 / 9.0, 1e-12, "cane");
    close(quarter.minutes.expect("known"), pieces * 7.5, 1e-12, "minutes");
}
