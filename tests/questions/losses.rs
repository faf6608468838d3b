//! Where pieces are lost: counted by hand.

use canewright::catalogue::Stage;
use canewright::finding::StageResult;

use super::{answered, close, losses, reeds, refused};

const HEAD: &str = "reed,gouge_center_mm,forming_days,rating,fate,spoiled_at,spoiled_by\n";

fn stage(stages: &[StageResult], wanted: Stage) -> &StageResult {
    stages.iter().find(|result| result.stage == wanted).unwrap_or_else(|| panic!("{wanted:?}"))
}

/// Finished reeds, then lines as they are given.
fn log(finished: usize, others: &[&str]) -> canewright::study::Study {
    let mut text = HEAD.to_owned();
    (0..finished).for_each(|reed| text += &format!("f{reed},1.27,10,8,in_use,,\n"));
    others.iter().enumerate().for_each(|(row, line)| text += &format!("o{row},{line}\n"));
    reeds(&text, "")
}

/// By the definition of Clopper & Pearson (1934): at the lower end 1 or more of 10 happens with a chance of 0.025, at the
/// upper end 1 or fewer of 10. 1 - 0.975^(1/10) = 0.0025; the upper end solves (1-p)^10 + 10 p (1-p)^9 = 0.025, p = 0.4450.
#[test]
fn one_of_ten_lost_lies_between_0_0025_and_0_4450() {
    let section = losses(&log(9, &["1.27,10,,spoiled,form,cracked"]));
    let form = stage(&section.stages, Stage::Form);
    assert_eq!((form.entered, form.lost, form.share), (10, 1, 0.1));
    close(form.low, 1.0 - 0.975f64.powf(0.1), 1e-9, "the lower end");
    let few = (1.0 - form.high).powi(10) + 10.0 * form.high * (1.0 - form.high).powi(9);
    close(few, 0.025, 1e-9, "the chance of 1 or fewer at the upper end");
    close(form.low, 0.0025, 5e-5, "the lower end");
    close(form.high, 0.4450, 5e-5, "the upper end");
}

/// With none lost of n, the upper end solves (1-p)^n = 0.025.
#[test]
fn none_lost_of_ten_may_still_be_three_in_ten() {
    let section = losses(&log(9, &["1.27,10,,spoiled,finish,warped"]));
    let form = stage(&section.stages, Stage::Form);
    assert_eq!((form.entered, form.lost, form.low), (10, 0, 0.0));
    close(form.high, 1.0 - 0.025f64.powf(0.1), 1e-9, "the upper end");
}

/// Ten pieces: one cut at the gouge, two cracked on the pin and one warped there, one leaked at binding.
#[test]
fn a_piece_lost_early_was_never_at_risk_later() {
    let section = losses(&log(
        5,
        &[
            "1.27,,,spoiled,gouge,cut",
            "1.27,10,,spoiled,form,cracked",
            "1.27,10,,spoiled,form,cracked",
            "1.27,10,,spoiled,form,warped",
            "1.27,10,,spoiled,bind,leaked",
        ],
    ));
    let counts = |wanted| {
        let result = stage(&section.stages, wanted);
        (result.entered, result.lost)
    };
    assert_eq!(counts(Stage::Cane), (10, 0));
    assert_eq!(counts(Stage::Gouge), (10, 1));
    assert_eq!(counts(Stage::Profile), (9, 0));
    assert_eq!(counts(Stage::Form), (9, 3));
    assert_eq!(counts(Stage::Bind), (6, 1));
    assert_eq!(counts(Stage::Finish), (5, 0));
    let by = &stage(&section.stages, Stage::Form).by;
    let reasons: Vec<(&str, usize)> = by.iter().map(|by| (by.reason.as_str(), by.n)).collect();
    assert_eq!(reasons, [("cracked", 2), ("warped", 1)]);
}

#[test]
fn an_unfinished_piece_counts_where_it_has_been_and_not_where_it_lies() {
    let lost = "1.27,10,,spoiled,form,cracked";
    // both came through the gouge; one lies on the pin, the other has no day on it yet
    let section = losses(&log(4, &[lost, "1.27,12,,unfinished,,", "1.27,,,unfinished,,"]));
    assert_eq!(stage(&section.stages, Stage::Cane).entered, 7);
    assert_eq!(stage(&section.stages, Stage::Gouge).entered, 6, "one lies at the gouge");
    assert_eq!(stage(&section.stages, Stage::Profile).entered, 6);
    assert_eq!(stage(&section.stages, Stage::Form).entered, 5, "one lies on the pin");
}

#[test]
fn a_reed_worn_out_lost_or_given_away_was_not_spoiled() {
    let fates = ["1.27,10,8,worn_out,,", "1.27,10,8,lost,,", "1.27,10,8,given_away,,"];
    let study = log(3, &fates);
    let section = losses(&study);
    assert!(section.stages.iter().all(|stage| stage.lost == 0));
    assert!(section.stages.iter().all(|stage| stage.entered == 6), "{:?}", section.stages);
    assert!(answered("losses", &study).answer.contains("None of the 6 pieces"));
}

#[test]
fn a_loss_without_its_stage_is_left_out_of_the_shares_and_said() {
    let study = log(5, &["1.27,10,,spoiled,form,cracked", "1.27,10,,spoiled,,"]);
    let finding = answered("losses", &study);
    assert_eq!(losses(&study).stages.iter().map(|stage| stage.lost).sum::<usize>(), 1);
    assert_eq!(finding.left_out.iter().map(|out| out.n).sum::<usize>(), 1);
    assert!(
        finding
            .caveats
            .iter()
            .any(|caveat| caveat.contains("1 of the 2 spoiled pieces has no stage in the log"))
    );
    assert!(finding.answer.starts_with("2 of 7 pieces were spoiled"), "{}", finding.answer);
}

#[test]
fn a_log_that_never_tells_a_fate_is_refused_and_told_which_column_it_takes() {
    let refusal = refused("losses", &reeds("reed,rating\n1,8\n2,9\n", ""));
    assert!(refusal.takes.contains("fate") && refusal.takes.contains("spoiled_at"));
}

#[test]
fn a_log_without_a_piece_is_refused() {
    let refusal = refused("losses", &reeds(HEAD, ""));
    assert_eq!(refusal.found, "The log holds no piece.");
}
