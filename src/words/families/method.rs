//! How kinds of reeds were looked for, in words.

use super::RatingWords;
use crate::words::digits::count;
use crate::words::lists::and;

/// How the number of families was chosen.
pub const CRITERION: &str = "more clustered than each of 99 single clouds of the same shape; then the gap statistic from two on, unless mean silhouette and Bayesian criterion \
                             agree on another number; all families of five pieces or more and stable, else fewer";

/// The method in words.
pub fn model(
    measurements: &[String],
    components: usize,
    looked_at: usize,
    rating: Option<&RatingWords>,
) -> String {
    let mut names = measurements.to_vec();
    match components {
        0 => {}
        1 => names.push("the first principal component of the profiles".to_owned()),
        more => names.push(format!("the first {more} principal components of the profiles")),
    }
    format!(
        "On {}, each scaled to a standard deviation of one: are the pieces more clustered than each of 99 invented logs with one cloud, alike in \
         the shape of each measurement and in the correlations? Where they are, k-means in the measurements in which they are most \
         clustered, the number of kinds by the gap statistic against the same invented logs beside mean silhouette and Bayesian criterion \
         of Gaussian mixtures; a kind is believed when it has five pieces and bootstrap resamples find it again (Jaccard similarity of 0.6 or more). \
         {} pieces were looked at for this.{}",
        and(&names),
        count(looked_at),
        rating.map_or(String::new(), rating_model)
    )
}

fn rating_model(words: &RatingWords) -> String {
    let fixed: Vec<String> =
        ["kinds"].iter().chain(&words.fixed).map(|name| format!("the {name}")).collect();
    let beside = match words.random.is_empty() {
        true => String::new(),
        false => format!(", with random intercepts of {}", and(&words.random)),
    };
    format!(
        " Ratings: a linear model of {}{beside}; the intervals of the differences hold together (Bonferroni).",
        and(&fixed)
    )
}

/// What the method takes for granted.
pub fn assumptions(has_profile: bool) -> Vec<String> {
    let mut assumptions = vec![
        "Kinds are round clouds of about equal spread in the measurements that tell them apart; kinds that lie less than some four of their \
         standard deviations apart are not seen."
            .to_owned(),
        "Pieces with an empty cell are left out.".to_owned(),
        "Pieces are independent of each other; those of one lot or tube are not quite.".to_owned(),
    ];
    if has_profile {
        assumptions.push(
            "Profiles: repeats averaged, then left and right; straight lines between the readings; spine, channels and rails apart."
                .to_owned(),
        );
    }
    assumptions
}

/// Where the methods come from.
pub fn sources(has_profile: bool) -> Vec<String> {
    let mut sources = vec![
        "Helgeson, Vock & Bair 2021, Biometrics 77, 1215–1226",
        "Hartigan & Hartigan 1985, Annals of Statistics 13, 70–84",
        "Tibshirani, Walther & Hastie 2001, JRSS B 63, 411–423",
        "Rousseeuw 1987, J. Computational and Applied Mathematics 20, 53–65",
        "Fraley & Raftery 2002, JASA 97, 611–631",
        "Hennig 2007, Computational Statistics & Data Analysis 52, 258–271",
        "Bates, Maechler, Bolker & Walker 2015, J. Statistical Software 67(1)",
    ];
    if has_profile {
        sources.push("Pearson 1901, Philosophical Magazine 2, 559–572");
    }
    sources.into_iter().map(str::to_owned).collect()
}
