//! Select: the reeds and the columns that speak about one factor.

use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

use super::super::many::{ByLot, taken};
use super::super::piece_set::PieceSet;
use super::super::scores::{ReedScores, count_out, never_rated};
use super::{levels, profile};
use crate::catalogue::Stage;
use crate::finding::LeftOut;
use crate::study::{Factor, FactorKind, Labels, Study};
use crate::words::criteria::{self as words, Counted};

/// A factor or an adjuster, one entry a piece.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::questions) enum Cells {
    Number(Arc<Vec<Option<f64>>>),
    /// Codes and the names of the levels, sorted but for one of joined levels at the end.
    Choice(Vec<Option<u32>>, Vec<String>),
}

impl Cells {
    /// The value of a number; none for a gap or a choice.
    pub fn number(&self, piece: usize) -> Option<f64> {
        match self {
            Cells::Number(cells) => cells[piece],
            Cells::Choice(..) => None,
        }
    }

    pub fn present(&self, piece: usize) -> bool {
        match self {
            Cells::Number(cells) => cells[piece].is_some(),
            Cells::Choice(cells, _) => cells[piece].is_some(),
        }
    }

    /// The pieces that have a value.
    fn filled(&self) -> PieceSet {
        match self {
            Cells::Number(cells) => PieceSet::marked(cells.iter().map(Option::is_some)),
            Cells::Choice(cells, _) => PieceSet::marked(cells.iter().map(Option::is_some)),
        }
    }
}

/// All columns of the study that a model may hold, read once.
pub(in crate::questions) struct Columns<'a> {
    pub factors: Vec<(&'a Factor, Cells)>,
    /// Code of each piece's lot.
    pub lots: &'a [Option<u32>],
    /// The makers, where there are several.
    pub makers: Option<&'a Labels>,
    pub days: &'a [Option<i32>],
    /// What became of the pieces without a rating that counts.
    pub never_rated: Vec<LeftOut>,
    /// What a row of the models is.
    pub counted: Counted,
    /// Of the columns as they stand; whoever changes them empties it.
    filled: OnceLock<Filled>,
    by_lot: OnceLock<ByLot>,
}

/// Which pieces have what.
struct Filled {
    /// Of each factor.
    factors: Vec<PieceSet>,
    lots: PieceSet,
}

impl<'a> Columns<'a> {
    pub fn of(study: &'a Study, scores: &ReedScores) -> Columns<'a> {
        let cells = |factor: &Factor| match factor.kind {
            FactorKind::Number => Cells::Number(study.numbers(&factor.name)),
            FactorKind::Choice => levels::joined(study.labels(&factor.name), &scores.piece),
        };
        Columns {
            factors: study.factors().iter().map(|factor| (factor, cells(factor))).collect(),
            lots: &study.lots().codes,
            makers: study.several_makers(),
            days: study.making_days(),
            never_rated: never_rated(study, scores),
            counted: Counted::RatedReeds,
            filled: OnceLock::new(),
            by_lot: OnceLock::new(),
        }
    }

    /// The same pieces with other cells, one set of cells a factor.
    pub fn filled_in(&self, cells: impl Iterator<Item = Cells>) -> Columns<'a> {
        Columns {
            factors: self.factors.iter().map(|(factor, _)| *factor).zip(cells).collect(),
            lots: self.lots,
            makers: self.makers,
            days: self.days,
            never_rated: Vec::new(),
            counted: self.counted,
            filled: OnceLock::new(),
            by_lot: OnceLock::new(),
        }
    }

    /// The same with factors that the question derived, each where its stage stands in the making.
    pub fn with(mut self, derived: &'a [(Factor, Cells)]) -> Columns<'a> {
        for (factor, cells) in derived {
            let later = self.factors.iter().position(|(other, _)| other.stage > factor.stage);
            let at = later.unwrap_or(self.factors.len());
            self.factors.insert(at, (factor, cells.clone()));
        }
        self.filled = OnceLock::new();
        self
    }

    fn known(&self) -> &Filled {
        self.filled.get_or_init(|| Filled {
            factors: self.factors.iter().map(|(_, cells)| cells.filled()).collect(),
            lots: PieceSet::marked(self.lots.iter().map(Option::is_some)),
        })
    }

    fn by_lot(&self) -> &ByLot {
        self.by_lot.get_or_init(|| ByLot::of(self.lots))
    }

    /// The pieces that have a value of a factor.
    pub fn with_factor(&self, at: usize) -> &PieceSet {
        &self.known().factors[at]
    }

    /// The scored pieces; where lots are compared, those that have one.
    pub fn scored(&self, scores: &ReedScores, has_lots: bool) -> PieceSet {
        let scored = scores.set(self.lots.len()).clone();
        if has_lots { scored.and(&self.known().lots) } else { scored }
    }

    /// Whether reeds of the same lot can be compared: there are two lots at least, and enough reeds share theirs with
    /// another.
    pub fn can_compare_within_lots(&self, pieces: &[usize]) -> bool {
        let lots = || pieces.iter().filter_map(|&piece| self.lots[piece]).map(|lot| lot as usize);
        // codes are places in the list of lots
        let mut counts = vec![0; lots().max().map_or(0, |last| last + 1)];
        lots().for_each(|lot| counts[lot] += 1);
        let several = counts.iter().filter(|reeds| **reeds > 0).nth(1).is_some();
        let in_company: usize = counts.iter().filter(|reeds| **reeds > 1).sum();
        several && in_company >= super::FEWEST_REEDS
    }

    /// Whether these pieces are all of one lot.
    pub fn are_of_one_lot(&self, pieces: &[usize]) -> bool {
        self.named_lots(pieces) == 1 && pieces.iter().all(|&piece| self.lots[piece].is_some())
    }

    /// How many lots these pieces are of.
    pub fn named_lots(&self, pieces: &[usize]) -> usize {
        pieces.iter().filter_map(|&piece| self.lots[piece]).collect::<BTreeSet<u32>>().len()
    }
}

/// The share of missing cells above which a column is described and not modelled.
pub(super) const MOST_MISSING: f64 = 0.4;
/// Adjusters with gaps are given up, those with most gaps first, until this share of the factor's reeds remains.
const FEWEST_KEPT: f64 = 0.7;
/// A level of a choice with fewer reeds is left out.
pub(super) const FEWEST_IN_LEVEL: usize = 3;

/// The reeds that one factor's model uses, and the adjusters that it may hold.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sample {
    /// Positions in the reed scores.
    pub reeds: Vec<usize>,
    /// Positions in [`Columns::factors`].
    pub adjusters: Vec<usize>,
    /// Adjusters that were given up because of their gaps.
    pub given_up: Vec<usize>,
    pub left_out: Vec<LeftOut>,
}

/// Chooses by stage order: what came before the factor, or in the same stage, is adjusted for; what came later may
/// be the road by which it works and stays out.
pub(super) fn sample(columns: &Columns, scores: &ReedScores, at: usize, has_lots: bool) -> Sample {
    let (used, sample) = used(columns, scores, at, has_lots);
    Sample { reeds: of_pieces(scores, &used).collect(), ..sample }
}

/// The same, but of very many reeds some alone. The flag says whether any were passed over.
pub(super) fn thinned_sample(
    columns: &Columns,
    scores: &ReedScores,
    at: usize,
    has_lots: bool,
) -> (Sample, bool) {
    let (used, sample) = used(columns, scores, at, has_lots);
    let taken = match has_lots {
        true => columns.by_lot().taken(&used),
        false => taken_of_one(&used),
    };
    let is_thinned = taken.is_some();
    let reeds = match taken {
        // the scores stand in the order of the pieces
        Some(taken) => {
            let place = |piece: usize| scores.piece.binary_search(&piece).ok();
            taken.into_iter().filter_map(place).collect()
        }
        None => of_pieces(scores, &used).collect(),
    };
    (Sample { reeds, ..sample }, is_thinned)
}

/// Where lots are not compared, all pieces are of one.
fn taken_of_one(pieces: &PieceSet) -> Option<Vec<usize>> {
    let taken = taken(pieces.iter().map(|_| None), &BTreeSet::new())?;
    Some(pieces.iter().zip(taken).filter(|(_, taken)| *taken).map(|(piece, _)| piece).collect())
}

/// Positions in the reed scores of the reeds whose pieces these are.
fn of_pieces(scores: &ReedScores, pieces: &PieceSet) -> impl Iterator<Item = usize> {
    (0..scores.piece.len()).filter(|&reed| pieces.holds(scores.piece[reed]))
}

/// The pieces of the sample, and all else of it.
fn used(columns: &Columns, scores: &ReedScores, at: usize, has_lots: bool) -> (PieceSet, Sample) {
    let (factor, cells) = &columns.factors[at];
    let considered = columns.scored(scores, has_lots);
    let present = considered.clone().and(columns.with_factor(at));
    let without_cell = considered.count_without(columns.with_factor(at));
    let candidates = candidates(columns, &considered, factor, at);
    let considered = considered.count();
    let (with_factor, mut rare) = levels::without_rare(cells, present);
    let (adjusters, given_up) = without_gaps(columns, &with_factor, candidates);
    let kept = with_factor.count();
    let whole = whole(columns, with_factor, &adjusters);
    let gaps = kept - whole.count();
    let (used, rare_now) = levels::without_rare(cells, whole);
    rare.extend(rare_now);
    let mut left_out = columns.never_rated.clone();
    let state = columns.counted.state();
    let without_lot = format!("{state}, but without a lot");
    count_out(&mut left_out, &without_lot, scores.piece.len() - considered);
    count_out(&mut left_out, &format!("{state}, but without {}", factor.label), without_cell);
    count_out(
        &mut left_out,
        &words::rare_kinds(columns.counted, &factor.label, &rare, FEWEST_IN_LEVEL),
        considered - without_cell - gaps - used.count(),
    );
    count_out(&mut left_out, &format!("{state}, but with a gap in what is adjusted for"), gaps);
    (used, Sample { reeds: Vec::new(), adjusters, given_up, left_out })
}

fn candidates(columns: &Columns, pieces: &PieceSet, factor: &Factor, at: usize) -> Vec<usize> {
    if factor.stage == Stage::Unplaced {
        return Vec::new();
    }
    (0..columns.factors.len())
        .filter(|&other| other != at)
        .filter(|&other| {
            let stage = columns.factors[other].0.stage;
            Stage::MAKING.contains(&stage) && stage <= factor.stage
        })
        .filter(|&other| profile::may_adjust(factor, columns.factors[other].0))
        .filter(|&other| pieces.share_without(columns.with_factor(other)) <= MOST_MISSING)
        .collect()
}

/// Whether those that have a value all have the same.
pub(super) fn all_equal<T: PartialEq>(values: impl Iterator<Item = Option<T>>) -> bool {
    let mut present = values.flatten();
    let first = present.next();
    present.all(|value| Some(&value) == first.as_ref())
}

/// The pieces that have all of these columns.
fn whole(columns: &Columns, pieces: PieceSet, adjusters: &[usize]) -> PieceSet {
    adjusters.iter().fold(pieces, |pieces, &other| pieces.and(columns.with_factor(other)))
}

fn without_gaps(
    columns: &Columns,
    pieces: &PieceSet,
    mut adjusters: Vec<usize>,
) -> (Vec<usize>, Vec<usize>) {
    let mut given_up = Vec::new();
    let complete = |adjusters: &[usize]| whole(columns, pieces.clone(), adjusters).count() as f64;
    let fewest = FEWEST_KEPT * pieces.count() as f64;
    while complete(&adjusters) < fewest {
        // of equals the later in the making, and then by name, so that the order of the columns in the file does not choose
        let key = |place: &usize| {
            let (factor, _) = &columns.factors[adjusters[*place]];
            let gaps = pieces.count_without(columns.with_factor(adjusters[*place]));
            (gaps, factor.stage, &factor.name)
        };
        let Some(worst) = (0..adjusters.len()).max_by(|a, b| key(a).cmp(&key(b))) else {
            break;
        };
        given_up.push(adjusters.remove(worst));
    }
    (adjusters, given_up)
}
