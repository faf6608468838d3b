//! What the log holds and how it was read, as every results file states it.

use crate::finding::{FileSummary, Finding, LogSummary, ProblemShown, RestsOn, SettingsShown};
use crate::problem::Problem;
use crate::study::{Better, Settled, Study};
use crate::words::dates::iso;

/// The log in numbers.
pub fn log_summary(study: &Study) -> LogSummary {
    let days = study.making_days();
    LogSummary {
        files: study
            .files()
            .iter()
            .map(|file| FileSummary {
                name: file.name.clone(),
                sha256: file.sha256.clone(),
                rows: file.rows_read,
            })
            .collect(),
        pieces: study.pieces(),
        reeds: study.reed_scores().iter().flatten().count(),
        ratings: study.rating_rows().score.len(),
        lots: study.lots().levels.len(),
        rows_set_aside: study.files().iter().map(|file| file.rows_set_aside).sum(),
        rows_and_cells_set_aside: study.set_aside().len(),
        first_day: days.iter().flatten().min().map(|day| iso(*day)),
        last_day: days.iter().flatten().max().map(|day| iso(*day)),
    }
}

/// The settings in force, and which of them the study file did not give.
pub fn settings_shown(study: &Study) -> SettingsShown {
    let settings = study.settings();
    let found = [
        ("scale", settings.scale_given),
        ("good_at", settings.good_at_given),
        ("worthwhile", settings.worthwhile_given),
    ];
    SettingsShown {
        title: settings.title.clone(),
        scale: settings.scale,
        good_at: settings.good_at,
        worthwhile: settings.worthwhile,
        outcome: settings.outcome.clone(),
        target: study.outcome().target,
        settled: match settings.settled {
            Settled::All => "all".to_owned(),
            Settled::Last => "last".to_owned(),
            Settled::After(ratings) => format!("after {ratings} ratings"),
        },
        best: match settings.best {
            Better::Higher => "high".to_owned(),
            Better::Lower => "low".to_owned(),
        },
        window: settings.window,
        not_given: found
            .into_iter()
            .filter(|(_, given)| !given)
            .map(|(name, _)| name.to_owned())
            .collect(),
    }
}

/// What each answer rests on.
pub fn rests_on(findings: &[Finding]) -> Vec<RestsOn> {
    let of = |finding: &Finding| RestsOn {
        question: finding.question.to_owned(),
        used: finding.used.0,
        of: finding.used.1.to_owned(),
        left_out: finding.left_out.clone(),
    };
    findings.iter().map(of).collect()
}

/// The problems as `results.json` lists them.
pub fn problems_shown(problems: &[Problem]) -> Vec<ProblemShown> {
    problems
        .iter()
        .map(|problem| ProblemShown {
            code: problem.code.to_owned(),
            severity: problem.severity,
            file: problem.place.file.clone(),
            line: problem.place.line,
            column: problem.place.column.clone(),
            text: problem.text.clone(),
            message: problem.message.clone(),
        })
        .collect()
}
