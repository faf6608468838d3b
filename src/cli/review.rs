//! `review`: every question of the registry, in one report folder.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};

use serde_json::Value;

use super::arguments::Asked;
use super::outcome::Outcome;
use super::progress::Steps;
use super::{reading, tell};
use crate::disk;
use crate::finding::{Finding, Handout, MadeBy, Results, Section};
use crate::intake::Reading;
use crate::problem::{Error, Refusal};
use crate::questions::handout::{self, Names};
use crate::questions::{self, Options, Question, REGISTRY};
use crate::report::{self, Look, Review};

/// Raised whenever a key of `results.json` changes its meaning or goes away.
const FORMAT: u32 = 1;
/// A question a processor is asked at once, because each leaves some idle now and then; of more pieces two, because each then holds much memory.
const MANY_PIECES: usize = 200_000;
const AT_ONCE_OF_MANY: usize = 2;
const DEFAULT_FOLDER: &str = "canewright_review";
/// Bytes; the results of a million pieces take less.
const MOST_OF_RESULTS: u64 = 256 << 20;

/// Reads, asks everything, and writes the folder.
///
/// # Errors
/// Where the log cannot be read or the folder cannot be written.
pub fn review(asked: &Asked, since: Option<&Path>, parquet: bool) -> Result<Outcome, Error> {
    // before anything is computed: a slip in the name should not cost a minute
    let earlier = since.map(earlier).transpose()?;
    let reading = reading::read(asked)?;
    if reading::stopped(asked, &reading) {
        return Ok(Outcome::Stopped);
    }
    let (findings, refusals) = ask_all(asked, &reading);
    let (mut results, handout) = rayon::join(
        || results(asked, &reading, &findings, &refusals),
        || handout_of(asked, &reading, &findings),
    );
    let Reading { study, problems } = reading;
    let set_aside = study.set_aside().to_vec();
    // the memory of a large log is given back beside the writing
    rayon::spawn(move || drop(study));
    results.in_short = questions::in_short(&findings);
    results.since = earlier.map(|earlier| questions::since(&results, &earlier));
    if asked.json {
        tell(&format!("{}\n", report::json(&results)))?;
    } else {
        let look = Look::of_standard_output();
        for finding in &findings {
            tell(&report::brief(finding, &look))?;
        }
        for refusal in &refusals {
            tell(&report::refusal_page(refusal, &look))?;
        }
        if let Some(since) = &results.since {
            tell(&report::since_page(since, &look))?;
        }
    }
    if !asked.json || asked.out.is_some() {
        let out = asked.out.clone().unwrap_or_else(|| PathBuf::from(DEFAULT_FOLDER));
        let review = Review {
            results: &results,
            findings: &findings,
            problems: &problems,
            set_aside: &set_aside,
            handout: handout.as_ref(),
            parquet,
        };
        report::write_folder(&review, &out)?;
        if !asked.json {
            tell(&format!("The review is in {}\n", out.join("review.html").display()))?;
        }
    }
    // nobody waits for the memory of large results either
    rayon::spawn(move || drop((findings, results)));
    Ok(Outcome::of(&problems))
}

/// The results of an earlier review.
fn earlier(named: &Path) -> Result<Value, Error> {
    let path = if named.is_dir() { named.join("results.json") } else { named.to_path_buf() };
    let text = disk::read(&path, MOST_OF_RESULTS)?;
    let found: Option<Value> = serde_json::from_slice(&text).ok();
    let is_ours = |found: &Value| {
        found.pointer("/made_by/name").is_some_and(|name| *name == made_by().name.as_str())
            && found.get("format").is_some_and(|format| *format == FORMAT)
    };
    found.filter(is_ours).ok_or_else(|| {
        Error::Call(format!(
            "“{}” holds no results of an earlier review that this version can read. Name the folder of one, as in `--since last_review`.",
            path.display()
        ))
    })
}

fn ask_all(asked: &Asked, reading: &Reading) -> (Vec<Finding>, Vec<Refusal>) {
    let options = Options { seed: asked.seed, ..Options::default() };
    let questions: Vec<&Question> =
        REGISTRY.iter().filter(|question| (question.asked_of)(&reading.study)).collect();
    let steps = Steps::of(questions.len(), asked.quiet);
    let ask = |question: &&Question| {
        steps.during(question.asked, || (question.ask)(&reading.study, &options))
    };
    questions::prepare(&reading.study);
    let is_of_many = reading.study.pieces() > MANY_PIECES;
    let at_once = if is_of_many { AT_ONCE_OF_MANY } else { rayon::current_num_threads() };
    let (mut findings, mut refusals) = (Vec::new(), Vec::new());
    for answer in in_turn(&questions, at_once, ask) {
        match answer {
            Ok(finding) => findings.push(finding),
            Err(refusal) => refusals.push(refusal),
        }
    }
    findings.push(questions::check::ask(&reading.study, &reading.problems));
    (findings, refusals)
}

/// The answers in the order of the questions, of which so many are asked at once; whoever is done takes the next. None is waiting to be taken up beneath another.
fn in_turn<Asked: Sync, Answer: Send + Sync>(
    questions: &[Asked],
    at_once: usize,
    ask: impl Fn(&Asked) -> Answer + Sync,
) -> Vec<Answer> {
    let next = AtomicUsize::new(0);
    let answers: Vec<OnceLock<Answer>> = questions.iter().map(|_| OnceLock::new()).collect();
    let take = || {
        let take_one = || {
            let number = next.fetch_add(1, Ordering::Relaxed);
            questions.get(number).zip(answers.get(number))
        };
        while let Some((question, answer)) = take_one() {
            answer.get_or_init(|| ask(question));
        }
    };
    rayon::scope(|scope| (0..at_once.max(1)).for_each(|_| scope.spawn(|_| take())));
    answers.into_iter().filter_map(OnceLock::into_inner).collect()
}

/// The page for a studio; where there is none, `decide` has said why.
fn handout_of(asked: &Asked, reading: &Reading, findings: &[Finding]) -> Option<Handout> {
    let decided = findings.iter().find(|finding| matches!(finding.section, Section::Decide(_)))?;
    handout::of(&reading.study, decided, asked.seed, Names::LeftOut).ok()
}

/// Writes the report folder of one question.
///
/// # Errors
/// Where the folder cannot be written, or holds something that is no earlier review.
pub fn write(
    asked: &Asked,
    reading: &Reading,
    findings: &[Finding],
    refusals: &[Refusal],
    out: &Path,
) -> Result<(), Error> {
    let results = results(asked, reading, findings, refusals);
    let review = Review {
        handout: None,
        parquet: false,
        results: &results,
        findings,
        problems: &reading.problems,
        set_aside: reading.study.set_aside(),
    };
    report::write_folder(&review, out).map(|_| ())
}

pub fn made_by() -> MadeBy {
    MadeBy {
        name: env!("CARGO_PKG_NAME").to_owned(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
    }
}

/// Everything that goes to `results.json`.
pub fn results(
    asked: &Asked,
    reading: &Reading,
    findings: &[Finding],
    refusals: &[Refusal],
) -> Results {
    let mut results = Results {
        format: FORMAT,
        made_by: made_by(),
        seed: asked.seed,
        log: questions::log_summary(&reading.study),
        settings: questions::settings_shown(&reading.study),
        problems: questions::problems_shown(&reading.problems),
        refusals: refusals.to_vec(),
        rests_on: questions::rests_on(findings),
        in_short: Vec::new(),
        since: None,
        factors: None,
        lots: None,
        decide: None,
        losses: None,
        life: None,
        trust: None,
        drift: None,
        families: None,
        blanks: None,
        blanks_foretold: None,
        sort: None,
        makers: None,
        trial_plan: None,
        trial_read: None,
    };
    for finding in findings {
        match finding.section.clone() {
            Section::Factors(section) => results.factors = Some(section),
            Section::Lots(section) => results.lots = Some(section),
            Section::Decide(section) => results.decide = Some(section),
            Section::Losses(section) => results.losses = Some(section),
            Section::Life(section) => results.life = Some(section),
            Section::Trust(section) => results.trust = Some(section),
            Section::Drift(section) => results.drift = Some(section),
            Section::Families(section) => results.families = Some(section),
            Section::Blanks(section, foretold) => {
                results.blanks = Some(section);
                results.blanks_foretold = foretold;
            }
            Section::Sort(section) => results.sort = Some(section),
            Section::Makers(section) => results.makers = Some(section),
            Section::TrialRead(section) => results.trial_read = Some(section),
            Section::TrialPlan(section) => results.trial_plan = Some(section),
            // the sums of a table that is not here are part of no review
            Section::Products(_) | Section::Check => {}
        }
    }
    results
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_are_asked_once_and_answered_in_their_order_however_many_are_asked_at_once() {
        let numbers: Vec<usize> = (0..40).collect();
        for at_once in [0, 1, 2, 7, 100] {
            let asked: Vec<AtomicUsize> = numbers.iter().map(|_| AtomicUsize::new(0)).collect();
            let answers = in_turn(&numbers, at_once, |number| {
                asked[*number].fetch_add(1, Ordering::Relaxed);
                number * number
            });
            assert!(asked.iter().all(|times| times.load(Ordering::Relaxed) == 1));
            assert_eq!(answers, numbers.iter().map(|number| number * number).collect::<Vec<_>>());
        }
    }

    #[test]
    fn no_more_are_asked_at_once_than_may_be() {
        let (now, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
        in_turn(&[(); 30], 2, |()| {
            most.fetch_max(now.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
            std::thread::sleep(std::time::Duration::from_millis(1));
            now.fetch_sub(1, Ordering::SeqCst);
        });
        assert!((1..=2).contains(&most.load(Ordering::SeqCst)));
    }
}
