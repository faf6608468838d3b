//! Whole logs: tidy ones, single files, several makers, a part in time.

use super::*;

#[test]
fn a_tidy_log_is_read_as_it_stands_and_nothing_is_set_aside() {
    let log = Log::of(&[
        ("reeds.csv", REEDS),
        ("ratings.csv", RATINGS),
        (
            "lots.csv",
            "lot,bought_on,price_per_piece,pieces_bought\nReedmere,2023-12-01,4.20,30\nMarsh,2023-12-05,3.60,20\n",
        ),
        (
            "profile.csv",
            "reed,from_tip_mm,line,thickness_mm,repeat\nA1,2,spine,0.17,1\nA1,2,spine,0.18,2\n",
        ),
        (
            "readings.csv",
            "reed,measure,value,by,repeat\nA1,hardness,12.5,Ann,1\nA2,gouge_center_mm,1.31,Ben,1\n",
        ),
        ("study.toml", "title = \"Winter\"\nscale = [1, 10]\ngood_at = 7\nworthwhile = 0.5\n"),
    ]);
    let reading = log.read();
    let study = &reading.study;
    assert!(!reading.has_errors(), "{:?}", reading.problems);
    assert!(study.set_aside().is_empty());
    assert_eq!((study.pieces(), study.ratings()), (4, 5));
    assert_eq!(study.ids(), ["A1", "A2", "A3", "A4"]);
    assert_eq!(*study.numbers("gouge_center_mm"), [Some(1.25), Some(1.3), Some(1.28), Some(1.27)]);
    assert_eq!(study.labels("lot").levels, ["Marsh", "Reedmere"]);
    let fates = [Fate::InUse, Fate::WornOut, Fate::Spoiled, Fate::Unfinished].map(Some);
    assert_eq!(study.fates(), fates);
    assert_eq!(study.words("spoiled_at")[2], Some("form"));
    assert_eq!(study.words("spoiled_by")[2], Some("cracked"));
    assert_eq!(study.prices(), [("Reedmere".to_owned(), 4.2), ("Marsh".to_owned(), 3.6)]);
    assert_eq!(study.profile().len(), 2);
    assert_eq!(study.readings()[1].measure, "gouge_center_mm");
    assert_eq!(study.reed_scores(), [Some(7.5), Some(5.0), None, None]);
    assert_eq!(study.good(), [Some(true), Some(false), Some(false), None]);
    assert_eq!(study.settings().title, "Winter");
}

#[test]
fn problems_of_a_kind_are_kept_up_to_a_limit_and_the_rest_is_counted_but_all_are_set_aside() {
    let mut text = String::from("reed,gouge_center_mm,overall\n");
    for row in 0..2500 {
        text += &format!("{row},thick,5\n");
    }
    let reading = Log::of(&[("reeds.csv", &text)]).read();
    let of_kind = |problem: &&Problem| problem.code == "number-unreadable";
    assert_eq!(reading.problems.iter().filter(of_kind).count(), 1001);
    let last = reading.problems.iter().rfind(of_kind).expect("the closing one");
    assert!(last.message.contains("1500 more"), "{}", last.message);
    assert_eq!(reading.study.set_aside().len(), 2500);
}

#[test]
fn what_is_found_stands_in_the_order_of_the_files_and_of_their_columns() {
    let log = Log::of(&[
        (
            "reeds.csv",
            "reed,lot,gouge_center_mm,hardness,fate\nA1,Marsh,thick,12,in use\nA2,Marsh,wide,soft,eaten\n",
        ),
        ("ratings.csv", "reed,overall\nA1,7\nA2,fair enough\n"),
        ("lots.csv", "lot,price_per_piece\nMarsh,cheap\n"),
        ("profile.csv", "reed,from_tip_mm,line,thickness_mm\nA1,2,spine,thin\n"),
        ("readings.csv", "reed,measure,value\nA2,hardness,hard\n"),
        ("study.toml", "scale = [1, 10]\n"),
    ]);
    let reading = log.read();
    let aside: Vec<(&str, u64, &str)> = reading
        .study
        .set_aside()
        .iter()
        .map(|one| (one.file.as_str(), one.line, one.column.as_deref().unwrap_or("whole row")))
        .collect();
    assert_eq!(
        aside,
        [
            ("reeds.csv", 2, "gouge_center_mm"),
            ("reeds.csv", 3, "gouge_center_mm"),
            ("reeds.csv", 3, "hardness"),
            ("reeds.csv", 3, "fate"),
            ("ratings.csv", 3, "overall"),
            ("ratings.csv", 3, "whole row"),
            ("lots.csv", 2, "price_per_piece"),
            ("profile.csv", 2, "thickness_mm"),
            ("profile.csv", 2, "whole row"),
            ("readings.csv", 2, "value"),
            ("readings.csv", 2, "whole row"),
        ]
    );
    let mut understood: Vec<&str> =
        reading.study.understood().iter().map(|column| column.file.as_str()).collect();
    understood.dedup();
    assert_eq!(understood, ["reeds.csv", "ratings.csv", "lots.csv", "profile.csv", "readings.csv"]);
    let files: Vec<&str> = reading.study.files().iter().map(|file| file.name.as_str()).collect();
    assert_eq!(
        files,
        ["reeds.csv", "ratings.csv", "lots.csv", "profile.csv", "readings.csv", "study.toml"]
    );
}

#[test]
fn a_studio_s_logs_are_pooled_and_kept_apart_by_name() {
    let (one, two) = (Log::of(&[]), Log::of(&[]));
    let (ann, ben) = (one.path().join("ann"), two.path().join("ben"));
    for (folder, score) in [(&ann, 5), (&ben, 7)] {
        fs::create_dir(folder).expect("room for a folder");
        fs::write(
            folder.join("reeds.csv"),
            format!("reed,lot\n1,Marsh\n2,Marsh\n3,Marsh{score}\n"),
        )
        .expect("room");
        fs::write(folder.join("ratings.csv"), format!("reed,overall\n1,{score}\n2,{score}\n"))
            .expect("room");
        fs::write(folder.join("study.toml"), "scale = [1, 10]\n").expect("room");
    }
    let reading = read(&[ann.clone(), ben.clone()], &ReadOptions::default()).expect("two logs");
    rows_add_up(&reading);
    let study = &reading.study;
    assert_eq!(study.ids(), ["ann/1", "ann/2", "ann/3", "ben/1", "ben/2", "ben/3"]);
    assert_eq!(study.reed_scores(), [Some(5.0), Some(5.0), None, Some(7.0), Some(7.0), None]);
    assert_eq!(study.labels("maker").levels, ["ann", "ben"]);
    assert_eq!(study.labels("lot").levels.len(), 4);
    assert_eq!(study.files()[0].name, "ann/reeds.csv");
    for folder in [&ann, &ben] {
        fs::write(folder.join("study.toml"), "scale = [1, 10]\nsame_lots = true\n").expect("room");
    }
    let same = read(&[ann.clone(), ben.clone()], &ReadOptions::default()).expect("two logs");
    assert_eq!(same.study.labels("lot").levels, ["Marsh", "Marsh5", "Marsh7"]);
    fs::write(ben.join("study.toml"), "scale = [1, 5]\n").expect("room");
    let refused = read(&[ann, ben], &ReadOptions::default());
    assert!(matches!(refused, Err(Error::Call(message)) if message.contains("cannot be pooled")));
}

/// Two logs side by side, `ann` and `ben`, each with these files.
fn two_logs(ann: &[(&str, &str)], ben: &[(&str, &str)]) -> (Log, [PathBuf; 2]) {
    let both = Log::of(&[]);
    let folders = ["ann", "ben"].map(|name| both.path().join(name));
    for (folder, files) in folders.iter().zip([ann, ben]) {
        fs::create_dir(folder).expect("room for a folder");
        for (name, text) in files {
            fs::write(folder.join(name), text).expect("room");
        }
    }
    (both, folders)
}

fn refused(logs: &[PathBuf]) -> String {
    match read(logs, &ReadOptions::default()) {
        Err(Error::Call(message)) => message,
        other => panic!("expected a refusal, not {other:?}"),
    }
}

#[test]
fn a_log_that_is_given_twice_is_refused_with_both_names() {
    let log = [("reeds.csv", "reed,overall\n1,5\n")];
    let (_both, [ann, ben]) = two_logs(&log, &log);
    for twice in [
        [ann.clone(), ann.clone()],
        [ann.clone(), ann.join("../ann")],
        [ann.clone(), ann.join("reeds.csv")],
        [ann, ben],
    ] {
        let message = refused(&twice);
        assert!(message.contains("count twice"), "{message}");
        for log in &twice {
            assert!(message.contains(&log.display().to_string()), "{message}");
        }
    }
}

#[test]
fn logs_that_were_only_just_begun_are_not_the_same_log() {
    let begun = [("reeds.csv", "reed,overall\n")];
    let (_both, logs) = two_logs(&begun, &begun);
    assert_eq!(read(&logs, &ReadOptions::default()).expect("two logs").study.pieces(), 0);
}

#[test]
fn logs_whose_ratings_have_two_names_are_pooled_once_the_remedy_is_followed() {
    let (_both, [ann, ben]) = two_logs(
        &[("reeds.csv", "reed,overall\n1,5\n"), ("study.toml", "scale = [1, 10]\n")],
        &[
            ("reeds.csv", "reed,My Mark/10\n2,6\n"),
            ("study.toml", "scale = [1, 10]\n[columns.\"My Mark/10\"]\nkind = \"rating\"\n"),
        ],
    );
    let message = refused(&[ann.clone(), ben.clone()]);
    let remedy = "`[columns.\"My Mark/10\"]` and under it `is = \"overall\"`";
    assert!(message.contains(remedy), "{message}");
    let study = "scale = [1, 10]\n[columns.\"My Mark/10\"]\nis = \"overall\"\n";
    fs::write(ben.join("study.toml"), study).expect("room");
    let reading = read(&[ann, ben], &ReadOptions::default()).expect("one name for both");
    assert_eq!(reading.study.reed_scores(), [Some(5.0), Some(6.0)]);
}

#[test]
fn a_log_without_ratings_takes_the_scale_of_the_others() {
    let (_both, logs) = two_logs(
        &[("reeds.csv", "reed,lot\n1,a\n")],
        &[("reeds.csv", "reed,overall\n2,4\n"), ("study.toml", "scale = [1, 5]\n")],
    );
    let study = read(&logs, &ReadOptions::default()).expect("two logs").study;
    assert_eq!((study.settings().scale, study.settings().scale_given), ([1.0, 5.0], true));
    assert_eq!(study.reed_scores(), [None, Some(4.0)]);
}

#[test]
fn logs_that_differ_in_the_best_end_or_in_the_scale_say_which() {
    let reeds = |score: u8| format!("reed,overall\n1,{score}\n");
    let refusal = |study: &str| {
        let (_both, logs) = two_logs(
            &[("reeds.csv", &reeds(5)), ("study.toml", "scale = [1, 6]\n")],
            &[("reeds.csv", &reeds(4)), ("study.toml", study)],
        );
        refused(&logs)
    };
    let best = refusal("scale = [1, 6]\nbest = \"low\"\n");
    assert!(best.contains("in ann the highest mark is best, in ben the lowest"), "{best}");
    assert!(!best.contains("scale"), "{best}");
    let scale = refusal("scale = [1, 10]\n");
    assert!(scale.contains("the same in fact"), "{scale}");
}

#[test]
fn lots_of_one_name_in_two_logs_are_kept_apart_and_it_is_said() {
    let reeds = |id: u8| format!("reed,lot,overall\n{id},Marsh,5\n");
    let pooled = |study: &str| {
        let (_both, logs) = two_logs(
            &[("reeds.csv", &reeds(1)), ("study.toml", study)],
            &[("reeds.csv", &reeds(2)), ("study.toml", study)],
        );
        read(&logs, &ReadOptions::default()).expect("two logs")
    };
    let said = |reading: &Reading| {
        reading.problems.iter().any(|problem| problem.remedy.contains("same_lots = true"))
    };
    assert!(said(&pooled("scale = [1, 10]\n")));
    assert!(!said(&pooled("scale = [1, 10]\nsame_lots = true\n")));
}

#[test]
fn a_part_of_the_log_in_time_holds_the_pieces_made_in_it() {
    let log = Log::of(&[("reeds.csv", REEDS), ("ratings.csv", RATINGS)]);
    let first_days = 19_723; // 1 January 2024
    let options = ReadOptions {
        from: Some(first_days + 2),
        until: Some(first_days + 5),
        ..ReadOptions::default()
    };
    let study = read(&[log.path()], &options).expect("a log").study;
    assert_eq!(study.ids(), ["A2", "A3"]);
    assert_eq!(study.rating_rows().piece, [0]);
}

#[test]
fn a_folder_s_only_table_is_its_reeds_file_and_two_are_asked_about() {
    let reading = Log::of(&[("rohre.csv", "reed,overall\n1,5\n")]).read();
    assert_eq!(problem(&reading, "log-file-chosen").place.file, "rohre.csv");
    let refused = Log::of(&[("a.csv", "reed\n1\n"), ("b.csv", "reed\n1\n")]).refusal();
    assert_eq!(refused.code, "log-not-found");
    assert!(refused.message.contains("“a.csv”, “b.csv”"), "{}", refused.message);
}

#[test]
fn what_is_shared_of_a_study_is_of_that_study_alone() {
    let study = Log::of(&[("reeds.csv", REEDS), ("ratings.csv", RATINGS)]).read().study;
    study.share("of all pieces");
    study.share("said too late");
    assert_eq!(study.shared::<&str>().as_deref(), Some(&"of all pieces"));
    assert_eq!(study.shared::<usize>(), None, "of another kind");
    let some = study.restricted(&vec![true; study.pieces()]);
    let otherwise = study.judged_by(study.settings().clone());
    assert_eq!((some.shared::<&str>(), otherwise.shared::<&str>()), (None, None));
}
