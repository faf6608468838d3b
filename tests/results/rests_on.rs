//! What each answer rests on, and that it comes to all pieces of the log.

use super::{LOGS, REVIEWS, list};

#[test]
fn each_answer_of_a_review_says_what_it_rests_on_and_a_refusal_does_not() {
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let told = list(&review.results, "rests_on");
        assert!(!told.is_empty(), "{log}");
        for one in told {
            let question = one["question"].as_str().expect("a name");
            let is_answered = question == "check" || review.results.get(question).is_some();
            assert!(is_answered, "{log}: {question}");
        }
        for refused in list(&review.results, "refusals") {
            assert!(told.iter().all(|one| one["question"] != refused["question"]), "{log}");
        }
    }
}

#[test]
fn what_an_answer_rests_on_and_what_it_left_out_come_to_all_pieces_started() {
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        for one in list(&review.results, "rests_on") {
            let used = one["used"].as_u64().expect("a count");
            let left_out = list(one, "left_out").iter().filter_map(|out| out["n"].as_u64());
            let all = review.results["log"]["pieces"].as_u64().expect("a count");
            assert_eq!(used + left_out.sum::<u64>(), all, "{log}: {one}");
        }
    }
}
