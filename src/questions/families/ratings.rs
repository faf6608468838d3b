//! Fit: how the families were rated, by a mixed model of the ratings.
//!
//! Families stand as columns; lots deviate at random, and so do reeds where some have several ratings; players, and makers where there are several, stand as
//! columns up to ten, beyond that they deviate at random too. A family's mean is that of an average lot and of the players and makers as they come in the ratings,
//! or of average ones where they deviate at random. Differences between families are told with the intervals of all pairs together at 95 % (Bonferroni). A family with
//! fewer than three rated reeds has no mean, and none has one that cannot be told from who made or rated its reeds.

use super::super::scores::reed_scores;
use super::kinds::Kinds;
use super::measure::Measured;
use super::rating_model::{Fitted, Model};
use crate::finding::{Estimated, FamilyDifference, Interval};
use crate::study::Study;
use crate::words::families::RatingWords;

const FEWEST_RATED: usize = 3;

/// What the ratings say of each family.
#[derive(Default)]
pub(super) struct FamilyRatings {
    /// Reeds of each family that were rated.
    pub rated: Vec<usize>,
    pub means: Vec<Option<Interval>>,
    pub differences: Vec<FamilyDifference>,
    /// What stood in the model; none where there was nothing to fit.
    pub words: Option<RatingWords>,
    /// Families with enough rated reeds that cannot be told from who made or rated them.
    pub tangled: Vec<usize>,
    /// Whether that leaves no two to compare.
    pub all_tangled: bool,
}

pub(super) fn ratings(study: &Study, measured: &Measured, kinds: &Kinds) -> FamilyRatings {
    let scores = reed_scores(study);
    let families = kinds.number();
    let mut family_of = vec![None; study.pieces()];
    for (&piece, &family) in measured.pieces.iter().zip(&kinds.labels) {
        family_of[piece] = Some(family);
    }
    let mut rated = vec![0; families];
    for &piece in &scores.piece {
        if let Some(family) = family_of[piece] {
            rated[family] += 1;
        }
    }
    let told: Vec<usize> = (0..families).filter(|&at| rated[at] >= FEWEST_RATED).collect();
    let mut answer =
        FamilyRatings { rated, means: vec![None; families], ..FamilyRatings::default() };
    let all = Model::of(study, &scores, &family_of, &told);
    let compared = all.comparable();
    answer.tangled = told.iter().copied().filter(|family| !compared.contains(family)).collect();
    answer.all_tangled = compared.is_empty();
    if answer.all_tangled {
        return answer;
    }
    let model = match answer.tangled.is_empty() {
        true => all,
        false => Model::of(study, &scores, &family_of, &compared),
    };
    let model = model.thinned(&scores);
    match model.fit() {
        Ok(fitted) if fitted.tells_all() => {
            read(&fitted, &compared, &mut answer);
            answer.words = Some(model.words());
        }
        Ok(_) => (answer.tangled, answer.all_tangled) = (told, true),
        Err(_) => {}
    }
    answer
}

fn read(fitted: &Fitted, compared: &[usize], answer: &mut FamilyRatings) {
    for &family in compared {
        answer.means[family] = fitted.mean(family);
    }
    let pairs = compared.len() * compared.len().saturating_sub(1) / 2;
    let level = 1.0 - 0.05 / pairs.max(1) as f64;
    for (place, &family) in compared.iter().enumerate() {
        for &against in &compared[place + 1..] {
            let difference = fitted.difference(family, against, level);
            answer.differences.extend(difference.map(|Interval { estimate, low, high }| {
                let difference = Estimated { estimate, low, high };
                FamilyDifference { family: family + 1, against: against + 1, difference }
            }));
        }
    }
}
