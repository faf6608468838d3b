//! From a world to the answers, the way that a maker's log goes: files, reader, question.

use std::any::Any;
use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use canewright::demo::Workshop;
use canewright::demo::worlds::{Drawn, World, scenarios};
use canewright::finding::{
    DecisionResult, FactorResult, FactorsSection, Finding, LossesSection, LotsSection, Section,
};
use canewright::intake::{ReadOptions, read};
use canewright::problem::Refusal;
use canewright::questions::{Options, find};
use canewright::study::Study;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

/// One log of a world, with one answer.
pub struct Log<Answer> {
    pub world: World,
    pub drawn: Drawn,
    pub answer: Answer,
}

type Shared = Arc<dyn Any + Send + Sync>;
pub type Key = (&'static str, &'static str, u64);

/// Replicates of the same number have the same seed in every claim, so that claims about one world share its logs.
static KEPT: Mutex<Option<HashMap<Key, Shared>>> = Mutex::new(None);

/// The log of this replicate and what `factors` says of it; none where it was refused.
pub fn factors(
    scenario: &'static str,
    generator: &mut ChaCha12Rng,
) -> Option<Arc<Log<FactorsSection>>> {
    let (world, seed) = (world(scenario), generator.random());
    kept(("factors", scenario, seed), || {
        let (drawn, study) = drawn_and_read(&world, seed);
        match ask("factors", &study).ok()?.section {
            Section::Factors(answer) => Some(Log { world, drawn, answer }),
            _ => None,
        }
    })
}

/// The log of this replicate and what `lots` says of it; none where it was refused.
pub fn lots(scenario: &'static str, generator: &mut ChaCha12Rng) -> Option<Arc<Log<LotsSection>>> {
    let (world, seed) = (world(scenario), generator.random());
    kept(("lots", scenario, seed), || {
        let (drawn, study) = drawn_and_read(&world, seed);
        match ask("lots", &study).ok()?.section {
            Section::Lots(answer) => Some(Log { world, drawn, answer }),
            _ => None,
        }
    })
}

/// The log of this replicate and what `losses` says of it; none where it was refused.
pub fn losses(
    scenario: &'static str,
    generator: &mut ChaCha12Rng,
) -> Option<Arc<Log<LossesSection>>> {
    let (world, seed) = (world(scenario), generator.random());
    kept(("losses", scenario, seed), || {
        let (drawn, study) = drawn_and_read(&world, seed);
        match ask("losses", &study).ok()?.section {
            Section::Losses(answer) => Some(Log { world, drawn, answer }),
            _ => None,
        }
    })
}

/// The log of this replicate and what `decide` says of this practice; none where it was refused.
pub fn decision(
    scenario: &'static str,
    practice: &str,
    generator: &mut ChaCha12Rng,
) -> Option<Arc<Log<DecisionResult>>> {
    let (world, seed) = (world(scenario), generator.random());
    kept(("decide", scenario, seed), || {
        let (drawn, study) = drawn_and_read(&world, seed);
        let options = Options { factor: Some(practice.to_owned()), ..Options::default() };
        let finding = (find("decide").expect("in the registry").ask)(&study, &options).ok()?;
        match finding.section {
            Section::Decide(answers) => {
                answers.into_iter().next().map(|answer| Log { world, drawn, answer })
            }
            _ => None,
        }
    })
}

/// What every one of these questions says of this replicate's log.
pub fn all(
    scenario: &str,
    generator: &mut ChaCha12Rng,
    questions: &[&str],
) -> Vec<Result<Finding, Refusal>> {
    let (world, seed) = (world(scenario), generator.random());
    alone(|| {
        let (_, study) = drawn_and_read(&world, seed);
        questions.iter().map(|question| ask(question, &study)).collect()
    })
}

/// One answer a log and seed, made once for all claims about it.
pub fn kept<Answer: Send + Sync + 'static>(
    key: Key,
    make: impl FnOnce() -> Option<Log<Answer>> + Send,
) -> Option<Arc<Log<Answer>>> {
    let known = KEPT
        .lock()
        .expect("no claim fails under the lock")
        .as_ref()
        .and_then(|kept| kept.get(&key).cloned());
    if let Some(known) = known {
        return known.downcast().ok();
    }
    let made = Arc::new(alone(make)?);
    KEPT.lock()
        .expect("no claim fails under the lock")
        .get_or_insert_default()
        .insert(key, made.clone());
    Some(made)
}

/// Runs the work on a thread of its own, with a pool of that thread alone.
///
/// A worker of the shared pool that waits for a part of its log would take up the next log meanwhile, and another within that, until its stack is full.
pub fn alone<Output: Send>(work: impl FnOnce() -> Output + Send) -> Output {
    let pool = || rayon::ThreadPoolBuilder::new().num_threads(1).build();
    std::thread::scope(|scope| {
        let run = || pool().expect("one thread can be had").install(work);
        scope.spawn(run).join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    })
}

fn world(scenario: &str) -> World {
    (scenarios::find(scenario).unwrap_or_else(|| panic!("no world {scenario}")).world)()
}

fn drawn_and_read(world: &World, seed: u64) -> (Drawn, Study) {
    let drawn = world.draw(seed);
    let study = studied(&drawn.files);
    (drawn, study)
}

/// The log as the reader takes it.
pub fn studied(files: &Workshop) -> Study {
    let folder = tempfile::tempdir().expect("a folder for the test");
    files.write(folder.path()).expect("the folder can be written to");
    let reading = read(&[folder.path().to_path_buf()], &ReadOptions::default());
    reading.unwrap_or_else(|why| panic!("the log can be read: {why}")).study
}

pub fn ask(question: &str, study: &Study) -> Result<Finding, Refusal> {
    (find(question).expect("in the registry").ask)(study, &Options::default())
}

impl Log<FactorsSection> {
    /// What is said of a factor that is a number.
    pub fn factor(&self, name: &str) -> Option<&FactorResult> {
        self.answer.list.iter().find(|result| result.factor == name)
    }
}
