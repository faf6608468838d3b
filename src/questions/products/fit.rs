//! The models, from sums alone.

use crate::finding::{FactorFromSums, OutOfLot, ProductsSection, SlopeFromSums};
use crate::problem::Refusal;
use crate::stats::mixed::{Criterion, MixedFit, fit_mixed_products};
use crate::stats::multiplicity::benjamini_hochberg;
use crate::stats::products::Products;
use crate::stats::refit::Refit;
use crate::stats::{Estimate, StatsError};
use crate::sums::Sums;
use crate::words::products as words;

const FEWEST_REEDS: usize = 8;
const FEWEST_LOTS: usize = 3;
/// So many lots more than slopes between lots: with fewer, their errors hang on one or two lots.
const LOTS_BEYOND_SLOPES: usize = 3;
const LEVEL: f64 = 0.95;

pub(super) struct Fitted {
    pub section: ProductsSection,
    /// Whether the lots are too few for slopes between them.
    pub lots_left_out: bool,
}

/// The columns of the split design: the intercept, then what varies within lots, then the lots' means.
struct Columns {
    inside: Vec<usize>,
    between: Vec<usize>,
}

impl Columns {
    fn within(&self, factor: usize) -> Option<usize> {
        self.inside.iter().position(|&other| other == factor).map(|place| 1 + place)
    }

    fn lot_to_lot(&self, factor: usize) -> Option<usize> {
        let place = self.between.iter().position(|&other| other == factor);
        place.map(|place| 1 + self.inside.len() + place)
    }

    fn count(&self) -> usize {
        1 + self.inside.len() + self.between.len()
    }

    fn pick(&self, column: usize) -> Vec<f64> {
        let mut contrast = vec![0.0; self.count()];
        contrast[column] = 1.0;
        contrast
    }
}

pub(super) fn fit(sums: &Sums) -> Result<Fitted, Refusal> {
    let (used, lots) = (sums.used(), sums.lots.len());
    if used < FEWEST_REEDS || lots < FEWEST_LOTS || used <= lots + sums.of.factors().len() {
        return Err(refusal(words::too_few(used, lots), words::TAKES));
    }
    let products = sums.products().map_err(refused)?;
    let (inside, mut between) = products.varying();
    if inside.is_empty() {
        return Err(refusal(words::none_varies().to_owned(), words::TAKES_VARIATION));
    }
    let lots_left_out = lots < between.len() + LOTS_BEYOND_SLOPES;
    if lots_left_out {
        between.clear();
    }
    let columns = Columns { inside, between };
    let split = products.split(&columns.inside, &columns.between);
    let mixed = fit_mixed_products(&split, Criterion::Reml).map_err(refused)?;
    let list = slopes(sums, &split, &columns, &mixed).map_err(refused)?;
    let section = ProductsSection {
        score: sums.of.score().to_owned(),
        used,
        lots,
        sd_between: mixed.sd_group,
        sd_within: mixed.sd_residual,
        icc: mixed.intraclass_correlation(),
        out_of_lot: out_of_lot(&products, &columns),
        list,
    };
    Ok(Fitted { section, lots_left_out })
}

fn refusal(found: String, takes: &str) -> Refusal {
    Refusal { question: "products".to_owned(), found, takes: takes.to_owned() }
}

fn refused(error: StatsError) -> Refusal {
    match error {
        StatsError::RankDeficient { columns } => {
            refusal(words::tangled(&columns), words::TAKES_UNTANGLED)
        }
        StatsError::NoVariation { .. } => {
            refusal(words::no_spread().to_owned(), words::TAKES_SPREAD)
        }
        other => refusal(words::not_fitted(&other.to_string()), words::TAKES),
    }
}

fn slopes(
    sums: &Sums,
    split: &Products,
    columns: &Columns,
    mixed: &MixedFit,
) -> Result<Vec<FactorFromSums>, StatsError> {
    let refit = Refit::new(split)?;
    let plain = refit.fit()?;
    let robust = plain.clustered().ok();
    let mut list = Vec::new();
    for (factor, name) in sums.of.factors().iter().enumerate() {
        let (within, between) = (columns.within(factor), columns.lot_to_lot(factor));
        let by_model = |column: Option<usize>| {
            column.map(|column| slope(mixed.contrast(&columns.pick(column))?)).transpose()
        };
        let robust = within.zip(robust.as_ref()).and_then(|(column, robust)| {
            // none where no lot leaves an error to be seen
            slope(robust.contrast(&columns.pick(column)).ok()?).ok()
        });
        list.push(FactorFromSums {
            factor: name.clone(),
            within: by_model(within)?,
            robust,
            between: by_model(between)?,
            p_differs: differs(columns, mixed, within, between)?,
            q: None,
            sentence: String::new(),
        });
    }
    adjust(&mut list)?;
    Ok(list)
}

fn slope(found: Estimate) -> Result<SlopeFromSums, StatsError> {
    let (low, high) = found.interval(LEVEL)?;
    Ok(SlopeFromSums {
        estimate: found.value,
        low,
        high,
        standard_error: found.standard_error,
        df: found.degrees_of_freedom,
        p: found.p_value(),
    })
}

fn differs(
    columns: &Columns,
    mixed: &MixedFit,
    within: Option<usize>,
    between: Option<usize>,
) -> Result<Option<f64>, StatsError> {
    let Some((within, between)) = within.zip(between) else { return Ok(None) };
    let mut contrast = columns.pick(within);
    contrast[between] = -1.0;
    Ok(Some(mixed.contrast(&contrast)?.p_value()))
}

/// The factors are looked at together.
fn adjust(list: &mut [FactorFromSums]) -> Result<(), StatsError> {
    let p_values: Vec<f64> = list.iter().filter_map(|one| Some(one.within?.p)).collect();
    let mut adjusted = benjamini_hochberg(&p_values)?.into_iter();
    for one in list.iter_mut().filter(|one| one.within.is_some()) {
        one.q = adjusted.next();
    }
    Ok(())
}

/// Each lot foretold from the others by the factors as they are; none where the others of some lot do not carry them.
fn out_of_lot(products: &Products, columns: &Columns) -> Option<OutOfLot> {
    let varying: Vec<usize> = (0..products.names.len() - 1)
        .filter(|column| columns.inside.contains(column) || columns.between.contains(column))
        .collect();
    let left_out = Refit::new(&products.selected(&varying)).ok()?.leave_one_group_out().ok()?;
    let (mut rows, mut squares, mut of_mean) = (0, 0.0, 0.0);
    for lot in &left_out {
        rows += lot.rows;
        squares += lot.prediction.as_ref()?.squared_errors;
        of_mean += lot.squared_errors_of_nothing;
    }
    let root = |squares: f64| (squares / rows as f64).sqrt();
    let found = OutOfLot {
        r2: 1.0 - squares / of_mean,
        error: root(squares),
        error_of_mean: root(of_mean),
    };
    found.r2.is_finite().then_some(found)
}
