//! Questions that are asked at the same time share what is found once.

use std::path::PathBuf;
use std::sync::mpsc::channel;
use std::thread;
use std::time::Duration;

use canewright::intake::{ReadOptions, read};
use rayon::prelude::*;

/// A thread that waits for polars takes up another task, and that may ask for the very rows that it is about to find.
#[test]
fn many_that_ask_for_the_ratings_at_once_on_two_threads_all_get_them() {
    const FRESH_STUDIES: usize = 60;
    const ASKING: usize = 16;
    let log = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("datasets/demo");
    let study = read(&[log], &ReadOptions::default()).expect("the demo").study;
    let all = study.rating_rows().score.len();
    let (done, ended) = channel();
    thread::spawn(move || {
        let two = rayon::ThreadPoolBuilder::new().num_threads(2).build().expect("two threads");
        for _ in 0..FRESH_STUDIES {
            let fresh = study.judged_by(study.settings().clone());
            let got: Vec<usize> = two.install(|| {
                let asking = (0..ASKING).into_par_iter();
                asking.map(|_| fresh.rating_rows().score.len()).collect()
            });
            assert_eq!(got, [all; ASKING]);
        }
        done.send(()).expect("somebody waits");
    });
    ended.recv_timeout(Duration::from_secs(60)).expect("they wait for each other");
}
