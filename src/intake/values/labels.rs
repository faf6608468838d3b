//! Names of lots, shapes, players: spelling variants are joined, close names pointed out.

/// The part of a label that counts: letters and digits without case, spaces and
/// punctuation. A mark between two digits (`1.5`) and a closing `+` or `-` count.
pub fn key(_label: &str) -> String {
    unimplemented!()
}

/// Spellings that were joined under one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Joining {
    /// The spelling that stands: the commonest, and of equals the first in the file.
    pub kept: String,
    /// The other spellings and how often each occurs.
    pub others: Vec<(String, usize)>,
}

/// A column of labels with the variants joined.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct JoinedLabels {
    /// One code a cell, in the cells' order.
    pub codes: Vec<Option<u32>>,
    /// The spelling that stands for each code, in order of first occurrence.
    pub levels: Vec<String>,
    pub joinings: Vec<Joining>,
}

/// Joins the labels of a column; `None` is a missing cell.
pub fn join<'a>(_cells: impl Iterator<Item = Option<&'a str>>) -> JoinedLabels {
    unimplemented!()
}

/// Pairs of levels that are merely close: a letter apart in a word of four or more,
/// or one the beginning of the other at a word's end (`lot b` and `Lot B, '22`).
/// Names that differ in a number or a single letter (`Lot 1`, `Lot 2`) are not close.
/// Looks at no more than the first 500 levels.
pub fn close_pairs(_levels: &[String]) -> Vec<(usize, usize)> {
    unimplemented!()
}
