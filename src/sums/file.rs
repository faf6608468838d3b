//! The file of the sums: its rows, and its reading. Every cell is held against what sums of reeds can be.

use std::collections::{BTreeMap, BTreeSet};

use nalgebra::DMatrix;

use super::{LotSums, MOST_FACTORS, Summed, Sums, columns};
use crate::problem::{Error, Place, Problem, Severity};
use crate::stats::products::{GroupSums, Products};
use crate::whole;

const REMEDY: &str =
    "Sum the reeds again with the query that `canewright products` prints, and keep all digits.";

/// The heading and a row a lot.
pub(super) fn rows(sums: &Sums) -> (Vec<String>, Vec<Vec<String>>) {
    let names = sums.of.names();
    let mut heading: Vec<String> =
        [columns::LOT, columns::SCORE, columns::REEDS, columns::USED].map(str::to_owned).to_vec();
    heading.extend(names.iter().map(|name| columns::centre(name)));
    heading.extend(names.iter().map(|name| columns::sum(name)));
    let products = columns::pairs(&names);
    heading.extend(products.map(|((_, one), (_, other))| columns::product(one, other)));
    let mut rows: Vec<Vec<String>> = sums.lots.iter().map(|lot| row(sums, lot)).collect();
    let unsummed = sums.unsummed.iter().map(|(lot, reeds)| (lot.as_str(), *reeds));
    let without_lot = (sums.without_lot > 0).then_some(("", sums.without_lot));
    for (lot, reeds) in unsummed.chain(without_lot) {
        rows.push(empty_row(sums, heading.len(), lot, reeds));
    }
    (heading, rows)
}

/// A lot none of whose reeds has all, or the reeds of no lot: counted and not summed.
fn empty_row(sums: &Sums, width: usize, lot: &str, reeds: usize) -> Vec<String> {
    let mut row =
        vec![lot.to_owned(), sums.of.score().to_owned(), reeds.to_string(), "0".to_owned()];
    row.extend(sums.of.centres().iter().map(|centre| centre.to_string()));
    row.resize(width, String::new());
    row
}

fn row(sums: &Sums, lot: &LotSums) -> Vec<String> {
    let counts = [lot.reeds, lot.sums.count].map(|count| count.to_string());
    let pairs = columns::pairs(sums.of.centres()).map(|((i, _), (j, _))| (i, j));
    let numbers = sums.of.centres().iter().copied().chain(lot.sums.sums.iter().copied());
    let numbers = numbers.chain(pairs.filter_map(|pair| lot.sums.products.get(pair).copied()));
    let words = [lot.lot.clone(), sums.of.score().to_owned()].into_iter().chain(counts);
    // the shortest digits that read back to the same number
    words.chain(numbers.map(|number| number.to_string())).collect()
}

/// Reads the rows of a table: `file` is its name in problems; each row has its line.
///
/// # Errors
/// [`Error::Unreadable`] where a column is missing or a cell holds what no sum of reeds can be.
pub fn read(file: &str, header: &[String], rows: &[(u64, Vec<String>)]) -> Result<Sums, Error> {
    let Some((first, first_row)) = rows.first() else {
        return Err(Fault::of("The file has no lots.", "a row a lot").at(file, None));
    };
    let layout = Layout::of(header).map_err(|fault| fault.at(file, None))?;
    let cells = |row: &Vec<String>| Cells { row: row.clone(), header: header.to_vec() };
    let of = layout.summed(&cells(first_row)).map_err(|fault| fault.at(file, Some(*first)))?;
    let mut sums =
        Sums { of, lots: Vec::new(), unsummed: Vec::new(), incomplete: 0, without_lot: 0 };
    let mut seen = BTreeSet::new();
    for (line, row) in rows {
        let mut add = || -> Result<(), Fault> { layout.add(&cells(row), &mut sums, &mut seen) };
        add().map_err(|fault| fault.at(file, Some(*line)))?;
    }
    Ok(sums)
}

/// What is wrong, before it is known where.
struct Fault {
    column: Option<String>,
    text: String,
    found: String,
    expected: String,
}

impl Fault {
    fn of(found: impl Into<String>, expected: impl Into<String>) -> Fault {
        Fault { column: None, text: String::new(), found: found.into(), expected: expected.into() }
    }

    fn at(self, file: &str, line: Option<u64>) -> Error {
        Error::Unreadable(Box::new(Problem {
            code: "products-unreadable",
            severity: Severity::Error,
            place: Place { file: file.to_owned(), line, column: self.column },
            text: self.text,
            message: self.found,
            expected: self.expected,
            remedy: REMEDY.to_owned(),
            excerpt: None,
        }))
    }
}

/// One row by its headings.
struct Cells {
    row: Vec<String>,
    header: Vec<String>,
}

impl Cells {
    fn text(&self, column: usize) -> &str {
        self.row.get(column).map_or("", |cell| cell.trim())
    }

    fn fault(&self, column: usize, found: &str, expected: &str) -> Fault {
        let text: String = self.text(column).chars().take(60).collect();
        Fault { column: self.header.get(column).cloned(), text, ..Fault::of(found, expected) }
    }

    fn number(&self, column: usize) -> Result<f64, Fault> {
        let number = self.text(column).parse::<f64>().ok().filter(|number| number.is_finite());
        number.ok_or_else(|| {
            self.fault(column, "The cell is no number.", "a number with a decimal point")
        })
    }

    /// A whole number from 0 on; an engine may write it with decimals.
    fn count(&self, column: usize) -> Result<usize, Fault> {
        /// Beyond that a double skips whole numbers.
        const MOST: f64 = 9e15;
        let count = self.number(column)?;
        if count.fract() == 0.0 && (0.0..MOST).contains(&count) {
            return Ok(whole::part(count));
        }
        Err(self.fault(column, "The cell is no count.", "a whole number, 0 or more"))
    }
}

/// Where each column stands.
struct Layout {
    lot: usize,
    score: usize,
    reeds: usize,
    used: usize,
    /// In the order of the file.
    summed: Vec<SummedColumn>,
    /// The places of the product of two of `summed`, the first never behind the second: one place twice, or two where the file has both orders.
    products: BTreeMap<(usize, usize), [usize; 2]>,
}

struct SummedColumn {
    name: String,
    /// Where its constant stands.
    centre: usize,
    /// Where its sum stands.
    sum: usize,
}

impl Layout {
    fn of(header: &[String]) -> Result<Layout, Fault> {
        let mut places: BTreeMap<&str, usize> = BTreeMap::new();
        for (place, name) in header.iter().enumerate().filter(|(_, name)| !name.trim().is_empty()) {
            if places.insert(name.trim(), place).is_some() {
                let found = format!("Two columns are named “{}”.", name.trim());
                return Err(Fault::of(found, "each column once"));
            }
        }
        let place = |name: &str| {
            let missing =
                || Fault::of(format!("There is no column “{name}”."), "the columns of the query");
            places.get(name).copied().ok_or_else(missing)
        };
        let names: Vec<String> = header
            .iter()
            .filter_map(|heading| columns::centred(heading.trim()))
            .map(str::to_owned)
            .collect();
        if names.len() > MOST_FACTORS + 1 {
            let found = format!("The file has sums of {} columns.", names.len());
            return Err(Fault::of(found, format!("{MOST_FACTORS} factors and a score at most")));
        }
        let mut products = BTreeMap::new();
        let mut summed = Vec::new();
        for name in &names {
            let (centre, sum) = (place(&columns::centre(name))?, place(&columns::sum(name))?);
            summed.push(SummedColumn { name: name.clone(), centre, sum });
        }
        for ((i, one), (j, other)) in columns::pairs(&names) {
            let own = place(&columns::product(one, other));
            let found = match (own, place(&columns::product(other, one))) {
                (Ok(own), Ok(turned)) => [own, turned],
                (Ok(only), Err(_)) | (Err(_), Ok(only)) => [only; 2],
                (Err(missing), Err(_)) => return Err(missing),
            };
            products.insert((i, j), found);
        }
        Ok(Layout {
            lot: place(columns::LOT)?,
            score: place(columns::SCORE)?,
            reeds: place(columns::REEDS)?,
            used: place(columns::USED)?,
            summed,
            products,
        })
    }

    /// What was summed, by the first row.
    fn summed(&self, cells: &Cells) -> Result<Summed, Fault> {
        let score = cells.text(self.score);
        if !self.summed.iter().any(|column| column.name == score) {
            let expected = "the name of a column of which the file has sums";
            return Err(cells.fault(
                self.score,
                "The score is none of the summed columns.",
                expected,
            ));
        }
        let names = self.summed.iter().map(|column| &column.name);
        let factors: Vec<String> = names.filter(|name| *name != score).cloned().collect();
        let mut centres = Vec::new();
        for column in &self.summed {
            centres.push((column.name.clone(), cells.number(column.centre)?));
        }
        Summed::new(&factors, score, &centres)
            .map_err(|found| Fault::of(found, "the columns of the query"))
    }

    /// Takes one lot in.
    fn add(
        &self,
        cells: &Cells,
        sums: &mut Sums,
        seen: &mut BTreeSet<String>,
    ) -> Result<(), Fault> {
        self.require_same(cells, &sums.of)?;
        let (reeds, used) = (cells.count(self.reeds)?, cells.count(self.used)?);
        if used > reeds {
            return Err(cells.fault(
                self.used,
                "More reeds are summed than there are.",
                &format!("at most {reeds}"),
            ));
        }
        let lot = cells.text(self.lot);
        if lot.is_empty() {
            sums.without_lot += reeds;
            return Ok(());
        }
        if !seen.insert(lot.to_owned()) {
            return Err(cells.fault(
                self.lot,
                "The lot stands twice in the file.",
                "one row a lot",
            ));
        }
        sums.incomplete += reeds - used;
        if used == 0 {
            sums.unsummed.push((lot.to_owned(), reeds));
            return Ok(());
        }
        let code = sums.lots.len();
        let group = self.group(cells, &sums.of, code, used)?;
        sums.lots.push(LotSums { lot: lot.to_owned(), reeds, sums: group });
        Ok(())
    }

    /// The score and the constants must be those of the first row.
    fn require_same(&self, cells: &Cells, of: &Summed) -> Result<(), Fault> {
        if cells.text(self.score) != of.score() {
            return Err(cells.fault(self.score, "The lots have different scores.", of.score()));
        }
        for ((_, column), centre) in self.columns_of(of).zip(of.centres()) {
            let column = column.centre;
            if cells.number(column)? != *centre {
                let expected = format!("{centre}, as in the first row");
                return Err(cells.fault(
                    column,
                    "The lots are summed about different constants.",
                    &expected,
                ));
            }
        }
        Ok(())
    }

    /// What was summed, each with its place in the file: the score may stand anywhere there and stands last here.
    fn columns_of(&self, of: &Summed) -> impl Iterator<Item = (usize, &SummedColumn)> {
        let placed = |name| self.summed.iter().enumerate().find(move |(_, own)| own.name == name);
        of.names().into_iter().filter_map(placed)
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "the matrix has a row and a column for each name, and a product of every two was found"
    )]
    fn group(
        &self,
        cells: &Cells,
        of: &Summed,
        code: usize,
        count: usize,
    ) -> Result<GroupSums, Fault> {
        let summed: Vec<(usize, &SummedColumn)> = self.columns_of(of).collect();
        let mut sums = Vec::new();
        for (_, column) in &summed {
            sums.push(cells.number(column.sum)?);
        }
        let mut products = DMatrix::zeros(summed.len(), summed.len());
        for ((i, (one, _)), (j, (other, _))) in columns::pairs(&summed) {
            let [own, turned] = self.products[&(*one.min(other), *one.max(other))];
            products[(i, j)] = cells.number(own)?;
            products[(j, i)] = cells.number(turned)?;
        }
        let group = GroupSums { code, count, sums, products };
        let one = std::slice::from_ref(&group);
        match Products::from_sums(of.factors(), of.centres(), one) {
            Ok(_) => Ok(group),
            Err(_) => {
                Err(Fault::of("No reeds have these sums.", "sums and products of the same reeds"))
            }
        }
    }
}
