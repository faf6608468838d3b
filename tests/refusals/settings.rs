//! Study files that say what they cannot.

use super::case::{Case, reeds};

const LOG: &str = "reed,gouge_mm,rating\n1,1.25,7\n2,1.30,8\n";

/// A study file that stops the reading on that line.
fn stops(code: &'static str, claim: &'static str, line: u64, text: &'static str) -> Case {
    reeds(code, claim, LOG).with("study.toml", text).in_file("study.toml").line(line).refused()
}

pub fn cases() -> Vec<Case> {
    let unfit = |claim, line, text| stops("study-value-unfit", claim, line, text);
    vec![
        stops("study-file-unreadable", "no TOML", 2, "title = \"x\"\nscale = = 3\n"),
        unfit("words where a list belongs", 1, "scale = \"1 to 10\"\n").column("scale"),
        unfit("a list of three where two belong", 1, "scale = [1, 5, 10]\n").column("scale"),
        unfit("a word where a number belongs", 2, "title = \"x\"\ngood_at = \"seven\"\n")
            .column("good_at"),
        unfit("a day where a number of days belongs", 1, "window = 2024-03-05\n").column("window"),
        unfit("a word where yes or no belongs", 1, "same_lots = \"yes\"\n").column("same_lots"),
        stops(
            "study-file-unreadable",
            "a text without quotes",
            2,
            "scale = [1, 10]\ntitle = Autumn lots\n",
        ),
        stops("study-file-unreadable", "a day that is none", 1, "window = 24-03-05\n"),
        stops(
            "study-file-unreadable",
            "a key that stands twice",
            2,
            "title = \"x\"\ntitle = \"y\"\n",
        ),
        stops("study-key-unknown", "a misspelled key", 2, "title = \"x\"\nscael = [1, 10]\n")
            .column("scael"),
        stops(
            "study-key-unknown",
            "a misspelled key of a column",
            2,
            "[columns.gouge_mm]\nunits = \"mm\"\n",
        )
        .column("units"),
        unfit("a scale upside down", 1, "scale = [10, 1]\n").column("scale"),
        unfit("a scale without an end", 1, "scale = [1, inf]\n").column("scale"),
        unfit("a best that is neither high nor low", 1, "best = \"middling\"\n").column("best"),
        unfit("a semicolon as the decimal mark", 2, "[columns.gouge_mm]\ndecimal = \";\"\n")
            .column("decimal"),
        unfit("a window of no days", 1, "window = 0\n").column("window"),
        unfit("a difference worth nothing", 1, "worthwhile = -1\n").column("worthwhile"),
        unfit(
            "a word that is ranked twice",
            2,
            "[words]\nranking = [\"good\", \"bad\", \"Good\"]\n",
        )
        .column("ranking"),
        unfit("a stage that nobody makes", 2, "[columns.gouge_mm]\nstage = \"varnish\"\n")
            .column("stage"),
        unfit("an order of neither day nor month", 1, "day_order = \"year in the middle\"\n")
            .column("day_order"),
        reeds("study-name-unused", "a header that the log does not have", LOG)
            .with("study.toml", "[columns.Guoge]\nunit = \"mm\"\n")
            .in_file("study.toml")
            .column("Guoge"),
        reeds("setting-found", "a scale that nobody stated", LOG).in_folder(),
    ]
}
