//! The columns of the sums, by name.

pub const LOT: &str = "lot";
/// Holds the name of the score, the same in every row.
pub const SCORE: &str = "score";
pub const REEDS: &str = "reeds";
pub const USED: &str = "used";
const CENTRE: &str = "centre of ";

pub fn centre(name: &str) -> String {
    format!("{CENTRE}{name}")
}

/// The column whose constant stands under this heading.
pub fn centred(heading: &str) -> Option<&str> {
    heading.strip_prefix(CENTRE)
}

pub fn sum(name: &str) -> String {
    format!("sum of {name}")
}

pub fn product(one: &str, other: &str) -> String {
    format!("product of {one} and {other}")
}

/// Every two columns with their places, each with itself too: the first never behind the second.
pub fn pairs<Column>(
    columns: &[Column],
) -> impl Iterator<Item = ((usize, &Column), (usize, &Column))> {
    let from = |place| columns.iter().enumerate().skip(place);
    from(0).flat_map(move |one| from(one.0).map(move |other| (one, other)))
}
