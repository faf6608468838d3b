//! Rows without an id, with another's id, or of reeds that do not exist.

use super::case::{Case, reeds};

pub fn cases() -> Vec<Case> {
    let mut cases = ids();
    cases.extend(other_files());
    cases
}

fn ids() -> Vec<Case> {
    vec![
        reeds("id-missing", "a row without an id", "reed,lot\n1,a\n,b\n").line(3).rows_aside(1),
        reeds("id-missing", "a question mark for an id", "reed,lot\n?,a\n2,b\n")
            .line(2)
            .rows_aside(1),
        reeds("row-of-totals", "a sum below the table", "reed,hours\n1,5\n2,7\nTotal:,12\n")
            .line(4)
            .rows_aside(1),
        reeds("row-of-totals", "a mean in German", "Nr,hours\n1,5\n2,7\nDURCHSCHNITT,6\n")
            .line(4)
            .rows_aside(1),
        reeds("row-of-totals", "a line drawn under the table", "reed,hours\n1,5\n2,7\n=====,12\n")
            .line(4)
            .rows_aside(1),
        reeds("row-of-totals", "a sum of the lots", "reed,lot\n1,a\n")
            .with("lots.csv", "lot,price,pieces\na,2,10\nb,3,20\nTotal,5,30\n")
            .in_file("lots.csv")
            .line(4)
            .rows_aside(1),
        reeds("row-of-totals", "a mean of the ratings", "reed,lot\n1,a\n")
            .with("ratings.csv", "reed,overall\n1,7\nAverage,7\n")
            .in_file("ratings.csv")
            .line(3)
            .rows_aside(1),
        reeds(
            "row-of-remarks",
            "a remark below the table",
            "reed,lot,hours\n1,a,5\n2,a,7\n3,b,\n4,b,2\n5,b,3\n* hardness by the new gauge from June,,\n",
        )
        .line(7)
        .rows_aside(1),
        reeds("id-repeated", "an id that two different rows share", "reed,lot\n1,a\n2,b\n1,c\n")
            .line(2)
            .rows_aside(2),
        reeds("id-repeated", "the other of the two", "reed,lot\n1,a\n2,b\n1,c\n")
            .line(4)
            .rows_aside(2),
        reeds("row-repeated", "a row that repeats another", "reed,lot\n1,a\n2,b\n1,a\n")
            .line(4)
            .rows_aside(1),
        reeds(
            "piece-columns-disagree",
            "a reed that was gouged twice",
            "reed,gouge_mm,overall\n1,1.25,7\n1,1.30,8\n2,1.20,6\n",
        )
        .with("study.toml", "one_row_is = \"rating\"\nscale = [1, 10]\n")
        .cell(3, "gouge_mm", "1.30"),
    ]
}

fn other_files() -> Vec<Case> {
    let two = || "reed,lot\nA1,a\nA2,b\n";
    vec![
        reeds("reed-unknown", "a rating of an unknown reed", two())
            .with("ratings.csv", "reed,overall\nA1,7\nB9,8\n")
            .in_file("ratings.csv")
            .line(3)
            .rows_aside(1),
        reeds(
            "reed-unknown",
            "a rating of a reed whose rows disagree",
            "reed,lot\nA1,a\nA1,b\nA2,c\n",
        )
        .with("ratings.csv", "reed,overall\nA1,7\nA2,8\n")
        .in_file("ratings.csv")
        .line(2)
        .rows_aside(3),
        reeds("row-repeated", "a rating twice, and no day", two())
            .with("ratings.csv", "reed,overall\nA1,7\nA2,8\nA1,7\n")
            .in_file("ratings.csv")
            .line(4),
        reeds("row-repeated", "a thickness twice under one number", two())
            .with("profile.csv", "reed,from_tip_mm,line,thickness_mm,repeat\nA1,5,spine,0.4,1\nA1,5,spine,0.4,1\nA1,5,spine,0.4,2\n")
            .in_file("profile.csv")
            .line(3)
            .rows_aside(1),
        reeds("row-repeated", "a reading twice without a number", two())
            .with("readings.csv", "reed,measure,value\nA1,hardness,14\nA1,hardness,14\n")
            .in_file("readings.csv")
            .line(3),
        reeds("reed-spelled-otherwise", "an id in other letters", two())
            .with("ratings.csv", "reed,overall\nA1,7\na2,8\n")
            .in_file("ratings.csv")
            .cell(3, "reed", "a2"),
        reeds("lot-repeated", "a lot that stands twice", two())
            .with("lots.csv", "lot,price_per_piece\na,2\nb,3\na,4\n")
            .in_file("lots.csv")
            .line(4)
            .rows_aside(1),
        reeds("cell-needed", "a reading without its thickness", two())
            .with(
                "profile.csv",
                "reed,from_tip_mm,line,thickness_mm\nA1,15,spine,\nA1,5,spine,0.4\n",
            )
            .in_file("profile.csv")
            .line(2)
            .rows_aside(1),
        reeds("cell-needed", "a reading of nothing", two())
            .with("readings.csv", "reed,measure,value\nA1,,14\nA1,hardness,14\n")
            .in_file("readings.csv")
            .line(2)
            .rows_aside(1),
        reeds("line-unknown", "a line that no blade has", two())
            .with(
                "profile.csv",
                "reed,from_tip_mm,line,thickness_mm\nA1,15,nose,0.5\nA1,5,spine,0.4\n",
            )
            .in_file("profile.csv")
            .line(2)
            .rows_aside(1),
    ]
}
