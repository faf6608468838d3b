//! The command line: each verb reads, asks and tells.

mod arguments;
mod drift;
mod explain;
mod folder;
mod handout;
mod interruption;
mod manual;
mod outcome;
mod products;
mod progress;
mod reading;
mod review;
mod start;
mod trial;
mod trial_read;

use std::ffi::OsString;
use std::io::{ErrorKind, Write};
use std::path::Path;
use std::process::ExitCode;

use clap::Parser;

use crate::finding::Finding;
use crate::intake::Reading;
use crate::problem::{Error, Refusal};
use crate::questions::handout::Names;
use crate::questions::{self, Options};
use crate::report::{self, Look};
use crate::{demo, words};

use arguments::{Arguments, Asked, Trial, Verb};
use outcome::Outcome;

pub use interruption::end_tidily;

/// Carries out one call and says how it ended: 0 done, 1 done with errors in cells or rows, 2 not done.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(told) => {
            // --help and --version are answers, not faults; a closed pipe is nobody's fault
            let _ = told.print();
            return ExitCode::from(if told.use_stderr() { 2 } else { 0 });
        }
    };
    match carry_out(arguments.verb) {
        Ok(outcome) => outcome.into(),
        Err(error) => {
            let told = words::labels::plain(&error.to_string());
            let _ = writeln!(std::io::stderr(), "canewright: {told}");
            ExitCode::from(2)
        }
    }
}

fn carry_out(verb: Verb) -> Result<Outcome, Error> {
    match verb {
        Verb::Start { dir } => start::lay_out(&dir).and_then(|page| tell(&page)),
        Verb::Demo { dir, seed, messy } => write_demo(&dir, seed, messy),
        Verb::Completions { shell } => tell(&manual::completions(shell)),
        Verb::Manual { dir } => manual::write(&dir).and_then(|page| tell(&page)),
        Verb::Schema => tell(&format!("{}\n", report::schema())),
        Verb::Check { explain: Some(code), .. } => {
            explain::rule(&code).and_then(|page| tell(&page))
        }
        Verb::Check { asked: Some(asked), .. } => check(&asked),
        // clap asks for a log unless a rule is to be explained
        Verb::Check { asked: None, explain: None } => {
            Err(Error::Call("Name the log to check.".to_owned()))
        }
        Verb::Review { asked, since, parquet } => review::review(&asked, since.as_deref(), parquet),
        Verb::Factors { asked, products: Some(file) } => products::factors(&asked, &file),
        Verb::Factors { asked, products: None } => question("factors", &asked, told(&asked)),
        Verb::Products(call) => products::products(&call),
        Verb::Lots { asked, adjusted } => {
            question("lots", &asked, Options { adjusted, ..told(&asked) })
        }
        Verb::Handout { mut asked, names } => {
            let factor = factor_behind(&mut asked);
            let names = if names { Names::Told } else { Names::LeftOut };
            handout::handout(&asked, &Options { factor, ..told(&asked) }, names)
        }
        Verb::Decide(asked) => about("decide", asked),
        Verb::Sort(asked) => about("sort", asked),
        Verb::Losses(asked) => question("losses", &asked, told(&asked)),
        Verb::Life { asked, keep } => {
            let keep = keep.map(usize::from);
            question("life", &asked, Options { keep, ..told(&asked) })
        }
        Verb::Trust(asked) => question("trust", &asked, told(&asked)),
        Verb::Drift(call) => drift::drift(&call),
        Verb::Trial { what: Trial::Plan(call) } => trial::plan(&call),
        Verb::Trial { what: Trial::Read { asked, plan } } => trial_read::read(&asked, &plan),
        Verb::Families(asked) => question("families", &asked, told(&asked)),
        Verb::Blanks(asked) => question("blanks", &asked, told(&asked)),
        Verb::Makers(asked) => question("makers", &asked, told(&asked)),
    }
}

/// Of two words or more behind a verb that takes a factor, the last one is the factor.
fn factor_behind(asked: &mut Asked) -> Option<String> {
    let last = if asked.logs.len() > 1 { asked.logs.pop() } else { None };
    last.map(|word| word.to_string_lossy().into_owned())
}

/// One question about a factor.
fn about(name: &'static str, mut asked: Asked) -> Result<Outcome, Error> {
    let factor = factor_behind(&mut asked);
    question(name, &asked, Options { factor, ..told(&asked) })
}

/// What every question is told.
fn told(asked: &Asked) -> Options {
    Options { seed: asked.seed, ..Options::default() }
}

/// Prints a page. A reader that closed the pipe has read enough; a disk that is full has not kept what was asked for.
///
/// # Errors
/// Where standard output leads to a file that cannot be written.
fn tell(page: &str) -> Result<Outcome, Error> {
    let mut output = std::io::stdout().lock();
    match output.write_all(page.as_bytes()).and_then(|()| output.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(Error::writing(Path::new("standard output"), error))
        }
        _ => Ok(Outcome::Done),
    }
}

fn write_demo(dir: &Path, seed: u64, messy: bool) -> Result<Outcome, Error> {
    let log = if messy { demo::messy(seed) } else { demo::workshop(seed) };
    folder::fill_new(dir, log.files.iter().map(|file| (file.name, file.contents.as_slice())))?;
    tell(&format!(
        "The invented demo log (seed {seed}) is in {0}. Try: canewright review {0}\n",
        dir.display()
    ))
}

/// What was understood of the log, and every problem.
fn check(asked: &Asked) -> Result<Outcome, Error> {
    let reading = reading::read(asked)?;
    let finding = questions::check::ask(&reading.study, &reading.problems);
    let look = Look::of_standard_output();
    if asked.json {
        let results = review::results(asked, &reading, &[], &[]);
        tell(&format!("{}\n", report::json(&results)))?;
    } else {
        // what is wrong stands above the long list of columns
        tell(&report::sentences(&finding, &look))?;
        tell(&report::problems_page(&reading.problems, &look))?;
        tell(&report::tables(&finding, &look))?;
    }
    if let Some(out) = &asked.out {
        review::write(asked, &reading, &[finding], &[], out)?;
    }
    if asked.strict && reading.has_errors() {
        return Ok(Outcome::Stopped);
    }
    Ok(Outcome::of(&reading.problems))
}

/// One question alone: a page, or its section of the results.
fn question(name: &'static str, asked: &Asked, options: Options) -> Result<Outcome, Error> {
    let reading = reading::read(asked)?;
    if reading::stopped(asked, &reading) {
        return Ok(Outcome::Stopped);
    }
    // every verb that comes here is a question of the registry; a test holds the two together
    let question = questions::find(name)
        .ok_or_else(|| Error::Call(format!("There is no question “{name}”.")))?;
    let answer =
        progress::during("asking", asked.quiet, || (question.ask)(&reading.study, &options));
    let is_refused = answer.is_err();
    let outcome = answered(asked, &reading, answer)?;
    let is_misnamed = is_refused && is_misnamed(&reading, options.factor.as_deref());
    Ok(if is_misnamed { Outcome::Stopped } else { outcome })
}

/// Whether a factor was named that the log does not have: then nothing was done that was asked for.
fn is_misnamed(reading: &Reading, factor: Option<&str>) -> bool {
    let study = &reading.study;
    let is_known =
        |name: &str| study.factor_called(name).is_some() || name == study.outcome().criterion;
    factor.is_some_and(|name| !is_known(name))
}

/// Tells an answer or a refusal, and writes the report folder where one was asked for.
fn answered(
    asked: &Asked,
    reading: &Reading,
    answer: Result<Finding, Refusal>,
) -> Result<Outcome, Error> {
    let look = Look::of_standard_output();
    let (findings, refusals) = match answer {
        Ok(finding) => (vec![finding], Vec::new()),
        Err(refusal) => (Vec::new(), vec![refusal]),
    };
    for finding in &findings {
        tell(&if asked.json {
            format!("{}\n", report::section_json(&finding.section))
        } else {
            report::page(finding, &look)
        })?;
    }
    for refusal in &refusals {
        tell(&if asked.json {
            format!("{}\n", report::json(&review::results(asked, reading, &[], &refusals)))
        } else {
            report::refusal_page(refusal, &look)
        })?;
    }
    if let Some(out) = &asked.out {
        review::write(asked, reading, &findings, &refusals, out)?;
    }
    Ok(Outcome::of(&reading.problems))
}
