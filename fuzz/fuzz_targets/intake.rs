//! Any bytes as the files of a log. A line of `=====` begins the next file, so that a seed reads as what it is.
#![no_main]

mod desk;

use std::cell::OnceCell;

use libfuzzer_sys::fuzz_target;

const FILES: [&str; 6] =
    ["reeds.csv", "ratings.csv", "study.toml", "lots.csv", "profile.csv", "readings.csv"];
const NEXT: &[u8] = b"\n=====\n";

thread_local! {
    static DESK: OnceCell<desk::Desk> = const { OnceCell::new() };
}

fn parts(bytes: &[u8]) -> Vec<&[u8]> {
    let mut parts = Vec::new();
    let mut rest = bytes;
    while let Some(at) = rest.windows(NEXT.len()).position(|window| window == NEXT) {
        parts.push(&rest[..at]);
        rest = &rest[at + NEXT.len()..];
    }
    parts.push(rest);
    parts
}

fuzz_target!(|bytes: &[u8]| {
    let files: Vec<(&str, &[u8])> = FILES.into_iter().zip(parts(bytes)).collect();
    DESK.with(|desk| {
        let log = desk.get_or_init(desk::Desk::new).lay_out(&files);
        let _ = desk::read(log);
    });
});
