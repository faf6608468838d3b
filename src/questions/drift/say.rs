//! Say: the answer, its method, and what was left out.

use super::{Charted, QUESTION, show};
use crate::finding::{DriftSection, Finding, LeftOut, MeasureDrift, Method, Section};
use crate::study::Study;
use crate::words::drift as say;

pub(super) fn finding(
    study: &Study,
    section: DriftSection,
    charted: &[Charted],
    dated: usize,
    seed: u64,
) -> Finding {
    let labels: Vec<String> = charted.iter().map(|found| found.series.label.clone()).collect();
    let moved = section.measures.iter().filter(|found| found.moved || charted.len() == 1);
    let mut more: Vec<String> = moved.map(|found| found.sentence.clone()).collect();
    more.extend(nearly(&section, charted.len()));
    more.extend(section.skill.as_ref().map(|skill| skill.sentence.clone()));
    more.extend(section.wear.iter().map(|wear| wear.sentence.clone()));
    more.extend(lots(&section));
    let undated = study.pieces() - dated;
    let why = "no day on which they were begun or finished".to_owned();
    let left_out = if undated == 0 { Vec::new() } else { vec![LeftOut { why, n: undated }] };
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: section.sentence.clone(),
        more,
        caveats: say::caveats(&section, &labels),
        charts: show::charts(charted),
        tables: show::tables(&section, charted),
        method: method(&section, charted, seed),
        used: (dated, "pieces with a day"),
        left_out,
        section: Section::Drift(section),
    }
}

/// Series whose present practice lies apart when it is looked at alone, the likeliest first; at most three.
fn nearly(section: &DriftSection, all: usize) -> Vec<String> {
    let lies_apart = |found: &&MeasureDrift| {
        let change = found.change.filter(|_| !found.moved && all > 1);
        change.is_some_and(|change| change.low > 0.0 || change.high < 0.0)
    };
    let mut found: Vec<&MeasureDrift> = section.measures.iter().filter(lies_apart).collect();
    found.sort_by(|a, b| a.p.total_cmp(&b.p));
    found.into_iter().take(3).map(|found| found.sentence.clone()).collect()
}

/// Of the series that moved, what lots have to do with it.
fn lots(section: &DriftSection) -> Vec<String> {
    let moved = |measure: &str| {
        section.measures.iter().any(|found| found.moved && found.measure == measure)
    };
    let charts =
        section.charts.iter().filter(|chart| chart.kind == "lot means" && moved(&chart.measure));
    charts.map(|chart| chart.sentence.clone()).collect()
}

fn method(section: &DriftSection, charted: &[Charted], seed: u64) -> Method {
    let settings = section.settings;
    let mut model = format!(
        "Individuals chart with limits three standard deviations from the centre, the spread from neighbours’ ranges; flags: {}; {}; {}; {}. Weighted average with weight {} and \
         limits {} standard deviations of it; cumulative sums with slack {} and decision {}. Centre and spread from the base period.",
        say::rule(0),
        say::rule(1),
        say::rule(2),
        say::rule(3),
        crate::words::given::given(settings.weight),
        crate::words::given::given(settings.width),
        crate::words::given::given(settings.slack),
        crate::words::given::given(settings.decision),
    );
    let first = &charted.first().map(|found| found.result.base.clone());
    if let Some(base) = first {
        model += &format!(" The base period is {} points ({}).", base.points, base.why);
    }
    let usual = super::ChartSettings::default();
    if settings.weight == usual.weight && settings.width == usual.width {
        model += " With limits known for certain, the average would flag by chance once in about 238 points, single points beyond a limit once in 370, the four rules together once in 92 \
                  and the sums once in about 465; limits from few points flag more often.";
    }
    model += &format!(
        " A series has moved where the cumulative sum about its mean reaches farther, or a line through it is steeper, than in all but few of {} shuffles, both looks counted and adjusted over the series to a false \
         discovery rate of 0.05.",
        settings.shuffles
    );
    if section.skill.is_some() {
        model += " Good reeds: logistic regression on the day, lots as random intercepts where they differ, else Firth’s likelihood.";
    }
    Method {
        model,
        assumptions: vec![
            "Without movement, any order of the lots and of the pieces within a lot would have been as likely; where lots are alike beside a cubic of the order (p over 0.5), any order of all pieces.".to_owned(),
            "Neighbouring pieces of one lot do not resemble each other more than others of that lot.".to_owned(),
        ],
        sources: vec![
            "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2".to_owned(),
            "Western Electric 1956, Statistical Quality Control Handbook".to_owned(),
            "Lucas & Saccucci 1990, Technometrics 32, 1–12".to_owned(),
            "Page 1954, Biometrika 41, 100–115".to_owned(),
            "Champ & Woodall 1987, Technometrics 29, 393–399".to_owned(),
            "Good 2005, Permutation, Parametric and Bootstrap Tests of Hypotheses".to_owned(),
            "Benjamini & Hochberg 1995, Journal of the Royal Statistical Society B 57, 289–300".to_owned(),
        ],
        seed: Some(seed),
    }
}
