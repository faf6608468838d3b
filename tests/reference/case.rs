//! One reference case: its data, its values from outside, and the account of which of them were compared.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

/// Where the cases lie.
pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

/// A case while it is being compared.
pub struct Case {
    name: String,
    columns: BTreeMap<String, Vec<String>>,
    expected: Value,
    compared: BTreeSet<String>,
    later: BTreeSet<String>,
}

impl Case {
    /// Reads `data.csv` and `expected.json` of a case.
    pub fn open(name: &str) -> Self {
        let place = folder().join(name);
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
            compared: BTreeSet::new(),
            later: BTreeSet::new(),
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
        self.compared.insert(name.into());
    }

    /// Names values that belong to methods which are not built yet.
    pub fn later<Name: AsRef<str>>(&mut self, names: impl IntoIterator<Item = Name>) {
        for name in names {
            self.value(name.as_ref());
            self.later.insert(name.as_ref().into());
        }
    }

    /// Fails when the case holds a value that was neither compared nor named as later, or one that is both.
    pub fn finish(self) {
        let values = self.expected["values"].as_object().expect("values");
        let forgotten: Vec<&String> = values
            .keys()
            .filter(|name| !self.compared.contains(*name) && !self.later.contains(*name))
            .collect();
        assert!(forgotten.is_empty(), "{}: nobody looks at {forgotten:?}", self.name);
        let both: Vec<&String> = self.compared.intersection(&self.later).collect();
        assert!(both.is_empty(), "{}: compared and yet later: {both:?}", self.name);
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
