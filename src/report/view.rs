//! What the templates see of a review: text and layout, no numbers of its own.

use std::collections::HashSet;

use rayon::prelude::*;
use serde::Serialize;

use super::problems_page::{SHOWN_OF_A_KIND, grouped};
use super::table_view::{TableView, table_view};
use super::{Review, cautions, terminal};
use crate::finding::{Chart, Finding, InShort, LogSummary, SettingsShown, Table};
use crate::plots;
use crate::problem::{Problem, Refusal};
use crate::words::labels::{file_stem, first_sentences, plain, read_like, shortened};
use crate::words::{digits, lists};

/// What stands for a picture where it cannot be seen; the page and its tables tell the rest.
const LONGEST_DESCRIPTION: usize = 800;

#[derive(Serialize)]
pub struct View {
    pub title: String,
    pub summary: Vec<String>,
    /// The answers that matter most; all of them where none was picked.
    pub short: Vec<ShortView>,
    pub sections: Vec<SectionView>,
    pub refusals: Vec<RefusalView>,
    /// What has changed since an earlier review.
    pub since: Vec<String>,
    pub settings: Vec<[String; 2]>,
    pub files: Vec<FileView>,
    pub problems: Vec<ProblemsView>,
    pub set_aside: String,
    pub cautions: Option<CautionsView>,
    pub made_by: String,
    pub seed: u64,
}

#[derive(Serialize)]
pub struct SectionView {
    pub id: String,
    pub asked: String,
    pub answer: String,
    pub more: Vec<String>,
    pub caveats: Vec<String>,
    pub charts: Vec<ChartView>,
    pub tables: Vec<TableView>,
    pub model: String,
    pub assumptions: Vec<String>,
    pub sources: Vec<String>,
    pub seed: Option<u64>,
    pub rests_on: String,
}

#[derive(Serialize)]
pub struct ShortView {
    pub id: String,
    pub asked: String,
    pub sentence: String,
}

#[derive(Serialize)]
pub struct ChartView {
    pub file: String,
    pub title: String,
    pub description: String,
    pub reading: String,
    /// The picture for the page, made by us and escaped where it was made.
    pub svg: String,
}

#[derive(Serialize)]
pub struct RefusalView {
    pub question: String,
    pub found: String,
    pub takes: String,
}

#[derive(Serialize)]
pub struct FileView {
    pub name: String,
    pub rows: String,
    pub sha256: String,
}

#[derive(Serialize)]
pub struct ProblemsView {
    pub heading: String,
    pub shown: Vec<String>,
    pub more: Option<String>,
}

#[derive(Serialize)]
pub struct CautionsView {
    pub title: &'static str,
    pub text: String,
}

/// The files beside the pages: where they stand in the folder, and what they hold or show.
pub struct Attached<'a> {
    pub charts: Vec<(String, String)>,
    pub tables: Vec<(String, &'a Table)>,
}

pub fn view<'a>(review: &Review<'a>) -> (View, Attached<'a>) {
    let mut names = HashSet::new();
    let mut attached = Attached { charts: Vec::new(), tables: Vec::new() };
    let results = review.results;
    let drawn = all_drawn(review.findings, &mut names);
    let sections: Vec<SectionView> = review
        .findings
        .iter()
        .zip(drawn)
        .map(|(finding, drawn)| section(finding, drawn, &mut names, &mut attached))
        .collect();
    let suggests_making = review.findings.iter().any(|f| cautions::belong_to(f.question));
    let view = View {
        title: plain(&results.settings.title),
        summary: summary(&results.log),
        short: short(review, &sections),
        sections,
        refusals: results.refusals.iter().map(refusal).collect(),
        since: results.since.iter().flat_map(|since| &since.sentences).map(|s| plain(s)).collect(),
        settings: settings(&results.settings),
        files: files(&results.log),
        problems: problems(review.problems),
        set_aside: set_aside(review.set_aside.len()),
        cautions: suggests_making
            .then(|| CautionsView { title: cautions::TITLE, text: cautions::SENTENCES.join(" ") }),
        made_by: format!("{} {}", results.made_by.name, results.made_by.version),
        seed: results.seed,
    };
    (view, attached)
}

/// The answers picked for the opening, else the beginning of every answer.
fn short(review: &Review, sections: &[SectionView]) -> Vec<ShortView> {
    let told = |section: &SectionView, sentence: &str| ShortView {
        id: section.id.clone(),
        asked: section.asked.clone(),
        sentence: plain(sentence),
    };
    let asked = || review.findings.iter().zip(sections);
    if review.results.in_short.is_empty() {
        return asked()
            .map(|(finding, section)| told(section, &first_sentences(&finding.answer)))
            .collect();
    }
    let of = |one: &InShort| {
        let found = asked().find(|(finding, _)| finding.question == one.question);
        found.map(|(_, section)| told(section, &one.sentence))
    };
    review.results.in_short.iter().filter_map(of).collect()
}

fn section<'a>(
    finding: &'a Finding,
    drawn: Vec<Drawn>,
    names: &mut HashSet<String>,
    attached: &mut Attached<'a>,
) -> SectionView {
    let all_plain = |texts: &[String]| texts.iter().map(|text| plain(text)).collect();
    SectionView {
        id: unique("question", finding.question, names),
        asked: plain(&finding.asked),
        answer: plain(&finding.answer),
        more: all_plain(&finding.more),
        caveats: all_plain(&finding.caveats),
        charts: charts(&finding.charts, drawn, attached),
        tables: tables(&finding.tables, names, attached),
        model: plain(&finding.method.model),
        assumptions: all_plain(&finding.method.assumptions),
        sources: all_plain(&finding.method.sources),
        seed: finding.method.seed,
        rests_on: plain(&terminal::rests_on(finding)),
    }
}

/// A stem that no other file or anchor of the kind has.
fn unique(kind: &str, name: &str, names: &mut HashSet<String>) -> String {
    let stem = file_stem(name);
    let candidates = std::iter::once(stem.clone()).chain((2..).map(|i| format!("{stem}_{i}")));
    let mut fresh = candidates.filter(|candidate| names.insert(format!("{kind}/{candidate}")));
    fresh.next().unwrap_or(stem) // the candidates never end
}

/// A picture, for its file and for the page.
struct Drawn {
    file: String,
    svg: String,
    in_page: String,
}

/// The pictures of each finding, drawn on all threads.
fn all_drawn(findings: &[Finding], names: &mut HashSet<String>) -> Vec<Vec<Drawn>> {
    let mut named = |chart: &Chart| {
        let name = unique("plots", &chart.name, names);
        Chart { name, ..chart.clone() }
    };
    let of_finding = |finding: &Finding| finding.charts.iter().map(&mut named).collect();
    let all: Vec<Vec<Chart>> = findings.iter().map(of_finding).collect();
    all.into_par_iter().map(|charts| charts.into_par_iter().map(drawn).collect()).collect()
}

fn drawn(chart: Chart) -> Drawn {
    let svg = plots::svg(&chart);
    Drawn { file: format!("plots/{}.svg", chart.name), in_page: plots::for_page(&svg), svg }
}

/// Of pictures that are read alike the first says how, and the others name it.
fn charts(charts: &[Chart], drawn: Vec<Drawn>, attached: &mut Attached) -> Vec<ChartView> {
    let view = |((at, chart), drawn): ((usize, &Chart), Drawn)| {
        let earlier = charts.iter().take(at).find(|earlier| earlier.reading == chart.reading);
        let reading = match earlier {
            Some(earlier) => read_like(&plain(&earlier.title)),
            None => plain(&chart.reading),
        };
        attached.charts.push((drawn.file.clone(), drawn.svg));
        ChartView {
            file: drawn.file,
            title: plain(&chart.title),
            description: shortened(&chart.description, LONGEST_DESCRIPTION),
            reading,
            svg: drawn.in_page,
        }
    };
    charts.iter().enumerate().zip(drawn).map(view).collect()
}

fn tables<'a>(
    tables: &'a [Table],
    names: &mut HashSet<String>,
    attached: &mut Attached<'a>,
) -> Vec<TableView> {
    let named: Vec<(&Table, String, String)> = tables
        .iter()
        .map(|table| {
            let name = unique("tables", &table.name, names);
            let file = format!("tables/{name}.csv");
            attached.tables.push((file.clone(), table));
            (table, name, file)
        })
        .collect();
    named.into_par_iter().map(|(table, name, file)| table_view(table, name, file)).collect()
}

fn summary(log: &LogSummary) -> Vec<String> {
    let holds = format!(
        "{}, {} with a rating that counts, {} and {}.",
        digits::plural(log.pieces, "piece of cane started", "pieces of cane started"),
        digits::count(log.reeds),
        digits::plural(log.ratings, "rating", "ratings"),
        digits::plural(log.lots, "lot", "lots"),
    );
    let days = match (&log.first_day, &log.last_day) {
        (Some(first), Some(last)) => {
            vec![plain(&format!("Pieces started from {first} to {last}."))]
        }
        _ => Vec::new(),
    };
    std::iter::once(holds).chain(days).collect()
}

fn settings(settings: &SettingsShown) -> Vec<[String; 2]> {
    // as few decimals as say it: these numbers were chosen, not estimated
    let number = |value: f64| {
        let is_said = |scale: f64| (value * scale - (value * scale).round()).abs() < 1e-9;
        digits::number(value, [1.0, 10.0, 100.0, 1000.0].into_iter().position(is_said).unwrap_or(4))
    };
    let [low, high] = settings.scale.map(number);
    let best = format!("{low} to {high}, the {} end is best", settings.best);
    let beyond = if settings.best == "high" { "above" } else { "below" };
    let mut rows = vec![
        ["Scale of the ratings".to_owned(), best],
        ["A good reed".to_owned(), format!("rated {} or {beyond}", number(settings.good_at))],
        [
            "Smallest difference worth having".to_owned(),
            format!("{} rating points", number(settings.worthwhile)),
        ],
        ["The rating".to_owned(), settings.outcome.clone()],
        ["Ratings that speak for a reed".to_owned(), settings.settled.clone()],
        [
            "Present practice".to_owned(),
            format!("the middle value of the last {} days, or the commonest kind", settings.window),
        ],
    ];
    if !settings.not_given.is_empty() {
        rows.push(["Not given in the study file".to_owned(), lists::and(&settings.not_given)]);
    }
    rows.into_iter().map(|row| row.map(|cell| plain(&cell))).collect()
}

fn files(log: &LogSummary) -> Vec<FileView> {
    log.files
        .iter()
        .map(|file| FileView {
            name: plain(&file.name),
            rows: digits::plural(file.rows, "row", "rows"),
            sha256: plain(&file.sha256),
        })
        .collect()
}

fn refusal(refusal: &Refusal) -> RefusalView {
    RefusalView {
        question: plain(&refusal.question),
        found: plain(&refusal.found),
        takes: plain(&refusal.takes),
    }
}

fn problems(problems: &[Problem]) -> Vec<ProblemsView> {
    grouped(problems)
        .iter()
        .map(|group| {
            let number = group.problems.len();
            let severity = group.problems.iter().map(|p| p.severity).max();
            let times = digits::plural(number, "time", "times");
            let more = number.saturating_sub(SHOWN_OF_A_KIND);
            ProblemsView {
                heading: format!("{}: {}, {times}", severity.map_or("", |s| s.word()), group.code),
                shown: group.problems.iter().take(SHOWN_OF_A_KIND).map(|p| one_line(p)).collect(),
                more: (more > 0).then(|| format!("and {} more of this kind", digits::count(more))),
            }
        })
        .collect()
}

fn one_line(problem: &Problem) -> String {
    plain(&format!("{}: {} {}", problem.place, problem.message, problem.remedy))
}

fn set_aside(number: usize) -> String {
    match number {
        0 => "Nothing was set aside.".to_owned(),
        1 => "One row or cell was not used; it stands word for word in set_aside.csv.".to_owned(),
        _ => format!(
            "{} rows and cells were not used; they stand word for word in set_aside.csv.",
            digits::count(number)
        ),
    }
}
