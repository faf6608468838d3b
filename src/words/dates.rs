//! Days as people write them.

use jiff::civil::Date;

/// ISO 8601 (`2025-03-09`) of a day counted from 1970-01-01; empty outside the years -9999 to 9999.
pub fn iso(day: i32) -> String {
    let epoch = Date::constant(1970, 1, 1);
    epoch
        .checked_add(jiff::Span::new().try_days(day).unwrap_or_default())
        .map(|date| date.to_string())
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::iso;

    #[test]
    fn day_zero_is_new_year_1970() {
        assert_eq!(iso(0), "1970-01-01");
    }

    #[test]
    fn the_29th_of_february_2024_is_day_19782() {
        // 54 years of 365 days and 13 leap days before 2024, then 31 + 28 days
        assert_eq!(iso(54 * 365 + 13 + 31 + 28), "2024-02-29");
    }
}
