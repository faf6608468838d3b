//! Sentences about how long reeds last.

pub mod hazards;
pub mod left_out;
pub mod renewal;

use super::digits::{count, count_in_words, interval_decimals, level, number, plural};
use super::given::given;
use super::lists::name;
use crate::finding::{Interval, LotLife};

/// Why no curve is drawn.
pub const NO_CURVE: &str = "The lives of the reeds cannot be put on one clock.";
pub const NO_FATES: &str =
    "The log does not say of any reed that it was worn out, and has no column that could.";
pub const TAKES_LIVES: &str = "It takes five reeds with “hours_played”, or with “first_played” and “last_played”, and “fate” for what became of each.";
pub const TAKES_FATES: &str =
    "It takes a column “fate” with words such as in_use, worn_out, lost or given_away.";

pub fn too_few(reeds: usize, pieces: usize) -> String {
    let of = format!("Of {} in the log", plural(pieces, "piece", "pieces"));
    match reeds {
        0 => format!("{of} none has hours of playing, or days, that tell how long it lasted."),
        1 => format!("{of} only one tells how long it was played."),
        some => format!("{of} only {} tell how long they were played.", count_in_words(some)),
    }
}

/// By when a share is worn out; none where that was not reached.
#[derive(Debug, Clone, Copy)]
pub struct Reached {
    pub at: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

/// What sentences about the curve need to know.
#[derive(Debug, Clone, Copy)]
pub struct LifeWords {
    pub in_hours: bool,
    pub reeds: usize,
    pub retired: usize,
    pub quartile: Reached,
    pub median: Reached,
    /// The mean life, and to which time it is counted.
    pub mean: Option<(Interval, f64)>,
    /// Whether reeds go on beyond that time.
    pub goes_on: bool,
    /// The longest time that any reed was watched.
    pub longest: f64,
}

impl LifeWords {
    /// The unit as results name it.
    pub fn unit(&self) -> &'static str {
        if self.in_hours { "hours" } else { "days" }
    }

    fn of_playing(&self) -> &'static str {
        if self.in_hours { "hours of playing" } else { "days from its first playing" }
    }

    fn short(&self) -> &'static str {
        if self.in_hours { "h" } else { "days" }
    }

    pub fn axis(&self) -> &'static str {
        if self.in_hours { "hours of playing" } else { "days from the first playing to the last" }
    }

    /// `22.5 hours of playing`
    fn amount(&self, value: f64) -> String {
        format!("{} {}", given((10.0 * value).round() / 10.0), self.of_playing())
    }
}

/// `Half of the reeds were worn out by 18.0 (15.5 to 22.0) hours of playing; 96 reeds, 60 of them worn out.`
pub fn answer(told: &LifeWords) -> String {
    let counted = counted(told);
    if told.retired == 0 {
        return format!(
            "No reed is worn out yet, so how long reeds last is not known; the longest has lasted {} and goes on; {}.",
            told.amount(told.longest),
            plural(told.reeds, "reed", "reeds")
        );
    }
    if let Some(by) = by(&told.median, told) {
        return format!("Half of the reeds were worn out by {by}; {counted}.");
    }
    let not_before = told.median.low.map_or(String::new(), |low| {
        format!(", not before {} as far as chance allows", told.amount(low))
    });
    let opening = format!("By when half of the reeds are worn out is not known yet{not_before}");
    if let Some(by) = by(&told.quartile, told) {
        return format!("{opening}. One in four was worn out by {by}; {counted}.");
    }
    match told.mean {
        Some((mean, to)) => {
            format!("{opening}. {}; {counted}.", mean_life(told, mean, to))
        }
        None => format!("{opening}; {counted}."),
    }
}

/// `96 reeds, 60 of them worn out`
fn counted(told: &LifeWords) -> String {
    let reeds = plural(told.reeds, "reed", "reeds");
    match told.retired {
        all if all == told.reeds => format!("{reeds}, all of them worn out"),
        some => format!("{reeds}, {} of them worn out", count(some)),
    }
}

/// `18.0 (15.5 to 22.0) hours of playing`
fn by(reached: &Reached, told: &LifeWords) -> Option<String> {
    let at = reached.at?;
    let low = reached.low.unwrap_or(0.0);
    let unit = told.of_playing();
    Some(match reached.high {
        Some(high) if low < high => {
            format!("{} {unit}", level(Interval { estimate: at, low, high }))
        }
        Some(_) => format!("{} {unit}", given(at)),
        None if low >= at => format!("{} {unit}, the log does not show how surely", given(at)),
        None => {
            let shown = interval_decimals(Interval { estimate: at, low, high: 2.0 * at - low });
            let [at, low] = [at, low].map(|value| number(value, shown));
            format!("{at} ({low} or more, the log does not show how many more) {unit}")
        }
    })
}

/// `Over their first 36 hours of playing the reeds lasted 19.1 (16.8 to 21.4) on average, none counted beyond`
fn mean_life(told: &LifeWords, mean: Interval, to: f64) -> String {
    if told.goes_on {
        format!(
            "On average reeds lasted {} of their first {}, what came after not counted",
            level(mean),
            told.amount(to)
        )
    } else {
        format!("On average reeds lasted {} {}", level(mean), told.of_playing())
    }
}

/// What stands beside the answer.
pub fn more(told: &LifeWords) -> Vec<String> {
    if told.retired == 0 {
        return Vec::new();
    }
    let has_median = told.median.at.is_some();
    let quartile = by(&told.quartile, told).filter(|_| has_median);
    let quartile = quartile.map(|by| format!("One in four was worn out by {by}."));
    let is_told = !has_median && told.quartile.at.is_none();
    let mean = told.mean.filter(|_| !is_told);
    let mean = mean.map(|(mean, to)| format!("{}.", mean_life(told, mean, to)));
    quartile.into_iter().chain(mean).collect()
}

/// By when half are worn out, for lots like those at hand; none where half were not reached.
pub fn other_lots(told: &LifeWords, low: Option<f64>, high: Option<f64>) -> Option<String> {
    let (at, low) = (told.median.at?, low?);
    let unit = told.of_playing();
    let shown = |high: f64| interval_decimals(Interval { estimate: at, low, high });
    Some(match high {
        Some(high) => {
            let [low, high] = [low, high].map(|end| number(end, shown(high)));
            format!(
                "Counting that other lots may last differently, half are worn out by {low} to {high} {unit}."
            )
        }
        None => format!(
            "Counting that other lots may last differently, half are worn out by {} {unit} or later; these lots do not show how much later.",
            number(low, shown(2.0 * at - low))
        ),
    })
}

/// What these numbers cannot say.
pub fn caveats(told: &LifeWords, in_play: usize, late: usize) -> Vec<String> {
    let mut caveats = Vec::new();
    if in_play > 0 {
        caveats.push(format!(
            "{} spoiled while playing; {} as worn out.",
            plural(in_play, "reed was", "reeds were"),
            if in_play == 1 { "it counts" } else { "they count" },
        ));
    }
    if late > 0 {
        let how = if told.in_hours { "left out" } else { "counted from the log's first day on" };
        caveats.push(format!(
            "{} already playing before the log began and {} {how}: such reeds are in the log only because they had lasted.",
            plural(late, "reed was", "reeds were"),
            if late == 1 { "is" } else { "are" },
        ));
    }
    if told.retired > 0 && told.retired < 10 {
        caveats.push(format!(
            "Only {} worn out so far; each further one may move the curve a good deal.",
            if told.retired == 1 {
                "one reed is".to_owned()
            } else {
                format!("{} reeds are", count_in_words(told.retired))
            }
        ));
    }
    caveats
}

/// Whether lots differ, in a sentence; the lots compared, those that lasted longest first.
pub fn lots_differ(p: f64, compared: &[&LotLife], of: usize) -> String {
    let lots = match compared.len() == of {
        true => format!("{} lots", count(of)),
        false => format!("{} lots of {} with most reeds", count(compared.len()), count(of)),
    };
    let (Some(first), Some(last)) = (compared.first(), compared.last()) else {
        return String::new();
    };
    if p > 0.05 {
        return format!(
            "How long reeds last differed among the {lots} by no more than chance alone may give; lots may still differ by more than these reeds can show."
        );
    }
    format!(
        "How long reeds last differed among the {lots} by more than chance gives. Farthest apart were “{}” ({}) and “{}” ({}).",
        name(&first.lot),
        against_expected(first),
        name(&last.lot),
        against_expected(last)
    )
}

/// `3 worn out where 6.2 were to be expected`
fn against_expected(lot: &LotLife) -> String {
    let expected = number(lot.expected.unwrap_or(f64::NAN), 1);
    format!("{} worn out where {expected} were to be expected", count(lot.retired))
}

/// `9 of 14 worn out, half by 18 h`
pub fn lot_told(lot: &LotLife, told: &LifeWords) -> String {
    let out = format!("{} of {} worn out", count(lot.retired), count(lot.n));
    match lot.median {
        Some(median) => {
            format!("{out}, half by {} {}", given((10.0 * median).round() / 10.0), told.short())
        }
        None => out,
    }
}

pub fn quartile_row(told: &LifeWords) -> String {
    format!("one in four worn out by, {}", told.short())
}

pub fn median_row(told: &LifeWords) -> String {
    format!("half worn out by, {}", told.short())
}

pub fn mean_row(told: &LifeWords, to: f64) -> String {
    let counted = given((10.0 * to).round() / 10.0);
    format!("mean life, none counted beyond {counted}, {}", told.short())
}

pub fn outlast_row(told: &LifeWords, time: f64) -> String {
    format!("lasted longer than {} {}, %", given(time), told.short())
}

pub fn half_by_column(told: &LifeWords) -> &'static str {
    if told.in_hours { "Half by, h" } else { "Half by, days" }
}

pub const MARKS_TITLE: &str = "How long reeds lasted";

pub fn curve_title(told: &LifeWords) -> &'static str {
    if told.in_hours {
        "Reeds still good to play, by hours of playing"
    } else {
        "Reeds still good to play, by days in use"
    }
}

pub const LOTS_TITLE: &str = "How long each lot's reeds lasted";

/// The picture in words.
pub fn description(told: &LifeWords) -> String {
    answer(told)
}

pub fn lots_description(list: &[LotLife]) -> String {
    let reeds: usize = list.iter().map(|lot| lot.n).sum();
    format!(
        "The lives of {} of {}.",
        plural(reeds, "reed", "reeds"),
        plural(list.len(), "lot", "lots")
    )
}

/// How the picture is read.
pub const READING: &str = "The line falls where a reed wore out; the shade round it is what the share may well be. A tick is a reed that had not ended when it was last seen (of very many some). Below \
                           stands how many reeds were still playing.";
pub const LOTS_READING: &str = "A full dot is a reed that wore out, an open ring one that had not ended when it was last seen. The bar is by when half were worn out, with what that may \
                                well be; an arrow goes on beyond what the lot shows. Lots stand in the order of how many wore out against what was to be expected.";

pub const MODEL: &str = "The share of reeds that outlast each hour of playing, or day in use, by the product-limit estimate with its log-log 95 % interval; reeds that had not ended when \
                         last seen count as long as they were seen. The mean life is the area under that curve to the latest time with three reeds at risk. Lots are compared by the \
                         log-rank test, its p from 999 deals of the lots to the reeds (the chi-squared distribution, where reeds and lots are very many).";

pub fn assumptions() -> Vec<String> {
    [
        "A reed ends when it is worn out or spoiled while playing. What takes a reed out of sight (in use, lost, given away) says nothing about how long it would have lasted. \
         A played reed without a fate is taken to be in use: if some were worn out, reeds last less long than is said here.",
        "A reed of which the log holds the playing and not the making, first played before the log's first piece was started, was already playing: it counts from then on where \
         days are counted and is left out where hours are. A log without such days cannot tell. Where days are counted, a reed played on one day alone counts half a day.",
        "The intervals are for reeds of the lots at hand, but for the one that counts that other lots may last differently: the infinitesimal jackknife over lots, with t on lots less one.",
        "Reeds in play are the pace at which good ones are made times how long they stay (Little's law), with the mean life and the share of good reeds found separately.",
    ]
    .map(str::to_owned)
    .to_vec()
}

pub fn sources() -> Vec<String> {
    [
        "Kaplan & Meier 1958, J. American Statistical Association 53, 457–481",
        "Intervals: Kalbfleisch & Prentice 1980, section 1.3; Brookmeyer & Crowley 1982, Biometrics 38, 29–41",
        "Other lots: Ying & Wei 1994, J. Multivariate Analysis 50, 17–29",
        "Lots: Peto & Peto 1972, JRSS A 135, 185–207; dealt anew: Neuhaus 1993, Annals of Statistics 21, 1760–1779",
        "Keeping reeds playing: Little 1961, Operations Research 9, 383–387",
    ]
    .map(str::to_owned)
    .to_vec()
}
