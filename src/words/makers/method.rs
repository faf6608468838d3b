//! How the makers were compared.

pub fn model(of_a_maker: &str, is_pooled: bool) -> String {
    let means = match is_pooled {
        true => {
            "Mean scores by a mixed model with makers and lots at random; intervals take the spreads as known and rest on t with one degree of freedom fewer than makers."
        }
        false => {
            "Mean scores as plain means, their errors by lots (CR2) where a maker has two lots or more."
        }
    };
    format!(
        "Within each maker alone: {of_a_maker} The makers' effects on at least four degrees of freedom are averaged by one over their variance (Meier's error); that they differ is tested by \
         Welch's F. Differs: its p, adjusted over the measurements, is at most 0.05. Holds for all: not so, unadjusted p of a difference above 0.05, adjusted p of the common effect at most 0.05, \
         and each maker's estimate lies on its side with an interval that holds it. {means} Shares with Clopper and Pearson's intervals. Overlap, averaged over pairs of makers (of the 24 with most pieces): of choices the share of \
         pieces in common, of numbers one less the largest distance between cumulative shares."
    )
}

pub fn assumptions() -> Vec<String> {
    [
        "Makers work independently of each other, and a measurement is read alike by all of them.",
        "A rating point means as much in each log.",
        "Effects are straight over the range of each maker's reeds, and cells are missing without regard to how the reed would have played.",
    ]
    .map(str::to_owned)
    .to_vec()
}

pub fn sources() -> Vec<String> {
    [
        "Common mean: Graybill & Deal 1959, Biometrics 15, 543–550; its error: Meier 1953, Biometrics 9, 59–73",
        "Whether effects differ: Welch 1951, Biometrika 38, 330–336",
        "Many measurements: Benjamini & Hochberg 1995, JRSS B 57, 289–300",
        "Overlap of numbers: Smirnov 1948, Annals of Mathematical Statistics 19, 279–281",
        "Shares: Clopper & Pearson 1934, Biometrika 26, 404–413",
        "Pooled means: Henderson 1975, Biometrics 31, 423–447",
    ]
    .map(str::to_owned)
    .to_vec()
}
