//! Ratings, their scale, and fates among them.

use super::*;

#[test]
fn the_scale_and_the_good_mark_are_found_and_said() {
    let reading = Log::of(&[("reeds.csv", REEDS), ("ratings.csv", RATINGS)]).read();
    let settings = reading.study.settings();
    assert_eq!((settings.scale, settings.best), ([1.0, 10.0], Better::Higher));
    assert!((settings.good_at - 7.3).abs() < 1e-12, "70 % of the way from 1 to 10");
    assert!((settings.worthwhile - 0.45).abs() < 1e-12, "5 % of the scale");
    assert_eq!(problem(&reading, "setting-found").severity, Severity::Remark);
}

#[test]
fn a_rating_of_an_unknown_reed_is_set_aside_and_one_in_another_spelling_is_not() {
    let log = Log::of(&[
        ("reeds.csv", "reed,lot\nA-7,x\nA-8,x\n"),
        ("ratings.csv", "reed,overall\na7,5\nA-8,6\nB-1,7\n"),
    ]);
    let reading = log.read();
    assert_eq!(reading.study.reed_scores(), [Some(5.0), Some(6.0)]);
    assert_eq!(problem(&reading, "reed-spelled-otherwise").place.line, Some(2));
    let unknown = problem(&reading, "reed-unknown");
    assert_eq!((unknown.place.line, unknown.severity), (Some(4), Severity::Error));
}

#[test]
fn a_file_with_one_row_a_rating_gives_each_piece_once_and_says_where_its_columns_disagree() {
    let log = Log::of(&[
        ("reeds.csv", "bottle,temp,judge,rating\n1,cold,a,2\n1,cold,b,3\n2,warm,a,4\n2,cold,b,5\n"),
        (
            "study.toml",
            "one_row_is = \"rating\"\nscale = [1, 5]\n[columns.bottle]\nis = \"reed\"\n\
             [columns.judge]\nis = \"player\"\n[columns.temp]\nis = \"temperature\"\nstage = \"cane\"\nkind = \"choice\"\n",
        ),
    ]);
    let reading = log.read();
    let study = &reading.study;
    assert_eq!((study.pieces(), study.ratings()), (2, 4));
    assert_eq!(study.rating_rows().piece, [0, 0, 1, 1]);
    assert_eq!(study.rating_rows().player.levels, ["a", "b"]);
    assert_eq!(study.words("temperature"), [Some("cold"), Some("warm")]);
    let disagree = problem(&reading, "piece-columns-disagree");
    assert_eq!((disagree.place.line, disagree.text.as_str()), (Some(5), "cold"));
}

#[test]
fn a_rating_cell_that_names_a_fate_is_the_fate_and_is_said() {
    let log =
        Log::of(&[("reeds.csv", "reed,overall,note\n1,cracked,\n2,7/10,gave to Sam\n3,8,good\n")]);
    let reading = log.read();
    let fates = [Fate::Spoiled, Fate::GivenAway, Fate::InUse].map(Some);
    assert_eq!(reading.study.fates(), fates);
    assert_eq!(reading.study.words("spoiled_by")[0], Some("cracked"));
    for code in ["fate-in-rating", "fate-in-note", "fate-assumed", "spoiled-without-stage"] {
        assert_eq!(problem(&reading, code).severity, Severity::Remark, "{code}");
    }
    assert!(!reading.has_errors());
}

#[test]
fn letters_and_words_are_asked_for_until_the_study_file_ranks_them() {
    let reeds = "reed,overall\n1,good\n2,fair\n3,poor\n";
    let asked = Log::of(&[("reeds.csv", reeds)]).read();
    assert_eq!(asked.study.ratings(), 0);
    assert!(problem(&asked, "rating-word-unranked").remedy.contains("ranking"));
    let ranking = "[words]\nranking = [\"poor\", \"fair\", \"good\"]\n";
    let ranked = Log::of(&[("reeds.csv", reeds), ("study.toml", ranking)]).read();
    assert_eq!(ranked.study.reed_scores(), [Some(3.0), Some(2.0), Some(1.0)]);
    assert_eq!(ranked.study.settings().scale, [1.0, 3.0]);
}

#[test]
fn words_among_numbers_stand_on_the_scale_that_the_study_file_gives() {
    let reeds = "reed,overall\n1,A\n2,C\n3,7/10\n";
    let study = "scale = [1, 10]\n[words]\nranking = [\"C\", \"B\", \"A\"]\n";
    let given = Log::of(&[("reeds.csv", reeds), ("study.toml", study)]).read();
    assert_eq!(given.study.reed_scores(), [Some(10.0), Some(1.0), Some(7.0)]);
    let asked = Log::of(&[
        ("reeds.csv", reeds),
        ("study.toml", "[words]\nranking = [\"C\", \"B\", \"A\"]\n"),
    ])
    .read();
    assert_eq!(asked.study.ratings(), 1);
    assert!(problem(&asked, "rating-other-scale").remedy.contains("scale"));
}

#[test]
fn school_marks_are_read_where_one_is_best_and_asked_for_elsewhere() {
    let reeds = "reed;overall\n1;2-\n2;2+\n3;1\n";
    let asked = Log::of(&[("reeds.csv", reeds)]).read();
    assert!(problem(&asked, "school-mark-unsaid").remedy.contains("best"));
    let read = Log::of(&[("reeds.csv", reeds), ("study.toml", "best = \"low\"")]).read();
    assert_eq!(read.study.reed_scores(), [Some(2.3), Some(1.7), Some(1.0)]);
    assert_eq!(read.study.settings().scale, [1.0, 6.0]);
    assert_eq!(read.study.settings().best, Better::Lower);
}

#[test]
fn a_rating_out_of_another_number_than_the_scale_is_an_error() {
    let log = Log::of(&[
        ("reeds.csv", "reed,overall\n1,7/10\n2,4\n3,6\n"),
        ("study.toml", "scale = [1, 5]"),
    ]);
    let reading = log.read();
    assert_eq!(reading.study.reed_scores(), [None, Some(4.0), None]);
    assert_eq!(problem(&reading, "rating-other-scale").place.line, Some(2));
    assert_eq!(problem(&reading, "rating-out-of-scale").place.line, Some(4));
}

#[test]
fn another_criterion_beyond_the_scale_is_a_warning_and_stands() {
    let log = Log::of(&[
        ("reeds.csv", "reed,overall,cents\n1,5,-12\n2,6,3\n"),
        ("study.toml", "scale = [1, 10]\n[columns.cents]\nkind = \"rating\"\n"),
    ]);
    let reading = log.read();
    assert_eq!(reading.study.ratings(), 4);
    assert_eq!(problem(&reading, "rating-out-of-scale").severity, Severity::Warning);
}

#[test]
fn ratings_may_be_long_with_a_criterion_and_a_score() {
    let log = Log::of(&[
        ("reeds.csv", "reed\n1\n2\n"),
        (
            "ratings.csv",
            "reed,player,criterion,score\n1,a,Response,5\n1,a,Overall,6\n2,a,Overall,7\n",
        ),
    ]);
    let study = log.read().study;
    assert_eq!(study.ratings(), 3);
    assert_eq!(study.reed_scores(), [Some(6.0), Some(7.0)]);
}

#[test]
fn several_criteria_without_an_overall_one_are_asked_about() {
    let log = Log::of(&[("reeds.csv", "reed,response,tone\n1,5,6\n2,6,7\n")]);
    let asked = log.refusal();
    assert_eq!(asked.code, "outcome-undecided");
    assert!(asked.remedy.contains("outcome"), "{}", asked.remedy);
    let log = Log::of(&[
        ("reeds.csv", "reed,response,tone\n1,5,6\n"),
        ("study.toml", "outcome = \"tone\""),
    ]);
    assert_eq!(log.read().study.reed_scores(), [Some(6.0)]);
}

#[test]
fn a_repeated_rating_counts_once_where_day_and_player_are_said() {
    let log = Log::of(&[
        ("reeds.csv", "reed\n1\n"),
        (
            "ratings.csv",
            "reed,date,player,overall\n1,2024-05-01,Ann,5\n1,2024-05-01,Ann,5\n1,2024-05-02,Ann,5\n",
        ),
    ]);
    let reading = log.read();
    assert_eq!(reading.study.ratings(), 2);
    assert_eq!(problem(&reading, "row-repeated").place.line, Some(3));
}

#[test]
fn marks_of_which_either_end_may_be_best_are_warned_about_until_the_study_file_says_it() {
    let reeds = "reed,overall\n1,1\n2,2\n3,6\n";
    let asked = Log::of(&[("reeds.csv", reeds)]).read();
    let warning = problem(&asked, "best-end-assumed");
    assert_eq!(warning.severity, Severity::Warning);
    assert!(warning.message.contains("the highest was taken as the best"), "{}", warning.message);
    assert!(warning.remedy.contains("best = \"low\"") && warning.remedy.contains("scale = [1, 6]"));
    for study in ["best = \"low\"", "best = \"high\"", "scale = [1, 6]", "marks = \"school\""] {
        let said = Log::of(&[("reeds.csv", reeds), ("study.toml", study)]).read();
        assert!(!codes(&said).contains(&"best-end-assumed"), "{study}");
    }
}

#[test]
fn a_rating_far_beyond_all_others_becomes_missing_and_the_scale_stays() {
    let log = Log::of(&[("reeds.csv", "reed,overall\n1,4\n2,5\n3,6\n4,7\n5,8\n6,9\n7,11\n")]);
    let reading = log.read();
    assert_eq!(reading.study.settings().scale, [1.0, 10.0]);
    assert_eq!(reading.study.ratings(), 6);
    let alone = problem(&reading, "rating-alone");
    assert_eq!((alone.severity, alone.text.as_str()), (Severity::Error, "11"));
    assert!(alone.remedy.contains("scale = [0, 20]"), "{}", alone.remedy);
}

#[test]
fn fractions_of_two_scales_leave_the_commoner_ones_and_the_bare_numbers_in_force() {
    let log = Log::of(&[("reeds.csv", "reed,overall\n1,3.5/5\n2,7/10\n3,8/10\n4,8\n")]);
    let reading = log.read();
    assert_eq!(reading.study.settings().scale, [1.0, 10.0]);
    assert_eq!(reading.study.reed_scores(), [None, Some(7.0), Some(8.0), Some(8.0)]);
    assert_eq!(problem(&reading, "rating-other-scale").text, "3.5/5");
}

#[test]
fn a_log_without_a_rating_says_so_and_pretends_no_scale() {
    let reading = Log::of(&[("reeds.csv", "reed,lot,Verdict 2\n1,a,7\n2,a,8\n")]).read();
    let warning = problem(&reading, "ratings-not-found");
    assert_eq!(warning.severity, Severity::Warning);
    assert!(
        warning.remedy.contains("`[columns.\"Verdict 2\"]` and under it `is = \"overall\"`"),
        "{}",
        warning.remedy
    );
    let settings = reading.study.settings();
    assert!(!settings.scale_given && settings.scale == [1.0, 10.0]);
    assert!(!codes(&reading).contains(&"setting-found"));
    let rated = Log::of(&[
        ("reeds.csv", "reed,lot,Verdict 2\n1,a,7\n2,a,8\n"),
        ("study.toml", "[columns.\"Verdict 2\"]\nis = \"overall\"\n"),
    ]);
    assert_eq!(rated.read().study.ratings(), 2, "the remedy works");
}

#[test]
fn a_reed_whose_rating_cannot_be_read_was_rated_all_the_same() {
    let log = Log::of(&[
        ("reeds.csv", "reed,overall\n1,7\n2,splendid\n3,55\n4,\n"),
        ("study.toml", "scale = [1, 10]"),
    ]);
    let fates = [Fate::InUse, Fate::InUse, Fate::InUse, Fate::Unfinished].map(Some);
    let reading = log.read();
    assert_eq!(reading.study.fates(), fates);
    assert_eq!(reading.study.set_aside().len(), 2, "both cells are kept");
}

#[test]
fn repeated_rows_that_nothing_tells_apart_are_pointed_out_and_used() {
    let log = Log::of(&[
        ("reeds.csv", "reed\n1\n2\n"),
        ("ratings.csv", "reed,overall\n1,5\n1,5\n2,6\n1,5\n"),
        ("profile.csv", "reed,from_tip_mm,line,thickness_mm\n1,5,spine,0.4\n1,5,spine,0.4\n"),
    ]);
    let reading = log.read();
    assert_eq!((reading.study.ratings(), reading.study.profile().len()), (4, 2));
    let of_file = |file: &str| {
        let found =
            |problem: &&Problem| problem.code == "row-repeated" && problem.place.file == file;
        reading.problems.iter().find(found).expect("pointed out").message.clone()
    };
    assert!(of_file("ratings.csv").starts_with("2 rows repeat"), "{}", of_file("ratings.csv"));
    assert!(of_file("profile.csv").starts_with("1 row repeats"), "{}", of_file("profile.csv"));
}
