//! What could be said by one who knows beforehand how the log came about.

use canewright::demo::worlds::{Drawn, Made, World};
use canewright::stats::design::Design;
use canewright::stats::linear::least_squares;

/// Looked at together, each of `m` factors is found by a p of at most this share of `m` (Bonferroni).
const FOUND_AT: f64 = 0.05;
const DAYS_OF_A_MONTH: f64 = 30.4;

/// The mean of each lot given its ratings, on the same footing as [`Drawn::lot_mean`]; lots without a rating stay at the average.
///
/// A reed of `k` ratings scatters around its lot's mean by `reed_sd²` + `rating_sd²` / `k`, and a lot around the average by `lot_sd²`: the mean weighted by
/// precision, which no other guess beats in squared error (Henderson 1975, with everything known).
pub fn means(world: &World, drawn: &Drawn) -> Vec<f64> {
    let level = world.base + drawn.mean_leniency(world);
    (0..world.lots.len()).map(|lot| level + addition(world, drawn, lot)).collect()
}

fn addition(world: &World, drawn: &Drawn, lot: usize) -> f64 {
    if world.lot_sd == 0.0 {
        return 0.0;
    }
    let (mut weighted, mut weight) = (0.0, world.lot_sd.powi(-2));
    let rated = |piece: &&Made| piece.lot == lot && !piece.ratings.is_empty();
    for piece in drawn.pieces.iter().filter(rated) {
        let ratings = piece.ratings.len() as f64;
        let precision = (world.reed_sd.powi(2) + world.rating_sd.powi(2) / ratings).recip();
        weighted += precision * (score(world, piece) - world.base);
        weight += precision;
    }
    weighted / weight
}

/// Mean of a reed's marks less what each player adds.
fn score(world: &World, piece: &Made) -> f64 {
    let fair = |&(player, mark): &(usize, f64)| {
        mark - world.players.get(player).map_or(0.0, |player| player.kinder)
    };
    piece.ratings.iter().map(fair).sum::<f64>() / piece.ratings.len() as f64
}

/// Whether a factor is found by the t test of the model that is true: leniency and trend known, a level for each lot, the factors of the
/// earlier and of the same steps at their true values, scatter independent and equal. None where that model cannot be fitted.
pub fn finds(world: &World, drawn: &Drawn, name: &str) -> Option<bool> {
    let step = world.factors.get(world.place(name)?)?.made_at;
    let rated: Vec<&Made> = drawn.pieces.iter().filter(|piece| !piece.ratings.is_empty()).collect();
    let outcome: Vec<f64> = rated
        .iter()
        .map(|piece| score(world, piece) - world.trend * f64::from(piece.day) / DAYS_OF_A_MONTH)
        .collect();
    let lots: Vec<String> = rated.iter().map(|piece| format!("{:03}", piece.lot)).collect();
    let mut design = Design::builder(rated.len()).intercept().choice("lot", &lots, None);
    for (place, factor) in world.factors.iter().enumerate() {
        if factor.made_at <= step {
            let values: Vec<f64> = rated.iter().map(|piece| piece.values[place]).collect(); // one value a factor
            design = design.number(factor.name, &values);
        }
    }
    let fit = least_squares(&design.build().ok()?, &outcome).ok()?;
    let effect = fit.classical(&fit.pick(name).ok()?).ok()?;
    Some(effect.p_value() * world.factors.len() as f64 <= FOUND_AT)
}
