//! Say: the finding and its tables.

use super::describe::{Mostly, feature, mostly_one, unusual};
use super::kinds::Kinds;
use super::measure::Measured;
use super::ratings::{FamilyRatings, ratings};
use super::{QUESTION, show};
use crate::finding::{
    Cell, FamiliesSection, FamilyLot, FamilyMaker, FamilyMember, FamilyResult, Finding, Method,
    ProfileComponent, ProfilePoint, ProfileShape, Section, Table, TableColumn,
};
use crate::study::Study;
use crate::words::digits::decimals;
use crate::words::families as words;
use crate::words::families::method as method_words;

/// Components of the profile whose curves stand in the table.
const COMPONENTS_IN_TABLE: usize = 3;

pub(super) fn finding(study: &Study, measured: &Measured, kinds: &Kinds, seed: u64) -> Finding {
    let rated = ratings(study, measured, kinds);
    let list = results(study, measured, kinds, &rated);
    let map = show::Map::of(measured, kinds, seed);
    let section = FamiliesSection {
        k: kinds.number(),
        criterion: method_words::CRITERION.to_owned(),
        p_one: kinds.p_one,
        tried: kinds.tried.clone(),
        told_by: told_by(measured, kinds),
        stability: kinds.stability.clone(),
        agreement: kinds.agreement,
        differences: rated.differences.clone(),
        assigned: assigned(study, measured, kinds),
        looked_at: kinds.looked_at,
        explained: map.as_ref().map(|map| map.explained.clone()).unwrap_or_default(),
        profile: profile_shape(measured),
        sentence: words::answer(
            &list,
            kinds.unstable,
            measured.pieces.len(),
            measured.features.len(),
        ),
        list,
    };
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: section.sentence.clone(),
        more: more(study, measured, &section, &rated),
        caveats: caveats(measured, kinds),
        charts: show::charts(measured, kinds, map.as_ref(), &section),
        tables: tables(&section),
        method: method(measured, kinds, &rated, seed),
        used: (measured.pieces.len(), "pieces"),
        left_out: measured.left_out.clone(),
        section: Section::Families(section),
    }
}

fn results(
    study: &Study,
    measured: &Measured,
    kinds: &Kinds,
    rated: &FamilyRatings,
) -> Vec<FamilyResult> {
    let (lots, makers) = (study.lots(), study.several_makers());
    let lot = |Mostly { name, n, of }| FamilyLot { lot: name, n, of };
    let maker = |Mostly { name, n, of }| FamilyMaker { maker: name, n, of };
    let one = |family: usize| {
        let told = unusual(measured, kinds, family);
        FamilyResult {
            family: family + 1,
            n: kinds.labels.iter().filter(|&&label| label == family).count(),
            words: words::description(&told),
            rated: rated.rated[family],
            rating: rated.means[family].into(),
            features: told.iter().map(feature).collect(),
            lot: mostly_one(lots, measured, kinds, family).map(lot),
            maker: makers.and_then(|makers| mostly_one(makers, measured, kinds, family)).map(maker),
        }
    };
    (0..kinds.number()).map(one).collect()
}

/// In the order of the log.
fn assigned(study: &Study, measured: &Measured, kinds: &Kinds) -> Vec<FamilyMember> {
    let ids = study.ids();
    let mut members: Vec<(usize, usize)> =
        measured.pieces.iter().copied().zip(kinds.labels.iter().copied()).collect();
    members.sort_unstable();
    members
        .into_iter()
        .map(|(piece, family)| FamilyMember { piece: ids[piece].to_owned(), family: family + 1 })
        .collect()
}

fn told_by(measured: &Measured, kinds: &Kinds) -> Vec<String> {
    kinds.columns.iter().map(|&column| measured.features[column].label.clone()).collect()
}

fn profile_shape(measured: &Measured) -> Option<ProfileShape> {
    let profile = measured.profile.as_ref()?;
    let components = &profile.components;
    let points = profile.curves.grid.iter().zip(&components.centres);
    let each = components.shares.iter().zip(&components.standard_deviations).enumerate();
    Some(ProfileShape {
        pieces: profile.curves.by_piece.len(),
        points: points
            .map(|(point, &mean)| ProfilePoint {
                line: point.line.to_owned(),
                from_tip_mm: point.from_tip_mm,
                mean,
            })
            .collect(),
        components: each
            .map(|(number, (&explained, sd))| ProfileComponent {
                explained,
                kept: number < profile.scores.len() && !measured.profile_unused,
                one_sd: components.loadings.row(number).iter().map(|load| load * sd).collect(),
            })
            .collect(),
    })
}

fn more(
    study: &Study,
    measured: &Measured,
    section: &FamiliesSection,
    rated: &FamilyRatings,
) -> Vec<String> {
    let mut more = Vec::new();
    if section.k > 1 {
        more.extend(section.list.iter().map(words::sentence));
        more.extend(words::differences(
            &section.differences,
            crate::questions::outcome_words(study),
        ));
        let tangled: Vec<usize> = rated.tangled.iter().map(|family| family + 1).collect();
        more.extend(words::tangled(&tangled, rated.all_tangled));
        more.extend(words::lots(&section.list));
        more.extend(words::makers(&section.list));
        if section.told_by.len() < measured.features.len() {
            more.push(words::told_by(&section.told_by));
        }
    }
    more.extend(section.profile.as_ref().map(words::profile));
    more
}

fn caveats(measured: &Measured, kinds: &Kinds) -> Vec<String> {
    let mut caveats = Vec::new();
    if kinds.number() > 1 {
        caveats.push(words::CAVEAT.to_owned());
        caveats.extend(kinds.agreement.and_then(words::agreement));
    } else {
        caveats.push(words::MISSED.to_owned());
    }
    caveats.extend(words::sampled(kinds.looked_at, measured.pieces.len()));
    caveats.extend(words::choices(&measured.choices));
    caveats.extend(words::given_up(&measured.given_up));
    if measured.profile_unused {
        caveats.push(words::PROFILE_UNUSED.to_owned());
    }
    caveats
}

fn method(measured: &Measured, kinds: &Kinds, rated: &FamilyRatings, seed: u64) -> Method {
    let plain: Vec<String> = measured
        .features
        .iter()
        .filter(|feature| feature.component.is_none())
        .map(|feature| feature.label.clone())
        .collect();
    let components = measured.features.len() - plain.len();
    let told = rated.words.as_ref().filter(|_| kinds.number() > 1);
    Method {
        model: method_words::model(&plain, components, kinds.looked_at, told),
        assumptions: method_words::assumptions(measured.profile.is_some()),
        sources: method_words::sources(measured.profile.is_some()),
        seed: Some(seed),
    }
}

fn tables(section: &FamiliesSection) -> Vec<Table> {
    let mut tables = Vec::new();
    if section.k > 1 {
        tables.push(families_table(section));
    }
    if !section.tried.is_empty() {
        tables.push(tried_table(section));
    }
    tables.extend(section.profile.as_ref().map(profile_table));
    tables
}

fn families_table(section: &FamiliesSection) -> Table {
    let row = |(family, stability): (&FamilyResult, &f64)| {
        let shown = match (family.rating.low, family.rating.high) {
            (Some(low), Some(high)) => decimals((high - low) / 2.0),
            _ => 1,
        };
        let number =
            |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
        vec![
            Cell::Count(family.family),
            Cell::Count(family.n),
            Cell::Text(family.words.clone()),
            Cell::Number(*stability, 2),
            Cell::Count(family.rated),
            number(family.rating.rating),
            number(family.rating.low),
            number(family.rating.high),
        ]
    };
    Table {
        name: "families".to_owned(),
        title: "Kinds of reeds".to_owned(),
        columns: vec![
            TableColumn::new("family", "Kind"),
            TableColumn::new("n", "Pieces"),
            TableColumn::new("words", "What sets it apart"),
            TableColumn::new("stability", "Comes back"),
            TableColumn::new("rated", "Rated"),
            TableColumn::new("rating", "Mean rating"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
        ],
        rows: section.list.iter().zip(&section.stability).map(row).collect(),
    }
}

fn tried_table(section: &FamiliesSection) -> Table {
    let number =
        |value: Option<f64>, shown| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
    let row = |tried: &crate::finding::FamiliesTried| {
        vec![
            Cell::Count(tried.k),
            Cell::Number(tried.gap, 2),
            Cell::Number(tried.gap_error, 2),
            number(tried.silhouette, 2),
            number(tried.bayesian, 0),
        ]
    };
    Table {
        name: "families_number".to_owned(),
        title: "How many kinds".to_owned(),
        columns: vec![
            TableColumn::new("k", "Kinds"),
            TableColumn::new("gap", "Gap"),
            TableColumn::new("gap_error", "its error"),
            TableColumn::new("silhouette", "Mean silhouette"),
            TableColumn::new("bayesian", "Bayesian criterion"),
        ],
        rows: section.tried.iter().map(row).collect(),
    }
}

fn profile_table(profile: &ProfileShape) -> Table {
    let kept: Vec<&ProfileComponent> =
        profile.components.iter().take(COMPONENTS_IN_TABLE).collect();
    let row = |(at, point): (usize, &ProfilePoint)| {
        let mut row = vec![
            Cell::Text(point.line.clone()),
            Cell::Number(point.from_tip_mm, 1),
            Cell::Number(point.mean, 3),
        ];
        // one value a point
        row.extend(kept.iter().map(|component| Cell::Number(component.one_sd[at], 3)));
        row
    };
    let mut columns = vec![
        TableColumn::new("line", "Line"),
        TableColumn::new("from_tip_mm", "From the tip, mm"),
        TableColumn::new("mean_mm", "Mean, mm"),
    ];
    columns.extend((1..=kept.len()).map(|number| {
        TableColumn::new(&format!("component_{number}_mm"), &words::component_heading(number))
    }));
    Table {
        name: "families_profile".to_owned(),
        title: "Profiles: the mean, and what one standard deviation of each component adds"
            .to_owned(),
        columns,
        rows: profile.points.iter().enumerate().map(row).collect(),
    }
}
