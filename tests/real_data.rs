//! The questions on numbers that nobody here made up: two published data sets, each mapped by a study file alone.

use std::path::PathBuf;

use canewright::finding::{FactorResult, FactorsSection, Finding, Section};
use canewright::intake::{ReadOptions, read};
use canewright::questions::{Options, find};
use canewright::study::Study;

fn study(name: &str) -> Study {
    let folder = PathBuf::from("datasets").join(name);
    let reading = read(&[folder], &ReadOptions::default()).expect("the data set is readable");
    reading.study
}

fn ask(name: &str, question: &str) -> Finding {
    let question = find(question).expect("the question is in the registry");
    (question.ask)(&study(name), &Options::default()).expect("the data set carries the question")
}

fn factors(name: &str) -> FactorsSection {
    match ask(name, "factors").section {
        Section::Factors(section) => section,
        other => panic!("{other:?}"),
    }
}

fn factor<'a>(section: &'a FactorsSection, name: &str, level: Option<&str>) -> &'a FactorResult {
    section
        .list
        .iter()
        .find(|result| result.factor == name && result.level.as_deref() == level)
        .unwrap_or_else(|| panic!("{name} {level:?} among {:?}", section.list))
}

fn close(found: f64, expected: f64, relative: f64) -> bool {
    (found - expected).abs() <= relative * expected.abs()
}

/// Cochran & Cox 1957, Experimental Designs, 2nd ed., p. 300. The angle at which a chocolate cake breaks rises by
/// 0.158031746032 degrees for each degree Fahrenheit of baking temperature (REML fit with replicate and recipe within
/// replicate as random intercepts, agreed upon by R lme4 1.1.31 and a closed-form analysis of variance; the design is
/// balanced, so least squares within replicates gives the same).
#[test]
fn the_cakes_break_later_by_the_published_angle_for_each_degree_of_heat() {
    let section = factors("cake");
    let heat = factor(&section, "baking_temperature", None);
    let per_degree = heat.estimate.expect("fitted") / heat.step.expect("a number has a step");
    assert!(close(per_degree, 0.158031746032, 1e-6), "{per_degree}");
    assert_eq!(heat.scope, "within lots");
    assert_eq!(heat.used, 270);
}

/// The same source: recipe B against A -1.47777777778, C against A -1.52222222222.
#[test]
fn the_cakes_recipes_differ_by_the_published_angles() {
    let section = factors("cake");
    let recipes: Vec<&FactorResult> =
        section.list.iter().filter(|result| result.factor == "recipe").collect();
    assert_eq!(recipes.len(), 2, "two levels against a third: {recipes:?}");
    let against = |level: &str| -> f64 {
        // the commonest level is the reference; all three are equally common, so the first by name is
        assert!(recipes.iter().all(|result| result.reference.as_deref() == Some("A")));
        factor(&section, "recipe", Some(level)).estimate.expect("fitted")
    };
    assert!(close(against("B"), -1.47777777778, 1e-6));
    assert!(close(against("C"), -1.52222222222, 1e-6));
}

/// Randall 1989, Biometrical J. 31, 781-793. Warm crushing and contact of juice and skins both raise the bitterness that
/// nine judges rated, warmth the more (proportional odds: 2.503 for warm, 1.528 for contact, Christensen 2019). Means of the
/// ratings, counted from the published table: warm 3.5, cold 2.33; contact 3.25, none 2.58.
#[test]
fn warm_crushing_and_skin_contact_raise_bitterness_in_the_published_order() {
    let section = factors("wine");
    let estimate = |name: &str, raised: &str| {
        let result = section.list.iter().find(|result| result.factor == name).expect("looked at");
        let sign = if result.level.as_deref() == Some(raised) { 1.0 } else { -1.0 };
        sign * result.estimate.expect("fitted")
    };
    let (warm, contact) =
        (estimate("crushing_temperature", "warm"), estimate("skin_contact", "yes"));
    assert!(warm > contact && contact > 0.0, "warm {warm}, contact {contact}");
}
