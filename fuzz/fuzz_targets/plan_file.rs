//! Any text as a plan; one that is read is written, read again, and a trial is read by it.
#![no_main]

mod desk;

use std::cell::OnceCell;

use canewright::plan;
use canewright::questions::trial_read;
use canewright::report::{self, Look};
use canewright::study::Study;
use libfuzzer_sys::fuzz_target;

thread_local! {
    static STUDY: OnceCell<Study> = const { OnceCell::new() };
}

/// The log in which the trial of the seeds was entered.
fn log_of_the_trial() -> Study {
    let log = desk::Desk::new();
    let files: [(&str, &[u8]); 2] = [
        ("reeds.csv", include_bytes!("plan_file/reeds.csv")),
        ("study.toml", include_bytes!("plan_file/study.toml")),
    ];
    desk::read(log.lay_out(&files)).expect("a log").study
}

fuzz_target!(|text: &str| {
    let Ok(read) = plan::parse("plan.toml", text) else { return };
    let written = read.plan.to_toml();
    let again = plan::parse("plan.toml", &written).expect("what was written can be read");
    assert_eq!(again.plan.pieces, read.plan.pieces);
    assert_eq!(again.key_holds, read.key_holds);
    STUDY.with(|study| match trial_read::ask(study.get_or_init(log_of_the_trial), &read) {
        Ok(finding) => {
            assert!(!report::page(&finding, &Look::plain()).is_empty());
            assert!(!report::section_json(&finding.section).is_empty());
        }
        Err(refusal) => assert!(!refusal.to_string().is_empty()),
    });
});
