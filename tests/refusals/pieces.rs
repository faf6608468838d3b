//! Cells that are right one by one and wrong together.

use super::case::{Case, reeds};

pub fn cases() -> Vec<Case> {
    let mut cases = names_and_fates();
    cases.extend(traces());
    cases
}

fn names_and_fates() -> Vec<Case> {
    vec![
        reeds("labels-joined", "one lot in two spellings", "reed,lot\n1,Lot B\n2,lot b\n3,Lot B\n")
            .line(1)
            .column("lot"),
        reeds(
            "labels-close",
            "two lots of nearly one name",
            "reed,lot\n1,Lot Verdun\n2,Lot Verdum\n",
        )
        .line(1)
        .column("lot"),
        reeds("fate-in-note", "a fate among the notes", "reed,note\n1,gave to Sam\n").cell(
            2,
            "note",
            "gave to Sam",
        ),
        reeds("fate-assumed", "a piece of which nothing is said", "reed,lot\n1,a\n"),
        reeds(
            "fates-disagree",
            "two fates for one reed",
            "reed,fate,rating\n1,in_use,7\n2,lost,cracked\n",
        )
        .cell(3, "rating", "cracked"),
        reeds(
            "spoiled-without-stage",
            "a spoiled piece without a stage",
            "reed,fate\n1,in_use\n2,spoiled\n",
        )
        .line(3),
    ]
}

fn traces() -> Vec<Case> {
    let apart = "reed,mine\n1,1.22\n2,1.25\n3,1.27\n4,1.30\n5,49\n6,51\n7,52\n";
    vec![
        reeds("dates-out-of-order", "finished before it was started", "reed,started_on,finished_on\n1,2024-03-05,2024-02-01\n")
            .cell(2, "finished_on", "2024-02-01"),
        reeds("day-to-come", "a year that has not come", "reed,started_on\n1,2024-03-05\n2,2024-03-06\n3,2042-03-07\n")
            .cell(4, "started_on", "2042-03-07"),
        reeds("unit-slip", "thousandths of an inch among millimetres", apart).line(1).column("mine"),
        reeds(
            "rows-alike",
            "a copied row",
            "reed,lot,gouge_mm,hardness,forming_days\n1,a,1.25,14,10\n2,a,1.25,14,10\n3,b,1.30,15,12\n",
        )
        .line(3),
    ]
}
