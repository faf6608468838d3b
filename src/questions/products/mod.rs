//! Which factors predict the score, by sums of each lot alone?
//!
//! For logs that no machine holds: a query engine sums the reeds lot by lot ([`crate::sums`]), and the models of the linear family start from the sums.
//!
//! **Method.** All named factors together, each split into its deviation from the lot's mean and that mean (Mundlak 1978): a mixed model with a random intercept
//! a lot (REML, Satterthwaite), least squares with CR2 errors by lot, and leave-one-lot-out errors of a line. The same numbers as from the rows.
//!
//! **Assumptions.** Effects are straight lines and add up; nothing but the named factors and the lot is taken out.
//!
//! **Refuses** with fewer than eight reeds or three lots, where no factor varies within lots, or where factors cannot be told apart.

mod fit;
mod from_log;

#[cfg(test)]
mod tests;

pub use from_log::sums_of;

use crate::finding::{
    Cell, FactorFromSums, Finding, LeftOut, Method, ProductsSection, Section, Table, TableColumn,
};
use crate::problem::Refusal;
use crate::sums::Sums;
use crate::words::products as words;

/// Answers the question from the sums.
///
/// # Errors
/// A [`Refusal`] where the sums cannot carry it.
pub fn ask(sums: &Sums) -> Result<Finding, Refusal> {
    let fitted = fit::fit(sums)?;
    Ok(say(sums, fitted))
}

fn say(sums: &Sums, fitted: fit::Fitted) -> Finding {
    let mut section = fitted.section;
    for one in &mut section.list {
        one.sentence = words::factor(one, &section.score);
    }
    let mut more: Vec<String> = section.list.iter().map(|one| one.sentence.clone()).collect();
    more.push(words::spread(&section));
    more.extend(section.out_of_lot.map(words::out_of_lot));
    let left_out = [
        (words::left_out_incomplete(), sums.incomplete),
        (words::left_out_without_lot(), sums.without_lot),
    ];
    let left_out = left_out.into_iter().filter(|(_, n)| *n > 0);
    Finding {
        question: "products",
        asked: words::ASKED.to_owned(),
        answer: words::answer(&section),
        more,
        caveats: if fitted.lots_left_out { vec![words::FEW_LOTS.to_owned()] } else { Vec::new() },
        charts: Vec::new(),
        tables: vec![table(&section)],
        method: Method {
            model: words::MODEL.to_owned(),
            assumptions: words::ASSUMPTIONS.map(str::to_owned).to_vec(),
            sources: words::SOURCES.map(str::to_owned).to_vec(),
            seed: None,
        },
        used: (section.used, "reeds"),
        left_out: left_out.map(|(why, n)| LeftOut { why: why.to_owned(), n }).collect(),
        section: Section::Products(section),
    }
}

/// Decimals of p and q.
const OF_CHANCE: usize = 4;
/// Decimals of slopes, whose units are not known.
const OF_SLOPE: usize = 4;

fn table(section: &ProductsSection) -> Table {
    Table {
        name: "factors_from_sums".to_owned(),
        title: "For one more of each factor".to_owned(),
        columns: vec![
            TableColumn::new("factor", "Factor"),
            TableColumn::new("within", "Within lots"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
            TableColumn::new("robust_standard_error", "Robust error"),
            TableColumn::new("q", "q"),
            TableColumn::new("between", "Between"),
        ],
        rows: section.list.iter().map(row).collect(),
    }
}

fn row(one: &FactorFromSums) -> Vec<Cell> {
    let number = |value: Option<f64>, decimals| {
        value.map_or(Cell::Empty, |value| Cell::Number(value, decimals))
    };
    vec![
        Cell::Text(one.factor.clone()),
        number(one.within.map(|slope| slope.estimate), OF_SLOPE),
        number(one.within.map(|slope| slope.low), OF_SLOPE),
        number(one.within.map(|slope| slope.high), OF_SLOPE),
        number(one.robust.map(|slope| slope.standard_error), OF_SLOPE),
        number(one.q, OF_CHANCE),
        number(one.between.map(|slope| slope.estimate), OF_SLOPE),
    ]
}
