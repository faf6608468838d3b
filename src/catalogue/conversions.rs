//! Published conversions, each with its source.
//!
//! Lengths, times and temperatures are exact definitions. Wire gauges follow
//! ASTM B258 (AWG) by formula and the British standard of 1884 (SWG) by table.

use crate::whole;

/// Millimetres in an inch: exact since the international yard of 1959 (NIST SP 811, appendix B.8).
pub const MILLIMETRES_PER_INCH: f64 = 25.4;

/// Millimetres in a thousandth of an inch, exact.
pub const MILLIMETRES_PER_THOU: f64 = 0.0254;

/// Days in a month: a twelfth of the mean Gregorian year of 365.2425 days.
pub const DAYS_PER_MONTH: f64 = 365.2425 / 12.0;

/// Frequency of A4 in hertz (ISO 16:1975).
pub const STANDARD_PITCH_HZ: f64 = 440.0;

/// SWG numbers 10 to 30 in inches: British legal standard of 1884, the same in BS 3737 (from memory).
const SWG_INCHES: [f64; 21] = [
    0.128, 0.116, 0.104, 0.092, 0.080, 0.072, 0.064, 0.056, 0.048, 0.040, 0.036, 0.032, 0.028,
    0.024, 0.022, 0.020, 0.018, 0.0164, 0.0148, 0.0136, 0.0124,
];

/// The number of the first entry of [`SWG_INCHES`].
const FIRST_SWG: usize = 10;

/// Diameter in millimetres of a wire of that American gauge number, 0 to 40.
///
/// `d = 0.127 mm * 92^((36 - n) / 39)` (ASTM B258, section on the basis of the gauge).
pub fn awg_to_mm(number: f64) -> Option<f64> {
    let in_table = (0.0..=40.0).contains(&number) && number.fract() == 0.0;
    in_table.then(|| 0.127 * 92f64.powf((36.0 - number) / 39.0))
}

/// Diameter in millimetres of a wire of that British gauge number, 10 to 30.
pub fn swg_to_mm(number: f64) -> Option<f64> {
    if !(FIRST_SWG as f64..=30.0).contains(&number) || number.fract() != 0.0 {
        return None;
    }
    SWG_INCHES.get(whole::part(number) - FIRST_SWG).map(|inches| inches * MILLIMETRES_PER_INCH)
}

/// Degrees Celsius of degrees Fahrenheit (NIST SP 811, appendix B.8).
pub fn fahrenheit_to_celsius(degrees: f64) -> f64 {
    (degrees - 32.0) * 5.0 / 9.0
}

/// Degrees Fahrenheit of degrees Celsius.
pub fn celsius_to_fahrenheit(degrees: f64) -> f64 {
    degrees * 9.0 / 5.0 + 32.0
}

/// How far a pitch lies above a reference, in cents: `1200 log2(f / f0)`.
/// None where either is not a positive number.
pub fn cents_above(hertz: f64, reference: f64) -> Option<f64> {
    let both = hertz > 0.0 && reference > 0.0 && hertz.is_finite() && reference.is_finite();
    both.then(|| 1200.0 * (hertz / reference).log2())
}

/// The pitch so many cents above a reference, in hertz.
pub fn hertz_above(reference: f64, cents: f64) -> f64 {
    reference * (cents / 1200.0).exp2()
}

/// The pitch of a MIDI note number in hertz, equal temperament with A4 (note 69) at 440 Hz.
pub fn note_hertz(note: i32) -> f64 {
    STANDARD_PITCH_HZ * (f64::from(note - 69) / 12.0).exp2()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rounded(value: f64, digits: i32) -> f64 {
        let scale = 10f64.powi(digits);
        (value * scale).round() / scale
    }

    #[test]
    fn an_inch_is_exactly_25_4_millimetres_and_a_thousand_thou() {
        assert_eq!(MILLIMETRES_PER_INCH, 25.4);
        assert_eq!(MILLIMETRES_PER_THOU * 1000.0, MILLIMETRES_PER_INCH);
    }

    /// ASTM B258, table of nominal diameters, in millimetres to three decimals.
    #[test]
    fn american_wire_numbers_have_the_diameters_of_astm_b258() {
        let published = [
            (10, 2.588),
            (18, 1.024),
            (20, 0.812),
            (21, 0.723),
            (22, 0.644),
            (23, 0.573),
            (24, 0.511),
            (30, 0.255),
        ];
        for (number, diameter) in published {
            assert_eq!(
                awg_to_mm(f64::from(number)).map(|mm| rounded(mm, 3)),
                Some(diameter),
                "AWG {number}"
            );
        }
    }

    /// The two definitions that the gauge rests on: number 36 is 0.005 inch, number 0000 is 0.46 inch
    /// and 39 steps lie between them (ASTM B258). Number 0 is three steps from 0000: 0.3249 inch.
    #[test]
    fn american_wire_rests_on_number_36_at_five_thou() {
        assert_eq!(awg_to_mm(36.0).map(|mm| rounded(mm, 9)), Some(0.127));
        assert_eq!(awg_to_mm(0.0).map(|mm| rounded(mm / MILLIMETRES_PER_INCH, 4)), Some(0.3249));
    }

    /// British standard wire gauge, legal since 1884: 20 is 0.036 in, 22 is 0.028 in, 24 is 0.022 in.
    #[test]
    fn british_wire_numbers_have_their_legal_diameters() {
        let published = [(20, 0.914), (21, 0.813), (22, 0.711), (23, 0.610), (24, 0.559)];
        for (number, diameter) in published {
            assert_eq!(
                swg_to_mm(f64::from(number)).map(|mm| rounded(mm, 3)),
                Some(diameter),
                "SWG {number}"
            );
        }
    }

    #[test]
    fn a_gauge_number_that_no_wire_has_gives_none() {
        for number in [-1.0, 22.5, 41.0, 1e300, f64::NAN, f64::INFINITY] {
            assert_eq!(awg_to_mm(number), None, "AWG {number}");
            assert_eq!(swg_to_mm(number), None, "SWG {number}");
        }
    }

    /// Freezing, boiling, and the one temperature at which both scales agree.
    #[test]
    fn water_freezes_at_32_fahrenheit_and_boils_at_212() {
        for (fahrenheit, celsius) in [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (140.0, 60.0)] {
            assert!((fahrenheit_to_celsius(fahrenheit) - celsius).abs() < 1e-12);
            assert!((celsius_to_fahrenheit(celsius) - fahrenheit).abs() < 1e-12);
        }
    }

    /// Equal temperament at A4 = 440 Hz (ISO 16): E3, F3, C#3, E4 to a hundredth of a hertz.
    #[test]
    fn notes_have_their_published_frequencies() {
        for (note, hertz) in [(49, 138.59), (52, 164.81), (53, 174.61), (64, 329.63), (69, 440.0)] {
            assert_eq!(rounded(note_hertz(note), 2), hertz, "note {note}");
        }
    }

    #[test]
    fn an_octave_is_1200_cents_and_442_hertz_lies_7_85_above_440() {
        assert_eq!(cents_above(880.0, 440.0), Some(1200.0));
        assert_eq!(cents_above(442.0, 440.0).map(|cents| rounded(cents, 2)), Some(7.85));
        assert_eq!(cents_above(0.0, 440.0), None);
        assert_eq!(cents_above(440.0, f64::NAN), None);
    }

    #[test]
    fn hertz_and_cents_undo_each_other() {
        for cents in [-1200.0, -13.9, 0.0, 50.0, 702.0] {
            let back = cents_above(hertz_above(164.81, cents), 164.81).expect("both are positive");
            assert!((back - cents).abs() < 1e-9);
        }
    }
}
