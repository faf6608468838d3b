//! Fit: the model of the ratings, and which families it can tell from each other.

use std::collections::BTreeSet;

use ndarray::{Array1, Array2};

use super::super::rated::{MOST_FIXED_PLAYERS, RatedRows, columns_but_the_commonest, distinct};
use super::super::scores::ReedScores;
use crate::finding::Interval;
use crate::stats::StatsError;
use crate::stats::design::Design;
use crate::stats::estimate::Estimate;
use crate::stats::linear::{LinearFit, least_squares};
use crate::stats::mixed::{Criterion, MixedFit, RandomTerm, TermsFit, fit_mixed, fit_mixed_terms};
use crate::study::Study;
use crate::words::families::RatingWords;

/// Above so many ratings or lots each reed counts once, by its score: there the two models hardly differ.
const MOST_RATINGS: usize = 20_000;
const MOST_LOTS: usize = 200;

/// One entry a row; at first a rating is a row.
pub(super) struct Model {
    score: Vec<f64>,
    reed: Vec<usize>,
    lot: Vec<usize>,
    family: Vec<usize>,
    /// The players and the makers, where there are several.
    beside: Vec<Beside>,
    /// The families of these rows, rising.
    told: Vec<usize>,
    /// Position of each reed in the reed scores.
    reeds: Vec<usize>,
}

/// Who made or rated each row.
struct Beside {
    name: &'static str,
    codes: Vec<usize>,
}

const PLAYERS: &str = "players";
const MAKERS: &str = "makers";

impl Beside {
    fn where_several(name: &'static str, codes: Vec<usize>) -> Option<Self> {
        (distinct(&codes) > 1).then_some(Self { name, codes })
    }

    /// Whether so few stand as columns of their own.
    fn is_fixed(&self) -> bool {
        distinct(&self.codes) <= MOST_FIXED_PLAYERS
    }
}

impl Model {
    /// Of the rated reeds of some families; `family_of` has an entry a piece.
    pub fn of(
        study: &Study,
        scores: &ReedScores,
        family_of: &[Option<usize>],
        told: &[usize],
    ) -> Self {
        let is_told = |reed: &usize| {
            family_of[scores.piece[*reed]].is_some_and(|family| told.contains(&family))
        };
        let reeds: Vec<usize> = (0..scores.piece.len()).filter(is_told).collect();
        let rows = RatedRows::of(study, scores).of_reeds(&reeds);
        let pieces: Vec<usize> =
            rows.reed.iter().map(|&place| scores.piece[reeds[place]]).collect();
        let lots = study.lots();
        // a piece without a lot is a lot of its own
        let lot_of =
            |piece: usize| lots.codes[piece].map_or(lots.levels.len() + piece, |lot| lot as usize);
        let makers = study.labels("maker");
        // a piece without a name is one more maker's
        let maker_of =
            |piece: usize| makers.codes[piece].map_or(makers.levels.len(), |code| code as usize);
        let makers = study.several_makers().and_then(|_| {
            Beside::where_several(MAKERS, pieces.iter().map(|&p| maker_of(p)).collect())
        });
        Self {
            lot: pieces.iter().map(|&piece| lot_of(piece)).collect(),
            family: pieces.iter().filter_map(|&piece| family_of[piece]).collect(),
            beside: Beside::where_several(PLAYERS, rows.player).into_iter().chain(makers).collect(),
            score: rows.score,
            reed: rows.reed,
            told: told.to_vec(),
            reeds,
        }
    }

    /// The families that can be compared with each other whoever made and rated their reeds; of several such sets the one with most ratings. Empty where no two can.
    ///
    /// A difference can be told if its contrast is a combination of the rows (an estimable function: Searle 1971, Linear Models, section 5.4): if, as one more
    /// row, it leaves the rank as it was.
    pub fn comparable(&self) -> Vec<usize> {
        if self.told.len() < 2 {
            return self.told.clone();
        }
        let Ok(design) = self.each_combination() else { return Vec::new() };
        let rank = rank(design.matrix.clone(), &design.names);
        let is_told = |one: usize, other: usize| {
            let side = |name: &String| {
                let is = |family: usize| f64::from(u8::from(*name == column_of(family)));
                is(one) - is(other)
            };
            let contrast: Array1<f64> = design.names.iter().map(side).collect();
            let mut matrix = design.matrix.clone();
            matrix.push_row(contrast.view()).is_ok() && self::rank(matrix, &design.names) == rank
        };
        let mut sets: Vec<Vec<usize>> = Vec::new();
        for &family in &self.told {
            match sets.iter_mut().find(|set| is_told(set[0], family)) {
                Some(set) => set.push(family),
                None => sets.push(vec![family]),
            }
        }
        let ratings =
            |set: &Vec<usize>| self.family.iter().filter(|family| set.contains(family)).count();
        sets.retain(|set| set.len() > 1);
        // the first among equals
        sets.into_iter().rev().max_by_key(ratings).unwrap_or_default()
    }

    /// The design with one row for all rows that are the same in it.
    fn each_combination(&self) -> Result<Design, StatsError> {
        let fixed: Vec<&Beside> = self.beside.iter().filter(|one| one.is_fixed()).collect();
        let row = |at: usize| -> Vec<usize> {
            let codes = fixed.iter().map(|one| one.codes[at]);
            codes.chain([self.family[at]]).collect()
        };
        let each: BTreeSet<Vec<usize>> = (0..self.family.len()).map(row).collect();
        let column = |place: usize| each.iter().map(|row| row[place]).collect::<Vec<usize>>();
        let beside: Vec<Beside> = fixed
            .iter()
            .enumerate()
            .map(|(place, one)| Beside { name: one.name, codes: column(place) })
            .collect();
        design(&beside, &column(fixed.len()), &self.told)
    }

    /// One row a reed where there are very many rows or lots.
    pub fn thinned(self, scores: &ReedScores) -> Self {
        if self.score.len() <= MOST_RATINGS && distinct(&self.lot) <= MOST_LOTS {
            return self;
        }
        let mut row_of = vec![None; self.reeds.len()];
        let mut is_by_several = vec![false; self.reeds.len()];
        let players = self.beside.iter().find(|one| one.name == PLAYERS);
        for (row, &reed) in self.reed.iter().enumerate() {
            match row_of[reed] {
                None => row_of[reed] = Some(row),
                Some(first) => {
                    is_by_several[reed] |=
                        players.is_some_and(|players| players.codes[first] != players.codes[row]);
                }
            }
        }
        let rows: Vec<usize> = row_of.into_iter().flatten().collect();
        let of = |codes: &[usize]| rows.iter().map(|&row| codes[row]).collect::<Vec<usize>>();
        // where the players could be compared, the scores hold nothing of their leniency any more
        let is_lenient = scores.leniency.iter().any(|(_, shift)| *shift != 0.0);
        let beside = self.beside.iter().filter(|one| one.name != PLAYERS || !is_lenient);
        let beside = beside.filter_map(|one| {
            let mut codes = of(&one.codes);
            if one.name == PLAYERS {
                // those who rated a reed together are one more player
                let together = one.codes.iter().max().map_or(0, |last| last + 1);
                let by_several = codes.iter_mut().zip(&is_by_several);
                by_several.filter(|(_, several)| **several).for_each(|(code, _)| *code = together);
            }
            Beside::where_several(one.name, codes)
        });
        Self {
            beside: beside.collect(),
            score: self.reeds.iter().map(|&reed| scores.score[reed]).collect(),
            reed: (0..self.reeds.len()).collect(),
            lot: of(&self.lot),
            family: of(&self.family),
            told: self.told,
            reeds: self.reeds,
        }
    }

    pub fn fit(&self) -> Result<Fitted, StatsError> {
        let design = design(&self.beside, &self.family, &self.told)?.without_aliases().0;
        let mut terms = Vec::new();
        if self.has_lots() {
            terms.push(RandomTerm::intercept("lot", &self.lot));
        }
        if self.repeats() {
            terms.push(RandomTerm::intercept("reed", &self.reed));
        }
        let random = self.beside.iter().filter(|one| !one.is_fixed());
        terms.extend(random.map(|one| RandomTerm::intercept(one.name, &one.codes)));
        let score = &self.score;
        let fit = match terms.len() {
            0 => Fit::Plain(Box::new(least_squares(&design, score)?)),
            1 if self.has_lots() => {
                Fit::Lots(Box::new(fit_mixed(&design, score, &self.lot, Criterion::Reml)?))
            }
            _ => Fit::Terms(Box::new(fit_mixed_terms(&design, score, &terms, Criterion::Reml)?)),
        };
        Ok(Fitted {
            fit,
            averages: design.column_means(),
            names: design.names,
            told: self.told.clone(),
        })
    }

    /// Whether there are lots to tell apart from each other and from their reeds.
    fn has_lots(&self) -> bool {
        let lots = distinct(&self.lot);
        lots > 1 && lots < self.reeds.len()
    }

    fn repeats(&self) -> bool {
        self.reed.len() > self.reeds.len()
    }

    pub fn words(&self) -> RatingWords {
        let named = |fixed: bool| {
            let beside = self.beside.iter().filter(move |one| one.is_fixed() == fixed);
            beside.map(|one| one.name)
        };
        let lots = self.has_lots().then_some("lots");
        let reeds = self.repeats().then_some("reeds");
        RatingWords {
            fixed: named(true).collect(),
            random: lots.into_iter().chain(reeds).chain(named(false)).collect(),
        }
    }
}

/// The families last, so that it is they that are found to be combinations of the others.
fn design(beside: &[Beside], family: &[usize], told: &[usize]) -> Result<Design, StatsError> {
    let mut builder = Design::builder(family.len()).intercept();
    for one in beside.iter().filter(|one| one.is_fixed()) {
        for (number, column) in columns_but_the_commonest(&one.codes).iter().enumerate() {
            builder = builder.number(&format!("{} {number}", one.name), column);
        }
    }
    for &own in told.iter().skip(1) {
        let column: Vec<f64> =
            family.iter().map(|&family| f64::from(u8::from(family == own))).collect();
        builder = builder.number(&column_of(own), &column);
    }
    builder.build()
}

fn rank(matrix: Array2<f64>, names: &[String]) -> usize {
    Design { names: names.to_vec(), matrix }.without_aliases().0.columns()
}

fn column_of(family: usize) -> String {
    format!("family {family}")
}

pub(super) struct Fitted {
    fit: Fit,
    names: Vec<String>,
    averages: Vec<f64>,
    told: Vec<usize>,
}

enum Fit {
    Plain(Box<LinearFit>),
    Lots(Box<MixedFit>),
    Terms(Box<TermsFit>),
}

impl Fitted {
    fn column(&self, family: usize) -> Option<usize> {
        self.names.iter().position(|name| *name == column_of(family))
    }

    /// Whether every family has what the model can tell of it.
    pub fn tells_all(&self) -> bool {
        self.told.iter().skip(1).all(|&family| self.column(family).is_some())
    }

    /// All at their average but the families, of which the row is in one.
    fn at(&self, family: usize) -> Vec<f64> {
        let mut row = self.averages.clone();
        for &other in &self.told {
            if let Some(cell) = self.column(other).and_then(|at| row.get_mut(at)) {
                *cell = f64::from(u8::from(other == family));
            }
        }
        row
    }

    pub fn mean(&self, family: usize) -> Option<Interval> {
        self.interval(&self.at(family), 0.95)
    }

    /// How much higher one family was rated than another.
    pub fn difference(&self, family: usize, against: usize, level: f64) -> Option<Interval> {
        let apart: Vec<f64> =
            self.at(family).iter().zip(self.at(against)).map(|(a, b)| a - b).collect();
        self.interval(&apart, level)
    }

    fn interval(&self, contrast: &[f64], level: f64) -> Option<Interval> {
        let estimate: Estimate = match &self.fit {
            Fit::Plain(fit) => fit.classical(contrast),
            Fit::Lots(fit) => fit.contrast(contrast),
            Fit::Terms(fit) => fit.contrast(contrast),
        }
        .ok()?;
        let (low, high) = estimate.interval(level).ok()?;
        let is_sound = low.is_finite() && high.is_finite();
        is_sound.then_some(Interval { estimate: estimate.value, low, high })
    }
}
