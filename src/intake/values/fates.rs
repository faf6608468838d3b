//! What became of a piece, in the words that people use for it.

use super::folding::fold;
use crate::catalogue::Stage;
use crate::study::Fate;

/// What spoiled a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cause {
    Cracked,
    Leaked,
    Warped,
    Cut,
    Other,
}

impl Cause {
    /// The word in the tidy log.
    pub fn word(self) -> &'static str {
        match self {
            Cause::Cracked => "cracked",
            Cause::Leaked => "leaked",
            Cause::Warped => "warped",
            Cause::Cut => "cut",
            Cause::Other => "other",
        }
    }
}

/// A fate as read, with what the words say of cause and stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FateRead {
    pub fate: Fate,
    pub spoiled_by: Option<Cause>,
    /// Only where the word names it: `cracked in forming`.
    pub spoiled_at: Option<Stage>,
}

/// Words for fates, folded. English and German as people type them.
const FATES: [(Fate, &str); 6] = [
    (Fate::InUse, "in_use using playing active current in_rotation in_gebrauch spielt"),
    (
        Fate::WornOut,
        "worn_out worn dead died blown_out played_out retired used_up finished_off tot \
         ausgespielt verbraucht",
    ),
    (
        Fate::Spoiled,
        "spoiled spoilt ruined broken broke discarded binned bin trash trashed \
         thrown_away threw_away tossed scrapped scrap failed rejected reject abandoned \
         waste kaputt verdorben weggeworfen ausschuss muell",
    ),
    (Fate::Lost, "lost missing misplaced stolen verloren weg"),
    (Fate::GivenAway, "given_away gift gifted sold verschenkt verkauft abgegeben"),
    (
        Fate::Unfinished,
        "unfinished blank cocoon in_progress not_finished wip on_pin on_the_pin \
         on_mandrel resting aging ageing rohling puppe unfertig halbfertig",
    ),
];

/// Words for causes, folded; each spoils the piece.
const CAUSES: [(Cause, &str); 5] = [
    (
        Cause::Cracked,
        "cracked crack cracks split splits split_blade crack_forming fracture gerissen \
         riss gesprungen gespalten",
    ),
    (Cause::Leaked, "leaked leak leaks leaky leaking undicht"),
    (Cause::Warped, "warped warp warps twisted bent verzogen krumm"),
    (
        Cause::Cut,
        "cut tip_chip chipped chip chipped_tip tip_chipped cut_wrong cut_too_short \
         overcut slipped_knife scraped_through asymmetric_tip torn tore verschnitten \
         durchgeschabt",
    ),
    (
        Cause::Other,
        "other mould mold mouldy moldy wire_loose loose_wire slipped_sides slipped \
         schimmel",
    ),
];

/// Words for stages, folded.
const STAGES: [(Stage, &str); 8] = [
    (Stage::Cane, "cane holz selection splitting"),
    (Stage::Gouge, "gouge gouging gouged gouger hobel hobeln innenhobeln"),
    (Stage::Shape, "shape shaping shaped shaper fasson facon fassonieren"),
    (Stage::Profile, "profile profiling profiled profiler aussenhobeln score scoring bevel"),
    (Stage::Form, "form forming formed pin mandrel drying dorn aufbinden formen trocknen"),
    (Stage::Bind, "bind binding bound wrap wrapping wire wiring ream reaming wickeln wickel"),
    (
        Stage::Finish,
        "finish finishing scrape scraping tip tip_cut tip_cutting adjusting schaben \
         spitze",
    ),
    (Stage::Play, "play playing played testing concert spielen"),
];

/// First words of a sentence that says that a piece went to somebody.
const GIVING: [&str; 8] =
    ["gave", "given", "gifted", "sold", "verschenkt", "verkauft", "traded", "lent"];

/// Small words between a cause and its stage.
const JOINTS: [&str; 12] =
    ["in", "at", "on", "while", "when", "during", "the", "beim", "am", "im", "by", "after"];

/// Reads a fate: a word of the tidy log or a synonym (English, German), in any case;
/// `gave to Sam` and whatever else starts with gave, given, verschenkt or sold.
pub fn read(cell: &str) -> Option<FateRead> {
    if cell.len() > 200 || !cell.starts_with(|c: char| c.is_alphabetic() || c.is_whitespace()) {
        return None;
    }
    let folded = fold(cell);
    if let Some(fate) = look_up(&FATES, &folded) {
        return Some(FateRead { fate, spoiled_by: None, spoiled_at: None });
    }
    if let Some(spoiled_by) = look_up(&CAUSES, &folded) {
        return Some(FateRead {
            fate: Fate::Spoiled,
            spoiled_by: Some(spoiled_by),
            spoiled_at: at_in(&folded),
        });
    }
    let first = folded.split('_').next().unwrap_or_default();
    if GIVING.contains(&first) {
        return Some(FateRead { fate: Fate::GivenAway, spoiled_by: None, spoiled_at: None });
    }
    cause_and_stage(&folded)
}

/// The stage that a single word of cause names: `crack_forming`.
fn at_in(folded: &str) -> Option<Stage> {
    (folded == "crack_forming").then_some(Stage::Form)
}

/// `cracked in forming`, `split while scraping`: a cause, small words, a stage and nothing else.
fn cause_and_stage(folded: &str) -> Option<FateRead> {
    let mut words = folded.split('_').filter(|word| !JOINTS.contains(word));
    let first = words.next()?;
    let spoiled_by = look_up(&CAUSES, first);
    if spoiled_by.is_none() && look_up(&FATES, first) != Some(Fate::Spoiled) {
        return None;
    }
    let stage_words: Vec<&str> = words.collect();
    let spoiled_at = look_up(&STAGES, &stage_words.join("_"))?;
    Some(FateRead { fate: Fate::Spoiled, spoiled_by, spoiled_at: Some(spoiled_at) })
}

/// Reads what spoiled a piece.
pub fn cause(cell: &str) -> Option<Cause> {
    look_up(&CAUSES, &fold(cell))
}

/// Reads a making stage: `forming`, `at the gouge`, `Fasson`.
pub fn stage(cell: &str) -> Option<Stage> {
    let folded = fold(cell);
    let words: Vec<&str> = folded.split('_').filter(|word| !JOINTS.contains(word)).collect();
    look_up(&STAGES, &words.join("_"))
}

fn look_up<T: Copy>(table: &[(T, &str)], folded: &str) -> Option<T> {
    table
        .iter()
        .find(|(_, words)| words.split(' ').any(|word| word == folded))
        .map(|(meaning, _)| *meaning)
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use proptest::prelude::*;

    use super::*;

    fn plain(fate: Fate) -> Option<FateRead> {
        Some(FateRead { fate, spoiled_by: None, spoiled_at: None })
    }

    #[test]
    fn the_words_of_the_tidy_log_read_back() {
        for fate in Fate::ALL {
            assert_eq!(read(fate.word()), plain(fate));
            assert_eq!(read(&fate.word().to_uppercase().replace('_', " ")), plain(fate));
        }
        for (cause, _) in CAUSES {
            assert_eq!(super::cause(cause.word()), Some(cause));
        }
        for (stage, _) in STAGES {
            assert_eq!(super::stage(stage.word()), Some(stage));
        }
    }

    #[test]
    fn no_word_means_two_fates_or_a_fate_and_a_cause() {
        let mut seen = HashSet::new();
        let all = FATES
            .iter()
            .flat_map(|(_, words)| words.split(' '))
            .chain(CAUSES.iter().flat_map(|(_, words)| words.split(' ')));
        for word in all {
            assert!(seen.insert(word), "{word} stands twice");
            assert_eq!(fold(word), word, "{word} is not in folded form");
        }
    }

    #[test]
    fn a_cause_says_that_the_piece_is_spoiled() {
        for cell in ["cracked", "Split", "gerissen", "Riss"] {
            let expected = FateRead {
                fate: Fate::Spoiled,
                spoiled_by: Some(Cause::Cracked),
                spoiled_at: None,
            };
            assert_eq!(read(cell), Some(expected), "“{cell}”");
        }
        let at_form = FateRead {
            fate: Fate::Spoiled,
            spoiled_by: Some(Cause::Cracked),
            spoiled_at: Some(Stage::Form),
        };
        for cell in
            ["cracked in forming", "split on the mandrel", "crack_forming", "Cracked (forming)"]
        {
            assert_eq!(read(cell), Some(at_form), "“{cell}”");
        }
    }

    #[test]
    fn whatever_starts_with_gave_or_given_is_given_away() {
        for cell in
            ["gave to Sam", "Gave away", "given to a student", "GAVE AWAY!", "verschenkt an A."]
        {
            assert_eq!(read(cell), plain(Fate::GivenAway), "“{cell}”");
        }
    }

    #[test]
    fn remarks_and_numbers_are_no_fates() {
        for cell in [
            "",
            "E a bit flat, nice low",
            "7",
            "B+",
            "forgave it",
            "lost low notes",
            "E zu tief",
            "leaks a bit at D",
        ] {
            assert_eq!(read(cell), None, "“{cell}”");
        }
    }

    proptest! {
        #[test]
        fn any_text_anywhere_never_panics(text in any::<String>()) {
            let _ = (read(&text), cause(&text), stage(&text));
        }
    }
}
