//! Values from outside: certified, published, or agreed upon by two independent programs.
//!
//! Each case is a folder of `tests/reference` with the data and an `expected.json` that carries source, licence, tolerances and how the values were verified.
//! Tolerances are those of the case. A value that belongs to a method not built yet is named with `later`; a value in neither list fails the test.

#[path = "reference/case.rs"]
mod case;
#[path = "reference/linear.rs"]
mod linear;
#[path = "reference/mixed.rs"]
mod mixed;
#[path = "reference/others.rs"]
mod others;

/// Cases whose data may not be copied.
const NOT_TO_BE_COPIED: [&str; 3] = ["nist_uni_lew", "sweetspot_engelstad", "permutation_darwin"];

#[test]
fn every_case_names_its_source_and_licence() {
    let entries = std::fs::read_dir(case::folder()).unwrap();
    let folders = entries.map(|entry| entry.unwrap().path()).filter(|path| path.is_dir());
    for folder in folders {
        let text = std::fs::read_to_string(folder.join("expected.json")).unwrap();
        let case: serde_json::Value = serde_json::from_str(&text).unwrap();
        for field in ["source", "licence", "computed_with", "verification"] {
            assert!(!case[field].is_null(), "{} lacks {field}", folder.display());
        }
        let name = folder.file_name().unwrap().to_string_lossy().to_string();
        assert!(!NOT_TO_BE_COPIED.contains(&name.as_str()), "{name} may not be copied");
    }
}

/// The harness itself must be able to fail.
mod harness {
    use crate::case::Case;

    #[test]
    #[should_panic(expected = "off by")]
    fn a_value_outside_its_tolerance_fails() {
        // certified 1e7 + 2 to a relative 1e-11
        Case::open("nist_uni_numacc1").compare("mean", 10_000_002.01);
    }

    #[test]
    #[should_panic(expected = "nobody looks at")]
    fn a_value_in_neither_list_fails() {
        let mut case = Case::open("nist_uni_numacc1");
        case.compare("mean", 10_000_002.0);
        case.finish();
    }

    #[test]
    #[should_panic(expected = "off by")]
    fn a_result_that_is_no_number_fails() {
        Case::open("nist_uni_numacc1").compare("mean", f64::NAN);
    }
}
