//! Rows that a spreadsheet adds below a table: sums, means, counts.

use super::folding::fold;

/// What people and spreadsheets write before a sum or a mean, in English and German, folded.
const WORDS: [&str; 25] = [
    "total",
    "totals",
    "grand_total",
    "subtotal",
    "subtotals",
    "sub_total",
    "sum",
    "sums",
    "average",
    "averages",
    "avg",
    "mean",
    "means",
    "median",
    "count",
    "counts",
    "summe",
    "summen",
    "gesamtsumme",
    "zwischensumme",
    "mittel",
    "mittelwert",
    "mittelwerte",
    "durchschnitt",
    "anzahl",
];

/// Whether an id is none: the name of a sum or mean, or nothing but signs.
pub fn is_no_id(id: &str) -> bool {
    // no word for a sum holds a digit, and most ids do
    let has_digits = id.bytes().any(|byte| byte.is_ascii_digit());
    !has_digits && (WORDS.contains(&fold(id).as_str()) || is_signs(id))
}

/// Whether a text holds no letter and no digit: a line drawn under a table.
pub fn is_signs(id: &str) -> bool {
    !id.contains(char::is_alphanumeric)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_means_and_drawn_lines_are_no_ids() {
        for id in ["Total", "TOTALS:", "sub-total", "Summe", "Mittelwert", "=====", "***"] {
            assert!(is_no_id(id), "“{id}”");
        }
    }

    #[test]
    fn names_and_numbers_are_ids() {
        for id in ["1", "A-7", "Summer 3", "Meander", "total 3", "24/101", "№ 5"] {
            assert!(!is_no_id(id), "“{id}”");
        }
    }
}
