//! Sentences about whether the measurements foretell a reed, and which of them stay when the lots change.

use super::digits::{decimals, number, percent, plural};
use super::factors::OutcomeWords;
use super::lists::few;
use crate::finding::{Predictive, ShareShown};

/// A shuffled log that foretells as well more often than this leaves the foretelling to chance.
const CHANCE: f64 = 0.05;

/// Whether anything is foretold, and more often than by chance.
pub fn is_foretold(found: &Predictive) -> bool {
    found.r2_out_of_lot > 0.0 && found.p <= CHANCE
}

/// `The measurements foretell 21 % of the differences between reeds of a lot not seen before: …`
pub fn sentence(found: &Predictive, outcome: OutcomeWords) -> String {
    let errors = errors(found, outcome);
    let foretold = if found.r2_out_of_lot <= 0.0 {
        "The measurements foretell none of the differences between reeds of a lot not seen before"
            .to_owned()
    } else if found.p > CHANCE {
        "What the measurements foretell of the reeds of a lot not seen before is no more than chance may give"
            .to_owned()
    } else {
        format!(
            "The measurements foretell {} of the differences between reeds of a lot not seen before",
            share(found.r2_out_of_lot)
        )
    };
    format!("{foretold}: {errors}.")
}

fn share(share: f64) -> String {
    if share < 0.01 { "under 1 %".to_owned() } else { percent(share) }
}

/// `they miss by 1.21 rating points on average, the plain average by 1.43 and what is known of the other reeds of the lot by 1.30`
fn errors(found: &Predictive, outcome: OutcomeWords) -> String {
    // three digits, since what matters is the difference of the errors
    let shown = decimals(found.mae_nothing / 10.0);
    let unit = if outcome.is_distance { "points of distance" } else { "rating points" };
    let miss = format!("they miss by {} {unit} on average", number(found.mae_out_of_lot, shown));
    let plain = number(found.mae_nothing, shown);
    match found.mae_lot_means {
        Some(lots) => format!(
            "{miss}, the plain average by {plain}, and the other reeds of the same lot, once there are some, by {}",
            number(lots, shown)
        ),
        None => format!("{miss}, the plain average by {plain}"),
    }
}

/// Why nothing is foretold.
pub fn refused(reeds: usize, lots: usize) -> String {
    format!(
        "Whether the measurements foretell a reed is not said from {} in {}; it takes 30 in three lots.",
        plural(reeds, "rated reed", "rated reeds"),
        plural(lots, "lot", "lots")
    )
}

pub const TITLE: &str = "What was foretold, and what was rated";

pub const READING: &str = "Every dot is a reed, foretold from the reeds of other lots. On the line the two are the same; dots that go up with \
                           it were foretold, a heap beside the dotted average was not.";

/// The axis of what was foretold.
pub fn foretold_axis(outcome: OutcomeWords) -> String {
    format!("foretold {}", outcome.axis())
}

/// How the foretelling was done.
pub fn method(within_lots: bool) -> String {
    let shuffled = if within_lots {
        "scores are shuffled among the reeds of their lot 200 times"
    } else {
        "scores are shuffled among all reeds 200 times, since few reeds share a lot"
    };
    format!(
        "Foretelling: the elastic net of all factors, each lot held out in turn (over forty lots, several at a time), its penalty chosen among the \
         other lots; empty cells are filled by the mean of the lots not held out. The mean of a lot's other reeds is drawn towards that of the \
         other lots. For chance, {shuffled}, the penalty chosen anew each time, lots in five parts."
    )
}

/// The picture's title.
pub fn stays_title(of_lots: bool) -> &'static str {
    if of_lots {
        "Which factors stay when the lots change"
    } else {
        "Which factors stay when other reeds are taken"
    }
}

/// How the shares were found.
pub fn halves(of_lots: bool) -> String {
    format!(
        "Staying: the share of 200 random halves {} in which a factor is among the first that the elastic net takes in; of a choice any level \
         counts. So many are taken in that at most one idle factor is expected in eight halves of ten.",
        if of_lots {
            "of the lots"
        } else {
            "of the reeds of every lot, since the lots are under six,"
        }
    )
}

/// The axis of the shares.
pub fn halves_axis(of_lots: bool) -> String {
    format!("kept, % of 200 halves of the {}", if of_lots { "lots" } else { "reeds" })
}

/// How the picture of the shares is read.
pub fn stays_reading(of_lots: bool) -> String {
    let of = if of_lots { "lots" } else { "reeds of each lot" };
    format!(
        "200 times half of the {of} were drawn and the few factors with most to say chosen anew. A long bar: the choice does not hang on a few {}. It says nothing of \
         the size of an effect, and of factors that go together either may stand in for the other.",
        if of_lots { "lots" } else { "reeds" }
    )
}

/// The picture of the shares in words.
pub fn stays_description(shares: &[ShareShown]) -> String {
    let often: Vec<String> =
        shares.iter().filter(|shown| shown.share >= 0.8).map(|shown| shown.label.clone()).collect();
    if often.is_empty() {
        return "No factor was kept in eight halves of ten.".to_owned();
    }
    let verb = if often.len() == 1 { "was" } else { "were" };
    format!(
        "{} {verb} kept in eight halves of ten or more.",
        super::factors::capitalised(&few(&often))
    )
}

/// Where the methods come from.
pub fn sources() -> Vec<String> {
    [
        "Elastic net: Zou & Hastie 2005, JRSS B 67, 301–320; lots apart: Stone 1974, JRSS B 36, 111–147; chance: Phipson & Smyth 2010, Statistical \
         Applications in Genetics and Molecular Biology 9, 39",
        "Staying: Meinshausen & Bühlmann 2010, JRSS B 72, 417–473",
    ]
    .map(str::to_owned)
    .to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(r2_out_of_lot: f64, p: f64) -> Predictive {
        Predictive {
            r2_out_of_lot,
            mae_out_of_lot: 1.213,
            mae_lot_means: None,
            mae_nothing: 1.431,
            p,
            used: 90,
            sentence: String::new(),
        }
    }

    #[test]
    fn a_share_is_named_only_where_chance_hardly_gives_it() {
        let said =
            |r2, p| sentence(&found(r2, p), OutcomeWords::default()).replace('\u{202f}', " ");
        assert_eq!(
            said(0.214, 0.005),
            "The measurements foretell 21 % of the differences between reeds of a lot not seen before: they miss by 1.21 \
             rating points on average, the plain average by 1.43."
        );
        assert!(!said(0.214, 0.2).contains("21 %"), "{}", said(0.214, 0.2));
        assert!(said(-0.02, 0.005).contains("foretell none"), "{}", said(-0.02, 0.005));
        assert!(said(0.004, 0.005).contains("under 1 %"), "{}", said(0.004, 0.005));
    }

    #[test]
    fn what_the_lot_tells_is_said_to_need_reeds_of_the_lot() {
        let with_lots = Predictive { mae_lot_means: Some(1.3), ..found(0.2, 0.01) };
        let said = sentence(&with_lots, OutcomeWords::default());
        assert!(
            said.ends_with("the other reeds of the same lot, once there are some, by 1.30."),
            "{said}"
        );
    }
}
