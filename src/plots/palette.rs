//! The colours, for a light and a dark page.
//!
//! Five series colours and five neutrals. The tests hold every pair of series
//! colours apart for normal vision and for the three dichromacies, and every
//! colour legible on its page.

/// What a mark is drawn in. Its class in the SVG is [`Ink::name`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    Page,
    Text,
    /// Secondary text.
    Quiet,
    /// Grid lines and frames.
    Line,
    River,
    Cane,
    Clay,
    Sage,
    Plum,
}

/// Red, green and blue of sRGB.
pub type Rgb = [u8; 3];

impl Ink {
    pub const ALL: [Ink; 9] = [
        Ink::Page,
        Ink::Text,
        Ink::Quiet,
        Ink::Line,
        Ink::River,
        Ink::Cane,
        Ink::Clay,
        Ink::Sage,
        Ink::Plum,
    ];
    /// The colours that tell series apart, in the order in which they are given out.
    pub const SERIES: [Ink; 5] = [Ink::River, Ink::Cane, Ink::Clay, Ink::Plum, Ink::Sage];

    /// The colour of the series at a place.
    pub fn of_series(position: usize) -> Ink {
        in_turn(Ink::SERIES, position)
    }

    pub fn name(self) -> &'static str {
        match self {
            Ink::Page => "page",
            Ink::Text => "text",
            Ink::Quiet => "quiet",
            Ink::Line => "line",
            Ink::River => "river",
            Ink::Cane => "cane",
            Ink::Clay => "clay",
            Ink::Sage => "sage",
            Ink::Plum => "plum",
        }
    }

    pub fn light(self) -> Rgb {
        match self {
            Ink::Page => [0xfb, 0xf8, 0xf1],
            Ink::Text => [0x22, 0x28, 0x2c],
            Ink::Quiet => [0x5a, 0x60, 0x66],
            Ink::Line => [0xd6, 0xd0, 0xc2],
            Ink::River => [0x20, 0x79, 0xa9],
            Ink::Cane => [0xbe, 0x7e, 0x00],
            Ink::Clay => [0x9e, 0x33, 0x22],
            Ink::Sage => [0x75, 0x90, 0x75],
            Ink::Plum => [0x5b, 0x38, 0x76],
        }
    }

    pub fn dark(self) -> Rgb {
        match self {
            Ink::Page => [0x1b, 0x1f, 0x22],
            Ink::Text => [0xec, 0xe7, 0xdc],
            Ink::Quiet => [0xa9, 0xa6, 0x9d],
            Ink::Line => [0x43, 0x48, 0x4b],
            Ink::River => [0x62, 0xbc, 0xed],
            Ink::Cane => [0xe0, 0xa8, 0x3a],
            Ink::Clay => [0xd7, 0x6d, 0x5a],
            Ink::Sage => [0xab, 0xd3, 0xb2],
            Ink::Plum => [0x94, 0x7b, 0xae],
        }
    }
}

/// `#2079A9`
pub fn hex(colour: Rgb) -> String {
    let [red, green, blue] = colour;
    format!("#{red:02X}{green:02X}{blue:02X}")
}

/// The style sheet that a picture carries: classes `f-NAME` fill, `s-NAME` stroke.
pub fn style_sheet() -> String {
    let rules = |colour: fn(Ink) -> Rgb| -> String {
        Ink::ALL
            .iter()
            .map(|ink| {
                let (name, colour) = (ink.name(), hex(colour(*ink)));
                format!(".cw .f-{name}{{fill:{colour}}}.cw .s-{name}{{stroke:{colour}}}")
            })
            .collect()
    };
    format!(
        "{}@media screen and (prefers-color-scheme:dark){{{}}}",
        rules(Ink::light),
        rules(Ink::dark)
    )
}

/// The same colours as custom properties, `--river`, for the page around the pictures.
pub fn custom_properties() -> String {
    let properties = |colour: fn(Ink) -> Rgb| -> String {
        Ink::ALL.iter().map(|ink| format!("--{}:{};", ink.name(), hex(colour(*ink)))).collect()
    };
    format!(
        ":root{{{}}}@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}",
        properties(Ink::light),
        properties(Ink::dark)
    )
}

/// The one whose turn it is at a place: behind the last comes the first again.
#[expect(clippy::indexing_slicing, reason = "a remainder is less than what was divided by")]
pub fn in_turn<One: Copy, const COUNT: usize>(all: [One; COUNT], position: usize) -> One {
    const { assert!(COUNT > 0, "there is one to take") }
    all[position % COUNT]
}

#[cfg(test)]
mod tests {
    use super::super::colour_difference::{
        DICHROMACIES, ciede2000, contrast, lab_seen_with, linear,
    };
    use super::*;

    type Scheme = (&'static str, fn(Ink) -> Rgb);
    const SCHEMES: [Scheme; 2] = [("light", Ink::light), ("dark", Ink::dark)];
    /// Chosen for this project; about five times a just noticeable difference between large patches.
    const FAR_ENOUGH: f64 = 12.0;

    #[test]
    fn every_pair_of_series_colours_is_told_apart_with_and_without_colour_blindness() {
        for (scheme, colour) in SCHEMES {
            for (vision, matrix) in DICHROMACIES {
                for (first, second) in pairs() {
                    let [one, other] =
                        [first, second].map(|ink| lab_seen_with(matrix, colour(ink)));
                    let difference = ciede2000(one, other);
                    assert!(
                        difference >= FAR_ENOUGH,
                        "{scheme}, {vision}: {} and {} differ by {difference:.1}",
                        first.name(),
                        second.name()
                    );
                }
            }
        }
    }

    fn pairs() -> Vec<(Ink, Ink)> {
        let series = Ink::SERIES;
        (0..series.len())
            .flat_map(|i| (i + 1..series.len()).map(move |j| (series[i], series[j])))
            .collect()
    }

    #[test]
    fn series_stand_out_from_the_page_three_to_one_and_text_four_and_a_half_to_one() {
        for (scheme, colour) in SCHEMES {
            let against_page = |ink| contrast(linear(colour(ink)), linear(colour(Ink::Page)));
            for ink in Ink::SERIES {
                assert!(against_page(ink) >= 3.0, "{scheme} {}", ink.name());
            }
            for ink in [Ink::Text, Ink::Quiet] {
                assert!(against_page(ink) >= 4.5, "{scheme} {}", ink.name());
            }
        }
    }

    #[test]
    fn no_two_inks_share_a_light_colour_since_the_colour_names_the_class() {
        let colours: std::collections::HashSet<Rgb> = Ink::ALL.map(Ink::light).into();
        assert_eq!(colours.len(), Ink::ALL.len());
    }
}
