//! Ids, rows that are set aside, cells in error.

use super::*;

#[test]
fn rows_without_a_usable_id_and_ids_that_disagree_are_set_aside_word_for_word() {
    let log =
        Log::of(&[("reeds.csv", "reed,lot,overall\n1,a,5\n,b,6\n2,c,7\n2,d,8\n3,e,9\n3,e,9\n")]);
    let reading = log.read();
    assert_eq!(reading.study.ids(), ["1", "3"]);
    let aside: Vec<(u64, &str, Vec<String>)> = reading
        .study
        .set_aside()
        .iter()
        .map(|aside| (aside.line, aside.code, aside.text.clone()))
        .collect();
    let row = |text: &str| text.split(',').map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(
        aside,
        [
            (3, "id-missing", row(",b,6")),
            (7, "row-repeated", row("3,e,9")),
            (4, "id-repeated", row("2,c,7")),
            (5, "id-repeated", row("2,d,8")),
        ]
    );
}

#[test]
fn a_cell_in_error_becomes_missing_and_is_listed_with_its_line_and_excerpt() {
    let log =
        Log::of(&[("reeds.csv", "reed,gouge_center_mm,overall\n1,1.25,7\n2,thick,6\n3,125,5\n")]);
    let reading = log.read();
    assert_eq!(*reading.study.numbers("gouge_center_mm"), [Some(1.25), None, None]);
    let unreadable = problem(&reading, "number-unreadable");
    assert_eq!((unreadable.place.line, unreadable.text.as_str()), (Some(3), "thick"));
    let excerpt = unreadable.excerpt.as_ref().expect("a cell's problem shows its line");
    assert_eq!((excerpt.line.as_str(), excerpt.start, excerpt.length), ("2,thick,6", 2, 5));
    assert_eq!(problem(&reading, "number-impossible").text, "125");
    assert_eq!(reading.study.set_aside().len(), 2);
    assert!(reading.has_errors());
}

#[test]
fn a_row_with_a_decimal_comma_too_many_is_set_aside_with_all_its_cells() {
    let log = Log::of(&[("reeds.csv", "reed,gouge_center_mm,overall\n1,1,25,7\n2,1.3,6\n")]);
    let reading = log.read();
    assert_eq!(reading.study.ids(), ["2"]);
    assert_eq!(reading.study.set_aside()[0].text, ["1", "1", "25", "7"]);
    assert_eq!(problem(&reading, "row-too-long").place.line, Some(2));
}

#[test]
fn a_title_above_the_header_is_set_aside_word_for_word_and_lines_count_from_the_top() {
    let log = Log::of(&[(
        "reeds.csv",
        "\"Reeds, spring\"\n\nreed;lot;gouge_mm;overall\n1;a;1,25;7\n2;a;dick;6\n",
    )]);
    let reading = log.read();
    assert_eq!(*reading.study.numbers("gouge_center_mm"), [Some(1.25), None]);
    assert_eq!(problem(&reading, "number-unreadable").place.line, Some(5));
    let above = problem(&reading, "rows-above-header");
    assert_eq!((above.severity, above.place.line), (Severity::Remark, Some(3)));
    let aside = &reading.study.set_aside()[0];
    assert_eq!(
        (aside.line, aside.code, aside.text.as_slice()),
        (1, "rows-above-header", &["Reeds, spring".to_owned()][..])
    );
}

#[test]
fn repeated_ids_are_met_with_advice_that_works_on_these_rows() {
    let reeds = "season,reed,lot,overall\n23,1,a,5\n23,2,a,6\n24,1,a,7\n24,2,a,8\n";
    let asked = Log::of(&[("reeds.csv", reeds)]).read();
    let remedy = &problem(&asked, "id-repeated").remedy;
    assert!(remedy.contains("`id_from = [\"season\", \"reed\"]`"), "{remedy}");
    let study = "id_from = [\"season\", \"reed\"]";
    let followed = Log::of(&[("reeds.csv", reeds), ("study.toml", study)]).read();
    assert_eq!(followed.study.pieces(), 4);
}

#[test]
fn where_no_column_tells_repeated_ids_apart_none_is_advised() {
    let log = Log::of(&[("reeds.csv", "year,reed,lot,overall\n24,1,a,5\n24,1,a,6\n24,2,b,7\n")]);
    let reading = log.read();
    let remedy = &problem(&reading, "id-repeated").remedy;
    assert!(!remedy.contains("year") && remedy.starts_with("Renumber the pieces"), "{remedy}");
    assert!(remedy.contains("id_from = \"row\""), "{remedy}");
}
