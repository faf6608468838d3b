//! Trials that cannot work, and what would do.

use super::{given_points, reckoned_points, times};
use crate::words::digits::{count, count_in_words, plural};
use crate::words::factors::capitalised;
use crate::words::lists::{few, name};
use crate::words::spelling::did_you_mean;

pub fn no_factor(asked: Option<&str>, known: &[String]) -> String {
    match asked {
        Some(asked) => {
            format!("The log has no practice “{}”.{}", name(asked), did_you_mean(asked, known))
        }
        None => "The study file asks no question under `[decide]` that a trial could answer, and the log has no days on the pin.".to_owned(),
    }
}

pub fn takes_factor(names: &[String]) -> String {
    if names.is_empty() {
        return "It takes a column of something that is chosen for each piece, such as “forming_days” or “scoring”.".to_owned();
    }
    format!("Name one with `--factor`: {}.", few(names))
}

pub fn not_chosen(label: &str) -> String {
    format!(
        "{} comes with the cane or with the playing; a trial can only compare what is chosen for each piece.",
        capitalised(&name(label))
    )
}

pub fn arms_count(arms: usize) -> String {
    match arms {
        0 | 1 => "One arm alone compares nothing.".to_owned(),
        arms => format!(
            "{} arms are too many: each gets too few pieces.",
            capitalised(&count_in_words(arms))
        ),
    }
}

pub const TAKES_ARMS: &str = "Name two to four different values, such as `--arms 14,28`.";
pub const TAKES_GIVEN_ARMS: &str = "Name the values to compare, such as `--arms 14,28`.";
pub const NOT_RECKONED: &str = "The size of a trial with so many arms could not be reckoned.";
pub const TAKES_TWO_ARMS: &str = "Plan it with two arms.";
pub const EMPTY_ARM: &str = "An arm has no value.";

pub fn same_arms(arm: &str) -> String {
    format!("{} stands twice among the arms.", capitalised(&name(arm)))
}

pub fn no_number(text: &str) -> String {
    format!("“{}” is not a number.", name(text))
}

pub fn takes_numbers(label: &str) -> String {
    format!("The arms of {} are numbers with a decimal point, such as `--arms 14,28`.", name(label))
}

pub fn no_value(label: &str) -> String {
    format!("The log holds no value of {}, so the present practice is not known.", name(label))
}

pub fn one_value(label: &str, present: &str) -> String {
    format!("{} was always {}, or close to it.", capitalised(&name(label)), name(present))
}

pub fn too_few_reeds(reeds: usize, lots: usize) -> String {
    let reeds = if reeds == 0 {
        "no rated reed".to_owned()
    } else {
        plural(reeds, "rated reed", "rated reeds")
    };
    let of = match lots {
        0 => String::new(),
        lots => format!(" of {}", plural(lots, "lot", "lots")),
    };
    format!("The log holds {reeds}{of}, too few to tell how far reeds of one lot scatter.")
}

pub const TAKES_REEDS: &str = "It takes lots of several rated reeds: five reeds more than lots at least, and twenty for a size to trust.";
pub const ALL_ALIKE: &str = "Within each lot all reeds have the same rating, so nothing tells how far they would scatter in a trial.";
pub const TAKES_SPREAD: &str = "It takes ratings on a finer scale, or of more reeds.";

pub const LOTS_UNCLEAR: &str = "A lot stands twice or has no name.";
pub const TAKES_LOTS: &str = "Name each lot once, such as `--lots \"A,B,C\"`.";

pub fn no_cane_left(lots: &[String]) -> String {
    let (lot, have) = if lots.len() == 1 { ("Lot", "has") } else { ("Lots", "have") };
    format!("{lot} {} {have} fewer pieces left by the log than there are arms.", few(lots))
}

pub fn takes_other_lots(arms: usize) -> String {
    format!(
        "Name lots with {} at least, or mend pieces_bought in lots.csv if more was bought.",
        plural(arms, "piece of cane", "pieces of cane")
    )
}

pub fn too_many_pieces(pieces: usize, most: usize) -> String {
    format!(
        "{} pieces are more than any trial here is planned for ({}).",
        count(pieces),
        count(most)
    )
}

pub const TAKES_LESS: &str = "Leave out `--pieces`, and the size is reckoned from the log.";

pub fn fewer_than_arms(pieces: usize, lots: usize, arms: usize) -> String {
    format!(
        "{} over {} cannot hold {} in every lot.",
        capitalised(&plural(pieces, "piece", "pieces")),
        plural(lots, "lot", "lots"),
        plural(arms, "arm", "arms")
    )
}

pub fn takes_pieces(pieces: usize, lots: usize, arms: usize) -> String {
    let fewer = match pieces / arms {
        0 => String::new(),
        1 => ", or one lot".to_owned(),
        fits => format!(", or {} lots", count_in_words(fits)),
    };
    format!("It takes {} at least{fewer}.", plural(lots * arms, "piece", "pieces"))
}

pub fn no_freedom(pieces: usize, lots: usize) -> String {
    format!(
        "Once {} and the arms are told apart, {} leave nothing to measure chance by.",
        plural(lots, "lot", "lots"),
        plural(pieces, "piece", "pieces")
    )
}

pub fn takes_freedom(reeds: usize, whole: usize) -> String {
    format!(
        "It takes more than {} that play; twice {} is a start, or leave out `--pieces`.",
        plural(reeds - 1, "reed", "reeds"),
        plural(whole, "piece", "pieces")
    )
}

pub fn not_enough_cane(room: usize, pieces: usize) -> String {
    format!(
        "By the log the lots have {} left, and the trial asks for {}.",
        plural(room, "piece of cane", "pieces of cane"),
        count(pieces)
    )
}

pub fn takes_cane(room: usize) -> String {
    format!(
        "Ask for `--pieces {room}` at most, name more lots with `--lots`, or mend pieces_bought in lots.csv."
    )
}

pub fn too_little_cane(room: usize, worthwhile: f64, power: f64) -> String {
    format!(
        "By the log the lots have cane for {}, too few to find {} {}.",
        plural(room, "piece", "pieces"),
        given_points(worthwhile),
        times(power)
    )
}

pub fn takes_more_cane(room: usize, smallest: Option<f64>) -> String {
    let with_that = match smallest {
        Some(smallest) => format!(
            "`--pieces {room}` would find {} as often; else name",
            reckoned_points(smallest)
        ),
        None => "Name".to_owned(),
    };
    format!("{with_that} more lots with `--lots`, or a larger difference with `--worthwhile`.")
}

pub fn too_small_a_difference(worthwhile: f64, power: f64, most: usize) -> String {
    format!(
        "To find {} {} would take more than {} pieces.",
        given_points(worthwhile),
        times(power),
        count(most)
    )
}

pub const TAKES_LARGER: &str =
    "Ask for a larger difference with `--worthwhile`, or for a smaller `--power`.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_do_is_counted_in_the_singular_too() {
        assert_eq!(fewer_than_arms(1, 1, 2), "1 piece over 1 lot cannot hold 2 arms in every lot.");
        assert_eq!(takes_pieces(5, 4, 2), "It takes 8 pieces at least, or two lots.");
        assert_eq!(takes_pieces(1, 4, 2), "It takes 8 pieces at least.");
        assert!(arms_count(5).starts_with("Five arms"));
    }
}
