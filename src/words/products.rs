//! Sentences on sums by lot.

use super::digits::{change, number, percent, plural};
use super::labels::plain;
use super::lists::{self, few};
use crate::finding::{FactorFromSums, Interval, OutOfLot, ProductsSection, SlopeFromSums};

pub const ASKED: &str = "Which factors predict the score, by the sums of each lot?";
pub const MODEL: &str = "A linear mixed model of the score on all named factors together, each split into what it deviates from its lot's mean and that mean, with a \
                         random intercept a lot (restricted maximum likelihood, Satterthwaite degrees of freedom); least squares on the same columns with errors robust by lot (CR2); \
                         and lines fitted to all lots but one. All of it from each lot's counts, sums and products.";
pub const ASSUMPTIONS: [&str; 3] = [
    "Effects are straight lines and add up.",
    "Cells are missing without regard to how the reed would have played.",
    "What is not among the named factors (the day, the player, other practices) is not taken out.",
];
pub const SOURCES: [&str; 4] = [
    "Mundlak (1978), Econometrica 46, 69-85",
    "Bates, Mächler, Bolker & Walker (2015), Journal of Statistical Software 67(1)",
    "Bell & McCaffrey (2002), Survey Methodology 28, 169-181",
    "Pustejovsky & Tipton (2018), Journal of Business & Economic Statistics 36, 672-683",
];
pub const FEW_LOTS: &str = "The lots are too few to tell how the score goes with the lots' own means of the factors; those are left out.";

/// With a q at most so large a slope is told as found.
const FOUND: f64 = 0.05;

pub fn answer(section: &ProductsSection) -> String {
    let found: Vec<String> =
        section.list.iter().filter(|one| is_found(one)).map(|one| named(&one.factor)).collect();
    let rests = format!(
        "{} of {}",
        plural(section.used, "reed", "reeds"),
        plural(section.lots, "lot", "lots")
    );
    if found.is_empty() {
        return format!(
            "Among reeds of the same lot it is open of every factor whether {} goes with it; {rests}.",
            named(&section.score)
        );
    }
    format!(
        "Among reeds of the same lot, {} went with {} beyond what chance explains; {rests}.",
        few(&found),
        named(&section.score)
    )
}

pub fn spread(section: &ProductsSection) -> String {
    format!(
        "Beside the factors, {} of the spread lies between lots (standard deviation {} between lots, {} among reeds of one lot).",
        percent(section.icc),
        number(section.sd_between, 2),
        number(section.sd_within, 2)
    )
}

pub fn out_of_lot(found: OutOfLot) -> String {
    let errors = format!(
        "a line fitted to the other lots is off by {}, their mean by {}",
        number(found.error, 2),
        number(found.error_of_mean, 2)
    );
    if found.r2 > 0.0 {
        format!(
            "Reeds of a lot that was held out: {errors} (root mean square), so the factors foretell {} of the spread.",
            percent(found.r2)
        )
    } else {
        format!(
            "Reeds of a lot that was held out: {errors} (root mean square), so the factors foretell nothing of other lots."
        )
    }
}

/// What is said of one factor.
pub fn factor(one: &FactorFromSums, score: &str) -> String {
    let name = named(&one.factor);
    let Some(within) = one.within else {
        return match one.between {
            Some(between) => format!(
                "{name} does not vary within lots. From lot to lot, one more of it went with {} of {}; lots differ in much else.",
                change(interval(between)),
                named(score)
            ),
            None => format!("{name} does not vary enough to say anything of it."),
        };
    };
    let size = change(interval(within));
    let state = if is_found(one) { "" } else { "open. " };
    let mut sentence = format!(
        "{name}: {state}Among reeds of the same lot, one more of it went with {size} of {}.",
        named(score)
    );
    if let Some(between) = one.between.filter(|_| one.p_differs.is_some_and(|p| p <= FOUND)) {
        sentence += &format!(" From lot to lot it was otherwise: {}.", change(interval(between)));
    }
    sentence
}

fn is_found(one: &FactorFromSums) -> bool {
    one.q.is_some_and(|q| q <= FOUND)
}

fn interval(slope: SlopeFromSums) -> Interval {
    Interval { estimate: slope.estimate, low: slope.low, high: slope.high }
}

/// A column of a stranger's table.
fn named(name: &str) -> String {
    format!("“{}”", lists::name(name))
}

pub fn left_out_incomplete() -> &'static str {
    "lack a factor or the score"
}

pub fn left_out_without_lot() -> &'static str {
    "have no lot"
}

pub fn too_few(reeds: usize, lots: usize) -> String {
    format!(
        "The file sums {} with all factors in {}.",
        plural(reeds, "reed", "reeds"),
        plural(lots, "lot", "lots")
    )
}

pub const TAKES: &str =
    "It takes eight reeds in three lots at least, and more reeds than lots and factors together.";

pub fn none_varies() -> &'static str {
    "No factor varies among reeds of the same lot."
}

pub const TAKES_VARIATION: &str = "It takes lots whose reeds were made in different ways.";

pub fn tangled(columns: &[String]) -> String {
    format!(
        "The factors cannot be told apart: {} follows from the others.",
        columns.iter().map(|column| plain(column)).collect::<Vec<_>>().join(", ")
    )
}

pub const TAKES_UNTANGLED: &str = "Leave one of the factors that go together out of the query.";

pub fn no_spread() -> &'static str {
    "Beside the factors the score has no spread that could be measured."
}

pub fn not_fitted(why: &str) -> String {
    format!("The models cannot be fitted to these sums: {}.", plain(why))
}

pub const TAKES_SPREAD: &str = "It takes reeds that were rated differently.";
