//! Which column of the smaller files is which part.

use super::checks::columns as checks;
use super::columns::{PLAYERS, RATED_ON, SETTINGS, names};
use super::ledger::Ledger;
use super::records::Table;
use super::study_file::StudyFile;
use super::values::headers;
use crate::catalogue::{self, Kind};

/// A column that one of the smaller files may have, with the words for it.
pub(super) struct Part {
    pub name: &'static str,
    pub words: &'static str,
}

pub(super) const RATING_PARTS: [Part; 7] = [
    Part { name: "reed", words: "reed" },
    Part { name: "date", words: RATED_ON },
    Part { name: "player", words: PLAYERS },
    Part { name: "setting", words: SETTINGS },
    Part { name: "criterion", words: "criterion criteria what aspect kriterium merkmal" },
    Part { name: "score", words: "score value mark punkte wert" },
    Part { name: "note", words: "note notes comment comments remark remarks bemerkung kommentar" },
];

pub(super) const LOT_PARTS: [Part; 4] = [
    Part { name: "lot", words: "lot name" },
    Part {
        name: "bought_on",
        words: "bought_on bought date date_bought purchased purchase_date gekauft gekauft_am datum",
    },
    Part {
        name: "price_per_piece",
        words: "price_per_piece price unit_price price_each each cost_per_piece cost preis stueckpreis preis_pro_stueck",
    },
    Part {
        name: "pieces_bought",
        words: "pieces_bought pieces count quantity qty bought_pieces number_bought anzahl stueck",
    },
];

pub(super) const PROFILE_PARTS: [Part; 5] = [
    Part { name: "reed", words: "reed" },
    Part {
        name: "from_tip_mm",
        words: "from_tip from_the_tip distance position from_tip_mm distance_from_tip abstand von_der_spitze",
    },
    Part { name: "line", words: "line where track linie" },
    Part { name: "thickness_mm", words: "thickness thickness_mm reading value dicke staerke" },
    Part { name: "repeat", words: REPEATS },
];

pub(super) const READING_PARTS: [Part; 5] = [
    Part { name: "reed", words: "reed" },
    Part { name: "measure", words: "measure measurement what quantity messung groesse" },
    Part { name: "value", words: "value reading wert" },
    Part { name: "by", words: "by measured_by who person operator player wer" },
    Part { name: "repeat", words: REPEATS },
];

const REPEATS: &str = "repeat repetition rep trial nr_of_reading wiederholung replicate";

/// Which column of a smaller file is which part: the study file's word first, then
/// the header, then the catalogue's synonyms. The first column of a meaning counts.
fn find_part(
    table: &Table,
    study: &StudyFile,
    parts: &[Part],
    column: usize,
) -> Option<&'static str> {
    let header = table.heading(column).trim();
    let setting = study.column(header).and_then(|setting| setting.is.as_deref());
    // a setting for a column of the reeds file with the same header says nothing here
    if let Some(name) = setting {
        let stated = parts.iter().find(|part| part.name == name).map(|part| part.name);
        let rating = catalogue::known(name).is_some_and(|known| known.kind == Kind::Rating);
        if stated.is_some() || rating {
            return stated;
        }
    }
    let taken_apart = headers::read(header);
    let full = taken_apart.full();
    let by_word = |part: &&Part| {
        names(part.words, &taken_apart.name) || names(part.words, &full) || part.name == full
    };
    if let Some(part) = parts.iter().find(by_word) {
        return Some(part.name);
    }
    let known = taken_apart.candidates();
    let by_synonym = |part: &&Part| {
        matches!(part.name, "reed" | "lot") && known.iter().any(|column| column.name == part.name)
    };
    parts.iter().find(by_synonym).map(|part| part.name)
}

/// The columns of a smaller file by part; of two with one meaning the later is said and not used.
pub(super) fn find(
    ledger: &mut Ledger,
    table: &Table,
    study: &StudyFile,
    parts: &[Part],
) -> Vec<(&'static str, usize)> {
    let mut found: Vec<(&'static str, usize)> = Vec::new();
    for column in 0..table.width() {
        let Some(name) = find_part(table, study, parts, column) else { continue };
        match found.iter().find(|(other, _)| *other == name) {
            Some(&(_, first)) => checks::same_meaning(ledger, table, column, first, name),
            None => found.push((name, column)),
        }
    }
    found
}

/// Whether a folded header is a word for a part of one of the smaller files.
pub(super) fn is_word(name: &str) -> bool {
    let mut parts =
        RATING_PARTS.iter().chain(&LOT_PARTS).chain(&PROFILE_PARTS).chain(&READING_PARTS);
    parts.any(|part| names(part.words, name))
}
