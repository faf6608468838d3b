//! The verbs and their options, as clap reads them.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

/// Reads a bassoon reed maker's log and says what went with good reeds, which cane lots played well and where pieces are lost.
#[derive(Debug, Parser)]
#[command(name = "canewright", version, max_term_width = 100)]
#[command(
    after_help = "A LOG is a folder of CSV files, or one CSV file. Begin with: canewright start my_log\n\
                        Exit status: 0 done, 1 done with errors in cells or rows, 2 not done."
)]
pub struct Arguments {
    #[command(subcommand)]
    pub verb: Verb,
}

#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Lay out an empty log: headers, a commented study file, a one-page how-to
    Start {
        /// The folder to make; it must not exist yet or be empty
        dir: PathBuf,
    },
    /// Is the log sound: what was understood, what was set aside
    Check {
        #[command(flatten)]
        asked: Option<Asked>,
        /// Tell what one rule does, why it matters and what to do, by its code
        #[arg(long, value_name = "CODE", exclusive = true)]
        explain: Option<String>,
    },
    /// The quarterly review: every question below in one report folder
    Review(Asked),
    /// Which factors predict a good reed
    Factors(Asked),
    /// Which cane lots played well
    Lots {
        #[command(flatten)]
        asked: Asked,
        /// Show each lot's mean with the making taken out too: gouge, shape, profile, forming and what follows
        #[arg(long)]
        adjusted: bool,
    },
    /// Where pieces are lost
    Losses(Asked),
    /// What kinds of reeds there are
    Families(Asked),
    /// A trial: what it said
    #[command(subcommand)]
    Trial(TrialVerb),
    /// Write the invented demo workshop's log
    Demo {
        /// The folder to make; it must not exist yet or be empty
        dir: PathBuf,
        /// Another seed is another workshop
        #[arg(long, default_value_t = crate::demo::DEFAULT_SEED)]
        seed: u64,
        /// Write the same log as a messy spreadsheet would
        #[arg(long)]
        messy: bool,
    },
    /// Print the JSON Schema of results.json
    Schema,
}

/// What may be done with a trial.
#[derive(Debug, Subcommand)]
pub enum TrialVerb {
    /// Read a trial by its plan: what each arm changed, and whether the plan was kept
    #[command(override_usage = "canewright trial read [OPTIONS] <LOG>... <PLAN>")]
    Read {
        #[command(flatten)]
        asked: Asked,
        /// The plan file, after the logs
        #[arg(value_name = "PLAN", required = true)]
        plan: PathBuf,
    },
}

/// What every question may be told.
#[derive(Debug, Clone, Args)]
pub struct Asked {
    /// The log: a folder of CSV files, or one CSV file; several are pooled, each a maker
    #[arg(value_name = "LOG", required = true)]
    pub logs: Vec<PathBuf>,
    /// Write the report folder here (review: canewright_review in the current folder unless given)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print the results as JSON instead of a page
    #[arg(long)]
    pub json: bool,
    /// Print no progress and no warnings
    #[arg(long)]
    pub quiet: bool,
    /// Stop at any error in a cell or row
    #[arg(long)]
    pub strict: bool,
    /// Start of every use of chance; the same seed gives the same bytes
    #[arg(long, default_value_t = 2025)]
    pub seed: u64,
    /// Only pieces started on this day or later
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub from: Option<jiff::civil::Date>,
    /// Only pieces started on this day or earlier
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub until: Option<jiff::civil::Date>,
}

/// A calendar date as ISO 8601 writes it.
fn date(text: &str) -> Result<jiff::civil::Date, String> {
    text.parse().map_err(|_| "a date is written like 2025-03-09".to_owned())
}
