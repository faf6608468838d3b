//! The account that a Parquet file gives of itself at its end, held against the bytes that are there. Sizes that no page bears
//! out, offsets beyond the file and columns within columns are refused here, before the decoder takes memory for them.

use std::collections::HashSet;

use polars_parquet_format::thrift::protocol::TCompactInputProtocol;
use polars_parquet_format::{
    ColumnChunk, FieldRepetitionType, FileMetaData, PageHeader, RowGroup, SchemaElement,
};

use super::{BYTES_OF_A_CELL, Budget, Fault};

pub(super) const MAGIC: &[u8] = b"PAR1";
const ENCRYPTED: &[u8] = b"PARE";
/// The magic at the beginning; the length of the account and the magic at the end.
const HEAD: usize = 4;
const TAIL: usize = 8;
/// The account of 4,096 columns in ten parts takes about 5 MB (from memory).
const LONGEST: usize = 16 << 20;

/// Looks at the whole account; gives the number of rows.
pub(super) fn check(bytes: &[u8], budget: &mut Budget) -> Result<usize, Fault> {
    let (data, footer) = parts(bytes)?;
    let account = FileMetaData::read_from_in_protocol(&mut protocol(footer))
        .map_err(|_| damaged("the account at its end cannot be read"))?;
    let columns = columns(&account.schema)?;
    let mut rows = 0;
    for group in &account.row_groups {
        rows += row_group(group, columns, data, budget)?;
    }
    if u64::try_from(account.num_rows) != Ok(rows) {
        return Err(damaged("its parts do not add up to its rows"));
    }
    usize::try_from(rows).map_err(|_| Fault::TooLarge { limit: budget.limit })
}

fn damaged(why: &str) -> Fault {
    Fault::Damaged(why.to_owned())
}

/// The protocol counts what it allocates; four times the bytes are more than an honest account takes.
fn protocol<Bytes: std::io::Read + AsRef<[u8]>>(bytes: Bytes) -> TCompactInputProtocol<Bytes> {
    let most = 4 * bytes.as_ref().len() + 1024;
    TCompactInputProtocol::new(bytes, most)
}

/// All that stands before the account, and the account.
fn parts(bytes: &[u8]) -> Result<(&[u8], &[u8]), Fault> {
    if bytes.ends_with(ENCRYPTED) {
        return Err(damaged("it is encrypted"));
    }
    if !bytes.starts_with(MAGIC) {
        return Err(damaged("it does not begin as a Parquet file does"));
    }
    let body = bytes
        .strip_suffix(MAGIC)
        .filter(|body| body.len() >= HEAD + TAIL - MAGIC.len())
        .ok_or_else(|| damaged("it does not end as a Parquet file does; it may be cut off"))?;
    let (body, length) = body.split_at(body.len() - 4);
    let length = length.iter().rev().fold(0, |sum, &byte| sum << 8 | usize::from(byte));
    let start = body.len().checked_sub(length).filter(|&start| start >= HEAD && length <= LONGEST);
    let start = start.ok_or_else(|| damaged("the account at its end has no possible length"))?;
    Ok(body.split_at(start))
}

/// How many columns there are, each of single cells and of a name of its own.
fn columns(schema: &[SchemaElement]) -> Result<usize, Fault> {
    let Some((root, columns)) = schema.split_first() else {
        return Err(damaged("it names no columns"));
    };
    let mut names = HashSet::new();
    for column in columns {
        let nested = column.num_children.is_some_and(|children| children != 0);
        if nested || column.repetition_type == Some(FieldRepetitionType::REPEATED) {
            return Err(Fault::Column {
                name: column.name.clone(),
                holds: "several values in each cell".to_owned(),
            });
        }
        if !names.insert(&column.name) {
            return Err(Fault::Twice(column.name.clone()));
        }
    }
    if root.num_children.and_then(|count| usize::try_from(count).ok()) != Some(columns.len()) {
        return Err(damaged("it miscounts its columns"));
    }
    Ok(columns.len())
}

/// The rows of one part of the file.
fn row_group(
    group: &RowGroup,
    columns: usize,
    data: &[u8],
    budget: &mut Budget,
) -> Result<u64, Fault> {
    let rows = u64::try_from(group.num_rows).map_err(|_| damaged("it has less than no rows"))?;
    if group.columns.len() != columns {
        return Err(damaged("a part of it lacks columns"));
    }
    budget.spend(rows.saturating_mul(columns as u64).saturating_mul(BYTES_OF_A_CELL))?;
    for column in &group.columns {
        pages(chunk(column, data)?, rows, budget)?;
    }
    Ok(rows)
}

/// The bytes of one column in one part of the file.
fn chunk<'a>(column: &ColumnChunk, data: &'a [u8]) -> Result<&'a [u8], Fault> {
    let account = column.meta_data.as_ref().filter(|_| column.file_path.is_none());
    let account = account.ok_or_else(|| damaged("a column of it lies in another file"))?;
    let dictionary = account.dictionary_page_offset.filter(|&offset| offset > 0);
    let start = dictionary.map_or(account.data_page_offset, |at| at.min(account.data_page_offset));
    let range =
        usize::try_from(start).ok().zip(usize::try_from(account.total_compressed_size).ok());
    range
        .and_then(|(start, length)| data.get(start..start.checked_add(length)?))
        .ok_or_else(|| damaged("a column reaches beyond its end"))
}

/// Walks the pages of a column without unpacking them: they must hold its rows, and what they unpack to is paid for.
fn pages(mut chunk: &[u8], rows: u64, budget: &mut Budget) -> Result<(), Fault> {
    let mut values = 0;
    while values < rows {
        let most = 4 * chunk.len() + 1024;
        let header =
            PageHeader::read_from_in_protocol(&mut TCompactInputProtocol::new(&mut chunk, most))
                .map_err(|_| damaged("a page of it cannot be read"))?;
        let (packed, unpacked) = sizes(&header)?;
        chunk = chunk.get(packed..).ok_or_else(|| damaged("it ends in the middle of a page"))?;
        budget.spend(unpacked)?;
        values += values_of(&header, unpacked)?;
    }
    if values == rows { Ok(()) } else { Err(damaged("a column has more cells than rows")) }
}

fn sizes(header: &PageHeader) -> Result<(usize, u64), Fault> {
    let packed = usize::try_from(header.compressed_page_size);
    let unpacked = u64::try_from(header.uncompressed_page_size);
    packed.ok().zip(unpacked.ok()).ok_or_else(|| damaged("a page of it has no possible size"))
}

/// The rows that a page holds. The entries of a dictionary are no rows, but memory is taken for each: one takes a byte at least.
fn values_of(header: &PageHeader, unpacked: u64) -> Result<u64, Fault> {
    let impossible = || damaged("a page of it has no possible number of cells");
    if let Some(dictionary) = &header.dictionary_page_header {
        let entries = u64::try_from(dictionary.num_values).map_err(|_| impossible())?;
        return if entries <= unpacked { Ok(0) } else { Err(impossible()) };
    }
    let first = header.data_page_header.as_ref().map(|page| page.num_values);
    let second = header.data_page_header_v2.as_ref().map(|page| page.num_values);
    let values = first.or(second).unwrap_or(0);
    u64::try_from(values).map_err(|_| impossible())
}
