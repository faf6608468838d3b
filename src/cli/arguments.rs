//! The verbs and their options, as clap reads them.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::plan::SpoiledCount;

/// Reads a bassoon reed maker's log and says what went with good reeds, which cane lots played well and where pieces are lost.
#[derive(Debug, Parser)]
#[command(name = "canewright", version, max_term_width = 100)]
#[command(
    after_help = "A LOG is a folder of CSV or Parquet files, or one such file. Begin with: canewright start my_log\n\
                        Exit status: 0 done, 1 done with errors in cells or rows, 2 not done.\n\
                        Example: canewright review my_log --out review_of_spring"
)]
pub struct Arguments {
    #[command(subcommand)]
    pub verb: Verb,
}

#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Lay out an empty log: headers, a commented study file, a one-page how-to
    #[command(after_help = "Example: canewright start new_log")]
    Start {
        /// The folder to make; it must not exist yet or be empty
        dir: PathBuf,
    },
    /// Is the log sound: what was understood, what was set aside
    #[command(after_help = "Example: canewright check my_log\n\
                      Example: canewright check --explain number-unreadable")]
    Check {
        #[command(flatten)]
        asked: Option<Asked>,
        /// Tell what one rule does, why it matters and what to do, by its code
        #[arg(long, value_name = "CODE", exclusive = true)]
        explain: Option<String>,
    },
    /// The quarterly review: every question below in one report folder
    #[command(
        after_help = "The answers come first in review.html, which any browser opens; it needs no network.\n\
                      Example: canewright review my_log --out review_of_spring\n\
                      Example: canewright review my_log --out review_of_summer --since review_of_spring"
    )]
    Review {
        #[command(flatten)]
        asked: Asked,
        /// Tell what has changed since an earlier review, by its folder or its results.json
        #[arg(long, value_name = "REVIEW")]
        since: Option<PathBuf>,
        /// Write each table as Parquet too, beside its CSV
        #[arg(long)]
        parquet: bool,
    },
    /// Which factors predict a good reed
    #[command(
        mut_arg("logs", |logs| logs.required(false).required_unless_present("products")),
        override_usage = "canewright factors [OPTIONS] <LOG>...\n       canewright factors [OPTIONS] --products <FILE>",
        after_help = "FILE holds what the query of `canewright products` gave, one row a lot, as CSV or Parquet.\n\
                      Example: canewright factors my_log --from 2024-10-01\n\
                      Example: canewright factors --products sums.csv"
    )]
    Factors {
        #[command(flatten)]
        asked: Asked,
        /// Start from the sums of each lot instead of a log: one model of all factors that were summed
        #[arg(long, value_name = "FILE", conflicts_with_all = ["logs", "out", "strict", "from", "until", "seed"])]
        products: Option<PathBuf>,
    },
    /// For a table too large for one machine: the query that sums it by lot
    Products(Products),
    /// Which cane lots played well
    #[command(after_help = "Example: canewright lots my_log\n\
                      Example: canewright lots my_log --adjusted")]
    Lots {
        #[command(flatten)]
        asked: Asked,
        /// Show each lot's mean with the making taken out too: gouge, shape, profile, forming and what follows
        #[arg(long)]
        adjusted: bool,
    },
    /// Should a practice change: which value of it to choose, or which trial to make first
    #[command(override_usage = "canewright decide [OPTIONS] <LOG>... [FACTOR]")]
    #[command(
        after_help = "FACTOR is a column of the making by its name in the log or by canewright's, such as forming_days; it stands last.\n\
                      With one LOG and no FACTOR, those are asked about that study.toml names under [decide], else the days on the pin.\n\
                      Example: canewright decide my_log forming_days"
    )]
    Decide(Asked),
    /// One page for a studio: a practice, every reed, what I would do
    #[command(override_usage = "canewright handout [OPTIONS] <LOG>... [FACTOR]")]
    #[command(
        after_help = "FACTOR stands last, as with decide. The page is written to canewright_handout/handout.html unless --out names another folder;\n\
                      it prints on one sheet.\n\
                      Example: canewright handout my_log forming_days --out forming_handout"
    )]
    Handout {
        #[command(flatten)]
        asked: Asked,
        /// Tell the log's title too, which may name people
        #[arg(long)]
        names: bool,
    },
    /// Where pieces are lost
    #[command(after_help = "Example: canewright losses my_log --json")]
    Losses(Asked),
    /// How long reeds last, and how many pieces keep good ones playing
    #[command(after_help = "Example: canewright life my_log --keep 6")]
    Life {
        #[command(flatten)]
        asked: Asked,
        /// Good reeds to keep playing; as many as are in use at the end of the log unless given
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
        keep: Option<u16>,
    },
    /// Can the measurements and the ratings be trusted
    #[command(
        after_help = "Measurements: pieces read twice or more in readings.csv (reed, measure, value, by, repeat) or profile.csv (repeat).\n\
                      Ratings: reeds rated by several players, or again by the same one, in ratings.csv. A column “anchor” with yes in reeds.csv\n\
                      marks reeds put away unplayed and rated every month.\n\
                      Example: canewright trust my_log"
    )]
    Trust(Asked),
    /// Has the making moved: control charts of measurements and reed scores
    Drift(Drift),
    /// What kinds of reeds there are, what sets each apart and how it was rated
    #[command(
        after_help = "Looked at are the numbers of the making and the profiles (profile.csv, or columns such as profile_15_spine_mm).\n\
                      Example: canewright families my_log --out families_report"
    )]
    Families(Asked),
    /// What the unfinished pieces will do, and which to finish first
    #[command(
        after_help = "A piece counts as unfinished with the fate “unfinished”, or with neither a rating nor a fate nor a playing or finishing date.\n\
                      Example: canewright blanks my_log"
    )]
    Blanks(Asked),
    /// Is a measurement worth taking, to drop pieces before the work goes in
    #[command(override_usage = "canewright sort [OPTIONS] <LOG>... [MEASURE]")]
    #[command(
        after_help = "MEASURE is a number of the log by its name or by canewright's, such as hardness; it stands last.\n\
                      With one LOG and no MEASURE, all numbers of the cane and the gouge are looked at.\n\
                      Example: canewright sort my_log hardness"
    )]
    Sort(Asked),
    /// Several makers: what holds for all of them, and what differs
    #[command(override_usage = "canewright makers [OPTIONS] <LOG> <LOG>...")]
    #[command(
        after_help = "Each LOG is a maker; one LOG with a column “maker” in reeds.csv serves as well. A review of such logs holds this answer too.\n\
                      Example: canewright makers ann_log ben_log --out studio_report"
    )]
    Makers(Asked),
    /// The trial that settles a question: its plan, and what it said
    #[command(
        after_help = "Example: canewright trial plan my_log --factor forming_days --arms 14,28"
    )]
    Trial {
        #[command(subcommand)]
        what: Trial,
    },
    /// Write the invented demo workshop's log
    #[command(after_help = "Example: canewright demo demo_log --messy")]
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
    #[command(after_help = "Example: canewright schema")]
    Schema,
    /// Print what a shell needs to complete verbs and options
    #[command(
        after_help = "Bash reads it from ~/.local/share/bash-completion/completions/canewright, fish from ~/.config/fish/completions/canewright.fish,\n\
                      zsh from a file _canewright in a folder of its fpath.\n\
                      Example: canewright completions bash"
    )]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Write the manual: a page for man, and one for each verb
    #[command(after_help = "Example: canewright manual man/man1")]
    Manual {
        /// The folder for the pages; it is made where there is none
        dir: PathBuf,
    },
}

#[derive(Debug, Subcommand)]
pub enum Trial {
    /// Plan a blind trial of a practice: how many pieces, which way each is made, sheets to print
    #[command(
        after_help = "Example: canewright trial plan my_log --factor forming_days --arms 14,28 --lots \"L9,L10,L11,L12\" --out forming_trial"
    )]
    Plan(Box<TrialPlan>),
    /// Read a trial by its plan: what each arm changed, and whether the plan was kept
    #[command(override_usage = "canewright trial read [OPTIONS] <LOG>... <PLAN>")]
    #[command(after_help = "Example: canewright trial read my_log forming_trial/plan.toml")]
    Read {
        #[command(flatten)]
        asked: Asked,
        /// The plan file, after the logs
        #[arg(value_name = "PLAN", required = true)]
        plan: PathBuf,
    },
}

#[derive(Debug, Args)]
pub struct TrialPlan {
    #[command(flatten)]
    pub asked: Asked,
    /// The practice to compare; else what the study file asks beforehand, else the days on the pin
    #[arg(long, value_name = "FACTOR")]
    pub factor: Option<String>,
    /// Two to four values to compare; else the present practice and the most promising other one
    #[arg(long, value_name = "VALUE,VALUE", value_delimiter = ',', allow_hyphen_values = true)]
    pub arms: Vec<String>,
    /// The lots to take the pieces from; else those with cane left by the log, else new ones
    #[arg(long, value_name = "LOT,LOT", value_delimiter = ',')]
    pub lots: Vec<String>,
    /// Pieces in all; else as many as the power takes
    #[arg(long, value_name = "N")]
    pub pieces: Option<usize>,
    /// Chance to find the smallest difference worth having, if it is there
    #[arg(long, default_value_t = 0.8)]
    pub power: f64,
    /// The smallest difference worth having, in rating points; else the study's
    #[arg(long, value_name = "POINTS")]
    pub worthwhile: Option<f64>,
    /// How often the trial is looked at, its end included
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub looks: usize,
    /// How pieces that are spoiled before play count in the rating
    #[arg(long, value_enum, default_value_t = Spoiled::LeftOut)]
    pub spoiled: Spoiled,
    /// The day of the plan; today unless given
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub date: Option<jiff::civil::Date>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Spoiled {
    /// Left out of the rating; not good in the count of good reeds
    LeftOut,
    /// As if rated with the worst mark
    WorstMark,
}

impl From<Spoiled> for SpoiledCount {
    fn from(spoiled: Spoiled) -> SpoiledCount {
        match spoiled {
            Spoiled::LeftOut => SpoiledCount::LeftOut,
            Spoiled::WorstMark => SpoiledCount::WorstMark,
        }
    }
}

#[derive(Debug, Args)]
#[command(
    after_help = "Without --measure every number of the making and the reed score are charted. A column pieces_since_sharpening shows how a worn edge tells.\n\
                  Example: canewright drift my_log --measure gouge_center_mm --target 1.30"
)]
pub struct Drift {
    #[command(flatten)]
    pub asked: Asked,
    /// The one measurement to chart, by its name in the log or by canewright's
    #[arg(long, value_name = "NAME")]
    pub measure: Option<String>,
    /// What that measurement should be; else the mean of the base period
    #[arg(long, value_name = "VALUE", requires = "measure", allow_hyphen_values = true)]
    pub target: Option<f64>,
    /// How much single pieces vary, as a standard deviation, where that is known; else from the base period
    #[arg(long, value_name = "SD", requires = "measure")]
    pub sigma: Option<f64>,
    /// How many of the first points give the limits; else 30, half of fewer than 60, all of fewer than 24
    #[arg(long, value_name = "N")]
    pub base: Option<usize>,
    /// Weight of the newest point in the weighted average, over 0 and at most 1
    #[arg(long, default_value_t = 0.2)]
    pub weight: f64,
    /// Width of the average's limits, in its standard deviations
    #[arg(long, default_value_t = 2.7)]
    pub width: f64,
    /// Slack of the cumulative sums, in standard deviations of a point: half the shift worth seeing
    #[arg(long, value_name = "SDS", default_value_t = 0.5)]
    pub slack: f64,
    /// Where a cumulative sum flags, in standard deviations of a point
    #[arg(long, value_name = "SDS", default_value_t = 5.0)]
    pub decision: f64,
}

#[derive(Debug, Args)]
#[command(
    after_help = "The query is one statement of plain SQL. It takes a table of one row a reed with its lot, the factors and the score as numbers; where a reed has\n\
                  several ratings the score is their mean. Save its result as CSV with all digits or as Parquet, and read it with `canewright factors --products FILE`.\n\
                  Example: canewright products hardness forming_days --score rating --table reeds\n\
                  Example: canewright products hardness forming_days --of my_log"
)]
pub struct Products {
    /// The columns to sum, all of them numbers
    #[arg(value_name = "FACTOR", required = true)]
    pub factors: Vec<String>,
    /// The column of the score: a reed's rating, or the mean of its ratings
    #[arg(long, value_name = "COLUMN", default_value = "rating")]
    pub score: String,
    /// The table, with dots between the parts of its name
    #[arg(long, value_name = "NAME", default_value = "reeds")]
    pub table: String,
    /// The column of the cane lot
    #[arg(long, value_name = "COLUMN", default_value = "lot")]
    pub lot: String,
    /// A number near the middle of a column, about which it is summed so that no digits are lost; else the middle of what is usual, else 0
    #[arg(long, value_name = "COLUMN=VALUE", value_parser = about, allow_hyphen_values = true)]
    pub about: Vec<(String, f64)>,
    /// Sum this log here instead, and print what the query would give; of a log that several players rated, their leniency is taken out of the scores first
    #[arg(long, value_name = "LOG", conflicts_with_all = ["table", "lot"])]
    pub of: Vec<PathBuf>,
}

/// A column and a number: `hardness=20`.
fn about(text: &str) -> Result<(String, f64), String> {
    let parts = text.rsplit_once('=');
    let parts = parts.and_then(|(name, value)| Some((name.to_owned(), value.parse().ok()?)));
    parts
        .filter(|(_, value): &(String, f64)| value.is_finite())
        .ok_or_else(|| "a column and a number are written like hardness=20".to_owned())
}

/// What every question may be told.
#[derive(Debug, Clone, Args)]
pub struct Asked {
    /// The log: a folder of CSV or Parquet files, or one such file; several are pooled, each a maker
    #[arg(value_name = "LOG", required = true)]
    pub logs: Vec<PathBuf>,
    /// Write the report folder here (review: canewright_review in the current folder unless given; trial plan: canewright_trial)
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
