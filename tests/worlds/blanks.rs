//! Unfinished pieces: some pieces of a drawn log lose their ratings and what was measured late, and what is foretold of them is held against what they became.

use std::collections::BTreeSet;
use std::sync::Arc;

use canewright::demo::Workshop;
use canewright::demo::worlds::{Drawn, Loss, World, scenarios};
use canewright::finding::{BlankResult, Section};
use canewright::stats::resample::permutation;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

use super::super::simulation::Simulation;
use super::asked::{Log, ask, kept, studied};
use super::average::{Average, Of};
use super::sizes::BLANKS;

/// What is said of the unfinished pieces; nothing where the question was refused.
type Answer = Log<Option<Vec<BlankResult>>>;

/// Lots of which every piece is unfinished, and unfinished pieces of each other lot.
const NEW_LOTS: usize = 2;
const OF_OTHER_LOTS: usize = 2;
const GOOD_AT: f64 = 10.5;

/// One player rates every reed, so that a reed's score is the mark it got; skill stands still.
fn one_player(world: World) -> World {
    World { players: scenarios::one_player().players, trend: 0.0, ..world }
}

/// Sheen is worth a point a step.
fn predicts() -> World {
    one_player(World { loss: Loss::ONE_IN_TEN, ..scenarios::few(&[13; 14]) })
}

fn nothing_predicts() -> World {
    let mut world = predicts();
    world.factors.iter_mut().for_each(|factor| factor.effect = 0.0);
    world
}

fn world(name: &str) -> World {
    if name == "predicts" { predicts() } else { nothing_predicts() }
}

/// Rows of the pieces that are made unfinished.
fn chosen(drawn: &Drawn, generator: &mut ChaCha12Rng) -> BTreeSet<usize> {
    let lots = permutation(generator, drawn.lot_names.len());
    let order = permutation(generator, drawn.pieces.len());
    let mut chosen = BTreeSet::new();
    for (turn, lot) in lots.into_iter().enumerate() {
        let taken = if turn < NEW_LOTS { usize::MAX } else { OF_OTHER_LOTS };
        chosen
            .extend(order.iter().copied().filter(|&row| drawn.pieces[row].lot == lot).take(taken));
    }
    chosen
}

/// The log with these pieces unfinished: what any spoiled piece lacks is measured later than they stand.
fn unfinished(files: &Workshop, chosen: &BTreeSet<usize>) -> Workshop {
    let mut files = files.clone();
    for file in &mut files.files {
        let text = String::from_utf8(file.contents.clone()).expect("tidy files are UTF-8");
        let changed = match file.name {
            "reeds.csv" => without_ends(&text, chosen),
            "ratings.csv" => without_ratings(&text, chosen),
            _ => continue,
        };
        file.contents = changed.into_bytes();
    }
    files
}

fn without_ends(text: &str, chosen: &BTreeSet<usize>) -> String {
    let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
    let (head, rows) = rows.split_first().expect("a header");
    let place = |name: &str| head.iter().position(|column| *column == name).expect("a column");
    let (fate, at) = (place("fate"), place("spoiled_at"));
    let late =
        |column: &usize| rows.iter().any(|row| row[fate] == "spoiled" && row[*column].is_empty());
    let late: Vec<usize> = (0..fate).filter(late).collect();
    let written = |(number, row): (usize, &Vec<&str>)| {
        let mut row = row.clone();
        if chosen.contains(&number) {
            late.iter().for_each(|&column| row[column] = "");
            row[fate] = "unfinished";
            row[at..].fill("");
        }
        row.join(",")
    };
    let rows = rows.iter().enumerate().map(written);
    std::iter::once(head.join(",")).chain(rows).map(|line| line + "\n").collect()
}

fn without_ratings(text: &str, chosen: &BTreeSet<usize>) -> String {
    let ids: BTreeSet<String> = chosen.iter().map(|row| id(*row)).collect();
    let is_kept = |line: &&str| line.split(',').next().is_none_or(|reed| !ids.contains(reed));
    text.lines().filter(is_kept).map(|line| format!("{line}\n")).collect()
}

fn id(row: usize) -> String {
    format!("r{:03}", row + 1)
}

fn row(blank: &BlankResult) -> usize {
    blank.piece[1..].parse::<usize>().expect("an id of the world") - 1
}

fn told(name: &'static str, generator: &mut ChaCha12Rng) -> Option<Arc<Answer>> {
    let seed = generator.random();
    let mut dice = generator.clone();
    kept(("blanks", name, seed), || {
        let world = world(name);
        let drawn = world.draw(seed);
        let study = studied(&unfinished(&drawn.files, &chosen(&drawn, &mut dice)));
        let answer = match ask("blanks", &study).map(|finding| finding.section) {
            Ok(Section::Blanks(list, _)) => Some(list),
            _ => None,
        };
        Some(Log { world, drawn, answer })
    })
}

fn list(log: &Answer) -> &[BlankResult] {
    log.answer.as_deref().unwrap_or_default()
}

/// The mark that the piece got in the end; none where it was spoiled.
fn became(log: &Answer, blank: &BlankResult) -> Option<f64> {
    log.drawn.pieces[row(blank)].ratings.first().map(|(_, mark)| *mark)
}

/// Ranges that hold what the piece became, among those of pieces that were rated.
fn covered(log: &Answer, known: bool) -> (f64, f64) {
    let held = list(log).iter().filter(|blank| blank.lot_is_known == known).filter_map(|blank| {
        let mark = became(log, blank)?;
        Some(blank.low? <= mark && mark <= blank.high?)
    });
    let held: Vec<bool> = held.collect();
    (held.iter().filter(|&&held| held).count() as f64, held.len() as f64)
}

/// What was said less what came, over the pieces.
fn over_promised(log: &Answer) -> (f64, f64) {
    let each = list(log).iter().filter_map(|blank| {
        let good = became(log, blank).is_some_and(|mark| mark >= GOOD_AT);
        Some(blank.p_good? - f64::from(good))
    });
    let each: Vec<f64> = each.collect();
    (each.iter().sum(), each.len() as f64)
}

fn over_promised_if_played(log: &Answer) -> (f64, f64) {
    let each = list(log).iter().filter_map(|blank| {
        Some(blank.p_good_if_played? - f64::from(became(log, blank)? >= GOOD_AT))
    });
    let each: Vec<f64> = each.collect();
    (each.iter().sum(), each.len() as f64)
}

/// Good reeds of the most promising fifth less those of the least promising: what the order is worth.
fn worth_of_the_order(log: &Answer) -> (f64, f64) {
    let good =
        |blank: &BlankResult| f64::from(became(log, blank).is_some_and(|mark| mark >= GOOD_AT));
    let list = list(log);
    let fifth = list.len() / 5;
    let (first, last) = (&list[..fifth], &list[list.len() - fifth..]);
    let sum = |part: &[BlankResult]| part.iter().map(good).sum::<f64>();
    (sum(first) - sum(last), fifth as f64)
}

macro_rules! average {
    ($claim:literal, $promised:expr, $of:expr, $take:expr) => {
        Average {
            claim: $claim,
            promised: $promised,
            logs: BLANKS,
            of: $of,
            attempt: |generator| Some($take(told("predicts", generator)?.as_ref())),
        }
    };
}

pub const AVERAGES: &[Average] = &[
    average!("blanks: nine of ten ranges hold, known lots", (0.88, 0.93), Of::Share, |log| {
        covered(log, true)
    }),
    average!("blanks: nine of ten ranges hold, new lots", (0.88, 0.93), Of::Share, |log| {
        covered(log, false)
    }),
    average!(
        "blanks: as many good reeds as the chances promise, losses counted",
        (-0.02, 0.02),
        Of::Difference,
        over_promised
    ),
    average!(
        "blanks: as many good reeds as the chances promise, if played",
        (-0.02, 0.02),
        Of::Difference,
        over_promised_if_played
    ),
    average!(
        "blanks: the first fifth has more good reeds than the last",
        (0.3, 1.0),
        Of::Difference,
        worth_of_the_order
    ),
];

fn answered(name: &'static str, generator: &mut ChaCha12Rng) -> Option<bool> {
    Some(told(name, generator)?.answer.is_some())
}

pub const RATES: &[Simulation] = &[
    Simulation {
        claim: "blanks: nothing predicts, and something is foretold",
        nominal: 0.05,
        slack: (0.05, 0.0),
        replicates: BLANKS,
        attempt: |generator| answered("nothing predicts", generator),
    },
    Simulation {
        claim: "blanks: sheen predicts, and something is foretold",
        nominal: 0.95,
        slack: (0.0, 0.05),
        replicates: BLANKS,
        attempt: |generator| answered("predicts", generator),
    },
];
