//! The whole review of a small log, from its files to its folder, and one more verb on the same log.
#![no_main]

mod desk;
#[path = "review/log.rs"]
mod log;

use std::cell::OnceCell;
use std::ffi::OsString;
use std::fs;
use std::path::Path;

use arbitrary::Arbitrary;
use libfuzzer_sys::fuzz_target;

#[derive(Debug, Arbitrary)]
struct Input {
    verb: u8,
    seed: u8,
    log: log::Log,
}

/// Verbs that the review does not ask, or asks otherwise.
const VERBS: [&[&str]; 10] = [
    &["lots", "--adjusted"],
    &["trial", "plan"],
    &["trial", "plan", "--looks", "2", "--spoiled", "worst-mark"],
    &["life", "--keep", "3"],
    &["factors", "--from", "2020-02-01"],
    &["drift", "--measure", "hardness", "--target", "12", "--sigma", "0.1", "--base", "3"],
    &["review", "--until", "2020-06-01", "--json"],
    &["handout", "--names"],
    &["check"],
    &["makers"],
];

thread_local! {
    static DESK: OnceCell<desk::Desk> = const { OnceCell::new() };
}

fn call(words: &[&str], log: &Path, more: &[OsString]) -> String {
    let program = ["canewright"].into_iter().chain(words.iter().copied()).map(OsString::from);
    let log = [log.into(), "--quiet".into()];
    let ended = canewright::cli::run(program.chain(log).chain(more.iter().cloned()));
    format!("{ended:?}")
}

/// What a page never says of a log that does not say it itself: a number that is none.
fn hold_no_nonsense(folder: &Path, files: &[(&str, &[u8])]) {
    let page = fs::read_to_string(folder.join("review.md")).expect("the page");
    let said = |bytes: &[u8]| {
        let text = String::from_utf8_lossy(bytes).to_lowercase();
        text.contains("nan") || text.contains("inf")
    };
    if !files.iter().any(|(_, bytes)| said(bytes)) {
        for word in ["NaN", " inf", "-inf ", "(inf"] {
            let is_word = |at: usize| !page[at + word.len()..].starts_with(char::is_alphabetic);
            let found = page.match_indices(word).find(|(at, _)| is_word(*at));
            assert!(found.is_none(), "{word} in {page}");
        }
    }
    let results = fs::read(folder.join("results.json")).expect("the results");
    assert!(results.starts_with(b"{") && results.trim_ascii_end().ends_with(b"}"));
}

fuzz_target!(|input: Input| {
    DESK.with(|desk| {
        let desk = desk.get_or_init(desk::Desk::new);
        let files = input.log.files();
        let files: Vec<(&str, &[u8])> =
            files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
        let log = desk.lay_out(&files);
        let out = desk.path("out");
        let _ = fs::remove_dir_all(&out);
        let seed = OsString::from(input.seed.to_string());
        let is_log = desk::read(log.clone()).is_ok();
        let more = ["--out".into(), out.clone().into(), "--seed".into(), seed.clone()];
        let ended = call(&["review"], &log, &more);
        assert_eq!(out.is_dir(), is_log, "a log that can be read has a review: {ended}");
        if is_log {
            hold_no_nonsense(&out, &files);
        }
        let verb = VERBS[usize::from(input.verb) % VERBS.len()];
        let more = ["--out".into(), desk.path("more").into(), "--seed".into(), seed];
        let _ = fs::remove_dir_all(desk.path("more"));
        call(verb, &log, &more);
    });
});
