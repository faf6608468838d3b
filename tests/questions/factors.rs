//! Which factors predict a good reed: sizes by hand, verdicts, what is not modelled, what is refused.

use canewright::finding::Verdict;
use canewright::stats::numeric::t_quantile;

use super::{answered, close, factor, factors, noise, per_unit, reeds, refused, table};

/// Anscombe 1973, Graphs in statistical analysis, The American Statistician 27, 17-21, first set: slope 0.500.
const X: [f64; 11] = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
const Y: [f64; 11] = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];

/// The robust error by hand: the sum of (x - mean)² e² / (1 - h), h the leverage, over the squared sum of squares of x
/// (HC2, MacKinnon & White 1985, each reed its own cluster).
#[test]
fn one_factor_without_lots_has_the_published_slope_and_the_error_worked_by_hand() {
    let text = table("hardness,rating", 11, |row| format!("{},{}", X[row], Y[row]));
    let section = factors(&reeds(&text, ""));
    let hardness = factor(&section, "hardness");
    assert_eq!((hardness.scope.as_str(), hardness.used), ("no lots", 11));
    close(per_unit(hardness), 0.500, 0.0005, "the slope");

    let mean = |values: &[f64]| values.iter().sum::<f64>() / 11.0;
    let (x, y) = (mean(&X), mean(&Y));
    let square: f64 = X.iter().map(|value| (value - x).powi(2)).sum();
    let slope: f64 = X.iter().zip(Y).map(|(a, b)| (a - x) * (b - y)).sum::<f64>() / square;
    let part = |(a, b): (&f64, f64)| {
        let leverage = 1.0 / 11.0 + (a - x).powi(2) / square;
        let residual = b - y - slope * (a - x);
        (a - x).powi(2) * residual.powi(2) / (1.0 - leverage)
    };
    let error = X.iter().zip(Y).map(part).sum::<f64>().sqrt() / square;
    let reach = t_quantile(0.975, hardness.df.expect("fitted")) * error;
    let step = hardness.step.expect("a number has a step");
    close(per_unit(hardness), slope, 1e-9, "the slope");
    close(hardness.high.expect("fitted") / step, slope + reach, 1e-9, "the upper end");
    close(hardness.low.expect("fitted") / step, slope - reach, 1e-9, "the lower end");
    assert!(hardness.df.is_some_and(|df| df > 4.0 && df < 9.0), "{:?}", hardness.df);
}

/// Six lots of ten, hardness and rating with a slope that a lot cannot explain.
fn sloped(slope: f64, scatter: f64, settings: &str) -> canewright::study::Study {
    let text = table("lot,hardness,rating", 60, |row| {
        let hardness = 14.0 + 4.0 * noise(row, 1);
        let rating = 10.0 + slope * (hardness - 14.0) + scatter * noise(row, 2);
        format!("lot {},{hardness:.2},{rating:.2}", row % 6)
    });
    reeds(&text, settings)
}

#[test]
fn a_strong_effect_is_clear_and_its_sign_is_right() {
    for slope in [-0.8, 0.8] {
        let section = factors(&sloped(slope, 1.0, ""));
        let hardness = factor(&section, "hardness");
        assert_eq!(hardness.verdict, Verdict::Clear);
        close(per_unit(hardness), slope, 0.1, "the slope");
        assert!(hardness.sentence.contains("among reeds of the same lot"), "{}", hardness.sentence);
    }
}

#[test]
fn an_effect_of_nothing_in_a_quiet_log_is_negligible_and_in_a_loud_one_open() {
    let verdict = |scatter: f64| factor(&factors(&sloped(0.0, scatter, "")), "hardness").verdict;
    assert_eq!(verdict(0.5), Verdict::Negligible);
    assert_eq!(verdict(6.0), Verdict::Open);
}

#[test]
fn what_a_higher_reading_means_is_said_as_the_study_file_says_it() {
    let sentence =
        |settings: &str| factor(&factors(&sloped(0.8, 1.0, settings)), "hardness").sentence.clone();
    assert!(sentence("[columns.hardness]\nhigher_is = \"softer\"").contains("softer"));
    assert!(sentence("").contains("of a higher reading"));
    assert!(!sentence("").contains("softer") && !sentence("").contains("harder"));
}

#[test]
fn a_factor_asked_about_beforehand_stands_outside_the_family_that_is_screened() {
    let plain = factors(&sloped(0.8, 1.0, ""));
    assert!(factor(&plain, "hardness").q.is_some());
    let asked = factors(&sloped(0.8, 1.0, "[decide.hardness]\ncandidates = [12, 16]"));
    assert_eq!(factor(&asked, "hardness").q, None);
}

#[test]
fn a_factor_of_one_level_or_one_value_is_described_and_not_modelled() {
    let text = table("shape,gouge_center_mm,hardness,rating", 20, |row| {
        format!("narrow,1.27,{:.1},{:.1}", 14.0 + 3.0 * noise(row, 1), 10.0 + noise(row, 2))
    });
    let section = factors(&reeds(&text, ""));
    for name in ["shape", "gouge_center_mm"] {
        let same = factor(&section, name);
        assert_eq!((same.estimate, same.used, same.verdict), (None, 0, Verdict::Open));
        assert!(
            same.left_out[0].why.contains("the same for every rated reed"),
            "{:?}",
            same.left_out
        );
        assert!(same.sentence.contains("It was not modelled"), "{}", same.sentence);
    }
    assert!(factor(&section, "hardness").estimate.is_some());
}

#[test]
fn a_factor_with_over_two_fifths_of_its_cells_empty_is_described_and_not_modelled() {
    let with_gaps = |gaps: usize| {
        let text = table("hardness,rating", 20, |row| {
            let hardness = if row < gaps {
                String::new()
            } else {
                format!("{:.1}", 14.0 + 3.0 * noise(row, 1))
            };
            format!("{hardness},{:.1}", 10.0 + noise(row, 2))
        });
        factors(&reeds(&text, ""))
    };
    let modelled = with_gaps(8);
    assert_eq!(factor(&modelled, "hardness").used, 12, "two fifths are not over two fifths");
    let described = with_gaps(9);
    let hardness = factor(&described, "hardness");
    assert_eq!((hardness.estimate, hardness.used), (None, 0));
    assert_eq!(
        (hardness.left_out[0].why.as_str(), hardness.left_out[0].n),
        ("hardness is missing for too many rated reeds", 9)
    );
}

#[test]
fn a_level_seen_once_or_twice_is_left_out_and_said() {
    let text = table("shape,rating", 22, |row| {
        let shape = match row {
            0 | 1 => "odd",
            row if row % 2 == 0 => "narrow",
            _ => "wide",
        };
        format!("{shape},{:.1}", 10.0 + noise(row, 2))
    });
    let section = factors(&reeds(&text, ""));
    let shape = factor(&section, "shape");
    assert_eq!(shape.used, 20);
    assert!(section.list.iter().all(|result| result.level.as_deref() != Some("odd")));
    assert!(shape.left_out.iter().any(|out| out.n == 2), "{:?}", shape.left_out);
}

/// Without lots and without anything to adjust for, a choice's effect is the difference of two plain means.
#[test]
fn a_choice_of_two_differs_by_the_difference_of_their_means() {
    let ratings = [6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 9.0, 10.0, 11.0, 12.0];
    let text = table("shape,rating", 10, |row| {
        format!("{},{}", if row < 6 { "narrow" } else { "wide" }, ratings[row])
    });
    let section = factors(&reeds(&text, ""));
    let shape = factor(&section, "shape");
    assert_eq!(
        (shape.reference.as_deref(), shape.level.as_deref()),
        (Some("narrow"), Some("wide"))
    );
    close(shape.estimate.expect("fitted"), 10.5 - 8.5, 1e-9, "the difference");
    assert_eq!(shape.step, None);
}

#[test]
fn seven_rated_reeds_are_refused_and_told_that_it_takes_eight() {
    let log = |rated: usize| {
        reeds(
            &table("hardness,rating", rated, |row| {
                format!("{},{:.1}", 10 + row, 10.0 + noise(row, 1))
            }),
            "",
        )
    };
    let refusal = refused("factors", &log(7));
    assert_eq!(refusal.found, "The log holds 7 reeds with a rating.");
    assert!(refusal.takes.starts_with("It takes eight"), "{}", refusal.takes);
    assert_eq!(answered("factors", &log(8)).used, (8, "reeds"));
}

#[test]
fn a_log_without_a_factor_is_refused_and_told_what_one_is() {
    let refusal =
        refused("factors", &reeds(&table("rating", 12, |row| format!("{}", 5 + row % 4)), ""));
    assert!(refusal.takes.contains("gouge, hardness or days on the pin"), "{}", refusal.takes);
}
