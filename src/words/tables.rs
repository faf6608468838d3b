//! What stands in a table in place of its rows.

use super::digits;

/// `… 76 rows between these; tables/lots.csv holds all.`
pub fn rows_between(number: usize, file: &str) -> String {
    let rows = digits::plural(number, "row", "rows");
    format!("… {rows} between these; {file} holds all.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rows_left_out_are_counted_and_their_file_is_named() {
        let said = rows_between(1460, "tables/lots.csv");
        assert_eq!(said, "… 1\u{202F}460 rows between these; tables/lots.csv holds all.");
        assert!(rows_between(1, "a.csv").starts_with("… 1 row between"));
    }
}
