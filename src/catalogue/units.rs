//! Units that people write, and the one unit that each is kept in.

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

impl Unit {
    /// Whether both measure the same thing, so that [`Unit::convert`] may answer.
    pub fn comparable(self, _other: Unit) -> bool {
        unimplemented!()
    }

    /// The end of a column's name: `mm`, `g_cm3`, `pct`.
    pub fn suffix(self) -> &'static str {
        unimplemented!()
    }

    /// As printed behind a number: `mm`, `g/cm³`, `°C`.
    pub fn symbol(self) -> &'static str {
        unimplemented!()
    }

    /// In words: `thousandths of an inch`.
    pub fn words(self) -> &'static str {
        unimplemented!()
    }

    /// The unit that a text means: a suffix, a symbol or a word, in any case
    /// (`mm`, `.001`, `"`, `wks`, `g/cm3`, `°C`).
    pub fn from_text(_text: &str) -> Option<Unit> {
        unimplemented!()
    }

    /// The value in another unit of the same quantity; none where there is no such
    /// conversion (millimetres to days, a gauge number that no wire has).
    pub fn convert(self, _value: f64, _to: Unit) -> Option<f64> {
        unimplemented!()
    }
}
