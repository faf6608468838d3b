//! Units that people write, and the one unit that each is kept in.

use super::conversions;
use crate::whole;

/// A unit of measurement as it may stand in a header, a cell or the study file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    Millimetre,
    Centimetre,
    Micrometre,
    Inch,
    /// A thousandth of an inch.
    Thou,
    /// American wire gauge number (ASTM B258).
    Awg,
    /// British standard wire gauge number.
    Swg,
    /// A wire gauge number of an unstated system: cannot be converted.
    Gauge,
    Second,
    Minute,
    Hour,
    Day,
    Week,
    /// A twelfth of a mean Gregorian year, 30.44 days: approximate.
    Month,
    Gram,
    GramPerCubicCentimetre,
    KilogramPerCubicMetre,
    Hertz,
    Cent,
    Celsius,
    Fahrenheit,
    Percent,
}

/// What a unit measures. Wire gauges are lengths, but only one way: to millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Quantity {
    Length,
    UnstatedGauge,
    Time,
    Mass,
    Density,
    Frequency,
    Interval,
    Temperature,
    Share,
}

/// One line of the table of units.
struct Entry {
    unit: Unit,
    quantity: Quantity,
    suffix: &'static str,
    symbol: &'static str,
    words: &'static str,
    /// Other spellings, lower case, without the closing dot of an abbreviation.
    spellings: &'static [&'static str],
}

const fn entry(
    unit: Unit,
    quantity: Quantity,
    names: [&'static str; 3],
    spellings: &'static [&'static str],
) -> Entry {
    let [suffix, symbol, words] = names;
    Entry { unit, quantity, suffix, symbol, words, spellings }
}

/// In the order of [`Unit`]'s variants, which a test holds it to.
const UNITS: [Entry; 22] = [
    entry(
        Unit::Millimetre,
        Quantity::Length,
        ["mm", "mm", "millimetres"],
        &["millimetre", "millimeter", "millimeters", "mms"],
    ),
    entry(
        Unit::Centimetre,
        Quantity::Length,
        ["cm", "cm", "centimetres"],
        &["centimetre", "centimeter", "centimeters"],
    ),
    entry(
        Unit::Micrometre,
        Quantity::Length,
        ["um", "μm", "micrometres"],
        &["micron", "microns", "micrometre", "micrometer", "micrometers"],
    ),
    entry(
        Unit::Inch,
        Quantity::Length,
        ["in", "in", "inches"],
        &["inch", "\"", "”", "″", "''", "zoll"],
    ),
    entry(
        Unit::Thou,
        Quantity::Length,
        ["thou", "thou", "thousandths of an inch"],
        &[
            ".001",
            "0.001",
            ".001\"",
            ".001 in",
            "0.001\"",
            "0.001 in",
            "0.001 inch",
            ".001 inch",
            "1/1000",
            "1/1000 in",
            "1/1000\"",
            "mil",
            "mils",
            "thous",
            "thousandth",
            "thousandths",
        ],
    ),
    entry(
        Unit::Awg,
        Quantity::Length,
        ["awg", "AWG", "American wire gauge"],
        &["gauge awg", "ga awg", "b&s"],
    ),
    entry(
        Unit::Swg,
        Quantity::Length,
        ["swg", "SWG", "British standard wire gauge"],
        &["gauge swg", "ga swg"],
    ),
    entry(
        Unit::Gauge,
        Quantity::UnstatedGauge,
        ["ga", "gauge", "wire gauge of an unstated system"],
        &["gauge", "gage", "guage"],
    ),
    entry(
        Unit::Second,
        Quantity::Time,
        ["s", "s", "seconds"],
        &["sec", "secs", "second", "sek", "sekunde", "sekunden"],
    ),
    entry(
        Unit::Minute,
        Quantity::Time,
        ["min", "min", "minutes"],
        &["mins", "minute", "minuten", "'"],
    ),
    entry(
        Unit::Hour,
        Quantity::Time,
        ["hours", "h", "hours"],
        &["hour", "hr", "hrs", "std", "stunde", "stunden", "heures"],
    ),
    entry(
        Unit::Day,
        Quantity::Time,
        ["days", "days", "days"],
        &["day", "d", "dys", "tag", "tage", "tagen", "jours"],
    ),
    entry(
        Unit::Week,
        Quantity::Time,
        ["weeks", "weeks", "weeks"],
        &["week", "wk", "wks", "w", "woche", "wochen", "semaines"],
    ),
    entry(
        Unit::Month,
        Quantity::Time,
        ["months", "months", "months"],
        &["month", "mo", "mos", "mth", "mths", "monat", "monate", "monaten", "mois"],
    ),
    entry(Unit::Gram, Quantity::Mass, ["g", "g", "grams"], &["gram", "gramm", "gr", "gramme"]),
    entry(
        Unit::GramPerCubicCentimetre,
        Quantity::Density,
        ["g_cm3", "g/cm³", "grams per cubic centimetre"],
        &["g/cm3", "g/cm^3", "g/cc", "g cm3", "g/ccm", "g/ml", "gcm3", "g cm-3"],
    ),
    entry(
        Unit::KilogramPerCubicMetre,
        Quantity::Density,
        ["kg_m3", "kg/m³", "kilograms per cubic metre"],
        &["kg/m3", "kg/m^3", "kg m3", "kgm3", "kg m-3"],
    ),
    entry(Unit::Hertz, Quantity::Frequency, ["hz", "Hz", "hertz"], &["cps"]),
    entry(Unit::Cent, Quantity::Interval, ["cents", "cents", "cents"], &["cent", "ct"]),
    entry(
        Unit::Celsius,
        Quantity::Temperature,
        ["c", "°C", "degrees Celsius"],
        &["°c", "ºc", "celsius", "deg c", "degc", "grad c", "degrees c", "centigrade", "°"],
    ),
    entry(
        Unit::Fahrenheit,
        Quantity::Temperature,
        ["f", "°F", "degrees Fahrenheit"],
        &["°f", "ºf", "fahrenheit", "deg f", "degf", "degrees f"],
    ),
    entry(
        Unit::Percent,
        Quantity::Share,
        ["pct", "%", "percent"],
        &["per cent", "prozent", "percentage", "%rh", "% rh"],
    ),
];

impl Unit {
    /// Every unit, lengths first.
    pub fn all() -> impl Iterator<Item = Unit> {
        UNITS.iter().map(|entry| entry.unit)
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "the table has one entry a variant in their order, which a test checks"
    )]
    fn entry(self) -> &'static Entry {
        &UNITS[self as usize]
    }

    /// Whether both measure the same thing, so that [`Unit::convert`] may answer.
    pub fn comparable(self, other: Unit) -> bool {
        self.entry().quantity == other.entry().quantity
    }

    /// The end of a column's name: `mm`, `g_cm3`, `pct`.
    pub fn suffix(self) -> &'static str {
        self.entry().suffix
    }

    /// As printed behind a number: `mm`, `g/cm³`, `°C`.
    pub fn symbol(self) -> &'static str {
        self.entry().symbol
    }

    /// In words: `thousandths of an inch`.
    pub fn words(self) -> &'static str {
        self.entry().words
    }

    /// The unit that a text means: a suffix, a symbol or a word, in any case
    /// (`mm`, `.001`, `"`, `wks`, `g/cm3`, `°C`).
    pub fn from_text(text: &str) -> Option<Unit> {
        let plain = plain_spelling(text);
        let means = |entry: &&Entry| {
            entry.suffix == plain
                || entry.symbol.to_lowercase() == plain
                || entry.words.eq_ignore_ascii_case(&plain)
                || entry.spellings.contains(&plain.as_str())
        };
        UNITS.iter().find(means).map(|entry| entry.unit)
    }

    /// The value in another unit of the same quantity; none where there is no such
    /// conversion (millimetres to days, a gauge number that no wire has).
    ///
    /// The answer is rounded to 12 significant digits, far below what any gauge reads, so that
    /// 49.5 thousandths of an inch and 1.2573 mm are one and the same number.
    pub fn convert(self, value: f64, to: Unit) -> Option<f64> {
        if self == to {
            return Some(value);
        }
        if !self.comparable(to) {
            return None;
        }
        to.of_base(self.to_base(value)?).map(to_twelve_digits)
    }

    /// How many base units one of these is; none where the relation is no factor.
    /// Base units: mm, days, g, g/cm³.
    fn factor(self) -> Option<f64> {
        Some(match self {
            Unit::Millimetre | Unit::Day | Unit::Gram | Unit::GramPerCubicCentimetre => 1.0,
            Unit::Centimetre => 10.0,
            Unit::Micrometre => 0.001,
            Unit::Inch => conversions::MILLIMETRES_PER_INCH,
            Unit::Thou => conversions::MILLIMETRES_PER_THOU,
            Unit::Second => 1.0 / 86_400.0,
            Unit::Minute => 1.0 / 1_440.0,
            Unit::Hour => 1.0 / 24.0,
            Unit::Week => 7.0,
            Unit::Month => conversions::DAYS_PER_MONTH,
            Unit::KilogramPerCubicMetre => 0.001,
            _ => return None,
        })
    }

    fn to_base(self, value: f64) -> Option<f64> {
        match self {
            Unit::Awg => conversions::awg_to_mm(value),
            Unit::Swg => conversions::swg_to_mm(value),
            Unit::Fahrenheit => Some(conversions::fahrenheit_to_celsius(value)),
            Unit::Celsius => Some(value),
            other => other.factor().map(|factor| value * factor),
        }
    }

    fn of_base(self, value: f64) -> Option<f64> {
        match self {
            Unit::Fahrenheit => Some(conversions::celsius_to_fahrenheit(value)),
            Unit::Celsius => Some(value),
            other => other.factor().map(|factor| value / factor),
        }
    }
}

/// The nearest number of 12 significant digits; what is no finite number stays as it is.
fn to_twelve_digits(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let decimals = 11 - whole::small(value.abs().log10().floor());
    // powers of ten are exact up to 22, which no length, time or density needs to pass
    let power = 10f64.powi(decimals.abs());
    if !(-22..=22).contains(&decimals) {
        return value;
    }
    if decimals >= 0 { (value * power).round() / power } else { (value / power).round() * power }
}

/// Lower case, single spaces, no dot behind an abbreviation.
fn plain_spelling(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    // the micro sign and the Greek letter look alike and are two characters
    let plain = words.join(" ").to_lowercase().replace('³', "3").replace('µ', "μ");
    plain.strip_suffix('.').map(str::to_owned).unwrap_or(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_has_one_entry_a_unit_in_their_order() {
        for (at, entry) in UNITS.iter().enumerate() {
            assert_eq!(entry.unit as usize, at, "{:?}", entry.unit);
        }
        assert_eq!(Unit::Percent as usize + 1, UNITS.len(), "Percent is the last unit");
    }

    #[test]
    fn every_spelling_means_one_unit_only() {
        for entry in &UNITS {
            let names = [entry.suffix, entry.symbol, entry.words];
            for spelling in entry.spellings.iter().chain(&names) {
                assert_eq!(Unit::from_text(spelling), Some(entry.unit), "“{spelling}”");
                assert_eq!(
                    Unit::from_text(&spelling.to_uppercase()),
                    Some(entry.unit),
                    "“{spelling}”"
                );
            }
        }
    }

    #[test]
    fn abbreviations_may_close_with_a_dot() {
        assert_eq!(Unit::from_text("wks."), Some(Unit::Week));
        assert_eq!(Unit::from_text(" Std. "), Some(Unit::Hour));
        assert_eq!(Unit::from_text("."), None);
        assert_eq!(Unit::from_text(""), None);
    }

    #[test]
    fn conversions_are_those_of_the_definitions() {
        let cases = [
            (Unit::Inch, 1.0, Unit::Millimetre, 25.4),
            (Unit::Thou, 50.0, Unit::Millimetre, 1.27),
            (Unit::Centimetre, 12.0, Unit::Millimetre, 120.0),
            (Unit::Micrometre, 640.0, Unit::Millimetre, 0.64),
            (Unit::Week, 2.0, Unit::Day, 14.0),
            (Unit::Hour, 2.0, Unit::Minute, 120.0),
            (Unit::Day, 1.0, Unit::Hour, 24.0),
            (Unit::KilogramPerCubicMetre, 537.0, Unit::GramPerCubicCentimetre, 0.537),
            (Unit::Fahrenheit, 68.0, Unit::Celsius, 20.0),
        ];
        for (from, value, to, expected) in cases {
            let found = from.convert(value, to).expect("the same quantity");
            assert!((found - expected).abs() < 1e-12, "{value} {from:?} gave {found}");
        }
    }

    #[test]
    fn a_converted_value_is_the_same_number_as_the_one_written_in_the_other_unit() {
        let mm = |value: f64, unit: Unit| unit.convert(value, Unit::Millimetre);
        for thou in 1..200 {
            let written: f64 = format!("{}.{:04}", thou * 254 / 10_000, thou * 254 % 10_000)
                .parse()
                .expect("digits");
            assert_eq!(mm(f64::from(thou), Unit::Thou), Some(written), "{thou} thou");
        }
        assert_eq!(mm(49.5, Unit::Thou), Some(1.2573));
        assert_eq!(mm(0.0495, Unit::Inch), Some(1.2573));
        assert_eq!(mm(22.0, Unit::Swg), Some(0.7112));
        assert_eq!(
            Unit::KilogramPerCubicMetre.convert(537.0, Unit::GramPerCubicCentimetre),
            Some(0.537)
        );
        assert_eq!(mm(f64::INFINITY, Unit::Inch), Some(f64::INFINITY));
        assert_eq!(
            mm(1e-300, Unit::Inch),
            Some(2.54e-299),
            "beyond the exact powers it stays as it is"
        );
    }

    #[test]
    fn a_value_converted_there_and_back_is_the_value() {
        for from in Unit::all() {
            for to in Unit::all().filter(|to| from.comparable(*to)) {
                let Some(there) = from.convert(3.0, to) else { continue };
                let Some(back) = to.convert(there, from) else { continue };
                assert!((back - 3.0).abs() < 1e-9, "{from:?} {to:?}");
            }
        }
    }

    #[test]
    fn other_quantities_and_unstated_gauges_do_not_convert() {
        assert_eq!(Unit::Millimetre.convert(1.0, Unit::Day), None);
        assert_eq!(Unit::Cent.convert(1.0, Unit::Hertz), None, "a reference pitch is needed");
        assert_eq!(Unit::Gauge.convert(22.0, Unit::Millimetre), None);
        assert_eq!(Unit::Millimetre.convert(0.644, Unit::Awg), None, "a diameter is no number");
        assert_eq!(Unit::Awg.convert(22.5, Unit::Millimetre), None);
    }
}
