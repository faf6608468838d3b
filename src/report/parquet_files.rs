//! Tables as Parquet: counts as whole numbers, numbers as doubles, text as text, missing as missing. No apostrophe stands in front
//! of text, for nothing that reads Parquet runs it as a formula.

use polars::prelude::{Column, DataFrame, NamedFrom, PolarsResult, Series};
use polars_io::parquet::write::{ParquetCompression, ParquetWriter};

use super::csv_files::full_precision;
use crate::finding::{Cell, Table};
use crate::problem::Error;
use crate::words::labels::plain;

/// One table. The same table gives the same bytes.
///
/// # Errors
/// Where two columns have one key, which no finding's table has.
pub fn table(table: &Table) -> Result<Vec<u8>, Error> {
    written(table).map_err(|error| {
        Error::Call(format!(
            "The table “{}” could not be written as Parquet ({error}). Please report this.",
            plain(&table.name)
        ))
    })
}

fn written(table: &Table) -> PolarsResult<Vec<u8>> {
    let columns = table.columns.iter().enumerate();
    let columns = columns.map(|(place, named)| column(table, place, &named.key)).collect();
    let mut frame = DataFrame::new(table.rows.len(), columns)?;
    let mut bytes = Vec::new();
    // Snappy is what every reader of Parquet has
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Snappy)
        .set_parallel(false)
        .finish(&mut frame)?;
    Ok(bytes)
}

/// A column of one type: whole numbers where it holds counts alone, doubles where numbers too, else text.
fn column(table: &Table, place: usize, name: &str) -> Column {
    let cells = || table.rows.iter().map(|row| row.get(place).unwrap_or(&Cell::Empty));
    let name = name.into();
    if cells().any(|cell| matches!(cell, Cell::Text(_))) {
        return Series::new(name, cells().map(text).collect::<Vec<_>>()).into();
    }
    let is_count = |cell: &Cell| matches!(cell, Cell::Count(_));
    if cells().any(is_count) && cells().all(|cell| is_count(cell) || *cell == Cell::Empty) {
        return Series::new(name, cells().map(count).collect::<Vec<_>>()).into();
    }
    Series::new(name, cells().map(number).collect::<Vec<_>>()).into()
}

fn text(cell: &Cell) -> Option<String> {
    match cell {
        Cell::Text(text) => Some(plain(text)),
        other => Some(full_precision(other)).filter(|text| !text.is_empty()),
    }
}

fn count(cell: &Cell) -> Option<i64> {
    match cell {
        // no table counts beyond that
        Cell::Count(count) => i64::try_from(*count).ok(),
        _ => None,
    }
}

fn number(cell: &Cell) -> Option<f64> {
    match cell {
        Cell::Number(value, _) => Some(*value).filter(|value| value.is_finite()),
        Cell::Count(count) => Some(*count as f64),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::TableColumn;
    use polars::prelude::DataType;
    use polars_io::SerReader;
    use polars_io::parquet::read::ParquetReader;

    fn read(table: &Table) -> DataFrame {
        let bytes = super::table(table).expect("a table that can be written");
        ParquetReader::new(std::io::Cursor::new(bytes)).finish().expect("a Parquet file")
    }

    fn of(columns: &[&str], rows: Vec<Vec<Cell>>) -> Table {
        let columns = columns.iter().map(|key| TableColumn::new(key, key)).collect();
        Table { name: "lots".to_owned(), title: "Lots".to_owned(), columns, rows }
    }

    #[test]
    fn every_cell_comes_back_with_its_type_and_all_its_digits() {
        let third = 1.0 / 3.0;
        let text = |text: &str| Cell::Text(text.to_owned());
        let frame = read(&of(
            &["lot", "pieces", "mean", "shown", "nothing"],
            vec![
                vec![text("=1+1"), Cell::Count(3), Cell::Number(third, 1), text("14"), Cell::Empty],
                vec![
                    text("Wéir"),
                    Cell::Empty,
                    Cell::Count(2),
                    Cell::Number(third, 2),
                    Cell::Empty,
                ],
                vec![Cell::Empty, Cell::Count(4), Cell::Number(f64::NAN, 1), Cell::Empty],
            ],
        ));
        let series =
            |name: &str| frame.column(name).expect("a column").as_materialized_series().clone();
        let texts = |name: &str| {
            series(name)
                .str()
                .expect("text")
                .iter()
                .map(|text| text.map(str::to_owned))
                .collect::<Vec<_>>()
        };
        assert_eq!(texts("lot"), [Some("=1+1".to_owned()), Some("Wéir".to_owned()), None]);
        assert_eq!(
            texts("shown"),
            [Some("14".to_owned()), Some("0.3333333333333333".to_owned()), None]
        );
        let counts: Vec<_> = series("pieces").i64().expect("whole numbers").iter().collect();
        assert_eq!(counts, [Some(3), None, Some(4)]);
        let means: Vec<_> = series("mean").f64().expect("doubles").iter().collect();
        assert_eq!(means, [Some(third), Some(2.0), None]);
        assert_eq!(
            (series("nothing").dtype(), series("nothing").null_count()),
            (&DataType::Float64, 3)
        );
    }

    #[test]
    fn a_table_without_rows_keeps_its_columns() {
        let frame = read(&of(&["lot", "mean"], Vec::new()));
        assert_eq!((frame.height(), frame.width()), (0, 2));
    }

    #[test]
    fn two_columns_of_one_key_are_an_error() {
        assert!(table(&of(&["lot", "lot"], Vec::new())).is_err());
    }
}
