use proptest::prelude::*;

use super::*;

fn read_iso(cell: &str, order: Option<DayOrder>) -> Result<String, DateError> {
    read(cell, order).map(|date| iso(date.day))
}

fn found(cells: &[&str]) -> OrderFound {
    let mut evidence = OrderEvidence::default();
    for (row, cell) in cells.iter().enumerate() {
        evidence.add(row, cell);
    }
    evidence.decide()
}

#[test]
fn the_epoch_is_day_zero_and_leap_years_count() {
    assert_eq!(read("1970-01-01", None).map(|date| date.day), Ok(0));
    assert_eq!(read("2000-03-01", None).map(|date| date.day), Ok(11_017));
    assert_eq!(read("1969-12-31", None).map(|date| date.day), Ok(-1));
    assert_eq!(iso(11_016), "2000-02-29");
}

#[test]
fn a_date_with_the_year_first_or_the_month_by_name_needs_no_order() {
    let cells = [
        "2024-03-05",
        "2024/3/5",
        "2024.03.05",
        "20240305",
        "2024-03-05T10:15:00Z",
        "2024-03-05 10:15",
        "5 Mar 2024",
        "5 March 2024",
        "March 5, 2024",
        "Mar 5th 2024",
        "05-Mar-24",
        "5. März 2024",
        "5 Mrz 24",
    ];
    for cell in cells {
        assert_eq!(read_iso(cell, None), Ok("2024-03-05".to_owned()), "“{cell}”");
    }
}

#[test]
fn the_order_of_day_and_month_is_the_columns() {
    let american = Some(DayOrder::MonthFirst);
    let european = Some(DayOrder::DayFirst);
    assert_eq!(read_iso("3/4/2024", american), Ok("2024-03-04".to_owned()));
    assert_eq!(read_iso("3/4/2024", european), Ok("2024-04-03".to_owned()));
    assert_eq!(read_iso("04.03.24", european), Ok("2024-03-04".to_owned()));
    assert_eq!(read_iso("3-4-24 9:30 PM", european), Ok("2024-04-03".to_owned()));
    assert_eq!(read_iso("3/4/2024", None), Err(DateError::EitherOrder));
    assert_eq!(read_iso("4/4/2024", None), Ok("2024-04-04".to_owned()), "the same either way");
    assert_eq!(read_iso("3/20/24", european), Err(DateError::Impossible));
}

#[test]
fn a_day_over_twelve_decides_the_order_for_the_column() {
    assert_eq!(found(&["3/4/2024", "3/20/24"]), OrderFound::MonthFirst);
    assert_eq!(found(&["04/03/24", "28/03/24"]), OrderFound::DayFirst);
    assert_eq!(found(&["", "3/4/2024", "3/5/24"]), OrderFound::Undecided { row: 1 });
    assert_eq!(found(&["2024-03-05", "5 Mar 2024"]), OrderFound::Unneeded);
    assert_eq!(
        found(&["3/20/24", "20/3/24"]),
        OrderFound::Conflict { day_first: 1, month_first: 0 }
    );
    assert_eq!(found(&["04.03.2024"]), OrderFound::DayFirst, "dots are day first");
    assert_eq!(found(&["4/4/24", "cracked"]), OrderFound::Unneeded);
}

#[test]
fn another_date_column_of_the_file_may_decide() {
    let mut made = OrderEvidence::default();
    made.add(0, "3/4/2024");
    let mut cut = OrderEvidence::default();
    cut.add(0, "3/20/24");
    made.merge(cut);
    assert_eq!(made.decide(), OrderFound::MonthFirst);
}

#[test]
fn two_digit_years_are_said() {
    assert_eq!(read("04.03.24", Some(DayOrder::DayFirst)).map(|date| date.short_year), Ok(true));
    assert_eq!(read("04.03.2024", Some(DayOrder::DayFirst)).map(|date| date.short_year), Ok(false));
    assert_eq!(read_iso("04.03.99", Some(DayOrder::DayFirst)), Ok("1999-03-04".to_owned()));
    assert_eq!(read_iso("04.03.79", Some(DayOrder::DayFirst)), Ok("2079-03-04".to_owned()));
}

/// Serial number 45356 is 2024-03-05 where 25569 is 1970-01-01 (ECMA-376, part 1, 18.17.4.1: the 1900 date system).
#[test]
fn a_serial_number_is_refused_with_the_day_that_it_would_be() {
    assert_eq!(read("45356", None), Err(DateError::Serial("2024-03-05".to_owned())));
    assert_eq!(read("45356.5", None), Err(DateError::Serial("2024-03-05".to_owned())));
}

#[test]
fn what_is_no_day_is_refused_with_its_reason() {
    let order = Some(DayOrder::DayFirst);
    let cases = [
        ("30/2/2024", DateError::Impossible),
        ("29/2/2023", DateError::Impossible),
        ("2024-13-01", DateError::Impossible),
        ("2024-00-10", DateError::Impossible),
        ("Mar 2024", DateError::Incomplete),
        ("4 March", DateError::Incomplete),
        ("4.3.", DateError::Incomplete),
        ("1/1/1815", DateError::FarAway),
        ("2999-01-01", DateError::FarAway),
        ("last week", DateError::NotADate),
        ("7", DateError::NotADate),
        ("1.25", DateError::NotADate),
        ("1/2", DateError::NotADate),
        ("1/2/3/4", DateError::NotADate),
        ("10:30", DateError::NotADate),
        ("Lot 5 March", DateError::NotADate),
    ];
    for (cell, expected) in cases {
        assert_eq!(read(cell, order), Err(expected), "“{cell}”");
    }
}

#[test]
fn a_column_is_found_to_hold_dates() {
    for cell in ["2024-03-05", "3/4/24", "04.03.2024", "5 Mar 2024"] {
        assert!(looks_like_date(cell), "“{cell}”");
    }
    for cell in ["2 wks", "1.25", "7/10", "16", "2.5.1", "Var 2021", ""] {
        assert!(!looks_like_date(cell), "“{cell}”");
    }
}

proptest! {
    #[test]
    fn the_form_of_most_cells_is_taken_apart_like_any_other(text in "[0-9]{4}-[0-9]{2}-[0-9]{2}") {
        prop_assert!(extended(&text).is_some());
        prop_assert_eq!(extended(&text), numeric(&text));
    }

    #[test]
    fn any_day_written_in_any_form_reads_back(day in -20_000i32..40_000, form in 0usize..7) {
        let text = iso(day);
        let (year, month, date) = (&text[..4], &text[5..7], &text[8..]);
        let (cell, order) = match form {
            0 => (text.clone(), None),
            1 => (format!("{year}{month}{date}"), None),
            2 => (format!("{date}/{month}/{year}"), Some(DayOrder::DayFirst)),
            3 => (format!("{month}/{date}/{year}"), Some(DayOrder::MonthFirst)),
            4 => (format!("{date}.{month}.{year}"), Some(DayOrder::DayFirst)),
            5 => (format!("{date} {} {year}", MONTHS[month.parse::<usize>().expect("ours") - 1][1]), None),
            _ => (format!("{year}/{month}/{date} 23:59"), None),
        };
        // compact and dotted forms reach the same day; 1915 to 2079 lie within the years that are taken
        prop_assert_eq!(read(&cell, order).map(|date| date.day), Ok(day), "{}", cell);
    }

    #[test]
    fn any_text_anywhere_never_panics(text in any::<String>(), day in any::<i32>()) {
        let _ = (read(&text, None), read(&text, Some(DayOrder::DayFirst)), looks_like_date(&text), iso(day));
        OrderEvidence::default().add(0, &text);
    }

    #[test]
    fn any_text_near_a_date_never_panics(text in "[0-9]{0,5}[-/. ]?(Mar|März|é)?[-/. ,T]?[0-9]{0,5}[-/.: ]?[0-9]{0,10}") {
        let _ = (read(&text, None), read(&text, Some(DayOrder::MonthFirst)), looks_like_date(&text));
    }
}
