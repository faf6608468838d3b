//! A review made by hand for the tests: every picture, every table, hostile
//! labels. The numbers are invented and agree with no log.

mod pictures;

pub use pictures::*;

use super::*;
use crate::catalogue::Stage;
use crate::problem::{Excerpt, Place, Problem, Refusal, SetAside, Severity};

pub const HOSTILE: [&str; 6] = [
    "<script>alert(1)</script>",
    "=cmd|' /C calc'!A0",
    "bell\u{7}and\u{1b}[31mred\u{1b}[0m",
    "\u{202e}תל \"קנה\" & co",
    "![img](javascript:x) | `code` *b*",
    "-2+3\r\nsecond line",
];

pub fn long_label() -> String {
    "endless ".repeat(38)
}

pub fn lots_table() -> Table {
    let columns = vec![
        TableColumn::new("lot", "Lot"),
        TableColumn::new("pieces", "Pieces started"),
        TableColumn::new("raw_mean", "Mean as rated"),
        TableColumn::new("pooled_mean", "Pooled mean"),
        TableColumn::new("low", "95 % from"),
        TableColumn::new("high", "to"),
    ];
    let row = |lot: &str, n, raw: Cell, mean: f64, decimals| {
        let number = |value| Cell::Number(value, decimals);
        vec![
            Cell::Text(lot.to_owned()),
            Cell::Count(n),
            raw,
            number(mean),
            number(mean - 1.25),
            number(mean + 1.25),
        ]
    };
    let mut rows = vec![
        row("Spring 3", 5, Cell::Number(7.5, 1), 7.1, 1),
        row("Autumn 1", 1240, Cell::Number(7.125, 2), 6.72, 2),
        row("Old box", 31, Cell::Number(f64::NAN, 1), -0.04, 1),
    ];
    rows.extend(HOSTILE.map(|label| row(label, 4, Cell::Empty, 5.5, 1)));
    Table { name: "lots".to_owned(), title: "Lots".to_owned(), columns, rows }
}

pub fn factors_finding() -> Finding {
    Finding {
        question: "factors",
        asked: "Which factors went with better reeds?".to_owned(),
        answer: "A thicker gouge: clear. For each 0.05 mm more at the centre the rating moved by \
                 +0.91 (+0.56 to +1.26) among reeds of the same lot; 112 reeds in 9 lots."
            .to_owned(),
        more: vec!["Longer forming: tangled with the lot. 11 of 12 pieces formed over 20 days come from one lot.".to_owned()],
        caveats: vec!["Only reeds that were rated are compared; 28 pieces never got that far.".to_owned()],
        charts: vec![effects(), factor_number(), factor_choice()],
        tables: vec![],
        method: Method {
            model: "Least squares on the factor, the factors of earlier stages and the lots, with lot-robust errors.".to_owned(),
            assumptions: vec!["Lots are independent of each other.".to_owned(), "Each rating point is worth as much as the next.".to_owned()],
            sources: vec!["Bell & McCaffrey 2002, Survey Methodology 28(2)".to_owned()],
            seed: None,
        },
        used: (112, "reeds"),
        left_out: vec![
            LeftOut { why: "no rating".to_owned(), n: 28 },
            LeftOut { why: "no lot".to_owned(), n: 3 },
        ],
        section: Section::Check,
    }
}

pub fn lots_finding() -> Finding {
    Finding {
        question: "lots",
        asked: "Which cane lots played well?".to_owned(),
        answer: format!(
            "Lot {} came out highest, and five reeds are too few to buy it again for.",
            HOSTILE[0]
        ),
        more: vec![],
        caveats: vec![format!("The name {} stands for two lots.", HOSTILE[2])],
        charts: vec![lots()],
        tables: vec![lots_table()],
        method: Method { seed: Some(7), ..Method::default() },
        used: (112, "reeds"),
        left_out: vec![],
        section: Section::Lots(lots_section()),
    }
}

fn lots_section() -> LotsSection {
    LotsSection {
        overall: Some(7.0),
        share_between: None,
        sd_between: Some(0.1 + 0.2),
        sd_within: Some(f64::NAN),
        icc: None,
        p_spread: None,
        list: vec![LotResult {
            lot: HOSTILE[0].to_owned(),
            pieces: 5,
            spoiled: 0,
            rated: 5,
            raw_mean: Some(7.5),
            pooled_mean: Some(7.1),
            low: Some(5.85),
            high: Some(8.35),
            adjusted: None,
            good_per_ten: None,
            good_low: None,
            good_high: None,
            cost_per_good: None,
            p_best: None,
            p_above: None,
            spread: None,
            advice: None,
            sentence: "Too few to say.".to_owned(),
        }],
    }
}

fn losses_finding() -> Finding {
    Finding {
        question: "losses",
        asked: "Where are pieces lost?".to_owned(),
        answer: "Most at profiling: 14 of 155 pieces (5 to 15 in 100).".to_owned(),
        charts: vec![losses()],
        section: Section::Losses(LossesSection {
            overall: LostInAll { pieces: 155, lost: 14, share: 0.09, low: 0.05, high: 0.15 },
            stages: vec![StageResult {
                stage: Stage::Profile,
                entered: 155,
                lost: 14,
                share: 0.09,
                low: 0.05,
                high: 0.15,
                by: vec![LossReason { reason: "cracked".to_owned(), n: 8 }],
            }],
            factors: Vec::new(),
            not_modelled: None,
            worth: None,
        }),
        ..empty_finding("losses")
    }
}

fn families_finding() -> Finding {
    Finding {
        asked: "What kinds of reeds are there?".to_owned(),
        answer: "Six, told apart by the thickness of the spine.".to_owned(),
        charts: vec![curves()],
        ..empty_finding("families")
    }
}

/// A finding with nothing in it.
pub fn empty_finding(question: &'static str) -> Finding {
    Finding {
        question,
        asked: String::new(),
        answer: String::new(),
        more: vec![],
        caveats: vec![],
        charts: vec![],
        tables: vec![],
        method: Method::default(),
        used: (0, "reeds"),
        left_out: vec![],
        section: Section::Check,
    }
}

pub fn findings() -> Vec<Finding> {
    vec![factors_finding(), lots_finding(), losses_finding(), families_finding()]
}

fn in_short() -> Vec<InShort> {
    let told = |question: &str, sentence: &str| InShort {
        question: question.to_owned(),
        sentence: sentence.to_owned(),
        worth: Some(0.8),
    };
    let highest = format!("One lot came out highest: {}.", HOSTILE[0]);
    vec![told("losses", "Forming took the most."), told("lots", &highest)]
}

pub fn results() -> Results {
    Results {
        format: 1,
        made_by: MadeBy { name: "canewright".to_owned(), version: "0.0.0".to_owned() },
        seed: 7,
        log: LogSummary {
            files: vec![FileSummary {
                name: "reeds.csv".to_owned(),
                sha256: "ab".repeat(32),
                rows: 160,
            }],
            pieces: 160,
            reeds: 112,
            ratings: 240,
            lots: 9,
            rows_set_aside: 1,
            rows_and_cells_set_aside: 1,
            first_day: Some("2023-09-02".to_owned()),
            last_day: Some("2024-10-28".to_owned()),
        },
        settings: SettingsShown {
            title: "An invented workshop".to_owned(),
            scale: [1.0, 10.0],
            good_at: 7.0,
            worthwhile: 0.5,
            outcome: "overall".to_owned(),
            target: None,
            settled: "all".to_owned(),
            best: "high".to_owned(),
            window: 90,
            not_given: vec!["worthwhile".to_owned()],
        },
        problems: vec![],
        rests_on: vec![],
        in_short: in_short(),
        since: None,
        refusals: vec![Refusal {
            question: "life".to_owned(),
            found: "No reed has hours played.".to_owned(),
            takes: "It takes 20 reeds with the hours they were played.".to_owned(),
        }],
        factors: None,
        lots: Some(lots_section()),
        decide: None,
        losses: None,
        life: None,
        trust: None,
        drift: None,
        families: None,
        blanks: None,
        blanks_foretold: None,
        sort: None,
        makers: None,
        trial_plan: None,
        trial_read: None,
    }
}

pub fn problem(line: u64, cell: &str) -> Problem {
    let before = "R012,Autumn 1,";
    Problem {
        code: "number-unreadable",
        severity: Severity::Error,
        place: Place::file("reeds.csv").at_line(line).in_column("Gouge centre (mm)"),
        text: cell.to_owned(),
        message: format!("“{cell}” is not a number."),
        expected: "a number such as 1.30".to_owned(),
        remedy: "Mend the cell, or leave it empty where the thickness is not known.".to_owned(),
        excerpt: Some(Excerpt {
            line: format!("{before}{cell},crosshatch,12,7"),
            start: before.chars().count(),
            length: cell.chars().count(),
        }),
    }
}

pub fn problems() -> Vec<Problem> {
    let mut problems: Vec<Problem> = (2..27).map(|line| problem(line, "1.3o")).collect();
    problems.push(Problem {
        code: "file-missing",
        severity: Severity::Remark,
        place: Place::file("lots.csv"),
        text: String::new(),
        message: "There is no lots.csv.".to_owned(),
        expected: String::new(),
        remedy: "Nothing needs to be done.".to_owned(),
        excerpt: None,
    });
    problems
}

pub fn set_aside() -> Vec<SetAside> {
    vec![SetAside {
        file: "reeds.csv".to_owned(),
        line: 9,
        column: None,
        code: "reed-missing",
        reason: "the row has no reed".to_owned(),
        text: HOSTILE.map(str::to_owned).to_vec(),
    }]
}
