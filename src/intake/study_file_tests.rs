use super::*;

fn refusal(text: &str) -> Problem {
    match read("study.toml", text) {
        Err(Error::Unreadable(problem)) => *problem,
        other => panic!("{text} gave {other:?}"),
    }
}

#[test]
fn an_unknown_key_is_refused_with_its_line_and_the_nearest_known_one() {
    let problem = refusal("title = \"a\"\ngood_ta = 7\n");
    assert_eq!((problem.code, problem.place.line), ("study-key-unknown", Some(2)));
    assert!(problem.remedy.contains("good_at"), "{}", problem.remedy);
    let problem = refusal("[columns.hardness]\nhiger_is = \"softer\"\n");
    assert_eq!(problem.place.line, Some(2));
    assert!(problem.remedy.contains("higher_is"), "{}", problem.remedy);
}

#[test]
fn a_value_of_the_wrong_sort_is_refused_with_its_line() {
    for (text, line, expected) in [
        ("scale = [10, 1]", 1, "lower first"),
        ("\nbest = \"big\"", 2, "\"high\" or \"low\""),
        ("settled = \"some\"", 1, "after 3 ratings"),
        ("window = 0", 1, "days"),
        ("worthwhile = 0.0", 1, "above 0"),
        ("[columns.a]\nkind = \"nmber\"", 2, "\"number\""),
        ("id_from = 3", 1, "\"row\""),
        ("decimal = \";\"", 1, "\",\""),
    ] {
        let problem = refusal(text);
        assert_eq!((problem.code, problem.place.line), ("study-value-unfit", Some(line)), "{text}");
        assert!(problem.expected.contains(expected), "{text}: {}", problem.expected);
    }
}

#[test]
fn what_is_no_toml_is_refused_with_its_line() {
    let problem = refusal("title = \"a\"\nscale = [1, \n");
    assert_eq!(problem.code, "study-file-unreadable");
    assert!(problem.place.line.is_some());
}

#[test]
fn every_key_of_the_contract_is_read() {
    let text = r#"
        title = "Autumn lots"
        scale = [1, 10]
        good_at = 7
        worthwhile = 0.5
        outcome = "Overall"
        settled = "after 3 ratings"
        best = "high"
        window = 60
        [columns."Cane Ø"]
        is = "tube_diameter_mm"
        unit = "in"
        decimal = ","
        [columns.hardness]
        higher_is = "softer"
        [criteria.resistance]
        target = 5
        [decide.forming_days]
        candidates = [5, 10, 20.5]
    "#;
    let study = read("study.toml", text).expect("a study file");
    assert_eq!(study.scale, Some([1.0, 10.0]));
    assert_eq!(study.outcome.as_deref(), Some("overall"));
    assert_eq!(study.settled, Some(Settled::After(3)));
    let cane = study.column("cane ø").expect("the same folded name");
    assert_eq!(cane.unit, Some(("in".into(), Some(Unit::Inch))));
    assert_eq!(study.targets["resistance"], 5.0);
    assert_eq!(study.candidates["forming_days"], ["5", "10", "20.5"]);
}

/// A user takes away the signs of the lines that are wanted; all of them at once must be a study file too.
#[test]
fn the_empty_log_s_study_file_can_be_read_with_every_line_switched_on() {
    let text = include_str!("../cli/start/study.toml");
    assert!(read("study.toml", text).is_ok(), "as it comes");
    let is_setting = |line: &&str| line.starts_with('[') || line.contains(" = ");
    let settings: Vec<&str> =
        text.lines().filter_map(|line| line.strip_prefix("# ")).filter(is_setting).collect();
    let study = read("study.toml", &settings.join("\n")).expect("every line is a setting");
    assert_eq!(study.ranking.steps(), 3);
    assert_eq!(study.files.ratings.as_deref(), Some("plays.csv"));
    assert!(study.same_lots && study.wire_gauge.is_some() && study.day_order.is_some());
    assert_eq!(study.id_from, IdFrom::Columns(vec!["year".into(), "reed".into()]));
    assert!(study.column("hardness").is_some(), "no heading swallowed what follows");
}
