//! Tables as data: pages choose how many digits show, the CSV files hold all.

/// One table of a finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// File stem under `tables/`: `lots`.
    pub name: String,
    pub title: String,
    pub columns: Vec<TableColumn>,
    /// One cell a column.
    pub rows: Vec<Vec<Cell>>,
}

/// One column of a table. The unit stands in the heading, once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableColumn {
    pub heading: String,
    /// Key for the CSV file: `pooled_mean`.
    pub key: String,
}

impl TableColumn {
    pub fn new(key: &str, heading: &str) -> TableColumn {
        TableColumn { heading: heading.to_owned(), key: key.to_owned() }
    }
}

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    Text(String),
    Count(usize),
    /// A number and the decimals that its uncertainty supports.
    Number(f64, usize),
    /// Nothing was computed or nothing is known.
    Empty,
}
