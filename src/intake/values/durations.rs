//! Spans of time in words: `2 wks`, `3 weeks`, `~10`, `1 h 30`, `a fortnight`.

use super::numbers::{self, DecimalMark, Number, NumberError, UnitError};
use crate::catalogue::Unit;

/// Why a cell is no span of time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DurationError {
    Number(NumberError),
    Unit(UnitError),
    /// `overnight`, `a while`: words without a number.
    Words,
    /// Less than nothing.
    Negative,
    /// It is a date, not a span of time.
    Date,
}

/// Reads a span of time in `kept` (`Unit::Day`, `Unit::Minute`, `Unit::Hour`).
/// A bare number is in `column`, else in `kept`. Months count 30.44 days and
/// are marked approximate. The `unit` of the answer is the unit in the cell.
pub fn read(
    cell: &str,
    mark: Option<DecimalMark>,
    column: Option<Unit>,
    kept: Unit,
) -> Result<Number, DurationError> {
    let found = match numbers::read(cell, mark) {
        Ok(number) => one_part(number, column, kept),
        Err(why) => several_parts(cell, mark, kept).unwrap_or_else(|| Err(reason(cell, why))),
    }?;
    if found.value < 0.0 { Err(DurationError::Negative) } else { Ok(found) }
}

fn one_part(number: Number, column: Option<Unit>, kept: Unit) -> Result<Number, DurationError> {
    let value = number.kept_in(column, Some(kept)).map_err(DurationError::Unit)?;
    let months = number.unit.or(column) == Some(Unit::Month);
    Ok(Number { value, approximate: number.approximate || months, ..number })
}

fn reason(cell: &str, why: NumberError) -> DurationError {
    if super::dates::looks_like_date(cell) {
        return DurationError::Date;
    }
    match why {
        NumberError::NotANumber => DurationError::Words,
        why => DurationError::Number(why),
    }
}

/// What a cell of words and several numbers says: none where it is not made of spans of time.
fn several_parts(
    cell: &str,
    mark: Option<DecimalMark>,
    kept: Unit,
) -> Option<Result<Number, DurationError>> {
    if let Some(clock) = clock(cell, kept) {
        return Some(Ok(clock));
    }
    let (text, approximate) = match cell.trim().strip_prefix(['~', '≈']) {
        Some(rest) => (rest.trim_start(), true),
        None => (cell.trim(), false),
    };
    let parts = parts(text)?;
    let mut sum = Number { value: 0.0, unit: None, approximate };
    for (digits, unit) in parts {
        let number = match digits {
            Digits::Word(value) => Number { value, unit: None, approximate: false },
            Digits::Text(digits) => numbers::read(digits, mark).ok()?,
        };
        let part = match one_part(Number { unit: Some(unit), ..number }, None, kept) {
            Ok(part) => part,
            Err(why) => return Some(Err(why)),
        };
        sum.value += part.value;
        sum.unit = sum.unit.or(Some(unit));
        sum.approximate |= part.approximate;
    }
    Some(Ok(sum))
}

/// A number in digits or in a word.
enum Digits<'a> {
    Text(&'a str),
    Word(f64),
}

/// Number words that stand before a unit of time.
const NUMBER_WORDS: [(&str, f64); 26] = [
    ("a", 1.0),
    ("an", 1.0),
    ("one", 1.0),
    ("two", 2.0),
    ("three", 3.0),
    ("four", 4.0),
    ("five", 5.0),
    ("six", 6.0),
    ("seven", 7.0),
    ("eight", 8.0),
    ("nine", 9.0),
    ("ten", 10.0),
    ("twelve", 12.0),
    ("half", 0.5),
    ("ein", 1.0),
    ("eine", 1.0),
    ("einen", 1.0),
    ("zwei", 2.0),
    ("drei", 3.0),
    ("vier", 4.0),
    ("fünf", 5.0),
    ("sechs", 6.0),
    ("sieben", 7.0),
    ("acht", 8.0),
    ("zehn", 10.0),
    ("couple", 2.0),
];

/// Takes `2 weeks and 3 days` apart; none where anything in it is no span of time.
fn parts(text: &str) -> Option<Vec<(Digits<'_>, Unit)>> {
    let mut tokens = tokens(text).into_iter().filter(|token| !is_joint(token)).peekable();
    let mut parts: Vec<(Digits, Unit)> = Vec::new();
    while let Some(token) = tokens.next() {
        if let Some(days) = days_of_word(token) {
            parts.push((Digits::Word(days), Unit::Day));
            continue;
        }
        let digits = number_word(token).map(Digits::Word).or_else(|| {
            token
                .starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','))
                .then_some(Digits::Text(token))
        })?;
        // `a fortnight`
        if let (Digits::Word(count), Some(days)) =
            (&digits, tokens.peek().and_then(|next| days_of_word(next)))
        {
            parts.push((Digits::Word(count * days), Unit::Day));
            tokens.next();
            continue;
        }
        let unit = match tokens.next() {
            Some(word) => Unit::from_text(word)?,
            // `1 h 30`: what follows hours are minutes
            None if parts.last()?.1 == Unit::Hour => Unit::Minute,
            None => return None,
        };
        parts.push((digits, unit));
    }
    (!parts.is_empty()).then_some(parts)
}

fn number_word(token: &str) -> Option<f64> {
    NUMBER_WORDS.iter().find(|(word, _)| word.eq_ignore_ascii_case(token)).map(|(_, value)| *value)
}

fn days_of_word(token: &str) -> Option<f64> {
    token.eq_ignore_ascii_case("fortnight").then_some(14.0)
}

fn is_joint(token: &str) -> bool {
    ["and", "+", "&", "und", "of"].iter().any(|joint| joint.eq_ignore_ascii_case(token))
}

/// Splits at spaces and between digits and letters.
fn tokens(text: &str) -> Vec<&str> {
    let is_digit = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
    let mut tokens = Vec::new();
    for word in text.split_whitespace() {
        let mut start = 0;
        let mut last = None;
        for (at, c) in word.char_indices() {
            if last.is_some_and(|last| is_digit(last) != is_digit(c)) {
                tokens.extend(word.get(start..at));
                start = at;
            }
            last = Some(c);
        }
        tokens.extend(word.get(start..));
    }
    tokens
}

/// `1:30` as hours and minutes, where minutes or hours are kept.
fn clock(cell: &str, kept: Unit) -> Option<Number> {
    let (hours, minutes) = cell.trim().split_once(':')?;
    let hours = hours.parse::<u16>().ok()?;
    let minutes = minutes.parse::<u8>().ok().filter(|minutes| *minutes < 60)?;
    if !matches!(kept, Unit::Minute | Unit::Hour) {
        return None;
    }
    let value = Unit::Minute.convert(f64::from(hours) * 60.0 + f64::from(minutes), kept)?;
    Some(Number { value, unit: Some(Unit::Hour), approximate: false })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn days(cell: &str) -> Result<(f64, bool), DurationError> {
        let number = read(cell, Some(DecimalMark::Point), None, Unit::Day)?;
        Ok(((number.value * 1e9).round() / 1e9, number.approximate))
    }

    #[test]
    fn weeks_and_days_are_kept_in_days() {
        let cases = [
            ("10", 10.0),
            ("2 wks", 14.0),
            ("2wks.", 14.0),
            ("3 weeks", 21.0),
            ("1 week", 7.0),
            ("1.5 weeks", 10.5),
            ("2 weeks 3 days", 17.0),
            ("2 weeks and 3 days", 17.0),
            ("2w3d", 17.0),
            ("two weeks", 14.0),
            ("a week", 7.0),
            ("a fortnight", 14.0),
            ("fortnight", 14.0),
            ("3 Wochen", 21.0),
            ("zwei Wochen", 14.0),
            ("14 Tage", 14.0),
            ("36 h", 1.5),
        ];
        for (cell, expected) in cases {
            assert_eq!(days(cell), Ok((expected, false)), "“{cell}”");
        }
    }

    #[test]
    fn a_tilde_and_a_month_are_approximate() {
        assert_eq!(days("~10"), Ok((10.0, true)));
        assert_eq!(days("~3 weeks"), Ok((21.0, true)));
        assert_eq!(days("about 2 wks"), Ok((14.0, true)));
        let (month, approximate) = days("1 month").expect("a month is a span of time");
        assert!(approximate && (month - 30.436875).abs() < 1e-9);
    }

    #[test]
    fn minutes_take_hours_and_clock_times() {
        let minutes = |cell| {
            read(cell, Some(DecimalMark::Point), None, Unit::Minute)
                .map(|number| number.value.round())
        };
        for (cell, expected) in
            [("45", 45.0), ("2 h", 120.0), ("1 h 30", 90.0), ("1h30", 90.0), ("1:30", 90.0)]
        {
            assert_eq!(minutes(cell), Ok(expected), "“{cell}”");
        }
    }

    #[test]
    fn a_bare_number_is_in_the_columns_unit() {
        let read = |cell| read(cell, None, Some(Unit::Week), Unit::Day).map(|number| number.value);
        assert_eq!(read("2"), Ok(14.0));
        assert_eq!(read("3 days"), Ok(3.0), "the unit in the cell wins");
    }

    #[test]
    fn what_is_no_span_of_time_is_refused_with_its_reason() {
        assert_eq!(days("overnight"), Err(DurationError::Words));
        assert_eq!(days("a while"), Err(DurationError::Words));
        assert_eq!(days("-3"), Err(DurationError::Negative));
        assert_eq!(days("3/4/2024"), Err(DurationError::Date));
        assert_eq!(days("2024-03-05"), Err(DurationError::Date));
        assert_eq!(days("10-14"), Err(DurationError::Number(NumberError::TwoNumbers)));
        assert!(matches!(days("3 mm"), Err(DurationError::Unit(UnitError::OtherQuantity { .. }))));
    }

    proptest! {
        #[test]
        fn a_sum_of_weeks_and_days_is_their_sum(weeks in 0u32..60, more in 0u32..60, joint in prop::sample::select(vec![" ", " and ", ""])) {
            let cell = format!("{weeks} weeks{joint}{more} days");
            prop_assert_eq!(days(&cell), Ok((f64::from(weeks * 7 + more), false)));
        }

        #[test]
        fn any_text_anywhere_never_panics(text in any::<String>()) {
            let _ = read(&text, None, None, Unit::Day);
        }

        #[test]
        fn any_text_near_a_span_of_time_never_panics(text in "[~a]? ?[0-9.,:]{0,4} ?(weeks|wk|d|h|half|fortnight|é)?[ 0-9:]{0,4}") {
            let _ = read(&text, Some(DecimalMark::Comma), Some(Unit::Week), Unit::Minute);
        }
    }
}
