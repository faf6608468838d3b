//! The same screen for every further criterion of the ratings.
//!
//! The main outcome is a family of its own; all further criteria are one family together. Of a criterion with a target the
//! distance from it is modelled. Each reed counts once, by the mean of its marks with the players' leniency taken out: a
//! model of every mark takes many times as long, and here there is one for each factor and criterion.

use std::collections::BTreeSet;

use super::super::many::{MOST_REEDS, taken};
use super::super::piece_set::PieceSet;
use super::super::rated::RatedRows;
use super::super::scores::scores_of;
use super::judge::judge_together;
use super::sample::Columns;
use super::{Depth, FEWEST_REEDS, Looked, look_at_all};
use crate::finding::{
    Cell, CriterionEffect, CriterionResult, Finding, Section, Table, TableColumn, Verdict,
};
use crate::study::{Outcome, RatingRows, Study};
use crate::words::criteria::{self as words, CriterionWords};
use crate::words::digits::decimals;
use crate::words::factors::{estimate, excludes_zero, step_shown, verdict_shown};

/// So many further criteria are looked at, the first of the log.
const MOST_CRITERIA: usize = 8;
/// So many rows stand in the table; `results.json` holds all.
const MOST_ROWS: usize = 16;
/// The smallest difference worth having of a criterion on a scale of its own, as a share of the spread of its marks.
const WORTHWHILE_SHARE: f64 = 0.05;

/// One criterion with all factors held against it.
struct Held {
    outcome: Outcome,
    better_is_lower: bool,
    looked: Vec<Looked>,
    worthwhile: f64,
    has_own_scale: bool,
    is_thinned: bool,
}

/// All further criteria.
pub(super) struct Criteria {
    held: Vec<Held>,
    /// Criteria beyond the first eight.
    passed_over: Vec<String>,
    /// Criteria with too few marks, or with the same mark throughout.
    too_little: Vec<String>,
}

/// Holds every factor against each further criterion; steps are those of the main screen.
pub(super) fn criteria(study: &Study, columns: &Columns, main: &[Looked]) -> Criteria {
    let mut names = study.criteria();
    names.retain(|name| *name != study.settings().outcome);
    let passed_over = names.split_off(names.len().min(MOST_CRITERIA));
    let (mut held, mut too_little) = (Vec::new(), Vec::new());
    for name in names {
        match hold(study, columns, main, &name) {
            Some(criterion) => held.push(criterion),
            None => too_little.push(name),
        }
    }
    let mut screens: Vec<(&mut [Looked], f64)> =
        held.iter_mut().map(|held| (held.looked.as_mut_slice(), held.worthwhile)).collect();
    judge_together(&mut screens);
    Criteria { held, passed_over, too_little }
}

fn hold(study: &Study, columns: &Columns, main: &[Looked], name: &str) -> Option<Held> {
    let outcome = study.outcome_of(name);
    let all = study.rating_rows_of(&outcome);
    let (worthwhile, has_own_scale) = worthwhile(study, &outcome, &all);
    let (rows, is_thinned) = thinned(all, columns.lots);
    let scores = scores_of(study, &rows);
    let all_equal = scores.score.windows(2).all(|pair| pair[0] == pair[1]);
    if scores.piece.len() < FEWEST_REEDS || all_equal {
        return None;
    }
    let rated = RatedRows::once_a_reed(&scores);
    let has_lots = columns.can_compare_within_lots(&scores.piece);
    let mut looked = look_at_all(columns, &scores, &rated, has_lots, Depth::Mean);
    for entry in &mut looked {
        at_step_of(main, entry);
    }
    let better_is_lower = outcome.better == crate::study::Better::Lower;
    Some(Held { outcome, better_is_lower, looked, worthwhile, has_own_scale, is_thinned })
}

/// The smallest difference worth having, and whether the criterion's marks lie off the scale of the rating.
fn worthwhile(study: &Study, outcome: &Outcome, rows: &RatingRows) -> (f64, bool) {
    let settings = study.settings();
    let [bottom, top] = settings.scale;
    let range = match outcome.target {
        Some(target) => [0.0, (target - bottom).abs().max((top - target).abs())],
        None => [bottom, top],
    };
    let low = rows.score.iter().copied().fold(f64::INFINITY, f64::min);
    let high = rows.score.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if range[0] <= low && high <= range[1] {
        return (settings.worthwhile, false);
    }
    (WORTHWHILE_SHARE * (high - low), true)
}

/// The ratings of the reeds that are looked at, and whether any were passed over.
fn thinned(rows: RatingRows, lots: &[Option<u32>]) -> (RatingRows, bool) {
    let mut reeds = PieceSet::of(&rows.piece, lots.len());
    let Some(taken) = taken(reeds.iter().map(|piece| lots[piece]), &BTreeSet::new()) else {
        return (rows, false);
    };
    let mut taken = taken.into_iter();
    reeds.retain(|_| taken.next().unwrap_or(false));
    let kept: Vec<usize> =
        (0..rows.piece.len()).filter(|&row| reeds.holds(rows.piece[row])).collect();
    let mut player = rows.player;
    player.codes = kept.iter().map(|&row| player.codes[row]).collect();
    let thinned = RatingRows {
        piece: kept.iter().map(|&row| rows.piece[row]).collect(),
        score: kept.iter().map(|&row| rows.score[row]).collect(),
        day: kept.iter().map(|&row| rows.day[row]).collect(),
        player,
    };
    (thinned, true)
}

/// Tells the effect for the step that the factor has in the main screen, so that a factor reads the same throughout.
fn at_step_of(main: &[Looked], entry: &mut Looked) {
    let of_main = main.iter().find(|other| other.at == entry.at).and_then(|main| main.result.step);
    let result = &mut entry.result;
    let (Some(of_main), Some(own)) = (of_main, result.step) else { return };
    let times = |value: &mut Option<f64>| *value = value.map(|value| value * of_main / own);
    times(&mut result.estimate);
    times(&mut result.low);
    times(&mut result.high);
    result.step = Some(of_main);
}

/// Adds the criteria to the finding.
pub(super) fn tell(finding: &mut Finding, criteria: Criteria) {
    finding.more.extend(criteria.sentences());
    finding.caveats.extend(criteria.caveats());
    finding.method.assumptions.extend(words::assumptions(!criteria.held.is_empty()));
    finding.method.sources.extend(words::sources());
    finding.tables.extend(criteria.table());
    if let Section::Factors(section) = &mut finding.section {
        section.criteria = criteria.held.iter().map(result).collect();
    }
}

impl Criteria {
    fn names(&self, wanted: impl Fn(&Held) -> bool) -> Vec<String> {
        let held = self.held.iter().filter(|held| wanted(held));
        held.map(|held| held.outcome.criterion.clone()).collect()
    }

    fn sentences(&self) -> Vec<String> {
        let standing: Vec<String> = self
            .held
            .iter()
            .flat_map(|held| {
                let standing = held.looked.iter().filter(|entry| stands_out(entry));
                standing.map(|entry| words::sentence(&entry.result, &held.words(entry)))
            })
            .collect();
        if standing.is_empty() && !self.held.is_empty() {
            return vec![words::nothing_stands_out(&self.names(|_| true))];
        }
        standing
    }

    fn caveats(&self) -> Vec<String> {
        [
            words::passed_over(&self.passed_over, MOST_CRITERIA),
            words::too_little(&self.too_little, FEWEST_REEDS),
            words::own_scale(&self.names(|held| held.has_own_scale)),
            words::thinned(&self.names(|held| held.is_thinned), MOST_REEDS),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// What stands out, alone or only until all are counted; none where nothing does.
    fn table(&self) -> Option<Table> {
        let all = self.held.iter().flat_map(|held| held.looked.iter().map(move |at| (held, at)));
        let mut told: Vec<(&Held, &Looked)> = all.filter(|(_, entry)| is_told(entry)).collect();
        told.sort_by_key(|(_, entry)| !stands_out(entry));
        told.truncate(MOST_ROWS);
        (!told.is_empty()).then(|| Table {
            name: "factors_criteria".to_owned(),
            title: words::TABLE_TITLE.to_owned(),
            columns: table_columns(),
            rows: told.into_iter().map(|(held, entry)| row(held, entry)).collect(),
        })
    }
}

impl Held {
    fn words<'a>(&'a self, entry: &'a Looked) -> CriterionWords<'a> {
        CriterionWords {
            criterion: &self.outcome.criterion,
            target: self.outcome.target,
            lower_is_better: self.better_is_lower,
            label: &entry.label,
            higher_is: entry.higher_is.as_deref(),
            lots: entry.lots,
        }
    }
}

fn stands_out(entry: &Looked) -> bool {
    matches!(entry.result.verdict, Verdict::Clear | Verdict::Leaning)
}

fn is_told(entry: &Looked) -> bool {
    let is_open = entry.result.verdict == Verdict::Open;
    stands_out(entry) || is_open && estimate(&entry.result).is_some_and(excludes_zero)
}

fn result(held: &Held) -> CriterionResult {
    CriterionResult {
        criterion: held.outcome.criterion.clone(),
        target: held.outcome.target,
        list: held.looked.iter().map(effect).collect(),
    }
}

fn effect(entry: &Looked) -> CriterionEffect {
    let result = entry.result.clone();
    CriterionEffect {
        factor: result.factor,
        level: result.level,
        reference: result.reference,
        step: result.step,
        verdict: result.verdict,
        estimate: result.estimate,
        low: result.low,
        high: result.high,
        p: result.p,
        q: result.q,
        used: result.used,
    }
}

fn table_columns() -> Vec<TableColumn> {
    vec![
        TableColumn::new("criterion", "Criterion"),
        TableColumn::new("factor", "Factor"),
        TableColumn::new("step", "For"),
        TableColumn::new("estimate", "Moved by"),
        TableColumn::new("low", "from"),
        TableColumn::new("high", "to"),
        TableColumn::new("verdict", "Verdict"),
    ]
}

fn row(held: &Held, entry: &Looked) -> Vec<Cell> {
    let result = &entry.result;
    let shown = estimate(result).map_or(2, |effect| decimals((effect.high - effect.low) / 2.0));
    let number = |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
    vec![
        Cell::Text(words::name(&held.outcome.criterion, held.outcome.target)),
        Cell::Text(entry.label.clone()),
        Cell::Text(step_shown(result, entry.higher_is.as_deref())),
        number(result.estimate),
        number(result.low),
        number(result.high),
        Cell::Text(verdict_shown(result)),
    ]
}
