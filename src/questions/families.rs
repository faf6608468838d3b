//! What kinds of reeds are there?
//!
//! **Method.** The measurements of the making, each scaled to a standard deviation of one, are looked at for groups of
//! pieces that are alike: k-means with k chosen by the gap statistic (Tibshirani, Walther & Hastie 2001), where one
//! family is an answer. A family whose bootstrap stability is under 0.6 is not believed (Hennig 2007), and then the
//! answer is one family.
//!
//! **Assumptions.** Families are round clouds of about equal size. Pieces with an empty cell are left out, and so are
//! measurements that most pieces lack.
//!
//! **Refuses** with fewer than two measurements that vary, or fewer than 20 pieces that have them all.

use ndarray::Array2;

use super::scores::{ReedScores, reed_scores};
use super::{Options, Question};
use crate::catalogue::Stage;
use crate::finding::{
    Cell, FamiliesSection, FamilyMember, FamilyResult, Finding, Interval, LeftOut, Method, Section,
    Table, TableColumn,
};
use crate::problem::Refusal;
use crate::stats::cluster::{ClusterOptions, Families, find_families};
use crate::stats::numeric::{mean, standard_deviation, t_quantile};
use crate::study::{Factor, FactorKind, Study};
use crate::words::digits::decimals;
use crate::words::families::{self as words, Feature};

pub const QUESTION: Question = Question {
    name: "families",
    asked: "What kinds of reeds are there?",
    help: "whether the pieces fall into kinds by their measurements; one kind is an answer",
    ask,
};

const FEWEST_PIECES: usize = 20;
/// A measurement that a larger share of pieces lacks is left out.
const MOST_MISSING: f64 = 0.25;
/// Families are sought among so many pieces at most, evenly spaced through the log; the work grows with k times this.
const MOST_PIECES: usize = 500;
/// Below, a family is not believed.
const STABLE_FROM: f64 = 0.6;

/// The pieces and their scaled measurements.
struct Measured<'a> {
    factors: Vec<&'a Factor>,
    pieces: Vec<usize>,
    /// Pieces x factors, each column of mean 0 and standard deviation 1.
    scaled: Array2<f64>,
    left_out: Vec<LeftOut>,
    /// Columns of numbers that have no stage and so were not looked at.
    unplaced: usize,
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with too few measurements or pieces.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let measured = select(study);
    refuse(&measured)?;
    let found =
        find_families(&measured.scaled, &cluster_options(options.seed)).map_err(|_| Refusal {
            question: QUESTION.name.to_owned(),
            found: "The measurements do not differ enough from piece to piece to look for kinds."
                .to_owned(),
            takes: "It takes measurements that differ from piece to piece.".to_owned(),
        })?;
    Ok(say(study, &measured, &found, options.seed))
}

/// Fewer starts and samples than the defaults, so that a page does not take minutes.
fn cluster_options(seed: u64) -> ClusterOptions {
    ClusterOptions {
        restarts: 10,
        references: 40,
        replicates: 50,
        seed,
        ..ClusterOptions::default()
    }
}

fn select(study: &Study) -> Measured<'_> {
    let varies = |values: &[Option<f64>]| {
        let present: Vec<f64> = values.iter().flatten().copied().collect();
        let enough = present.len() as f64 >= (1.0 - MOST_MISSING) * values.len() as f64;
        enough && standard_deviation(&present).is_ok_and(|spread| spread > 0.0)
    };
    let measured: Vec<(&Factor, Vec<Option<f64>>)> = study
        .factors()
        .iter()
        .filter(|factor| factor.kind == FactorKind::Number)
        .filter(|factor| Stage::MAKING.contains(&factor.stage) && factor.stage != Stage::Play)
        .map(|factor| (factor, study.numbers(&factor.name)))
        .filter(|(_, values)| varies(values))
        .collect();
    let is_unplaced =
        |factor: &&Factor| factor.kind == FactorKind::Number && factor.stage == Stage::Unplaced;
    let unplaced = study.factors().iter().filter(is_unplaced).count();
    let whole = |piece: &usize| measured.iter().all(|(_, values)| values[*piece].is_some());
    let mut pieces: Vec<usize> = (0..study.pieces()).filter(whole).collect();
    let mut left_out = Vec::new();
    if pieces.len() < study.pieces() {
        let n = study.pieces() - pieces.len();
        left_out.push(LeftOut { why: "a measurement is missing".to_owned(), n });
    }
    if pieces.len() > MOST_PIECES {
        left_out.push(LeftOut {
            why: "beyond the evenly spaced pieces that were looked at".to_owned(),
            n: pieces.len() - MOST_PIECES,
        });
        pieces = (0..MOST_PIECES).map(|at| pieces[at * pieces.len() / MOST_PIECES]).collect();
    }
    let columns: Vec<Vec<f64>> = measured
        .iter()
        .map(|(_, values)| scaled(pieces.iter().filter_map(|&piece| values[piece]).collect()))
        .collect();
    let scaled =
        Array2::from_shape_fn((pieces.len(), columns.len()), |(row, column)| columns[column][row]);
    Measured {
        factors: measured.into_iter().map(|(factor, _)| factor).collect(),
        pieces,
        scaled,
        left_out,
        unplaced,
    }
}

fn scaled(values: Vec<f64>) -> Vec<f64> {
    let centre = mean(&values).unwrap_or(0.0);
    let spread = standard_deviation(&values).ok().filter(|spread| *spread > 0.0).unwrap_or(1.0);
    values.into_iter().map(|value| (value - centre) / spread).collect()
}

fn refuse(measured: &Measured) -> Result<(), Refusal> {
    let refusal = |found: String, takes: String| {
        Err(Refusal { question: QUESTION.name.to_owned(), found, takes })
    };
    if measured.factors.len() < 2 {
        return refusal(
            words::too_few_measurements(measured.unplaced),
            "It takes two, such as gouge and hardness; a column of your own counts once study.toml gives it a stage.".to_owned(),
        );
    }
    if measured.pieces.len() < FEWEST_PIECES {
        return refusal(
            words::too_few(measured.pieces.len()),
            format!("It takes {FEWEST_PIECES} before kinds can be told from chance."),
        );
    }
    Ok(())
}

fn say(study: &Study, measured: &Measured, found: &Families, seed: u64) -> Finding {
    let number = found.clusters.sizes.len();
    let believed = number > 1 && found.stability.iter().all(|stability| *stability >= STABLE_FROM);
    let k = if believed { number } else { 1 };
    let labels: Vec<usize> =
        if believed { found.clusters.memberships.clone() } else { vec![0; measured.pieces.len()] };
    let scores = reed_scores(study);
    let list: Vec<FamilyResult> =
        (0..k).map(|family| family_result(measured, &labels, &scores, family)).collect();
    let ids = study.ids();
    let section = FamiliesSection {
        k,
        criterion: words::CRITERION.to_owned(),
        stability: if believed { found.stability.clone() } else { Vec::new() },
        assigned: measured
            .pieces
            .iter()
            .zip(&labels)
            .map(|(&piece, &family)| FamilyMember { piece: ids[piece].clone(), family: family + 1 })
            .collect(),
        explained: Vec::new(),
        sentence: words::answer(&list, number, measured.pieces.len(), measured.factors.len()),
        list,
    };
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: section.sentence.clone(),
        more: if k > 1 { section.list.iter().map(words::sentence).collect() } else { Vec::new() },
        caveats: if k > 1 { vec![words::CAVEAT.to_owned()] } else { Vec::new() },
        charts: Vec::new(),
        tables: if k > 1 { vec![table(&section.list)] } else { Vec::new() },
        method: Method {
            model: words::model(
                &measured.factors.iter().map(|factor| factor.label.clone()).collect::<Vec<_>>(),
            ),
            assumptions: words::assumptions(),
            sources: words::sources(),
            seed: Some(seed),
        },
        used: (measured.pieces.len(), "pieces"),
        left_out: measured.left_out.clone(),
        section: Section::Families(section),
    }
}

fn family_result(
    measured: &Measured,
    labels: &[usize],
    scores: &ReedScores,
    family: usize,
) -> FamilyResult {
    let rows: Vec<usize> = (0..labels.len()).filter(|&row| labels[row] == family).collect();
    let features: Vec<Feature> = measured
        .factors
        .iter()
        .enumerate()
        .map(|(column, factor)| Feature {
            label: factor.label.clone(),
            deviation: {
                let own: Vec<f64> =
                    rows.iter().map(|&row| measured.scaled[[row, column]]).collect();
                mean(&own).unwrap_or(0.0)
            },
        })
        .collect();
    let rated: Vec<f64> = rows
        .iter()
        .filter_map(|&row| scores.piece.binary_search(&measured.pieces[row]).ok())
        .map(|at| scores.score[at])
        .collect();
    FamilyResult {
        family: family + 1,
        n: rows.len(),
        words: words::description(&features),
        rating: mean_interval(&rated).into(),
    }
}

/// The plain mean with its t interval; none of fewer than three.
fn mean_interval(values: &[f64]) -> Option<Interval> {
    if values.len() < 3 {
        return None;
    }
    let estimate = mean(values).ok()?;
    let error = standard_deviation(values).ok()? / (values.len() as f64).sqrt();
    let reach = t_quantile(0.975, (values.len() - 1) as f64) * error;
    Some(Interval { estimate, low: estimate - reach, high: estimate + reach })
}

fn table(list: &[FamilyResult]) -> Table {
    let row = |family: &FamilyResult| {
        let shown = match (family.rating.low, family.rating.high) {
            (Some(low), Some(high)) => decimals((high - low) / 2.0),
            _ => 1,
        };
        let number =
            |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
        vec![
            Cell::Count(family.family),
            Cell::Count(family.n),
            Cell::Text(family.words.clone()),
            number(family.rating.rating),
            number(family.rating.low),
            number(family.rating.high),
        ]
    };
    Table {
        name: "families".to_owned(),
        title: "Kinds of reeds".to_owned(),
        columns: vec![
            TableColumn::new("family", "Kind"),
            TableColumn::new("n", "Pieces"),
            TableColumn::new("words", "What sets it apart"),
            TableColumn::new("rating", "Mean rating"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
        ],
        rows: list.iter().map(row).collect(),
    }
}
