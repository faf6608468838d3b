//! Headers that name nothing, and columns that cannot be decided.

use super::case::{Case, reeds};

pub fn cases() -> Vec<Case> {
    let stories: String =
        (1..=14).map(|at| format!("{at},a long story number {at} of its own\n")).collect();
    let mut cases = vec![
        reeds("header-blank", "values under a blank header", "reed,,lot\n1,5,a\n").line(1),
        reeds("header-repeated", "a header that stands twice", "reed,mine,mine\n1,2,3\n")
            .line(1)
            .column("mine"),
        reeds(
            "columns-same-meaning",
            "two columns that mean the same",
            "reed,gouge,Gouge centre (mm)\n1,1.25,1.26\n",
        )
        .line(1)
        .column("Gouge centre (mm)"),
        reeds("column-missing", "no column of ids", "lot,gouge\na,1.25\n").line(1).refused(),
        reeds("column-missing", "ratings without a reed", "reed,lot\n1,a\n")
            .with("ratings.csv", "date,overall\n2024-03-05,7\n")
            .in_file("ratings.csv")
            .line(1)
            .refused(),
        reeds("column-unplaced", "a column of the maker's own", "reed,moon\n1,4\n2,9\n")
            .line(1)
            .column("moon"),
        reeds("column-not-used", "a column of stories", format!("reed,story\n{stories}"))
            .line(1)
            .column("story"),
    ];
    cases.extend(marks_and_orders());
    cases
}

fn marks_and_orders() -> Vec<Case> {
    vec![
        reeds(
            "decimal-mark-found",
            "a mark that the other columns decide",
            "reed;gouge_mm;density\n1;1,234;0,55\n",
        )
        .line(1)
        .column("gouge_mm"),
        reeds(
            "decimal-mark-undecided",
            "numbers that can be read either way",
            "reed;gouge_mm\n1;1,234\n2;1,250\n",
        )
        .cell(2, "gouge_mm", "1,234"),
        reeds("decimal-marks-mixed", "both marks in a column", "reed;gouge_mm\n1;1,25\n2;1.30\n")
            .line(1)
            .column("gouge_mm"),
        reeds(
            "decimal-mark-undecided",
            "either way among both marks",
            "reed;mine\n1;1,25\n2;1.30\n3;1,234\n",
        )
        .cell(4, "mine", "1,234"),
        reeds(
            "day-order-found",
            "an order that a day over twelve decides",
            "reed,made\n1,3/4/2024\n2,3/20/24\n",
        )
        .line(1)
        .column("made"),
        reeds(
            "day-order-undecided",
            "days that can be read either way",
            "reed,made\n1,3/4/2024\n2,3/5/24\n",
        )
        .cell(2, "made", "3/4/2024"),
        reeds("day-orders-mixed", "both orders in a column", "reed,made\n1,20/3/2024\n2,3/20/24\n")
            .line(1)
            .column("made"),
        reeds(
            "day-order-undecided",
            "either way among both orders",
            "reed,made\n1,20/3/2024\n2,3/20/24\n3,3/4/24\n",
        )
        .cell(4, "made", "3/4/24"),
    ]
}
