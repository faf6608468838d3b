//! Typed columns to polars frames. The layout is stated at [`crate::study::StudyParts`].

use polars::prelude::*;

use super::values::labels::JoinedLabels;

/// Stands for "none" among codes.
pub(super) const NONE: u32 = u32::MAX;

pub(super) fn numbers(name: &str, values: &[Option<f64>]) -> Column {
    Float64Chunked::from_slice_options(name.into(), values).into_column()
}

pub(super) fn counts(name: &str, values: &[Option<u32>]) -> Column {
    UInt32Chunked::from_slice_options(name.into(), values).into_column()
}

pub(super) fn days(name: &str, values: &[Option<i32>]) -> Column {
    Int32Chunked::from_slice_options(name.into(), values).into_date().into_column()
}

pub(super) fn texts<'a>(name: &str, values: impl Iterator<Item = Option<&'a str>>) -> Column {
    let (at_least, at_most) = values.size_hint();
    let mut column = StringChunkedBuilder::new(name.into(), at_most.unwrap_or(at_least));
    values.for_each(|value| column.append_option(value));
    column.finish().into_column()
}

pub(super) fn labels(name: &str, joined: &JoinedLabels) -> Column {
    of_levels(name, joined.codes.iter().copied(), &joined.levels)
}

/// Codes with [`NONE`] for missing.
pub(super) fn coded(name: &str, codes: &[u32], levels: &[String]) -> Column {
    of_levels(name, codes.iter().map(|&code| Some(code)), levels)
}

/// The level of each code; none where there is none.
fn of_levels(
    name: &str,
    codes: impl ExactSizeIterator<Item = Option<u32>>,
    levels: &[String],
) -> Column {
    let is_level = |code: &u32| (*code as usize) < levels.len();
    let mut places = PrimitiveChunkedBuilder::<IdxType>::new(PlSmallStr::EMPTY, codes.len());
    codes.for_each(|code| places.append_option(code.filter(is_level)));
    let levels = StringChunked::from_slice(name.into(), levels);
    let texts = levels.take(&places.finish());
    debug_assert!(texts.is_ok(), "every place is that of a level");
    texts.unwrap_or_default().into_column()
}

/// A frame of columns of one length and different names, as every caller builds them.
pub(super) fn frame(height: usize, columns: Vec<Column>) -> DataFrame {
    let built = DataFrame::new(height, columns);
    debug_assert!(built.is_ok(), "{built:?}");
    built.unwrap_or_default()
}

/// Frames one below the other: a column that one of them lacks, or has in another type, is missing there.
pub(super) fn stacked(frames: Vec<DataFrame>) -> DataFrame {
    let height = frames.iter().map(DataFrame::height).sum();
    let mut names: Vec<PlSmallStr> = Vec::new();
    for name in frames.iter().flat_map(|frame| frame.get_column_names_owned()) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let columns = names.iter().map(|name| stacked_column(&frames, name)).collect();
    frame(height, columns)
}

fn stacked_column(frames: &[DataFrame], name: &PlSmallStr) -> Column {
    let first = frames.iter().find_map(|frame| frame.column(name).ok());
    // the name comes from one of the frames
    let dtype = first.map_or(DataType::Null, |column| column.dtype().clone());
    let mut stacked = Column::full_null(name.clone(), 0, &dtype);
    for frame in frames {
        let here = frame.column(name).ok().filter(|column| column.dtype() == &dtype).cloned();
        let here = here.unwrap_or_else(|| Column::full_null(name.clone(), frame.height(), &dtype));
        let appended = stacked.append(&here);
        debug_assert!(appended.is_ok(), "of one type");
    }
    stacked
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_stands_for_its_level_and_one_without_a_level_is_missing() {
        let levels = ["soft".to_owned(), "a level of more than twelve bytes".to_owned()];
        let column = coded("hardness", &[1, NONE, 0, 1], &levels);
        let texts: Vec<Option<&str>> = column.str().unwrap().iter().collect();
        assert_eq!(texts, [Some(&*levels[1]), None, Some("soft"), Some(&*levels[1])]);
        assert_eq!(column.name().as_str(), "hardness");
        let missing = coded("hardness", &[NONE, NONE], &[]);
        assert_eq!((missing.len(), missing.null_count()), (2, 2));
    }

    #[test]
    fn frames_are_stacked_and_what_one_lacks_is_missing_there() {
        let one = frame(1, vec![numbers("a", &[Some(1.0)])]);
        let other = frame(
            2,
            vec![numbers("a", &[None, Some(3.0)]), texts("b", [Some("x"), None].into_iter())],
        );
        let both = stacked(vec![one, other]);
        assert_eq!((both.height(), both.width()), (3, 2));
        assert_eq!(both.column("b").map(Column::null_count).ok(), Some(2));
    }
}
