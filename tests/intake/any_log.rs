//! Whatever stands in the files: a study whose rows add up, or a reason; never a panic.

use proptest::prelude::*;

use super::*;

const HEADERS: &[&str] = &[
    "reed",
    "lot",
    "tube",
    "made",
    "finished",
    "gouge centre (mm)",
    "days",
    "formed",
    "wire",
    "shape",
    "note",
    "fate",
    "spoiled_at",
    "why",
    "hours",
    "resp/5",
    "overall",
    "player",
    "date",
    "criterion",
    "score",
    "profile_15_spine_mm",
    "line",
    "from_tip_mm",
    "thickness",
    "measure",
    "value",
    "repeat",
    "price",
    "",
    "own",
];

const CELLS: &[&str] = &[
    "",
    "-",
    "1",
    "2",
    "A7",
    "a7",
    "1,25",
    "1.25",
    "1,250",
    "7/10",
    "B+",
    "2-",
    "cracked",
    "gave to Sam",
    "3/4/2024",
    "2024-03-05",
    "04.03.2024",
    "45356",
    "2 wks",
    "~10",
    "22 swg",
    "22 ga",
    "yes",
    "spine",
    "9e999",
    "NaN",
    "=A1",
    "<b>",
    "\u{1b}[31m",
    "Lot B",
    "lot b",
    "1.30 mm",
    "51 thou",
    "\"",
    "-5",
    "1e300",
];

fn table() -> impl Strategy<Value = String> {
    let header = proptest::collection::vec(prop::sample::select(HEADERS.to_vec()), 1..9);
    let cell = prop_oneof![9 => prop::sample::select(CELLS.to_vec()).prop_map(str::to_owned), 1 => ".{0,12}"];
    let rows = proptest::collection::vec(proptest::collection::vec(cell, 0..10), 0..14);
    (header, rows, Just(",")).prop_map(|(header, rows, delimiter)| {
        let quoted = |cell: &String| format!("\"{}\"", cell.replace('"', "\"\""));
        let rows =
            rows.iter().map(|row| row.iter().map(quoted).collect::<Vec<_>>().join(delimiter));
        let lines: Vec<String> = std::iter::once(header.join(delimiter)).chain(rows).collect();
        lines.join("\n")
    })
}

fn study_file() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "",
        "id_from = \"row\"",
        "one_row_is = \"rating\"",
        "best = \"low\"\nscale = [1, 6]",
        "decimal = \",\"\nday_order = \"day first\"\noutcome = \"overall\"",
        "[words]\nranking = [\"B\", \"cracked\", \"A7\"]\n[criteria.own]\ntarget = 3\n[columns.own]\nkind = \"rating\"",
        "[columns.own]\nkind = \"yes_no\"\n[columns.lot]\nis = \"reed\"\n[decide.shape]\ncandidates = [1]",
    ])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// Whatever stands in the files: a study whose rows add up, or a reason; never a panic.
    #[test]
    fn ends_with_a_study_whose_rows_add_up_or_with_a_reason(
        reeds in table(), ratings in table(), lots in table(), profile in table(), readings in table(), study in study_file(),
    ) {
        let log = Log::of(&[
            ("reeds.csv", &format!("reed,{reeds}")),
            ("ratings.csv", &format!("reed,player,overall,{ratings}")),
            ("lots.csv", &format!("lot,price,{lots}")),
            ("profile.csv", &format!("reed,from_tip_mm,line,thickness,{profile}")),
            ("readings.csv", &format!("reed,measure,value,{readings}")),
            ("study.toml", study),
        ]);
        for part in [log.path(), log.path().join("reeds.csv")] {
            match read(&[part], &ReadOptions::default()) {
                Ok(reading) => {
                    rows_add_up(&reading);
                    let _ = (reading.study.good(), reading.study.reed_scores(), reading.study.profile());
                }
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
        }
    }
}
