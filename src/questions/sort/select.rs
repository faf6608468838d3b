//! Select and refuse: the measurements, and the pieces that each is held against.

use rayon::prelude::*;

use super::super::rated::distinct;
use super::super::scores::count_out;
use super::refusal;
use crate::catalogue::Stage;
use crate::finding::LeftOut;
use crate::problem::Refusal;
use crate::study::{Factor, FactorKind, Study};
use crate::words::sort as words;

const FEWEST_PIECES: usize = 30;
const FEWEST_LOTS: usize = 3;
/// So many good reeds, and so many pieces that became none.
const FEWEST_OF_A_KIND: usize = 5;

/// One measurement and the pieces that have it.
pub(super) struct Measure<'a> {
    pub factor: &'a Factor,
    /// Rows of pieces with a value, a known end and a lot, by their names.
    pub pieces: Vec<usize>,
    pub values: Vec<f64>,
    pub good: Vec<bool>,
    pub lots: Vec<usize>,
    pub left_out: Vec<LeftOut>,
}

pub(super) struct Selected<'a> {
    pub measures: Vec<Measure<'a>>,
    /// Labels of measurements that too few pieces have.
    pub too_few: Vec<String>,
}

pub(super) fn select<'a>(study: &'a Study, named: Option<&str>) -> Result<Selected<'a>, Refusal> {
    let factors = factors(study, named)?;
    let (good, lots) = (study.good(), &study.lots().codes);
    let ended: Vec<usize> = (0..study.pieces())
        .filter(|&piece| good[piece].is_some() && lots[piece].is_some())
        .collect();
    let lots_known: Vec<usize> =
        ended.iter().filter_map(|&piece| lots[piece].map(|lot| lot as usize)).collect();
    if distinct(&lots_known) < FEWEST_LOTS {
        return Err(refusal(
            words::too_few_lots(ended.len(), distinct(&lots_known)),
            words::TAKES_LOTS,
        ));
    }
    let (mut measures, mut too_few) = (Vec::new(), Vec::new());
    let all: Vec<Measure> =
        factors.into_par_iter().map(|factor| measure(study, factor, &good, lots)).collect();
    for measure in all {
        if enough(&measure) {
            measures.push(measure)
        } else {
            too_few.push(measure.factor.label.clone())
        }
    }
    if measures.is_empty() {
        return Err(refusal(words::too_few(&too_few), words::TAKES_PIECES));
    }
    Ok(Selected { measures, too_few })
}

/// The one named, or the numbers that are known before the work goes in.
fn factors<'a>(study: &'a Study, named: Option<&str>) -> Result<Vec<&'a Factor>, Refusal> {
    let numbers = study.factors().iter().filter(|factor| factor.kind == FactorKind::Number);
    let Some(named) = named else {
        let early = |factor: &&Factor| matches!(factor.stage, Stage::Cane | Stage::Gouge);
        let early: Vec<&Factor> = numbers.filter(early).collect();
        return if early.is_empty() {
            Err(refusal(words::NO_MEASURE.to_owned(), words::TAKES_MEASURE))
        } else {
            Ok(early)
        };
    };
    match numbers.clone().find(|factor| factor.is_called(named)) {
        Some(factor) => Ok(vec![factor]),
        None => Err(refusal(
            words::not_found(named, &numbers.map(|factor| factor.name.clone()).collect::<Vec<_>>()),
            words::TAKES_MEASURE,
        )),
    }
}

fn measure<'a>(
    study: &Study,
    factor: &'a Factor,
    good: &[Option<bool>],
    lots: &[Option<u32>],
) -> Measure<'a> {
    let (ids, values) = (study.ids(), study.numbers(&factor.name));
    let mut pieces: Vec<usize> = (0..study.pieces())
        .filter(|&piece| good[piece].is_some() && lots[piece].is_some() && values[piece].is_some())
        .collect();
    pieces.sort_by(|&a, &b| ids[a].cmp(ids[b]));
    let count =
        |wanted: &dyn Fn(usize) -> bool| (0..study.pieces()).filter(|&piece| wanted(piece)).count();
    let mut left_out = Vec::new();
    count_out(&mut left_out, words::NO_END, count(&|piece| good[piece].is_none()));
    let without_lot = count(&|piece| good[piece].is_some() && lots[piece].is_none());
    count_out(&mut left_out, words::NO_LOT, without_lot);
    let without_value = count(&|piece| good[piece].is_some() && lots[piece].is_some());
    count_out(&mut left_out, words::NO_VALUE, without_value - pieces.len());
    Measure {
        factor,
        values: pieces.iter().filter_map(|&piece| values[piece]).collect(),
        good: pieces.iter().filter_map(|&piece| good[piece]).collect(),
        lots: pieces.iter().filter_map(|&piece| lots[piece].map(|lot| lot as usize)).collect(),
        pieces,
        left_out,
    }
}

fn enough(measure: &Measure) -> bool {
    let good = measure.good.iter().filter(|&&good| good).count();
    measure.pieces.len() >= FEWEST_PIECES
        && good >= FEWEST_OF_A_KIND
        && measure.good.len() - good >= FEWEST_OF_A_KIND
        && distinct(&measure.lots) >= FEWEST_LOTS
}
