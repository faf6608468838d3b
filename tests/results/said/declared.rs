//! Numbers of sentences that are no results: ways of speaking and settings of the method. Each stands with its whole phrase, so that
//! it excuses no other number.

const DECLARED: [&str; 23] = [
    // how far two readings lie apart is told for 95 of 100 pairs, as the section on repeatability of ISO 5725-6 has it
    "95 of 100 pairs",
    "about 95 in 100 pieces",
    // the effect whose shrinking is told
    "a true effect of 1.0",
    // every interval is one of 95 %
    "The lines are 95 % ranges",
    "the thin line 95 %",
    "thin for 95 %",
    // the chance from which on a lot is bought again or avoided
    "under 80\u{202f}% sure",
    "is 80\u{202f}% at least",
    // the high end of the scatter is that of one in five
    "with one chance in five",
    // the charts that every series is held against, and the fewest pieces that a model of losses takes
    "flagged on three charts",
    "fewer than five were lost or came through",
    "it takes 30 in three lots",
    "takes 30 rated reeds and six different values",
    "it takes five",
    // the days over which the pace is told
    "pieces in 30 days",
    // the unit of good reeds, and how often a factor that stays is kept
    "in eight halves of ten",
    "in nine cases of ten",
    "nine of ten on the thin line",
    "of ten",
    "in ten",
    "two readings of one",
    // the version and the seed stand at the foot of a page
    "Made by canewright 0.1.0, seed 2025.",
    // how often half of the lots are drawn
    "200 times half of the lots",
];

/// The sentence without its declared numbers.
pub fn without(sentence: &str) -> String {
    DECLARED.iter().fold(sentence.to_owned(), |text, phrase| text.replace(phrase, "…"))
}
