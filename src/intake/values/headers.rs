//! Headers as people type them, folded to one form.

pub use super::folding::fold;
use crate::catalogue::{COLUMNS, Column, Kind, Unit};

/// A header taken apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Header {
    /// Lower case, words joined by `_`, no accents (`ä` is `ae`), without the unit:
    /// `gouge_centre` for `Gouge centre (mm)`.
    pub name: String,
    /// The unit that the header names: in brackets, or as its last word.
    pub unit: Option<Unit>,
    /// `5` in `resp/5`.
    pub out_of: Option<f64>,
}

impl Header {
    /// The name with the unit's suffix: `gouge_centre_mm`.
    pub fn full(&self) -> String {
        match self.unit {
            Some(unit) => format!("{}_{}", self.name, unit.suffix()),
            None => self.name.clone(),
        }
    }

    /// The catalogue's columns that this header may mean, the likeliest first. More than one where people
    /// use one word for two things (`formed`: a date or a number of days); the cells decide then.
    pub fn candidates(&self) -> Vec<&'static Column> {
        let name = american(&self.name);
        let full = american(&self.full());
        let by_name = |column: &&Column| column.name == full || stem(column) == name;
        let by_synonym = |column: &&Column| {
            !by_name(column)
                && (column.synonyms.contains(&name.as_str())
                    || column.synonyms.contains(&full.as_str()))
        };
        let mut found: Vec<&Column> = COLUMNS.iter().filter(by_name).collect();
        // the name as it stands in the catalogue comes before one that only lacks its unit
        found.sort_by_key(|column| column.name != full);
        found.extend(COLUMNS.iter().filter(by_synonym));
        found.retain(|column| self.unit.is_none_or(|unit| takes(column, unit)));
        found
    }

    /// Distance from the tip and line of a wide profile column: `profile_15_spine_mm`.
    pub fn profile_point(&self) -> Option<(f64, &'static str)> {
        let rest = self.name.strip_prefix("profile_")?;
        let line_at = rest.find(|c: char| c.is_ascii_alphabetic())?;
        let (position, line) = rest.split_at(line_at);
        // the decimal mark of `2.5` was folded to `_`
        let position = position.trim_end_matches('_').replacen('_', ".", 1).parse::<f64>().ok()?;
        Some((position, blade_line(line.strip_prefix("mm_").unwrap_or(line))?))
    }
}

/// The line of the blade that a text means: `Left channel`, `spine`, `centre`.
pub fn blade_line(text: &str) -> Option<&'static str> {
    let folded = fold(text);
    let spelled = |(_, spellings): &&(&str, &[&str])| spellings.contains(&folded.as_str());
    LINES.iter().find(spelled).map(|(line, _)| *line)
}

/// The lines of a blade, and how people write them.
const LINES: [(&str, &[&str]); 5] = [
    ("spine", &["spine", "center", "centre", "middle", "mid"]),
    ("left_channel", &["left_channel", "channel_left", "lc", "l_channel"]),
    ("right_channel", &["right_channel", "channel_right", "rc", "r_channel"]),
    ("left_rail", &["left_rail", "rail_left", "lr", "l_rail"]),
    ("right_rail", &["right_rail", "rail_right", "rr", "r_rail"]),
];

/// Whether a column can hold values in that unit.
fn takes(column: &Column, unit: Unit) -> bool {
    match (column.kind, column.unit) {
        (Kind::Number, Some(kept)) => {
            kept.comparable(unit) || (unit == Unit::Gauge && kept == Unit::Millimetre)
        }
        (Kind::Number, None) => true,
        (Kind::Rating, _) => unit == Unit::Percent,
        _ => false,
    }
}

/// A catalogue name without its unit: `gouge_center`.
fn stem(column: &Column) -> &'static str {
    let Some(unit) = column.unit else { return column.name };
    let stem = column.name.strip_suffix(unit.suffix()).and_then(|name| name.strip_suffix('_'));
    stem.unwrap_or(column.name)
}

/// Takes a header apart.
pub fn read(header: &str) -> Header {
    let mut rest = header.trim().replace(['Ø', '⌀'], " diameter ");
    if rest == "#" || rest == "№" {
        rest = "number".to_owned();
    }
    let mut unit = None;
    let mut out_of = None;
    while let Some((start, end)) = brackets(&rest) {
        let inside = rest.get(start + 1..end).unwrap_or_default();
        let found_unit = Unit::from_text(inside);
        let found_scale = scale_in(inside);
        if found_unit.is_none() && found_scale.is_none() {
            break;
        }
        unit = unit.or(found_unit);
        out_of = out_of.or(found_scale);
        rest.replace_range(start..=end, " ");
    }
    if let Some((name, scale)) =
        rest.rsplit_once('/').and_then(|(name, scale)| Some((name, count(scale)?)))
        && !name.trim().is_empty()
    {
        out_of = out_of.or(Some(scale));
        rest = name.to_owned();
    }
    if let Some(name) = rest.trim_end().strip_suffix('%') {
        unit = unit.or(Some(Unit::Percent));
        rest = name.to_owned();
    }
    let name = fold(&rest);
    if unit.is_some() || out_of.is_some() {
        return Header { name, unit, out_of };
    }
    let (name, unit) = without_unit_word(name);
    Header { name, unit, out_of }
}

/// The last pair of brackets, as byte positions.
fn brackets(text: &str) -> Option<(usize, usize)> {
    let end = text.rfind([')', ']'])?;
    let start = text.get(..end)?.rfind(['(', '['])?;
    Some((start, end))
}

/// The top of a scale in brackets: `1-5`, `1 to 10`, `/10`, `out of 10`.
fn scale_in(inside: &str) -> Option<f64> {
    let inside = inside.trim();
    if let Some(top) = inside.strip_prefix('/').or_else(|| inside.strip_prefix("out of ")) {
        return count(top);
    }
    let (low, high) =
        ["..", "–", "-", " to ", " bis "].iter().find_map(|joint| inside.split_once(joint))?;
    let low: f64 = low.trim().parse().ok().filter(|low| *low == 0.0 || *low == 1.0)?;
    count(high).filter(|high| *high > low)
}

fn count(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = (1..=4).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    text.parse().ok().filter(|count: &f64| plain && *count > 1.0)
}

/// Words that close a header and can only be a unit.
const UNIT_WORDS: [&str; 29] = [
    "mm",
    "cm",
    "thou",
    "um",
    "days",
    "weeks",
    "hours",
    "hz",
    "cents",
    "pct",
    "awg",
    "swg",
    "inch",
    "inches",
    "mil",
    "mils",
    "thousandths",
    "months",
    "minutes",
    "mins",
    "hrs",
    "percent",
    "millimeters",
    "millimetres",
    "wks",
    "tage",
    "wochen",
    "stunden",
    "minuten",
];

/// Words that may also be something else (`broken_in`, `min`): a unit only where the catalogue knows the rest.
const DOUBTFUL_UNIT_WORDS: [&str; 5] = ["in", "min", "c", "f", "g"];

/// Takes the unit from the end (`gouge_mm`, `density_g_cm3`) or from the front (`weeks_on_pin`) of a folded name.
fn without_unit_word(name: String) -> (String, Option<Unit>) {
    for suffix in [Unit::GramPerCubicCentimetre, Unit::KilogramPerCubicMetre] {
        if let Some(rest) =
            name.strip_suffix(suffix.suffix()).and_then(|rest| rest.strip_suffix('_'))
        {
            return (rest.to_owned(), Some(suffix));
        }
    }
    if let Some((rest, last)) = name.rsplit_once('_') {
        let unit = Unit::from_text(last);
        if unit.is_some() && (UNIT_WORDS.contains(&last) || doubtful_but_known(rest, last, unit)) {
            return (rest.to_owned(), unit);
        }
    }
    if let Some((first, rest)) = name.split_once('_') {
        let unit = Unit::from_text(first).filter(|unit| unit.comparable(Unit::Day));
        if unit.is_some() && UNIT_WORDS.contains(&first) && rest.starts_with("on_") {
            return (rest.to_owned(), unit);
        }
    }
    (name, None)
}

fn doubtful_but_known(rest: &str, last: &str, unit: Option<Unit>) -> bool {
    let header = Header { name: rest.to_owned(), unit, out_of: None };
    DOUBTFUL_UNIT_WORDS.contains(&last) && !header.candidates().is_empty()
}

/// British words and the American ones that the catalogue uses.
const SPELLINGS: [(&str, &str); 9] = [
    ("centre", "center"),
    ("colour", "color"),
    ("grey", "gray"),
    ("mould", "mold"),
    ("spoilt", "spoiled"),
    ("metre", "meter"),
    ("fibre", "fiber"),
    ("ageing", "aging"),
    ("organisation", "organization"),
];

/// The folded name with American spelling, as the catalogue's synonyms are.
fn american(folded: &str) -> String {
    let word = |word: &str| {
        let american = SPELLINGS.iter().find(|(british, _)| *british == word);
        american.map_or_else(|| word.to_owned(), |(_, american)| (*american).to_owned())
    };
    folded.split('_').map(word).collect::<Vec<_>>().join("_")
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn first(header: &str) -> Option<&'static str> {
        read(header).candidates().first().map(|column| column.name)
    }

    #[test]
    fn case_spaces_dots_and_dashes_are_folded() {
        for header in
            ["Gouge Centre", "gouge.centre", "gouge-centre", " GOUGE  centre ", "gouge_centre"]
        {
            assert_eq!(read(header).name, "gouge_centre", "“{header}”");
        }
    }

    #[test]
    fn units_are_taken_from_brackets_and_from_the_last_word() {
        let cases = [
            ("Gouge centre (mm)", "gouge_centre", Some(Unit::Millimetre)),
            ("Gouge (.001)", "gouge", Some(Unit::Thou)),
            ("gouge_center_thou", "gouge_center", Some(Unit::Thou)),
            ("Density [g/cm³]", "density", Some(Unit::GramPerCubicCentimetre)),
            ("density_kg_m3", "density", Some(Unit::KilogramPerCubicMetre)),
            ("RH %", "rh", Some(Unit::Percent)),
            ("forming_rh_pct", "forming_rh", Some(Unit::Percent)),
            ("soak_min", "soak", Some(Unit::Minute)),
            ("forming_c", "forming", Some(Unit::Celsius)),
            ("blade in", "blade", Some(Unit::Inch)),
            ("weeks on pin", "on_pin", Some(Unit::Week)),
            ("days", "days", None),
            ("broken in", "broken_in", None),
            ("width min", "width_min", None),
        ];
        for (header, name, unit) in cases {
            let found = read(header);
            assert_eq!((found.name.as_str(), found.unit), (name, unit), "“{header}”");
        }
    }

    #[test]
    fn a_scale_in_the_header_is_taken() {
        for header in
            ["resp/5", "resp / 5", "Resp (/5)", "resp (1-5)", "Resp (1 to 5)", "resp [out of 5]"]
        {
            let found = read(header);
            assert_eq!((found.name.as_str(), found.out_of), ("resp", Some(5.0)), "“{header}”");
        }
        assert_eq!(read("tone (dark-bright)").out_of, None);
        assert_eq!(read("tone (dark-bright)").name, "tone_dark_bright");
    }

    /// Headers of the four spreadsheet styles that makers keep: American, German, British, play log.
    #[test]
    fn headers_as_people_type_them_find_their_column() {
        let cases = [
            ("Reed #", "reed"),
            ("Cane", "lot"),
            ("Made", "started_on"),
            ("Gouge (.001)", "gouge_center_mm"),
            ("Hardness", "hardness"),
            ("Tip cut", "finished_on"),
            ("Rating", "rating"),
            ("Notes", "note"),
            ("Nr", "reed"),
            ("Holz", "lot"),
            ("Hobel Mitte", "gouge_center_mm"),
            ("Rand", "gouge_edge_mm"),
            ("Härte", "hardness"),
            ("Aufgebunden", "started_on"),
            ("Fertig", "finished_on"),
            ("Ansprache", "response"),
            ("Klang", "tone"),
            ("Gesamt", "overall"),
            ("Bemerkung", "note"),
            ("id", "reed"),
            ("days", "forming_days"),
            ("wire", "wire_mm"),
            ("resp/5", "response"),
            ("hrs", "hours_played"),
            ("retired", "last_played"),
            ("why", "fate"),
            ("RH", "forming_rh_pct"),
            ("Cane Ø", "tube_diameter_mm"),
            ("Gouge centre (mm)", "gouge_center_mm"),
            ("tube (mm)", "tube_mm"),
            ("tube", "tube"),
        ];
        for (header, column) in cases {
            assert_eq!(first(header), Some(column), "“{header}”");
        }
    }

    #[test]
    fn one_word_for_two_things_gives_both() {
        let names: Vec<&str> =
            read("formed").candidates().iter().map(|column| column.name).collect();
        assert!(names.contains(&"forming_days") && names.contains(&"started_on"), "{names:?}");
        assert_eq!(first("formed (days)"), Some("forming_days"));
    }

    #[test]
    fn a_unit_of_another_quantity_finds_no_column() {
        assert_eq!(first("gouge (days)"), None);
        assert_eq!(first("my own thing"), None);
        assert_eq!(first("wire (gauge)"), Some("wire_mm"));
    }

    #[test]
    fn every_name_of_the_catalogue_finds_its_own_column_first() {
        for column in COLUMNS {
            assert_eq!(first(column.name), Some(column.name));
            assert_eq!(first(&column.name.to_uppercase().replace('_', " ")), Some(column.name));
        }
    }

    #[test]
    fn wide_profile_columns_name_a_place_and_a_line() {
        assert_eq!(read("profile_15_spine_mm").profile_point(), Some((15.0, "spine")));
        assert_eq!(read("Profile 2.5 left rail (mm)").profile_point(), Some((2.5, "left_rail")));
        assert_eq!(read("profile_15_mm_spine_mm").profile_point(), Some((15.0, "spine")));
        assert_eq!(read("profile_spine_mm").profile_point(), None);
        assert_eq!(read("profile_15_nose_mm").profile_point(), None);
        assert_eq!(blade_line("Left channel"), Some("left_channel"));
    }

    proptest! {
        #[test]
        fn any_text_anywhere_never_panics(text in any::<String>()) {
            let header = read(&text);
            let _ = (header.candidates(), header.profile_point(), header.full());
        }

        #[test]
        fn any_text_near_a_header_never_panics(text in "[a-zé_ ]{0,8}[(\\[]?[0-9./%-]{0,5}(mm|in|°C|é)?[)\\]]?[/%]?[0-9]{0,6}") {
            let header = read(&text);
            let _ = (header.candidates(), header.profile_point());
        }
    }
}
