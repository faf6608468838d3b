//! Lines above the header: a title, a date, the names of groups of columns. A log never needs
//! editing for them; they are set aside word for word.

use csv::ReaderBuilder;

use super::dialect::DELIMITERS;
use super::parts;
use super::values::headers;
use crate::whole;

/// How many records may be looked at for the header, and how much of the text.
const RECORDS: usize = 12;
const BYTES: usize = 1 << 16;

/// Fewest known headers that make a later line the header.
const FEWEST_KNOWN: usize = 2;

/// The records above the header, and where the header begins.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Titles {
    /// Byte offset and cells of each record.
    pub records: Vec<(usize, Vec<String>)>,
    /// Byte offset of the header's record.
    pub header: usize,
}

/// Finds lines above the header: a few cells at most each, and below them a line of several known headers.
pub(super) fn find(text: &str) -> Titles {
    let (start, _) = text.split_at(text.floor_char_boundary(BYTES));
    DELIMITERS
        .iter()
        .filter_map(|&delimiter| above(start, delimiter))
        .min_by_key(|titles| titles.header)
        .unwrap_or_default()
}

fn above(text: &str, delimiter: u8) -> Option<Titles> {
    let records = first_records(text, delimiter);
    let known = |cells: &[String]| cells.iter().filter(|cell| is_known(cell)).count();
    let header = records.iter().position(|(_, cells)| known(cells) >= FEWEST_KNOWN)?;
    let (before, rest) = records.split_at(header);
    let (header, names) = rest.first()?;
    let width = filled(names);
    let is_title = |(_, cells): &(usize, Vec<String>)| filled(cells) <= 1.max(width / 3);
    (!before.is_empty() && before.iter().all(is_title))
        .then(|| Titles { header: *header, records: before.to_vec() })
}

fn filled(cells: &[String]) -> usize {
    cells.iter().filter(|cell| !cell.trim().is_empty()).count()
}

/// The first records that hold anything, each with where it begins.
fn first_records(text: &str, delimiter: u8) -> Vec<(usize, Vec<String>)> {
    let mut reader = ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut records = Vec::new();
    // the text is cut at a boundary of characters, and reading from memory cannot fail
    for record in reader.records().map_while(Result::ok) {
        let from = record.position().map_or(0, |position| whole::size(position.byte()));
        let breaks = text.bytes().skip(from).take_while(|byte| matches!(byte, b'\r' | b'\n'));
        let cells: Vec<String> = record.iter().map(str::to_owned).collect();
        if filled(&cells) > 0 {
            records.push((from + breaks.count(), cells));
        }
        if records.len() == RECORDS {
            break;
        }
    }
    records
}

/// Whether a cell is a header that the catalogue or one of the smaller files knows.
fn is_known(cell: &str) -> bool {
    let header = headers::read(cell);
    !header.name.is_empty()
        && (!header.candidates().is_empty()
            || header.profile_point().is_some()
            || parts::is_word(&header.name))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn titles(text: &str) -> (Vec<String>, &str) {
        let found = find(text);
        let first = found.records.iter().map(|(_, cells)| cells[0].clone()).collect();
        (first, &text[found.header..])
    }

    #[test]
    fn a_title_above_the_header_is_found_with_and_without_delimiters() {
        for title in ["My reeds", "My reeds,,,,", "\"Reeds, spring\"", "Spring\n\nwritten by hand"]
        {
            let text = format!("{title}\nreed,lot,gouge,rating\n1,a,1.25,7\n");
            let (found, rest) = titles(&text);
            assert!(!found.is_empty(), "{title}");
            assert!(rest.starts_with("reed,lot"), "{title}: {rest}");
        }
        let (found, rest) = titles("Rohre\nNr;Holz;Gesamt\n1;a;2,5\n");
        assert_eq!((found.len(), rest.starts_with("Nr;")), (1, true));
    }

    #[test]
    fn names_of_groups_above_the_header_are_titles() {
        let (found, rest) = titles(",,,Gouge,,,\nreed,lot,made,centre,edge,hardness,rating\n");
        assert_eq!((found.len(), rest.starts_with("reed")), (1, true));
    }

    #[test]
    fn a_header_that_comes_first_has_nothing_above_it() {
        for text in [
            "reed,lot\n1,a\n",
            "mine,yours\nreed,lot\n",
            "reed\n1\n2\n",
            "",
            "\n\n",
            "mine\n1\n\"reed,lot\n",
        ] {
            assert_eq!(find(text).records, Vec::new(), "{text}");
        }
    }
}
