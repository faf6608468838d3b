//! Rules that look at a whole column or table for the traces of a slip.

use std::hash::{BuildHasher, Hash, Hasher};

use foldhash::quality::RandomState;
use foldhash::{HashMap, HashMapExt, HashSet};
use rayon::prelude::*;

use crate::intake::ledger::{Ledger, Words, counted};
use crate::intake::records::Table;

use super::cells::rounded;
use super::ids::ROW_REPEATED;

rule!(
    UNIT_SLIP,
    "unit-slip",
    Warning,
    "Looks for columns whose values form two clumps a factor of 10, 25.4, 39.37 or 1000 apart.",
    "Some cells are probably in another unit or lack a decimal mark; all were used as they stand.",
    "Correct the cells that are named, or write the unit into them: `51 thou`."
);

/// Factors between units that get mixed up, the least first: a lost decimal, inches and millimetres,
/// thousandths of an inch and millimetres, millimetres and micrometres.
const FACTORS: [(f64, &str); 4] = [
    (10.0, "10 (a shifted decimal mark, or millimetres and centimetres)"),
    (25.4, "25.4 (inches and millimetres)"),
    (1000.0 / 25.4, "39.37 (millimetres and thousandths of an inch)"),
    (1000.0, "1000 (a lost decimal mark, or millimetres and micrometres)"),
];

/// Each clump may spread this far around its middle, and the middles' ratio may
/// lie this far from the factor.
const CLUMP_SPREAD: f64 = 1.6;
const FACTOR_SLACK: f64 = 1.25;
/// Fewer values than this are no clump to compare with.
const FEWEST: usize = 6;

/// Looks for two clumps of positive values a known factor apart and names the smaller clump's rows.
pub(in crate::intake) fn unit_slip(
    ledger: &mut Ledger,
    table: &Table,
    column: usize,
    rows: &[u32],
    values: &[Option<f64>],
) {
    let positive = values.iter().flatten().copied().filter(|value| *value > 0.0);
    let (low, high) = positive
        .fold((f64::INFINITY, 0.0_f64), |(low, high), value| (low.min(value), high.max(value)));
    // the middles of clumps lie no farther apart than the ends
    if high <= low * FACTORS[0].0 / FACTOR_SLACK {
        return;
    }
    let mut sorted: Vec<(f64, usize)> = values
        .iter()
        .zip(rows)
        .filter_map(|(value, &row)| {
            value.filter(|value| *value > 0.0).map(|value| (value, row as usize))
        })
        .collect();
    if sorted.len() < FEWEST {
        return;
    }
    sorted.sort_by(|one, other| one.0.total_cmp(&other.0));
    let Some((cut, factor)) = clumps(&sorted) else { return };
    let (low, high) = sorted.split_at(cut);
    let few = if low.len() < high.len() { low } else { high };
    let many = if low.len() < high.len() { high } else { low };
    let mut lines: Vec<u64> = few.iter().map(|(_, row)| table.line(*row)).collect();
    lines.sort_unstable();
    let named: Vec<String> = lines.iter().take(12).map(u64::to_string).collect();
    let more =
        if lines.len() > 12 { format!(" and {} more", lines.len() - 12) } else { String::new() };
    let found = format!(
        "{} {} about a factor of {factor} from the other {}: {} against {}. {} {}{more}.",
        counted(few.len() as f64, "value"),
        if few.len() == 1 { "lies" } else { "lie" },
        many.len(),
        from_to(few),
        from_to(many),
        if few.len() == 1 { "Line" } else { "Lines" },
        named.join(", ")
    );
    ledger.column(&UNIT_SLIP, table, column, Words::new(found, "one unit throughout the column"));
}

fn from_to(sorted: &[(f64, usize)]) -> String {
    let ends = sorted.first().zip(sorted.last());
    ends.map_or_else(String::new, |((low, _), (high, _))| {
        format!("{} to {}", rounded(*low), rounded(*high))
    })
}

/// Where the sorted values part into two tight clumps, and which factor lies between their middles.
fn clumps(sorted: &[(f64, usize)]) -> Option<(usize, &'static str)> {
    let gaps = (1..).zip(sorted.array_windows().map(|[(low, _), (high, _)]| high / low));
    let (cut, _) = gaps.max_by(|(_, one), (_, other)| one.total_cmp(other))?;
    let (low, high) = sorted.split_at(cut);
    if low.len().max(high.len()) < FEWEST / 2 {
        return None;
    }
    let ratio = middle_of_tight(high)? / middle_of_tight(low)?;
    let near = |factor: f64| ratio > factor / FACTOR_SLACK && ratio < factor * FACTOR_SLACK;
    FACTORS.iter().find(|(factor, _)| near(*factor)).map(|(_, words)| (cut, *words))
}

/// None of values that spread.
fn middle_of_tight(sorted: &[(f64, usize)]) -> Option<f64> {
    let [low, middle, high] =
        [sorted.first()?, sorted.get(sorted.len() / 2)?, sorted.last()?].map(|(value, _)| *value);
    let is_tight = low > middle / CLUMP_SPREAD && high < middle * CLUMP_SPREAD;
    is_tight.then_some(middle)
}

rule!(
    ROWS_ALIKE,
    "rows-alike",
    Warning,
    "Looks for rows that are equal in all cells but the id, with at least four cells filled.",
    "A copied row that was never corrected counts as a piece of its own; all were used.",
    "Check that the later row's values are its own."
);

/// Fewest filled cells, the id apart, that make equal rows remarkable.
const FEWEST_FILLED: usize = 4;

/// Looks for rows that are equal in all but the id.
pub(in crate::intake) fn rows_alike(
    ledger: &mut Ledger,
    table: &Table,
    rows: &[u32],
    id_columns: &[usize],
) {
    let mut first_of: HashMap<u64, u32> = HashMap::new();
    let others: Vec<usize> =
        (0..table.width()).filter(|column| !id_columns.contains(column)).collect();
    let filled = |row: usize| others.iter().filter(|&&at| !table.cell(row, at).is_empty()).count();
    for (row, print) in fingerprints(table, rows, &others, |row| filled(row) >= FEWEST_FILLED) {
        let here = row as usize;
        let first = *first_of.entry(print).or_insert(row) as usize;
        let same = |&column: &usize| table.cell(first, column) == table.cell(here, column);
        if first != here && others.iter().all(same) {
            let found = format!("The row equals line {} in all but the id.", table.line(first));
            ledger.row(
                &ROWS_ALIKE,
                table,
                here,
                Words::new(found, "values of its own for each piece"),
            );
        }
    }
}

/// Rows that repeat an earlier row in every cell, with that row; the needed cells are filled.
pub(in crate::intake) fn repeated_rows(
    table: &Table,
    rows: &[u32],
    needed: &[usize],
) -> HashMap<u32, u32> {
    let mut first_of: HashMap<u64, u32> = HashMap::new();
    let mut repeats = HashMap::new();
    let all: Vec<usize> = (0..table.width()).collect();
    let is_whole = |row: usize| needed.iter().all(|&at| !table.cell(row, at).is_empty());
    for (row, print) in fingerprints(table, rows, &all, is_whole) {
        let here = row as usize;
        let first = *first_of.entry(print).or_insert(row);
        let same = |&column: &usize| table.cell(first as usize, column) == table.cell(here, column);
        if first != row && all.iter().all(same) {
            repeats.insert(row, first);
        }
    }
    repeats
}

/// Says how many rows repeat an earlier one where nothing tells whether they are the same reading.
pub(in crate::intake) fn rows_repeated(
    ledger: &mut Ledger,
    table: &Table,
    repeats: &HashMap<u32, u32>,
    telling: &str,
) {
    let Some((&row, &first)) = repeats.iter().min() else { return };
    let verb = if repeats.len() == 1 { "repeats" } else { "repeat" };
    let found = format!(
        "{} {verb} an earlier one in every cell, the first of them line {}; used, because no {telling} tells whether they are the same.",
        counted(repeats.len() as f64, "row"),
        table.line(first as usize)
    );
    let words = Words::new(found, format!("each row once, or a {telling} in each"));
    ledger.row(&ROW_REPEATED, table, row as usize, words);
}

/// The rows that count and may equal another of them in some columns, each with a number that is the same for equal rows.
fn fingerprints(
    table: &Table,
    rows: &[u32],
    columns: &[usize],
    counts: impl Fn(usize) -> bool + Sync,
) -> Vec<(u32, u64)> {
    let chance = RandomState::default();
    let counted = rows.par_iter().filter(|row| counts(**row as usize));
    let mut prints: Vec<(u32, u64)> =
        counted.map(|&row| (row, fingerprint(&chance, table, row as usize, columns))).collect();
    let mut sorted: Vec<u64> = prints.iter().map(|(_, print)| *print).collect();
    sorted.par_sort_unstable();
    // of very many rows hardly any is kept
    let alike = sorted.chunk_by(|one, next| one == next).filter(|alike| alike.len() > 1);
    let alike: HashSet<u64> = alike.flatten().copied().collect();
    prints.retain(|(_, print)| alike.contains(print));
    prints
}

fn fingerprint(chance: &RandomState, table: &Table, row: usize, columns: &[usize]) -> u64 {
    let mut hasher = chance.build_hasher();
    columns.iter().for_each(|&column| table.cell(row, column).hash(&mut hasher));
    hasher.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sorted(values: &[f64]) -> Vec<(f64, usize)> {
        values.iter().enumerate().map(|(row, value)| (*value, row)).collect()
    }

    #[test]
    fn inches_among_millimetres_are_found() {
        let mixed = sorted(&[0.98, 1.0, 24.8, 25.0, 25.2, 25.4, 25.6]);
        let (cut, factor) = clumps(&mixed).expect("two clumps");
        assert_eq!(cut, 2);
        assert!(factor.starts_with("25.4"));
    }

    #[test]
    fn thousandths_among_millimetres_are_found() {
        let mixed = sorted(&[1.22, 1.25, 1.27, 1.3, 49.0, 51.0, 52.0]);
        assert!(clumps(&mixed).expect("two clumps").1.starts_with("39.37"));
    }

    #[test]
    fn a_column_that_spreads_is_no_slip() {
        assert_eq!(clumps(&sorted(&[1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0])), None);
        assert_eq!(clumps(&sorted(&[1.2, 1.25, 1.3, 1.31, 1.35, 1.4])), None);
    }

    #[test]
    fn one_lost_decimal_mark_among_many_is_found() {
        assert!(
            clumps(&sorted(&[1.2, 1.25, 1.25, 1.3, 1.3, 12.5])).expect("found").1.starts_with("10")
        );
    }
}
