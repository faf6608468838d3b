//! The whole way from CSV files to a factor's answer, held against another program's mixed models of the same log.
//!
//! R 4.2.2 with lme4 1.1.31, lmerTest 3.1.3 and pbkrtest 0.5.2, over the files in `by_hand/` (invented numbers; some reeds are rated by two players, some twice by
//! one). Reeds `r`, ratings `s`:
//!
//! ```r
//! r$days_mean <- ave(r$forming_days, r$lot)
//! r$days      <- r$forming_days - r$days_mean
//! r$gouge     <- r$gouge_center_mm - ave(r$gouge_center_mm, r$lot)
//! f <- lmer(overall ~ player + gouge + days_mean + days + (1|lot) + (1|reed), merge(s, r, by = "reed"), REML = TRUE,
//!           control = lmerControl(optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, ftol_abs = 1e-12, maxeval = 20000)))
//! contest(f, rbind(within = c(0,0,0,0,1), between = c(0,0,0,1,0), differ = c(0,0,0,1,-1)), joint = FALSE, confint = TRUE, ddf = ddf)
//! ```
//!
//! with `ddf = "Kenward-Roger"` for six lots and `"Satterthwaite"` for twelve.

use super::{close, factor, factors, study};

/// Relative agreement asked for: four digits.
const FOUR_DIGITS: f64 = 5e-5;

/// What R prints for one day more.
struct Fitted {
    estimate: f64,
    low: f64,
    high: f64,
    df: f64,
    p: f64,
    between: [f64; 3],
    p_differs: f64,
}

fn agrees(reeds: &str, ratings: &str, expected: &Fitted) {
    let settings = "scale = [1, 10]\ngood_at = 7\nworthwhile = 0.5\noutcome = \"overall\"";
    let study = study(&[("reeds.csv", reeds), ("ratings.csv", ratings), ("study.toml", settings)]);
    let section = factors(&study);
    let days = factor(&section, "forming_days");
    let step = days.step.expect("a number has a step");
    let between = days.between.clone().expect("lots enough");
    assert_eq!(days.scope, "within lots");
    assert_eq!(days.adjusted_for.len(), 1, "{:?}", days.adjusted_for);
    let same = |found: Option<f64>, expected: f64, what: &str| {
        close(found.expect(what), expected, FOUR_DIGITS * expected.abs(), what);
    };
    same(days.estimate, step * expected.estimate, "estimate");
    same(days.low, step * expected.low, "low");
    same(days.high, step * expected.high, "high");
    same(days.df, expected.df, "degrees of freedom");
    same(days.p, expected.p, "p");
    same(Some(between.estimate), step * expected.between[0], "between lots");
    same(Some(between.low), step * expected.between[1], "between lots, low");
    same(Some(between.high), step * expected.between[2], "between lots, high");
    same(between.p_differs, expected.p_differs, "p that the two differ");
}

#[test]
fn six_lots_with_several_ratings_a_reed_are_answered_as_by_lmer_with_kenward_roger() {
    agrees(
        include_str!("by_hand/few_lots_reeds.csv"),
        include_str!("by_hand/few_lots_ratings.csv"),
        &Fitted {
            estimate: 0.02655630548,
            low: -0.0273231973,
            high: 0.08043580826,
            df: 34.070520446,
            p: 0.3236058432,
            between: [0.09354878210, -0.1311624686, 0.31826003277],
            p_differs: 0.4601935024,
        },
    );
}

#[test]
fn twelve_lots_with_several_ratings_a_reed_are_answered_as_by_lmer_with_satterthwaite() {
    agrees(
        include_str!("by_hand/many_lots_reeds.csv"),
        include_str!("by_hand/many_lots_ratings.csv"),
        &Fitted {
            estimate: 0.05823314929,
            low: 0.02423925835,
            high: 0.09222704023,
            df: 49.25348923,
            p: 0.001186428481,
            between: [0.03381565216, -0.05680720167, 0.12443850598],
            p_differs: 0.588375901499,
        },
    );
}
