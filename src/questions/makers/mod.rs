//! What holds for all makers, and what differs between them?
//!
//! A studio's logs together: what each maker started, spoiled and got good, in which practices they differ, and whether a measurement goes with the rating in the
//! same way for all of them.
//!
//! **Method.** Each maker's effects are those of `factors` on the reeds of that maker alone, compared within lots, with adjusters and a residual spread of the
//! maker's own. They are combined by their precision (Graybill & Deal 1959; Meier 1953), and that they differ is tested as Welch (1951) tests means of unequal
//! variance; both tests are adjusted over the measurements (Benjamini & Hochberg 1995). Mean ratings are compared only where makers can be told from players; from five
//! makers on they are drawn towards the average of all (makers and lots at random, by restricted maximum likelihood). Shares have exact intervals (Clopper & Pearson
//! 1934). How far practices overlap is the share that two makers' pieces have in common: of numbers one less the distance of Kolmogorov & Smirnov.
//!
//! **Assumptions.** Makers work independently of each other. A measurement is read alike by all of them, and a rating point means as much in each log.
//!
//! **Refuses** with fewer than two makers. What two of them cannot carry (means, effects) is left out and said.

mod effects;
mod means;
mod practices;
mod say;

use std::collections::BTreeSet;

use super::{Options, Question};
use crate::finding::{Estimated, Finding, MakerResult};
use crate::problem::Refusal;
use crate::stats::proportion::clopper_pearson;
use crate::study::{Fate, Labels, Study, Understood};
use crate::words::makers as words;

pub const QUESTION: Question = Question {
    name: "makers",
    asked: "What holds for all makers, and what differs between them?",
    help: "several makers: what each got good, how their practices differ, which effects hold for all",
    ask,
    asked_of: has_several,
};

/// Makers with fewer rated reeds say nothing of effects, and those with fewer pieces nothing of overlap.
const FEWEST_REEDS: usize = 8;
/// Of more makers, those with most reeds (pieces) speak about effects (overlap).
const MOST_MAKERS: usize = 24;

/// Whether there are makers to compare.
fn has_several(study: &Study) -> bool {
    study.several_makers().is_some()
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with fewer than two makers.
pub fn ask(study: &Study, _options: &Options) -> Result<Finding, Refusal> {
    let makers = study.labels("maker");
    if makers.levels.len() < 2 {
        return Err(Refusal {
            question: QUESTION.name.to_owned(),
            found: words::too_few_makers(makers.levels.len()),
            takes: words::TAKES_MAKERS.to_owned(),
        });
    }
    let (mut list, means) = (counted(study, makers), means::means(study, makers));
    means.write(&mut list);
    let practices = practices::practices(study, makers);
    let effects = effects::effects(study, makers);
    Ok(say::finding(study, list, &means, practices, effects))
}

/// The rows of each maker's pieces.
fn pieces_of(makers: &Labels) -> Vec<Vec<usize>> {
    let mut pieces = vec![Vec::new(); makers.levels.len()];
    for (piece, code) in makers.codes.iter().enumerate() {
        if let Some(code) = code {
            pieces[*code as usize].push(piece);
        }
    }
    pieces
}

/// What became of each maker's pieces.
fn counted(study: &Study, makers: &Labels) -> Vec<MakerResult> {
    let (fates, good, scores) = (study.fates(), study.good(), study.reed_scores());
    let told = spoiling_is_told(study);
    let of_maker = |(maker, pieces): (&String, Vec<usize>)| {
        let count =
            |wanted: &dyn Fn(usize) -> bool| pieces.iter().filter(|&&piece| wanted(piece)).count();
        let spoiled = count(&|piece| fates[piece] == Some(Fate::Spoiled));
        let is_told = spoiled > 0 || pieces.iter().any(|&piece| told[piece]);
        let ended = count(&|piece| good[piece].is_some());
        MakerResult {
            maker: maker.clone(),
            pieces: pieces.len(),
            spoiled: is_told.then_some(spoiled),
            spoiled_per_ten: per_ten(spoiled, pieces.len()).filter(|_| is_told),
            rated: count(&|piece| scores[piece].is_some()),
            good_per_ten: per_ten(count(&|piece| good[piece] == Some(true)), ended),
            by_own_hand: None,
            ratings: 0,
            mean: None,
            low: None,
            high: None,
            sentence: String::new(),
        }
    };
    makers.levels.iter().zip(pieces_of(makers)).map(of_maker).collect()
}

/// Whether the log of each piece has a column that could say of a piece that it was spoiled; a log without one says nothing about spoiling.
fn spoiling_is_told(study: &Study) -> Vec<bool> {
    let tells =
        |column: &&Understood| ["fate", "spoiled_at", "spoiled_by"].contains(&column.name.as_str());
    // of several logs, files and ids alike stand behind the log's name and a stroke
    let telling = study.understood().iter().filter(tells);
    let logs: BTreeSet<&str> =
        telling.map(|column| column.file.rsplit_once('/').map_or("", |(log, _)| log)).collect();
    let is_told = |id: &str| {
        let behind = |log: &&str| id.strip_prefix(log).is_some_and(|rest| rest.starts_with('/'));
        logs.contains("") || logs.iter().any(behind)
    };
    study.ids().into_iter().map(is_told).collect()
}

fn per_ten(some: usize, all: usize) -> Option<Estimated> {
    let share = clopper_pearson(some as u64, all as u64, 0.95).ok()?;
    Some(Estimated { estimate: 10.0 * share.share, low: 10.0 * share.low, high: 10.0 * share.high })
}
