use proptest::prelude::*;

use super::*;

fn value(cell: &str, mark: DecimalMark) -> Result<f64, NumberError> {
    read(cell, Some(mark)).map(|number| number.value)
}

fn found(cells: &[&str]) -> MarkFound {
    let mut evidence = MarkEvidence::default();
    for (row, cell) in cells.iter().enumerate() {
        evidence.add(row, cell);
    }
    evidence.decide()
}

#[test]
fn numbers_are_read_with_the_columns_mark() {
    use DecimalMark::{Comma, Point};
    let cases = [
        ("7", Point, 7.0),
        ("-7", Point, -7.0),
        ("−7", Point, -7.0),
        ("+7", Point, 7.0),
        ("49.5", Point, 49.5),
        (".11", Point, 0.11),
        ("1.", Point, 1.0),
        (",11", Comma, 0.11),
        ("1,25", Comma, 1.25),
        ("1.234", Point, 1.234),
        ("1.234", Comma, 1234.0),
        ("1,234", Point, 1234.0),
        ("1,234", Comma, 1.234),
        ("1.234,5", Comma, 1234.5),
        ("1,234.5", Point, 1234.5),
        ("12,345,678", Point, 12_345_678.0),
        ("12.345.678", Comma, 12_345_678.0),
        ("1 234,5", Comma, 1234.5),
        ("1'234.5", Point, 1234.5),
        ("1\u{a0}234", Point, 1234.0),
        ("1e-3", Point, 0.001),
        ("1,5E+02", Comma, 150.0),
    ];
    for (cell, mark, expected) in cases {
        assert_eq!(value(cell, mark), Ok(expected), "“{cell}” with {mark:?}");
    }
}

#[test]
fn without_a_mark_only_the_cell_that_is_readable_either_way_is_refused() {
    assert_eq!(read("1,25", None).map(|number| number.value), Ok(1.25));
    assert_eq!(read("1.25", None).map(|number| number.value), Ok(1.25));
    assert_eq!(read("0.523", None).map(|number| number.value), Ok(0.523));
    assert_eq!(read("1.234", None), Err(NumberError::EitherMark));
    assert_eq!(read("1,234", None), Err(NumberError::EitherMark));
}

#[test]
fn a_unit_in_the_cell_is_taken_with_the_number() {
    let cases = [
        ("1.30 mm", 1.30, Unit::Millimetre),
        ("51 thou", 51.0, Unit::Thou),
        ("38%", 38.0, Unit::Percent),
        ("22swg", 22.0, Unit::Swg),
        ("22 AWG", 22.0, Unit::Awg),
        ("22 ga", 22.0, Unit::Gauge),
        ("0.050\"", 0.050, Unit::Inch),
        ("20 °C", 20.0, Unit::Celsius),
        ("0.54 g/cm3", 0.54, Unit::GramPerCubicCentimetre),
        ("2 wks", 2.0, Unit::Week),
        ("3d", 3.0, Unit::Day),
    ];
    for (cell, value, unit) in cases {
        let expected = Number { value, unit: Some(unit), approximate: false };
        assert_eq!(read(cell, Some(DecimalMark::Point)), Ok(expected), "“{cell}”");
    }
}

#[test]
fn a_tilde_is_kept_as_a_remark() {
    for cell in
        ["~10", "~ 10", "ca. 10", "ca 10", "about 10", "approx. 10", "≈10", "10?", "etwa 10"]
    {
        let number = read(cell, Some(DecimalMark::Point)).expect(cell);
        assert_eq!((number.value, number.approximate), (10.0, true), "“{cell}”");
    }
}

/// 1 1/16 in = 26.99 mm and 2 5/16 in = 58.74 mm (25.4 mm to the inch, by hand).
#[test]
fn fractions_are_inches() {
    let in_mm = |cell: &str| {
        let number = read(cell, Some(DecimalMark::Point)).expect(cell);
        number.kept_in(None, Some(Unit::Millimetre)).expect("inches are lengths")
    };
    assert!((in_mm("1 1/16 in") - 26.9875).abs() < 1e-12);
    assert!((in_mm("2 5/16\"") - 58.7375).abs() < 1e-12);
    assert_eq!(read("7/10", Some(DecimalMark::Point)), Err(NumberError::TwoNumbers));
}

#[test]
fn what_is_no_number_is_refused_with_its_reason() {
    let point = Some(DecimalMark::Point);
    let cases = [
        ("abc", NumberError::NotANumber),
        ("nan", NumberError::NotANumber),
        ("inf", NumberError::NotANumber),
        ("1.2.3.4", NumberError::NotANumber),
        ("1,25", NumberError::OtherMark),
        ("1.30 elephants", NumberError::UnknownUnit("elephants".to_owned())),
        ("10-12", NumberError::TwoNumbers),
        ("10 to 12", NumberError::TwoNumbers),
        ("3/4/2024", NumberError::TwoNumbers),
        ("<0.5", NumberError::Bound),
        ("1e400", NumberError::NotFinite),
        ("=A1+1", NumberError::Formula),
        ("#REF!", NumberError::Formula),
        ("12 13", NumberError::TwoNumbers),
        ("1\n2", NumberError::TwoNumbers),
    ];
    for (cell, expected) in cases {
        assert_eq!(read(cell, point), Err(expected), "“{cell}”");
    }
}

#[test]
fn a_columns_mark_is_found_from_the_cells_that_can_be_read_one_way_only() {
    assert_eq!(found(&["14", "17", "", "NA"]), MarkFound::Unneeded);
    assert_eq!(found(&["1,234", "49.5"]), MarkFound::Point);
    assert_eq!(found(&["1.234", "1,25"]), MarkFound::Comma);
    assert_eq!(found(&["0.523"]), MarkFound::Point);
    assert_eq!(found(&["1.234.567"]), MarkFound::Comma);
    assert_eq!(found(&["cracked", "1,234", "1,300"]), MarkFound::Undecided { row: 1 });
    assert_eq!(found(&["49.5", "1,25"]), MarkFound::Mixed { point: 0, comma: 1 });
    assert_eq!(found(&["~1,5 mm"]), MarkFound::Comma);
}

#[test]
fn dates_and_times_are_no_evidence_of_a_decimal_mark() {
    assert_eq!(found(&["3/4/2024", "2024-03-05", "10:30"]), MarkFound::Unneeded);
}

#[test]
fn the_unit_in_the_cell_wins_over_the_columns() {
    let cell = |text| read(text, Some(DecimalMark::Point)).expect(text);
    let mm = Some(Unit::Millimetre);
    assert_eq!(cell("1.30 mm").kept_in(Some(Unit::Thou), mm), Ok(1.30));
    assert_eq!(cell("50").kept_in(Some(Unit::Thou), mm), Ok(1.27));
    assert_eq!(cell("1.27").kept_in(None, mm), Ok(1.27));
    assert_eq!(
        cell("50").kept_in(Some(Unit::Thou), None),
        Ok(50.0),
        "a new column stays as written"
    );
    let awg = cell("22 ga").kept_in(Some(Unit::Awg), mm).expect("AWG is stated");
    assert!((awg - 0.644).abs() < 0.0005);
    assert_eq!(cell("22 ga").kept_in(None, mm), Err(UnitError::GaugeUnstated));
    assert_eq!(cell("99 awg").kept_in(None, mm), Err(UnitError::NoSuchGauge));
    let days = UnitError::OtherQuantity { found: Unit::Day, kept: Unit::Millimetre };
    assert_eq!(cell("3 days").kept_in(None, mm), Err(days));
}

/// Writes a number in a dialect: decimal mark, separator between thousands or none.
fn written(value: f64, decimals: usize, mark: DecimalMark, separator: Option<char>) -> String {
    let plain = format!("{value:.decimals$}");
    let (sign, plain) = match plain.strip_prefix('-') {
        Some(rest) => ("-", rest.to_owned()),
        None => ("", plain),
    };
    let (whole, fraction) = plain.split_once('.').unwrap_or((&plain, ""));
    let mut grouped = String::new();
    for (at, digit) in whole.chars().enumerate() {
        if let Some(separator) =
            separator.filter(|_| at > 0 && (whole.len() - at).is_multiple_of(3))
        {
            grouped.push(separator);
        }
        grouped.push(digit);
    }
    let mark = if fraction.is_empty() { String::new() } else { mark.character().to_string() };
    format!("{sign}{grouped}{mark}{fraction}")
}

proptest! {
    #[test]
    fn any_number_written_in_any_dialect_reads_back_to_the_same_value(
        value in -1e9f64..1e9,
        decimals in 0usize..7,
        comma in any::<bool>(),
        separator in prop::sample::select(vec!["", "same", " ", "\u{a0}", "\u{202f}", "'", "’"]),
        tilde in any::<bool>(),
        unit in prop::sample::select(vec!["", " mm", "mm", " thou"]),
    ) {
        let mark = if comma { DecimalMark::Comma } else { DecimalMark::Point };
        let separator = match separator {
            "same" => Some(if comma { '.' } else { ',' }),
            other => other.chars().next(),
        };
        let expected: f64 = format!("{value:.decimals$}").parse().expect("written by us");
        let cell = format!("{}{}{unit}", if tilde { "~" } else { "" }, written(value, decimals, mark, separator));
        let number = read(&cell, Some(mark)).map_err(|why| TestCaseError::fail(format!("{cell}: {why:?}")))?;
        prop_assert_eq!(number.value, expected, "{}", cell);
        prop_assert_eq!(number.approximate, tilde);
        prop_assert_eq!(number.unit.is_some(), !unit.is_empty());
    }

    #[test]
    fn a_column_written_with_one_mark_is_never_found_to_have_the_other(
        values in prop::collection::vec((0f64..5000.0, 0usize..5), 1..20),
        comma in any::<bool>(),
    ) {
        let mark = if comma { DecimalMark::Comma } else { DecimalMark::Point };
        let mut evidence = MarkEvidence::default();
        for (row, (value, decimals)) in values.iter().enumerate() {
            evidence.add(row, &written(*value, *decimals, mark, None));
        }
        let wrong = if comma { MarkFound::Point } else { MarkFound::Comma };
        prop_assert_ne!(evidence.decide(), wrong);
        let mixed = matches!(evidence.decide(), MarkFound::Mixed { .. });
        prop_assert!(!mixed);
    }

    #[test]
    fn any_text_anywhere_never_panics(text in any::<String>(), mark in 0..3) {
        let mark = [None, Some(DecimalMark::Point), Some(DecimalMark::Comma)][mark as usize];
        if let Ok(number) = read(&text, mark) {
            prop_assert!(number.value.is_finite());
            let _ = number.kept_in(Some(Unit::Awg), Some(Unit::Millimetre));
        }
        MarkEvidence::default().add(0, &text);
    }

    #[test]
    fn any_text_near_a_number_never_panics(text in "[~<=#+−-]?[0-9., '’e\u{a0}/:?-]{0,12}[a-zµ°%\"³/ ]{0,6}") {
        let _ = read(&text, None);
        let _ = read(&text, Some(DecimalMark::Comma));
        MarkEvidence::default().add(0, &text);
    }
}

#[test]
fn a_fraction_of_one_character_counts_alone_and_behind_a_whole_number() {
    let value = |cell: &str| read(cell, None).map(|number| (number.value, number.unit));
    assert_eq!(value("½"), Ok((0.5, None)));
    assert_eq!(value("6½"), Ok((6.5, None)));
    assert_eq!(value("6 ¾ mm"), Ok((6.75, Some(Unit::Millimetre))));
    assert_eq!(read("~1½", None).map(|number| (number.value, number.approximate)), Ok((1.5, true)));
    for cell in ["½½", "6.5½", "-½", "½ 3", "a½", "8!"] {
        assert!(read(cell, None).is_err(), "“{cell}”");
    }
}
