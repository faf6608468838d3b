//! Ratings that are none, or lie on no common scale.

use super::case::{Case, reeds};

/// Good ratings on lines 2 and 3 and the bad one on line 4.
fn bad(code: &'static str, claim: &'static str, cell: &'static str) -> Case {
    reeds(code, claim, format!("reed,overall\n1,7\n2,9\n3,\"{cell}\"\n"))
        .with("study.toml", "scale = [1, 10]\n")
        .cell(4, "overall", cell)
}

pub fn cases() -> Vec<Case> {
    vec![
        bad("rating-unreadable", "asterisks for a rating", "****"),
        bad("rating-unreadable", "two ratings in a cell", "7 8"),
        bad("rating-unreadable", "a rating in millimetres", "7 mm"),
        bad("rating-unreadable", "a rating with a shout behind it", "8!"),
        bad("rating-word-unranked", "a word that nobody ranked", "splendid"),
        bad("rating-word-unranked", "a letter that nobody ranked", "B+"),
        bad("school-mark-unsaid", "a school mark that nobody announced", "2-"),
        bad("rating-out-of-scale", "a rating beyond the scale", "55"),
        bad("rating-out-of-scale", "more than all", "12/10"),
        bad("rating-other-scale", "a rating on another scale", "4/5"),
        reeds(
            "rating-alone",
            "an 11 where all others end at 9",
            "reed,overall\n1,4\n2,5\n3,6\n4,7\n5,8\n6,9\n7,11\n",
        )
        .cell(8, "overall", "11"),
        reeds(
            "rating-alone",
            "a single 0 that may mean not rated",
            "reed,overall\n1,4\n2,5\n3,6\n4,7\n5,8\n6,9\n7,0\n",
        )
        .cell(8, "overall", "0"),
        reeds(
            "rating-out-of-scale",
            "a bare 11 among ratings out of ten",
            "reed,overall\n1,7/10\n2,8/10\n3,11\n",
        )
        .cell(4, "overall", "11"),
        reeds(
            "rating-out-of-scale",
            "a 55 under a header out of five",
            "reed,overall/5\n1,4\n2,55\n",
        )
        .cell(3, "overall/5", "55"),
        reeds(
            "rating-other-scale",
            "one of another scale among many",
            "reed,overall\n1,3.5/5\n2,7/10\n3,8/10\n4,8\n",
        )
        .cell(2, "overall", "3.5/5"),
        reeds(
            "best-end-assumed",
            "marks of which either end may be best",
            "reed,overall\n1,1\n2,5\n3,2\n",
        )
        .in_folder(),
        reeds(
            "school-mark-unsaid",
            "many school marks that nobody announced",
            "reed,overall\n1,2-\n2,3+\n3,4\n4,1\n5,2\n6,2+\n7,3-\n8,1-\n9,4\n",
        )
        .in_folder()
        .refused(),
        reeds("players-apart", "players on scales of their own", "reed,lot\n1,a\n2,b\n3,b\n")
            .with(
                "ratings.csv",
                "reed,player,overall\n1,Al,4\n2,Al,3\n3,Al,5\n1,Al,4\n2,Al,2\n\
                 1,Bo,80\n2,Bo,70\n3,Bo,90\n1,Bo,60\n2,Bo,75\n",
            )
            .in_folder(),
        reeds("ratings-not-found", "no rating at all", "reed,lot,Verdict 2\n1,a,7\n2,b,8\n"),
        bad("fate-in-rating", "a fate for a rating", "cracked"),
        reeds(
            "outcome-undecided",
            "two criteria and no rating",
            "reed,response,tone\n1,7,8\n2,6,5\n",
        )
        .in_folder()
        .refused(),
        reeds(
            "outcome-undecided",
            "an outcome that the log does not have",
            "reed,response,tone\n1,7,8\n2,6,5\n",
        )
        .with("study.toml", "outcome = \"loudness\"\n")
        .in_folder()
        .refused(),
        reeds("rating-row-empty", "a row of the ratings without a rating", "reed,lot\nA1,a\n")
            .with("ratings.csv", "reed,date,overall\nA1,2024-03-05,7\nA1,2024-03-06,\n")
            .in_file("ratings.csv")
            .line(3)
            .rows_aside(1),
        reeds(
            "rating-before-finish",
            "a rating of an unfinished reed",
            "reed,finished_on\nA1,2024-03-05\n",
        )
        .with("ratings.csv", "reed,date,overall\nA1,2024-03-09,7\nA1,2024-02-01,6\n")
        .in_file("ratings.csv")
        .line(3),
    ]
}
