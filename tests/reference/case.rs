//! One reference case: its data, its values from outside, and the account of how near ours came to each of them.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

/// What is asked of a case; panics where a value is off.
pub type Check = fn(&mut Case);

/// The variable that names a folder with the cases whose data may not be copied.
pub const ELSEWHERE: &str = "CANEWRIGHT_REFERENCE_CASES";

/// Where the cases lie that may be copied.
pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

/// Where a case lies; none where its data may not be copied and are not at hand.
pub fn place(name: &str) -> Option<PathBuf> {
    let copied = folder().join(name);
    let in_place = || std::env::var_os(ELSEWHERE).map(|folder| PathBuf::from(folder).join(name));
    Some(copied).filter(|place| place.is_dir()).or_else(|| in_place().filter(|p| p.is_dir()))
}

/// One value of a case beside ours.
pub struct Agreement {
    pub case: String,
    pub quantity: String,
    /// `-log10` of the relative error (of the error as a share of its scale, where the value is 0), at most 15.
    pub digits: f64,
}

/// A case while it is being compared.
pub struct Case {
    name: String,
    columns: BTreeMap<String, Vec<String>>,
    expected: Value,
    later: BTreeSet<String>,
    agreements: Vec<Agreement>,
}

impl Case {
    /// Reads `data.csv` and `expected.json` of a case.
    pub fn open(name: &str) -> Self {
        let place = place(name).unwrap_or_else(|| panic!("no case is called {name}"));
        let text = std::fs::read_to_string(place.join("expected.json")).expect(name);
        let mut reader = csv::Reader::from_path(place.join("data.csv")).expect(name);
        let headers = reader.headers().expect(name).clone();
        let mut columns: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for record in reader.records() {
            for (header, cell) in headers.iter().zip(&record.expect(name)) {
                columns.entry(header.into()).or_default().push(cell.into());
            }
        }
        Self {
            name: name.into(),
            columns,
            expected: serde_json::from_str(&text).expect(name),
            later: BTreeSet::new(),
            agreements: Vec::new(),
        }
    }

    /// A column as written.
    pub fn texts(&self, column: &str) -> Vec<String> {
        self.columns[column].clone()
    }

    /// A column of numbers.
    pub fn numbers(&self, column: &str) -> Vec<f64> {
        let cells = self.columns[column].iter();
        cells.map(|cell| cell.parse().expect(cell)).collect()
    }

    /// A column of labels as codes, in the order of the labels.
    pub fn codes(&self, column: &str) -> Vec<usize> {
        let cells = &self.columns[column];
        let labels: BTreeSet<&String> = cells.iter().collect();
        let labels: Vec<&String> = labels.into_iter().collect();
        let place = |cell: &String| labels.binary_search(&cell).expect(cell);
        cells.iter().map(place).collect()
    }

    /// Fails unless `found` agrees with the value to the tolerance of the case.
    pub fn compare(&mut self, name: &str, found: f64) {
        self.compare_scaled(name, found, 1.0);
    }

    /// [`Case::compare`] where the expected value may be zero: the absolute tolerance is multiplied by the size such a value could have.
    pub fn compare_scaled(&mut self, name: &str, found: f64, size: f64) {
        let expected = self.value(name);
        let allowed = if expected == 0.0 {
            size * self.number("abs_tol_when_zero")
        } else {
            self.relative_tolerance(name) * expected.abs()
        };
        let difference = (found - expected).abs();
        assert!(
            difference <= allowed,
            "{}: {name} is {found}, expected {expected}, off by {difference:e} where {allowed:e} is allowed",
            self.name
        );
        let scale = if expected == 0.0 { size } else { expected.abs() };
        let digits = if difference == 0.0 { 15.0 } else { -(difference / scale).log10() };
        self.agreements.push(Agreement {
            case: self.name.clone(),
            quantity: name.into(),
            digits: digits.min(15.0),
        });
    }

    /// Names values that belong to methods which are not built yet.
    pub fn later<Name: AsRef<str>>(&mut self, names: impl IntoIterator<Item = Name>) {
        for name in names {
            self.value(name.as_ref());
            self.later.insert(name.as_ref().into());
        }
    }

    /// Fails when the case holds a value that was neither compared nor named as later, or one that is both.
    pub fn finish(self) -> Vec<Agreement> {
        let values = self.expected["values"].as_object().expect("values");
        let compared: BTreeSet<&String> = self.agreements.iter().map(|one| &one.quantity).collect();
        let forgotten: Vec<&String> = values
            .keys()
            .filter(|name| !compared.contains(*name) && !self.later.contains(*name))
            .collect();
        assert!(forgotten.is_empty(), "{}: nobody looks at {forgotten:?}", self.name);
        let both: Vec<&String> = self.later.iter().filter(|name| compared.contains(name)).collect();
        assert!(both.is_empty(), "{}: compared and yet later: {both:?}", self.name);
        self.agreements
    }

    /// A published field of the case: its source, its recipe.
    pub fn text(&self, field: &str) -> &str {
        self.expected[field].as_str().expect(field)
    }

    fn value(&self, name: &str) -> f64 {
        let value = self.expected["values"][name].as_f64();
        value.unwrap_or_else(|| panic!("{} has no value {name}", self.name))
    }

    fn number(&self, field: &str) -> f64 {
        self.expected[field].as_f64().expect(field)
    }

    fn relative_tolerance(&self, name: &str) -> f64 {
        let own = self.expected["rel_tol_by_value"][name].as_f64();
        own.unwrap_or_else(|| self.number("rel_tol"))
    }
}
