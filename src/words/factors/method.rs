//! How the factors were held against the rating, in words.

use super::capitalised;
use crate::words::digits::signed;
use crate::words::lists::and;

/// What was in a model, so that the text says what was done with this log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ModelWords {
    /// Whether lots, reeds or players deviate at random; without, it is least squares on the reeds' scores.
    pub is_mixed: bool,
    pub within_lots: bool,
    pub has_makers: bool,
    pub has_trend: bool,
    pub has_season: bool,
    /// Whether reeds have several ratings.
    pub repeats: bool,
    /// Whether there are several players, and whether they are so many that they deviate at random.
    pub players: bool,
    pub random_players: bool,
}

impl ModelWords {
    /// What is in either model.
    pub fn and(self, other: Self) -> Self {
        Self {
            is_mixed: self.is_mixed || other.is_mixed,
            within_lots: self.within_lots || other.within_lots,
            has_makers: self.has_makers || other.has_makers,
            has_trend: self.has_trend || other.has_trend,
            has_season: self.has_season || other.has_season,
            repeats: self.repeats || other.repeats,
            players: self.players || other.players,
            random_players: self.random_players || other.random_players,
        }
    }
}

const LATER_STAY_OUT: &str =
    "Later measurements stay out, because they may be the road by which a factor works.";

/// The model in words.
pub fn model(words: ModelWords) -> String {
    if words.is_mixed { mixed_model(words) } else { plain_model(words) }
}

fn mixed_model(words: ModelWords) -> String {
    let beside = and(&beside(words));
    let (factor, errors) = if words.within_lots {
        (
            "the factor as the reed's deviation from the mean of its lot, on that mean (in five lots or more), on",
            " With fewer than ten lots the errors are those of Kenward & Roger.",
        )
    } else {
        ("the factor, on", "")
    };
    let random: Vec<String> = [
        (words.within_lots, "lots"),
        (words.repeats, "reeds with several ratings"),
        (words.random_players, "players"),
    ]
    .into_iter()
    .filter(|(is_in, _)| *is_in)
    .map(|(_, name)| name.to_owned())
    .collect();
    format!(
        "One linear mixed model a factor, by restricted maximum likelihood, one row a rating: the rating on {factor} {beside}. \
         What is adjusted for stands in it as deviations too. {} deviate at random. {LATER_STAY_OUT}{errors}",
        capitalised(&and(&random))
    )
}

/// What stands in the model beside the factor.
fn beside(words: ModelWords) -> Vec<String> {
    let mut beside = vec!["the factors of earlier stages and of the same stage".to_owned()];
    let calendar = [
        (words.has_makers, "the makers"),
        (words.has_trend, "the trend of the making date"),
        (words.has_season, "the season"),
    ];
    let players = [(words.players && !words.random_players, "the players")];
    let named = calendar.into_iter().chain(players).filter(|(is_in, _)| *is_in);
    beside.extend(named.map(|(_, name)| name.to_owned()));
    beside
}

fn plain_model(words: ModelWords) -> String {
    let beside = and(&beside(ModelWords { players: false, ..words }));
    let (compared, errors) = if words.within_lots {
        (
            "; reeds of the same lot are compared with each other",
            " Errors allow for reeds of a lot going together.",
        )
    } else {
        ("; reeds are compared over all lots", "")
    };
    format!(
        "One least-squares model a factor: the reed's score on the factor, {beside}{compared}. {LATER_STAY_OUT}{errors} {}",
        score(if words.players { 2 } else { 1 })
    )
}

/// What a reed's score is.
pub fn score(players: usize) -> &'static str {
    if players > 1 {
        "A reed's score is the mean of its ratings with each player's leniency taken out."
    } else {
        "A reed's score is the mean of its ratings."
    }
}

/// Said wherever reeds' scores are modelled.
pub(in crate::words) const SCORES_TAKEN_AS_KNOWN: &str = "Each reed counts once, however many ratings it has, and the players' leniency is taken as known.";

/// What the model takes for granted.
pub fn assumptions(words: ModelWords) -> Vec<String> {
    let mut assumptions = [
        "Effects are straight over the range of the data, but for the bends that are told, and add up.",
        "A cell is empty without regard to how the reed would have played.",
        "Ratings are of the reeds that were left: what a factor went with among the spoiled pieces is asked apart.",
        "What goes from lot to lot is not adjusted for anything but the deviations within lots.",
    ]
    .map(str::to_owned)
    .to_vec();
    if !words.is_mixed {
        assumptions.push(SCORES_TAKEN_AS_KNOWN.to_owned());
    }
    assumptions
}

/// Where the methods come from.
pub fn sources() -> Vec<String> {
    [
        "Stage order: Pearl 2009, Causality; Cinelli, Forney & Pearl 2022, Sociological Methods & Research",
        "Within and between lots: Mundlak 1978, Econometrica 46, 69–85; Bell, Fairbrother & Jones 2019, Quality & \
         Quantity 53, 1051–1074",
        "Mixed model: Bates, Maechler, Bolker & Walker 2015, J. Statistical Software 67(1); degrees of freedom: Giesbrecht & Burns \
         1985, Biometrics 41, 477–486; Kenward & Roger 1997, Biometrics 53, 983–997",
        "Errors where nothing deviates at random: Bell & McCaffrey 2002, Survey Methodology 28, 169–181; Pustejovsky & Tipton 2018, J. Business & \
         Economic Statistics 36, 672–683",
        "What is adjusted for where reeds are few: Belloni, Chernozhukov & Hansen 2014, Review of Economic Studies 81, 608–650",
        "Many factors at once: Benjamini & Hochberg 1995, JRSS B 57, 289–300",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// How the players differ, where there are several.
pub fn leniency(players: &[(String, f64)]) -> Vec<String> {
    if players.len() < 2 {
        return Vec::new();
    }
    let each: Vec<String> =
        players.iter().map(|(player, shift)| format!("{player} {}", signed(*shift, 2))).collect();
    vec![format!("Leniency taken out, in rating points: {}.", and(&each))]
}

/// What stayed out of the models although stage order would have had it in.
pub fn stayed_out(gaps: &[String], crowded: &[String]) -> Vec<String> {
    let mut notes = Vec::new();
    if !gaps.is_empty() {
        notes.push(format!(
            "Too many empty cells: {} could not be adjusted for every column that came before.",
            and(gaps)
        ));
    }
    if !crowded.is_empty() {
        notes.push(format!(
            "Fewer than ten reeds a column for all that came before {}: what is adjusted for was chosen by double \
             selection, which keeps what foretells the rating and what foretells the factor. What each was adjusted for \
             stands in results.json.",
            and(crowded)
        ));
    }
    notes
}
