//! Every claim about whole questions, by the question that it is about.

use super::super::simulation::Simulation;
use super::average::Average;
use super::{
    blanks, decide, drift, factors, families, few, life, losses, lots, makers, sort, trial, trust,
};

/// What is claimed of one question.
pub struct Claims {
    pub about: &'static str,
    pub rates: &'static [Simulation],
    pub averages: &'static [Average],
}

pub const CLAIMS: [Claims; 13] = [
    Claims { about: "factors", rates: factors::RATES, averages: factors::AVERAGES },
    Claims { about: "lots", rates: &[], averages: lots::AVERAGES },
    Claims { about: "decide", rates: decide::RATES, averages: decide::AVERAGES },
    Claims { about: "losses", rates: losses::RATES, averages: losses::AVERAGES },
    Claims { about: "life", rates: life::RATES, averages: &[] },
    Claims { about: "trust", rates: trust::RATES, averages: &[] },
    Claims { about: "drift", rates: drift::RATES, averages: &[] },
    Claims { about: "families", rates: families::RATES, averages: &[] },
    Claims { about: "blanks", rates: blanks::RATES, averages: blanks::AVERAGES },
    Claims { about: "sort", rates: sort::RATES, averages: sort::AVERAGES },
    Claims { about: "makers", rates: makers::RATES, averages: &[] },
    Claims { about: "trial plan and trial read", rates: trial::RATES, averages: &[] },
    Claims { about: "logs too small for much", rates: few::RATES, averages: &[] },
];

/// Claims that the daily run leaves out, because they take long.
pub const FURTHER: [Claims; 2] = [
    Claims {
        about: "factors, further",
        rates: factors::FURTHER_RATES,
        averages: factors::FURTHER_AVERAGES,
    },
    Claims { about: "losses, further", rates: losses::FURTHER_RATES, averages: &[] },
];
