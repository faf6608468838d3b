//! The plan, and the finding that tells of it.

use std::collections::BTreeSet;

use super::arms::{Chosen, Why};
use super::lots::{Places, Source};
use super::size::{self, Sized, Trial};
use super::spread::Spread;
use super::{NAME, PlanOptions};
use crate::finding::{
    Cell, Chart, ChartKind, Finding, Method, PowerShown, Section, Table, TableColumn, TrialArm,
    TrialBlock, TrialOfAQuarter, TrialPlanSection,
};
use crate::plan::{
    Analysis, Best, Block, FORMAT, Plan, PlannedFactor, PlannedOutcome, Reckoned, Spending,
    SpoiledCount,
};
use crate::questions::outcome_words;
use crate::study::{Better, Factor, Settled, Study};
use crate::words::trial::plan::{self as words, LotsWords, PlanWords, WhyWords};

const LEVEL: f64 = 0.95;

/// Everything there is to tell.
pub(super) struct Told<'a> {
    pub study: &'a Study,
    pub options: &'a PlanOptions,
    pub factor: &'a Factor,
    pub chosen: &'a Chosen,
    pub spread: &'a Spread,
    pub places: &'a Places,
    pub trial: &'a Trial,
    pub sized: &'a Sized,
}

impl Told<'_> {
    pub fn plan(&self) -> Plan {
        let arms = &self.chosen.arms;
        let names: Vec<String> = arms.iter().map(|arm| arm.name.clone()).collect();
        let present = names.first().map_or("", String::as_str);
        let looks = self.options.looks;
        let plan = Plan {
            format: FORMAT,
            checksum: String::new(),
            key_sha256: String::new(),
            title: words::title(&self.study.settings().title, &self.factor.label, &names),
            made_on: self.options.made_on.clone(),
            seed: self.options.seed,
            spoiled: self.options.spoiled,
            factor: PlannedFactor {
                name: self.factor.name.clone(),
                label: self.factor.label.clone(),
                unit: self.factor.unit.clone(),
            },
            outcome: self.outcome(),
            analysis: Analysis {
                model: words::model(present, arms.len()),
                comparisons: words::comparisons(present),
                level: LEVEL,
                looks: (1..=looks).map(|look| look as f64 / looks as f64).collect(),
                spending: Spending::ObrienFleming,
            },
            reckoned: self.reckoned(),
            arms: arms.clone(),
            blocks: self.blocks(),
            pieces: Vec::new(),
        };
        // no label may be that of another piece
        plan.drawn(&self.study.ids().into_iter().map(str::to_owned).collect::<BTreeSet<_>>())
    }

    fn outcome(&self) -> PlannedOutcome {
        let (settings, outcome) = (self.study.settings(), self.study.outcome());
        PlannedOutcome {
            criterion: outcome.criterion,
            scale: settings.scale,
            good_at: settings.good_at,
            best: if settings.best == Better::Higher { Best::High } else { Best::Low },
            target: outcome.target,
            settled: match settings.settled {
                Settled::All => "all".to_owned(),
                Settled::Last => "last".to_owned(),
                Settled::After(ratings) => format!("after {ratings} ratings"),
            },
            worthwhile: self.trial.worthwhile,
        }
    }

    fn reckoned(&self) -> Reckoned {
        Reckoned {
            sd_within: self.spread.sd,
            spoilage: self.spread.spoilage.unwrap_or(0.0),
            power: self.sized.power,
            smallest_difference: self.sized.smallest_difference,
            pieces: self.sized.pieces() as u64,
            reeds: self.reeds(),
        }
    }

    /// Rated reeds on average.
    fn reeds(&self) -> f64 {
        self.sized.pieces() as f64 * (1.0 - self.spread.spoilage.unwrap_or(0.0))
    }

    fn blocks(&self) -> Vec<Block> {
        let places = self.places.list.iter().zip(&self.sized.blocks);
        places
            .map(|(place, &pieces)| Block {
                lot: place.lot.clone(),
                maker: place.maker.clone(),
                pieces,
            })
            .collect()
    }

    pub fn finding(&self, plan: &Plan) -> Finding {
        let mut section = self.section(plan);
        let words = self.words();
        section.sentence = words::answer(&section, &words);
        Finding {
            question: NAME,
            asked: words::ASKED.to_owned(),
            answer: section.sentence.clone(),
            more: words::more(&section, &words),
            caveats: words::caveats(&section, &words),
            charts: vec![self.chart(&section)],
            tables: vec![blocks_table(&section), sizes_table(&section)],
            method: Method {
                model: words::METHOD.to_owned(),
                assumptions: words::assumptions(),
                sources: words::sources(),
                seed: Some(self.options.seed),
            },
            used: (self.spread.reeds, "reeds"),
            left_out: self.spread.left_out.clone(),
            section: Section::TrialPlan(section),
        }
    }

    fn section(&self, plan: &Plan) -> TrialPlanSection {
        let arm = |arm: &crate::plan::Arm| TrialArm {
            name: arm.name.clone(),
            value: arm.value.clone(),
            present: arm.present,
        };
        let block = |block: &Block| TrialBlock {
            lot: block.lot.clone(),
            maker: block.maker.clone(),
            pieces: block.pieces,
            pieces_an_arm: each_of(block.pieces, plan.arms.len()),
        };
        let pieces_in_last_year = made_in_a_year(self.study);
        TrialPlanSection {
            factor: plan.factor.name.clone(),
            unit: plan.factor.unit.clone(),
            arms: plan.arms.iter().map(arm).collect(),
            blocks: plan.blocks.iter().map(block).collect(),
            pieces: self.sized.pieces(),
            reeds_expected: self.reeds(),
            sd_within: self.spread.sd,
            sd_within_high: self.spread.high,
            sd_df: self.spread.df,
            sd_reeds: self.spread.reeds,
            sd_lots: self.spread.lots,
            ratings_a_reed: self.spread.ratings,
            pieces_in_last_year,
            quarter: pieces_in_last_year.and_then(|year| self.quarter(year / 4)),
            spoilage: self.spread.spoilage,
            worthwhile: self.trial.worthwhile,
            power_wanted: self.trial.power,
            power: self.sized.power,
            power_if_spread_is_high: self.sized.power_if_spread_is_high,
            smallest_difference: self.sized.smallest_difference,
            sizes: size::sizes(self.trial, self.sized),
            looks: plan.analysis.looks.clone(),
            spoiled: spoiled_in_words(plan.spoiled).to_owned(),
            made_on: plan.made_on.clone(),
            seed: plan.seed,
            checksum: plan.checksum.clone(),
            sentence: String::new(),
        }
    }

    fn quarter(&self, pieces: usize) -> Option<TrialOfAQuarter> {
        let found = size::of_about(self.trial, self.sized.blocks.len(), pieces);
        found.map(|(pieces, smallest_difference)| TrialOfAQuarter { pieces, smallest_difference })
    }

    fn words(&self) -> PlanWords<'_> {
        PlanWords {
            label: &self.factor.label,
            outcome: outcome_words(self.study),
            lots: match self.places.source {
                Source::Named => LotsWords::Named,
                Source::AtHand => LotsWords::AtHand,
                Source::New => LotsWords::New,
            },
            why: match self.chosen.why {
                Why::Given => WhyWords::Given,
                Why::Promising => WhyWords::Promising,
                Why::Apart => WhyWords::Apart,
            },
            untried: &self.chosen.untried,
            known_kinds: &self.chosen.known_kinds,
            known_lots: self.study.lots().levels.clone(),
            present_elsewhere: self.chosen.present_elsewhere.as_deref(),
            has_lots: self.spread.has_lots,
        }
    }

    fn chart(&self, section: &TrialPlanSection) -> Chart {
        let curve = |times: f64| PowerShown {
            label: words::curve(times * self.trial.worthwhile),
            points: size::curve(self.trial, self.sized, times * self.trial.worthwhile),
        };
        Chart {
            name: "power".to_owned(),
            title: words::CHART_TITLE.to_owned(),
            description: words::description(section),
            reading: words::CHART_READING.to_owned(),
            kind: ChartKind::PowerCurve {
                x_label: words::CHART_X.to_owned(),
                curves: [2.0, 1.5, 1.0].map(curve).to_vec(),
                planned: section.pieces as f64,
                wanted: section.power_wanted,
            },
        }
    }
}

/// Pieces of each arm, where they divide evenly.
fn each_of(pieces: usize, arms: usize) -> Option<usize> {
    (arms > 0 && pieces.is_multiple_of(arms)).then(|| pieces / arms)
}

/// Pieces of the 365 days up to the last one; none without dates.
fn made_in_a_year(study: &Study) -> Option<usize> {
    let days = study.making_days();
    let last = days.iter().flatten().max()?;
    Some(days.iter().flatten().filter(|day| last.saturating_sub(**day) < 365).count())
}

/// As the plan file writes it.
fn spoiled_in_words(spoiled: SpoiledCount) -> &'static str {
    match spoiled {
        SpoiledCount::LeftOut => "left out of the rating, not good in the count",
        SpoiledCount::WorstMark => "worst mark",
    }
}

fn blocks_table(section: &TrialPlanSection) -> Table {
    let has_makers = section.blocks.iter().any(|block| block.maker.is_some());
    let mut columns = vec![TableColumn::new("lot", "Lot"), TableColumn::new("pieces", "Pieces")];
    if has_makers {
        columns.insert(1, TableColumn::new("maker", "Maker"));
    }
    let row = |block: &TrialBlock| {
        let mut row = vec![Cell::Text(block.lot.clone()), Cell::Count(block.pieces)];
        if has_makers {
            row.insert(1, block.maker.clone().map_or(Cell::Empty, Cell::Text));
        }
        row
    };
    Table {
        name: "trial_blocks".to_owned(),
        title: words::BLOCKS_TITLE.to_owned(),
        columns,
        rows: section.blocks.iter().map(row).collect(),
    }
}

fn sizes_table(section: &TrialPlanSection) -> Table {
    let row = |size: &crate::finding::TrialSize| {
        vec![
            Cell::Count(size.pieces),
            Cell::Number(size.reeds_expected, 0),
            Cell::Number(100.0 * size.power, 0),
            Cell::Number(size.smallest_difference, 2),
        ]
    };
    Table {
        name: "trial_sizes".to_owned(),
        title: words::SIZES_TITLE.to_owned(),
        columns: vec![
            TableColumn::new("pieces", "Pieces"),
            TableColumn::new("reeds_expected", "Reeds expected"),
            TableColumn::new("power_pct", "Finds the worthwhile difference, %"),
            TableColumn::new("smallest_difference", "Smallest difference shown, points"),
        ],
        rows: section.sizes.iter().map(row).collect(),
    }
}
