//! A slip in a name is answered with the name that was perhaps meant.

use predicates::prelude::*;

use super::{Desk, dataset};

#[test]
fn a_slip_in_a_verb_or_an_option_is_answered_with_the_nearest() {
    let desk = Desk::new();
    for (call, meant) in [
        (&["factrs", "log"][..], "'factors'"),
        (&["trial", "paln", "log"], "'plan'"),
        (&["lots", "log", "--adjustd"], "'--adjusted'"),
        (&["completions", "bsh"], "'bash'"),
    ] {
        let told = predicate::str::contains("similar").and(predicate::str::contains(meant));
        desk.call(call).assert().code(2).stdout("").stderr(told);
    }
}

#[test]
fn a_slip_in_a_column_is_answered_alike_by_every_verb_that_takes_one() {
    let (desk, demo) = (Desk::new(), dataset("demo"));
    for (call, meant) in [
        (&["decide", &demo, "forming_day"][..], "forming_days"),
        (&["handout", &demo, "fromer_days"], "forming_days"),
        (&["sort", &demo, "hardnes"], "hardness"),
        (&["drift", &demo, "--measure", "hardnes"], "hardness"),
        (&["trial", "plan", &demo, "--factor", "Scorng"], "scoring"),
    ] {
        let printed = desk.printed(call).replace('\n', " ");
        assert!(printed.contains(&format!("Did you mean “{meant}”?")), "{call:?}: {printed}");
        assert!(printed.contains("No answer yet"), "{call:?}: {printed}");
    }
    assert!(desk.files().is_empty(), "nothing is written of what was not understood");
}

#[test]
fn a_column_is_known_by_its_header_and_its_label_too_and_capitals_do_not_count() {
    let (desk, demo) = (Desk::new(), dataset("demo"));
    for name in ["HARDNESS", " hardness "] {
        let printed = desk.printed(&["drift", &demo, "--measure", name]);
        assert!(!printed.contains("No answer yet"), "{name}: {printed}");
    }
    let printed = desk.printed(&["sort", &demo, "Gouge at the centre"]);
    assert!(!printed.contains("No answer yet"), "{printed}");
}

#[test]
fn a_name_that_resembles_none_is_answered_without_a_guess() {
    let demo = dataset("demo");
    for name in ["colour", "x", &"竹".repeat(3000), "\u{1b}[31m"] {
        let printed = Desk::new().printed(&["decide", &demo, name]);
        assert!(printed.contains("has no practice") && !printed.contains("Did you mean"));
        assert!(!printed.contains('\u{1b}') && printed.len() < 4000);
    }
}

#[test]
fn a_kind_or_a_lot_that_the_log_knows_by_a_name_much_like_it_is_asked_about() {
    let (desk, demo) = (Desk::new(), dataset("demo"));
    let plan = ["trial", "plan", &demo, "--factor", "scoring", "--date", "2025-11-30"];
    let slips = ["--arms", "lengthwise,croshatch", "--lots", "Lantren,Brand New", "--out", "slips"];
    let printed = desk.printed(&[&plan[..], &slips].concat()).replace('\n', " ");
    for meant in ["crosshatch", "Lantern"] {
        assert!(printed.contains(&format!("“{meant}”?")), "{meant}: {printed}");
    }
    assert_eq!(printed.matches("Did you mean").count(), 2, "{printed}");
    let right = ["--arms", "lengthwise,crosshatch", "--lots", "Lantern,Jetty", "--out", "right"];
    let printed = desk.printed(&[&plan[..], &right].concat());
    assert!(!printed.contains("Did you mean"), "{printed}");
}
