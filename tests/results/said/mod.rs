//! Every number in a sentence is the number of the results, rounded to the digits that are shown.

mod declared;
mod held;
mod numbers;
mod page;
mod trials;

use canewright::questions::REGISTRY;
use serde_json::Value;

use super::{LOGS, REVIEWS, Review, TWO_MAKERS, list, review};
use held::{Scope, with_sentences};
use numbers::{Printed, Said, numbers};

/// A number of a sentence that no key of the results holds.
#[derive(Clone)]
struct Missing {
    sentence: String,
    number: String,
}

/// What a sentence says that its scope does not hold.
fn missing(sentence: &str, scope: &Scope) -> Vec<Missing> {
    let plain = scope.without_names(&declared::without(sentence));
    let unheld = numbers(&plain).into_iter().filter(|said| !scope.holds(said));
    unheld
        .map(|said| Missing { sentence: sentence.to_owned(), number: shown(&plain, &said) })
        .collect()
}

fn shown(sentence: &str, said: &Said) -> String {
    let parts = said.parts();
    // a number has one part at least
    sentence[parts[0].at.start..parts[parts.len() - 1].at.end].to_owned()
}

/// What a sentence of the results stands beside: the whole section for the answer, else its own object, for a chart with what was found of its measure.
fn beside<'a>(section: &'a Value, object: &'a Value) -> Scope<'a> {
    if std::ptr::eq(section, object) {
        return Scope::whole(section);
    }
    let measures = section["measures"].as_array().into_iter().flatten();
    let same =
        |measure: &&Value| !measure["measure"].is_null() && measure["measure"] == object["measure"];
    measures.filter(same).fold(Scope::own(object), |scope, measure| scope.and(measure))
}

/// A section with what holds for all: the log in numbers and the settings.
fn common<'a>(scope: Scope<'a>, results: &'a Value) -> Scope<'a> {
    let counts = ["pieces", "reeds", "ratings", "lots", "first_day", "last_day"]
        .map(|key| &results["log"][key]);
    counts.into_iter().fold(scope.and(&results["settings"]), Scope::and)
}

fn complaint(log: &str, found: &[Missing]) -> String {
    let lines: Vec<String> =
        found.iter().map(|one| format!("  {}\n      in: {}", one.number, one.sentence)).collect();
    format!(
        "{log}: {} numbers of sentences are not in the results\n{}",
        found.len(),
        lines.join("\n")
    )
}

/// What the sentences of the results say beside their own numbers.
fn of_results(results: &Value) -> Vec<Missing> {
    let sections = REGISTRY.iter().filter_map(|question| results.get(question.name));
    let told = sections.flat_map(|section| {
        with_sentences(section).into_iter().flat_map(move |(sentence, object)| {
            missing(sentence, &common(beside(section, object), results))
        })
    });
    told.collect()
}

/// What the paragraphs of a page say beside their section of the results.
fn of_page(review: &Review) -> Vec<Missing> {
    let sections = page::sections(&review.text("review.html"));
    let told = sections.iter().flat_map(|told| {
        told.sentences.iter().flat_map(|sentence| of_section(sentence, &told.question, review))
    });
    told.collect()
}

#[test]
fn each_sentence_of_the_results_says_the_numbers_that_stand_beside_it() {
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let found = of_results(&review.results);
        assert!(found.is_empty(), "{}", complaint(log, &found));
    }
}

#[test]
fn each_sentence_of_a_page_says_numbers_of_its_section_of_the_results() {
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let found = of_page(review);
        assert!(found.is_empty(), "{}", complaint(log, &found));
    }
}

#[test]
fn a_review_of_two_makers_says_the_numbers_of_its_results() {
    assert!(list(&TWO_MAKERS.results["makers"], "list").len() == 2);
    let found = [of_results(&TWO_MAKERS.results), of_page(&TWO_MAKERS)].concat();
    assert!(found.is_empty(), "{}", complaint("two makers", &found));
}

/// What a paragraph of a section says: the sentences in it that stand in the results too were looked at beside their own numbers.
fn of_section(paragraph: &str, question: &str, review: &Review) -> Vec<Missing> {
    let results = &review.results;
    if ["check", "log"].contains(&question) {
        let read = Scope::whole(&results["log"]).counting_problems(list(results, "problems"));
        return missing(paragraph, &common(read, results));
    }
    let Some(section) = results.get(question) else { return Vec::new() };
    let rests_on = list(results, "rests_on").iter().find(|one| one["question"] == question);
    let told = with_sentences(section).into_iter().map(|(sentence, _)| sentence);
    let rest = told.fold(paragraph.to_owned(), |text, sentence| text.replace(sentence, " "));
    let scope = Scope::whole(section).and(&results[&format!("{question}_foretold")]);
    let scope = ["list", "factors", "hazards"]
        .iter()
        .fold(scope, |scope, key| scope.counting(&section[*key]));
    missing(&rest, &common(scope.and(rests_on.unwrap_or(&Value::Null)), results))
}

/// A number of a sentence is changed in its last figure, and the sentence is looked at again.
fn changed(sentence: &str, part: &Printed) -> String {
    let number = &sentence[part.at.clone()];
    let Some(last) = number.rfind(|sign: char| sign.is_ascii_digit()) else {
        // a count in words
        let other = if part.value == 7.0 { "eleven" } else { "seven" };
        return [&sentence[..part.at.start], other, &sentence[part.at.end..]].concat();
    };
    let figure =
        number[last..].chars().next().and_then(|sign| sign.to_digit(10)).expect("a figure");
    let other = ((figure + 3) % 10).to_string();
    let at = part.at.start + last;
    [&sentence[..at], &other, &sentence[at + 1..]].concat()
}

/// How many numbers a sentence tells, those of intervals or the single ones, and of how many a change is seen.
fn seen(sentence: &str, scope: &Scope, of_intervals: bool) -> (usize, usize) {
    let plain = scope.without_names(&declared::without(sentence));
    let said = numbers(&plain);
    let wanted = said.iter().filter(|said| matches!(said, Said::Interval(_)) == of_intervals);
    let parts = wanted.flat_map(Said::parts);
    let is_seen = |part: &&Printed| !missing(&changed(&plain, part), scope).is_empty();
    (parts.clone().count(), parts.filter(is_seen).count())
}

/// Of all sentences that stand beside their numbers in the demo: the numbers, and the changes that are seen.
fn changes_seen(of_intervals: bool) -> (usize, usize) {
    let results = &review("datasets/demo").results;
    let sections = REGISTRY.iter().filter_map(|question| results.get(question.name));
    let told = sections.flat_map(|section| {
        with_sentences(section).into_iter().map(move |(sentence, object)| {
            seen(sentence, &common(beside(section, object), results), of_intervals)
        })
    });
    told.fold((0, 0), |all, one| (all.0 + one.0, all.1 + one.1))
}

#[test]
fn an_interval_is_found_out_when_one_figure_of_it_is_changed() {
    let (all, found) = changes_seen(true);
    assert!(all > 300, "{all} numbers stand in intervals");
    assert!(found as f64 > 0.97 * all as f64, "of {all} changes {found} were seen");
}

/// A count may happen to be another count of the same section, so that not every change can be seen.
#[test]
fn a_single_number_is_mostly_found_out_when_one_figure_of_it_is_changed() {
    let (all, found) = changes_seen(false);
    assert!(all > 300, "{all} numbers stand alone");
    assert!(found as f64 > 0.6 * all as f64, "of {all} changes {found} were seen");
}

#[test]
fn an_interval_whose_ends_are_those_of_another_result_is_seen() {
    let results = &review("datasets/demo").results;
    let factors = list(&results["factors"], "list");
    let told = |at: usize| factors[at]["sentence"].as_str().expect("a sentence");
    for (at, other) in [(0, 1), (1, 0), (2, 3)] {
        let scope = common(Scope::own(&factors[at]), results);
        assert!(missing(told(at), &scope).is_empty());
        assert!(!missing(told(other), &scope).is_empty(), "{}", told(other));
    }
}

#[test]
fn the_same_sentences_stand_on_the_page_in_the_markdown_and_in_the_terminal() {
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let (html, markdown) =
            (review.text("review.html"), page::read_markdown(&review.text("review.md")));
        let terminal = page::unwrapped(&review.told);
        for told in page::sections(&html) {
            for sentence in &told.sentences {
                assert!(markdown.contains(sentence), "{log}, {}: {sentence}", told.question);
            }
        }
        for answer in page::answers(&html) {
            let answer = page::unwrapped(&answer);
            assert!(terminal.contains(&answer), "{log}: {answer}\n{terminal}");
        }
    }
}

#[test]
fn the_page_for_a_studio_says_numbers_of_the_decision() {
    for log in ["datasets/demo", "tests/results/twelve"] {
        let results = &review(log).results;
        let scope = || common(Scope::whole(&results["decide"][0]), results);
        let sentences = page::paragraphs(&review(log).text("handout.html"));
        assert!(sentences.len() > 10, "{sentences:?}");
        let found: Vec<Missing> =
            sentences.iter().flat_map(|sentence| missing(sentence, &scope())).collect();
        assert!(found.is_empty(), "{}", complaint(log, &found));
    }
}

#[test]
fn what_has_changed_since_says_numbers_of_its_section() {
    let folder = tempfile::tempdir().expect("a folder for the reviews");
    let log = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/results/twelve");
    let call = |more: &[&str]| {
        let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
        command.current_dir(folder.path()).arg("review").arg(&log).arg("--quiet").args(more);
        command.output().expect("the program can be called").stdout
    };
    call(&["--until", "2024-04-10", "--out", "earlier"]);
    let printed = call(&["--since", "earlier", "--json"]);
    let results: Value = serde_json::from_slice(&printed).expect("JSON");
    let sentences = list(&results["since"], "sentences");
    assert!(sentences.len() > 1, "{sentences:?}");
    for sentence in sentences.iter().filter_map(Value::as_str) {
        let found = missing(sentence, &common(Scope::whole(&results["since"]), &results));
        assert!(found.is_empty(), "{}", complaint("since", &found));
    }
}

#[test]
fn what_a_review_opens_with_is_said_word_for_word_by_the_question_it_comes_from() {
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let sections = page::sections(&review.text("review.html"));
        for one in list(&review.results, "in_short") {
            let sentence = one["sentence"].as_str().expect("a sentence");
            let told = sections.iter().find(|told| one["question"] == told.question.as_str());
            let said = told.map(|told| &told.sentences).into_iter().flatten();
            assert!(said.clone().any(|said| said.contains(sentence)), "{log}: {sentence}");
        }
    }
}

#[test]
fn the_page_of_each_question_in_a_terminal_says_what_the_review_says() {
    let log = "tests/results/twelve";
    for told in page::sections(&review(log).text("review.html")) {
        if !REGISTRY.iter().any(|question| question.name == told.question) {
            continue;
        }
        let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(log);
        let output = command.arg(&told.question).arg(path).arg("--quiet").output();
        let page = String::from_utf8(output.expect("the program can be called").stdout);
        let page = page::unwrapped(&page.expect("the program prints UTF-8"));
        // how to read a picture, and what it shows, stand on pages with pictures alone
        let sentences =
            told.sentences.iter().filter(|sentence| !told.of_pictures.contains(sentence));
        for sentence in sentences {
            let sentence = page::unwrapped(sentence);
            assert!(page.contains(&sentence), "{}: {sentence}\n{page}", told.question);
        }
    }
}
