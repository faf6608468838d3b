//! Say: the numbers as a finding.

use super::fit::Compared;
use super::pieces::{Came, Made, TrialPiece};
use super::{NAME, Reading, count, tables};
use crate::finding::{
    Band, Chart, ChartKind, EffectShown, FactorLevelShown, Finding, Interval, LeftOut, Method,
    Section, TrialArmResult, TrialComparison, TrialLook, TrialReadSection, Verdict,
};
use crate::plan::{Arm, SpoiledCount};
use crate::questions::{good_line, outcome_words, score_range};
use crate::stats::numeric::mean;
use crate::words::trial::{keeping, read as words};

impl Reading<'_> {
    pub fn finding(&self) -> Finding {
        let section = self.section();
        Finding {
            question: NAME,
            asked: words::ASKED.to_owned(),
            answer: section.sentence.clone(),
            more: more(&section),
            caveats: self.caveats(&section),
            charts: self.charts(&section),
            tables: tables::tables(&section),
            method: self.method(&section),
            used: (self.fitted.marks, "marks"),
            left_out: self.left_out(),
            section: Section::TrialRead(section),
        }
    }

    fn section(&self) -> TrialReadSection {
        let plan = &self.plan.plan;
        let pieces = &self.trial.pieces;
        let look = self.look();
        let words = self.words(&look);
        let comparisons: Vec<TrialComparison> = self
            .fitted
            .compared
            .iter()
            .map(|compared| {
                let mut one = self.comparison(compared);
                one.sentence = words::comparison(words, &one);
                one
            })
            .collect();
        TrialReadSection {
            title: plan.title.clone(),
            factor: plan.factor.name.clone(),
            made_on: plan.made_on.clone(),
            plan_unchanged: self.plan.unchanged,
            key_holds: self.plan.key_holds,
            planned: pieces.len(),
            made: pieces.iter().filter(|piece| piece.row.is_some()).count(),
            rated: self.progress.rated,
            spoiled: count_came(pieces, Came::Spoiled),
            open: self.progress.open,
            information: self.progress.information,
            marks_expected: self.progress.expected,
            worthwhile: plan.outcome.worthwhile,
            marks_compared: self.fitted.marks,
            lots_compared: self.fitted.blocks,
            marks_apart: self.apart,
            made_unknown: pieces
                .iter()
                .filter(|piece| piece.row.is_some() && piece.made == Made::Unknown)
                .count(),
            unlabelled: self
                .deviations
                .iter()
                .filter(|one| one.what == keeping::UNLABELLED)
                .count(),
            sentence: words::answer(words, &comparisons),
            arms: plan.arms.iter().enumerate().map(|(at, arm)| self.arm(at, arm)).collect(),
            comparisons,
            deviations: self.deviations.clone(),
            look,
        }
    }

    fn words<'b>(&'b self, look: &'b TrialLook) -> words::TrialWords<'b> {
        let plan = &self.plan.plan;
        let outcome = outcome_words(&self.trial.study);
        words::TrialWords {
            factor: &plan.factor.label,
            worthwhile: plan.outcome.worthwhile,
            lower_is_better: outcome.lower_is_better,
            is_distance: outcome.is_distance,
            look,
            rated: self.fitted.marks,
            blocks: self.fitted.blocks,
            expected: self.progress.expected,
            plan_unchanged: self.plan.unchanged && self.plan.key_holds,
        }
    }

    fn look(&self) -> TrialLook {
        let look = &self.look;
        TrialLook {
            number: look.number,
            planned: look.planned,
            early: look.early,
            foreseen: look.foreseen,
            nominal_level: look.nominal,
            reached: self.fitted.compared.iter().any(|one| one.p <= look.nominal),
            false_alarm: look.false_alarm,
        }
    }

    fn arm(&self, at: usize, arm: &Arm) -> TrialArmResult {
        let own: Vec<&TrialPiece> =
            self.trial.pieces.iter().filter(|piece| piece.arm == at).collect();
        let marks: Vec<f64> = own.iter().filter_map(|piece| piece.mark).collect();
        TrialArmResult {
            arm: arm.name.clone(),
            present: arm.present,
            pieces: own.len(),
            spoiled: own.iter().filter(|piece| piece.came == Came::Spoiled).count(),
            rated: marks.len(),
            raw_mean: mean(&marks).ok(),
            mean: self.mean(at).map(Band::interval),
            good_per_ten: count::per_ten(&self.trial.pieces, at),
        }
    }

    fn mean(&self, arm: usize) -> Option<Band> {
        self.fitted.means.iter().find(|(at, _)| *at == arm).map(|(_, band)| *band)
    }

    fn comparison(&self, compared: &Compared) -> TrialComparison {
        let (plan, pieces) = (&self.plan.plan, &self.trial.pieces);
        let (arm, present) = (compared.arm, plan.present());
        let arm_name = |at: usize| plan.arms.get(at).map_or("", |arm| arm.name.as_str()).to_owned();
        let made = self.as_made.as_ref();
        TrialComparison {
            arm: arm_name(arm),
            instead_of: arm_name(present),
            estimate: compared.estimate.value,
            low: compared.band.low,
            high: compared.band.high,
            standard_error: compared.estimate.standard_error,
            df: compared.estimate.degrees_of_freedom,
            p: compared.p,
            verdict: verdict(compared.band, plan.outcome.worthwhile),
            as_made: made
                .and_then(|made| made.compared.iter().find(|one| one.arm == arm))
                .map(|one| one.band.interval()),
            after_looks: self.after_looks(compared),
            good_per_ten: count::difference(pieces, arm, present),
            good_per_ten_over_blocks: count::over_blocks(pieces, arm, present),
            sentence: String::new(),
        }
    }

    /// Only where one comparison ends a trial with looks: several have no common order of stopping.
    fn after_looks(&self, compared: &Compared) -> Option<Interval> {
        let boundary = self.look.boundary.as_ref()?;
        let ends = !self.look.early || compared.p <= self.look.nominal;
        let is_one = self.fitted.compared.len() == 1;
        let look = boundary.bounds().len().checked_sub(1)?;
        if !(ends && is_one && look > 0) {
            return None;
        }
        let level = self.plan.plan.analysis.level;
        let found = boundary.after_stopping(look, &compared.estimate, level).ok()?;
        Some(Interval { estimate: found.median_unbiased, low: found.low, high: found.high })
    }

    fn caveats(&self, section: &TrialReadSection) -> Vec<String> {
        let plan = &self.plan.plan;
        let missing: Vec<String> = plan
            .arms
            .iter()
            .enumerate()
            .filter(|(at, _)| self.mean(*at).is_none())
            .map(|(_, arm)| arm.name.clone())
            .collect();
        keeping::caveats(keeping::Keeping {
            plan_unchanged: self.plan.unchanged,
            key_holds: self.plan.key_holds,
            factor: &plan.factor.label,
            has_factor: self.trial.has_factor,
            unwritten: section.made_unknown,
            settings_changed: &self.settings_changed,
            apart: self.apart,
            missing_arms: &missing,
            worst_mark: plan.spoiled == SpoiledCount::WorstMark && section.spoiled > 0,
        })
    }

    fn charts(&self, section: &TrialReadSection) -> Vec<Chart> {
        let marks = |at: usize| -> Vec<f64> {
            let own = self.trial.pieces.iter().filter(|piece| piece.arm == at);
            own.filter_map(|piece| piece.mark).collect()
        };
        let levels = section
            .arms
            .iter()
            .enumerate()
            .map(|(at, arm)| FactorLevelShown {
                level: arm.arm.clone(),
                reeds: marks(at),
                mean: self.mean(at),
            })
            .collect();
        let arms = Chart {
            name: "trial_arms".to_owned(),
            title: words::TITLE_OF_ARMS.to_owned(),
            description: words::description(&section.arms),
            reading: words::READING_OF_ARMS.to_owned(),
            kind: ChartKind::FactorChoice {
                y_label: outcome_words(&self.trial.study).axis(),
                levels,
                good_at: good_line(&self.trial.study),
                y_range: score_range(&self.trial.study),
            },
        };
        std::iter::once(arms).chain(self.differences(section)).collect()
    }

    /// None where an interval has no ends to be drawn.
    fn differences(&self, section: &TrialReadSection) -> Option<Chart> {
        let is_drawable = |band: Band| [band.low, band.high].iter().all(|end| end.is_finite());
        let both = section.comparisons.iter().zip(&self.fitted.compared);
        let rows: Vec<EffectShown> = both
            .filter(|(_, compared)| is_drawable(compared.band))
            .map(|(one, compared)| EffectShown {
                label: one.arm.clone(),
                step: format!("instead of {}", one.instead_of),
                within: Some(compared.band),
                between: None,
                verdict: one.verdict,
            })
            .collect();
        (!rows.is_empty()).then(|| Chart {
            name: "trial_differences".to_owned(),
            title: words::TITLE_OF_DIFFERENCES.to_owned(),
            description: words::description_of_differences(&section.comparisons),
            reading: words::READING_OF_DIFFERENCES.to_owned(),
            kind: ChartKind::Effects {
                rows,
                worthwhile: self.plan.plan.outcome.worthwhile,
                unit: outcome_words(&self.trial.study).points(),
            },
        })
    }

    fn method(&self, section: &TrialReadSection) -> Method {
        let spoiled = match self.plan.plan.spoiled {
            SpoiledCount::LeftOut => "left out of the rating, not good in the count",
            SpoiledCount::WorstMark => "the worst mark",
        };
        let mut sources = vec![
            "Clopper & Pearson 1934, Biometrika 26, 404–413",
            "Newcombe 1998, Statistics in Medicine 17, 873–890",
        ];
        if section.comparisons.len() > 1 {
            sources.insert(0, "Dunnett 1955, J. Am. Stat. Assoc. 50, 1096–1121");
        }
        if self.look.boundary.is_some() {
            sources.push("Lan & DeMets 1983, Biometrika 70, 659–663");
            sources.push("Jennison & Turnbull 1989, J. R. Stat. Soc. B 51, 305–361");
        }
        if self.look.false_alarm.is_some() {
            sources.push("Armitage, McPherson & Rowe 1969, J. R. Stat. Soc. A 132, 235–244");
        }
        Method {
            model: words::model(self.fitted.random, section.comparisons.len(), spoiled),
            assumptions: vec![
                "Marks scatter equally in all arms and lots; the player did not know the arms."
                    .to_owned(),
            ],
            sources: sources.into_iter().map(str::to_owned).collect(),
            seed: Some(self.plan.plan.seed),
        }
    }

    fn left_out(&self) -> Vec<LeftOut> {
        let pieces = &self.trial.pieces;
        let has_mark = |piece: &&TrialPiece| piece.came == Came::Spoiled && piece.mark.is_none();
        let counts = [
            ("spoiled", pieces.iter().filter(has_mark).count()),
            ("not in the log yet", count_came(pieces, Came::NotMade)),
            ("not rated yet", count_came(pieces, Came::Open)),
            ("lost or given away before a rating", count_came(pieces, Came::Gone)),
            ("in a lot without the arm that the others are compared with", self.apart),
        ];
        let told = counts.into_iter().filter(|(_, n)| *n > 0);
        told.map(|(why, n)| LeftOut { why: why.to_owned(), n }).collect()
    }
}

fn count_came(pieces: &[TrialPiece], came: Came) -> usize {
    pieces.iter().filter(|piece| piece.came == came).count()
}

fn more(section: &TrialReadSection) -> Vec<String> {
    let mut more =
        vec![words::pieces(section.planned, section.made, section.rated, section.spoiled)];
    more.extend(section.comparisons.iter().skip(1).map(|one| one.sentence.clone()));
    more.extend(words::look(&section.look));
    more.extend(section.comparisons.iter().filter_map(words::after_looks));
    more.extend(words::good_reeds(&section.arms, &section.comparisons));
    more.extend(keeping::deviations(&section.deviations));
    more.extend(keeping::unlabelled(&section.deviations));
    more.extend(section.comparisons.iter().filter_map(words::as_made));
    more
}

/// The interval of the look against the smallest difference worth having.
fn verdict(band: Band, worthwhile: f64) -> Verdict {
    if -worthwhile <= band.low && band.high <= worthwhile {
        Verdict::Negligible
    } else if band.low > worthwhile || band.high < -worthwhile {
        Verdict::Clear
    } else if band.low > 0.0 || band.high < 0.0 {
        Verdict::Leaning
    } else {
        Verdict::Open
    }
}
