//! Headers as people type them, folded to one form.

use crate::catalogue::{Column, Unit};

/// A header taken apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Header {
    /// Lower case, words joined by `_`, American spelling, no accents (`ä` is `ae`),
    /// without the unit: `gouge_center` for `Gouge centre (mm)`.
    pub name: String,
    /// The unit that the header names: in brackets, or as its last word.
    pub unit: Option<Unit>,
    /// `5` in `resp/5`.
    pub out_of: Option<f64>,
}

impl Header {
    /// The name with the unit's suffix: `gouge_center_mm`.
    pub fn full(&self) -> String {
        unimplemented!()
    }

    /// The catalogue's columns that this header may mean, the likeliest first. More than one where people
    /// use one word for two things (`formed`: a date or a number of days); the cells decide then.
    pub fn candidates(&self) -> Vec<&'static Column> {
        unimplemented!()
    }

    /// Distance from the tip and line of a wide profile column: `profile_15_spine_mm`.
    pub fn profile_point(&self) -> Option<(f64, &'static str)> {
        unimplemented!()
    }
}

/// Takes a header apart.
pub fn read(_header: &str) -> Header {
    unimplemented!()
}

/// Folds any text to lower-case words joined by `_`, as names of columns and keys are.
pub fn fold(_text: &str) -> String {
    unimplemented!()
}
