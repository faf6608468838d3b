//! Say: the sentences, the tables and the picture.

use super::QUESTION;
use super::effects::Effects;
use super::means::Means;
use crate::finding::{
    Cell, Chart, ChartKind, EffectAcrossMakers, Estimated, Finding, Interval, LeftOut,
    MakerEffectsShown, MakerPractice, MakerResult, MakersSection, MakersVerdict, Method,
    PracticeByMaker, Section, Table, TableColumn,
};
use crate::questions::outcome_words;
use crate::study::Study;
use crate::words::digits::{decimals, interval_decimals};
use crate::words::factors;
use crate::words::given::decimals_given;
use crate::words::makers::{self as words, EffectLabel};

/// So many measurements are told in full, and stand in the picture; so many makers of each.
const MOST_TOLD: usize = 6;
const MOST_MAKERS: usize = 6;

pub(super) fn finding(
    study: &Study,
    list: Vec<MakerResult>,
    means: &Means,
    practices: Vec<(PracticeByMaker, String)>,
    effects: Effects,
) -> Finding {
    let outcome = outcome_words(study);
    let list: Vec<MakerResult> = list
        .into_iter()
        .map(|result| MakerResult { sentence: words::of_maker(&result), ..result })
        .collect();
    let told: Vec<(EffectAcrossMakers, EffectLabel)> = effects
        .list
        .iter()
        .cloned()
        .map(|(effect, label)| {
            let sentence = words::effect(&effect, &label, outcome);
            (EffectAcrossMakers { sentence, ..effect }, label)
        })
        .collect();
    let used = list.iter().map(|result| result.pieces).sum();
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: words::answer(&list, &told),
        more: more(&list, means, &practices, &told, outcome),
        caveats: caveats(&list, means, &effects),
        charts: chart(&told, study.settings().worthwhile, outcome).into_iter().collect(),
        tables: vec![makers_table(&list), practices_table(&practices), effects_table(&told)]
            .into_iter()
            .filter(|table| !table.rows.is_empty())
            .collect(),
        method: Method {
            model: words::model(&factors::model(effects.model), means.is_pooled),
            assumptions: words::assumptions(),
            sources: words::sources(),
            seed: None,
        },
        used: (used, "pieces"),
        left_out: without_maker(study.pieces() - used),
        section: Section::Makers(MakersSection {
            list,
            means_compared: means.not_compared.is_none(),
            means_not_compared: means.not_compared.map(|why| why.told().to_owned()),
            p_means: means.p_differ,
            practices: practices.into_iter().map(|(practice, _)| practice).collect(),
            effects: told.into_iter().map(|(effect, _)| effect).collect(),
        }),
    }
}

fn without_maker(n: usize) -> Vec<LeftOut> {
    let why = || LeftOut { why: words::WITHOUT_MAKER.to_owned(), n };
    (n > 0).then(why).into_iter().collect()
}

fn more(
    list: &[MakerResult],
    means: &Means,
    practices: &[(PracticeByMaker, String)],
    told: &[(EffectAcrossMakers, EffectLabel)],
    outcome: factors::OutcomeWords,
) -> Vec<String> {
    let stands_out = |(effect, _): &&(EffectAcrossMakers, EffectLabel)| {
        effect.verdict != MakersVerdict::CannotTell
    };
    let effects = told.iter().filter(stands_out).take(MOST_TOLD);
    let mut more: Vec<String> = effects.map(|(effect, _)| effect.sentence.clone()).collect();
    more.extend(words::means(list, means.p_differ, outcome));
    more.extend(words::practices(practices));
    more.extend(list.iter().take(MOST_MAKERS).map(|result| result.sentence.clone()));
    more
}

fn caveats(list: &[MakerResult], means: &Means, effects: &Effects) -> Vec<String> {
    let mut caveats: Vec<String> =
        means.not_compared.map(|why| why.told().to_owned()).into_iter().collect();
    caveats.extend(means.caveat.clone());
    let differs = effects.list.iter().any(|(effect, _)| effect.verdict == MakersVerdict::Differs);
    if differs && means.not_compared.is_some() {
        caveats.push(words::SCALE_USE.to_owned());
    }
    caveats.extend(words::enough(list.len(), effects.makers, effects.looked_at));
    caveats
}

fn chart(
    told: &[(EffectAcrossMakers, EffectLabel)],
    worthwhile: f64,
    outcome: factors::OutcomeWords,
) -> Option<Chart> {
    let shown = &told[..told.len().min(MOST_TOLD)];
    let row = |(effect, label): &(EffectAcrossMakers, EffectLabel)| MakerEffectsShown {
        label: label.label.clone(),
        step: words::step(effect, label),
        verdict: effect.verdict.word().to_owned(),
        all: Interval { estimate: effect.estimate, low: effect.low, high: effect.high },
        makers: effect
            .list
            .iter()
            .take(MOST_MAKERS)
            .map(|own| {
                let interval = Interval { estimate: own.estimate, low: own.low, high: own.high };
                (own.maker.clone(), interval)
            })
            .collect(),
        more: effect.list.len().saturating_sub(MOST_MAKERS),
    };
    (!shown.is_empty()).then(|| Chart {
        name: "makers_effects".to_owned(),
        title: words::TITLE.to_owned(),
        description: words::description(shown),
        reading: words::READING.to_owned(),
        kind: ChartKind::MakerEffects {
            rows: shown.iter().map(row).collect(),
            more: told.len() - shown.len(),
            worthwhile,
            unit: outcome.points(),
        },
    })
}

/// An interval as three cells, with the digits that it supports.
fn cells(found: Option<Interval>) -> [Cell; 3] {
    let Some(found) = found else { return [Cell::Empty, Cell::Empty, Cell::Empty] };
    let decimals = interval_decimals(found);
    [found.estimate, found.low, found.high].map(|value| Cell::Number(value, decimals))
}

fn interval(found: Estimated) -> Interval {
    Interval { estimate: found.estimate, low: found.low, high: found.high }
}

fn makers_table(list: &[MakerResult]) -> Table {
    let count = |n: Option<usize>| n.map_or(Cell::Empty, Cell::Count);
    let row = |result: &MakerResult| {
        let mean =
            || Some(Interval { estimate: result.mean?, low: result.low?, high: result.high? });
        let mut row = vec![
            Cell::Text(result.maker.clone()),
            Cell::Count(result.pieces),
            count(result.spoiled),
        ];
        row.extend(cells(result.spoiled_per_ten.map(interval)));
        row.push(Cell::Count(result.rated));
        row.extend(cells(result.good_per_ten.map(interval)));
        row.extend(cells(mean()));
        row.extend([count(result.by_own_hand), Cell::Count(result.ratings)]);
        row
    };
    Table {
        name: "makers".to_owned(),
        title: "Each maker".to_owned(),
        columns: vec![
            TableColumn::new("maker", "Maker"),
            TableColumn::new("pieces", "Pieces"),
            TableColumn::new("spoiled", "Spoiled"),
            TableColumn::new("spoiled_per_ten", "of ten"),
            TableColumn::new("spoiled_low", "from"),
            TableColumn::new("spoiled_high", "to"),
            TableColumn::new("rated", "Rated"),
            TableColumn::new("good_per_ten", "Good of ten"),
            TableColumn::new("good_low", "from"),
            TableColumn::new("good_high", "to"),
            TableColumn::new("mean", "Mean rating"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
            TableColumn::new("by_own_hand", "By own hand"),
            TableColumn::new("ratings", "Ratings"),
        ],
        rows: list.iter().map(row).collect(),
    }
}

/// Digits that the middle half of the pieces supports, where it is narrowest, and none that the numbers do not have.
fn decimals_of_quarters(list: &[MakerPractice]) -> usize {
    let halves = list.iter().filter_map(|own| Some((own.three_quarters? - own.quarter?) / 2.0));
    let supported = halves.filter(|half| *half > 0.0).map(decimals).max();
    let all = list.iter().flat_map(|own| [own.median, own.quarter, own.three_quarters]);
    let had = all.flatten().map(decimals_given).max().unwrap_or(0);
    supported.map_or(had, |supported| supported.min(had))
}

fn practices_table(practices: &[(PracticeByMaker, String)]) -> Table {
    let percent =
        |share: Option<f64>| share.map_or(Cell::Empty, |share| Cell::Number(100.0 * share, 0));
    let rows = practices.iter().flat_map(|(practice, label)| {
        let decimals = decimals_of_quarters(&practice.list);
        let rounded = move |value: Option<f64>| {
            value.map_or(Cell::Empty, |value| Cell::Number(value, decimals))
        };
        practice.list.iter().map(move |own| {
            vec![
                Cell::Text(factors::axis(label, practice.unit.as_deref())),
                percent(practice.overlap),
                Cell::Text(own.maker.clone()),
                Cell::Count(own.pieces),
                rounded(own.median),
                rounded(own.quarter),
                rounded(own.three_quarters),
                own.commonest.clone().map_or(Cell::Empty, Cell::Text),
                percent(own.share),
            ]
        })
    });
    Table {
        name: "makers_practices".to_owned(),
        title: "Their practices, least in common first".to_owned(),
        columns: vec![
            TableColumn::new("practice", "Practice"),
            TableColumn::new("overlap_pct", "In common, %"),
            TableColumn::new("maker", "Maker"),
            TableColumn::new("pieces", "Pieces"),
            TableColumn::new("median", "Middle"),
            TableColumn::new("quarter", "half from"),
            TableColumn::new("three_quarters", "to"),
            TableColumn::new("commonest", "Commonest"),
            TableColumn::new("share_pct", "of pieces, %"),
        ],
        rows: rows.collect(),
    }
}

fn effects_table(told: &[(EffectAcrossMakers, EffectLabel)]) -> Table {
    let rows = told.iter().flat_map(|(effect, label)| {
        let row = |maker: &str, found: Interval, reeds: usize, rest: [Cell; 3]| {
            let mut row = vec![
                Cell::Text(label.label.clone()),
                Cell::Text(words::step(effect, label)),
                Cell::Text(maker.to_owned()),
            ];
            row.extend(cells(Some(found)));
            row.push(Cell::Count(reeds));
            row.extend(rest);
            row
        };
        let all = Interval { estimate: effect.estimate, low: effect.low, high: effect.high };
        let reeds = effect.list.iter().map(|own| own.used).sum();
        let judged = [
            Cell::Text(effect.verdict.word().to_owned()),
            Cell::Number(effect.q, 3),
            Cell::Number(effect.q_differs, 3),
        ];
        let own = effect.list.iter().map(|own| {
            let found = Interval { estimate: own.estimate, low: own.low, high: own.high };
            row(&own.maker, found, own.used, [Cell::Empty, Cell::Empty, Cell::Empty])
        });
        std::iter::once(row(words::ALL_MAKERS, all, reeds, judged)).chain(own).collect::<Vec<_>>()
    });
    Table {
        name: "makers_effects".to_owned(),
        title: "Each measurement within each maker's reeds".to_owned(),
        columns: vec![
            TableColumn::new("factor", "Factor"),
            TableColumn::new("step", "For"),
            TableColumn::new("maker", "Maker"),
            TableColumn::new("estimate", "Moved by"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
            TableColumn::new("used", "Reeds"),
            TableColumn::new("verdict", "Verdict"),
            TableColumn::new("q", "Adjusted p"),
            TableColumn::new("q_differs", "p differs"),
        ],
        rows: rows.collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(quarter: f64, median: f64, three_quarters: f64) -> MakerPractice {
        MakerPractice {
            maker: "A".to_owned(),
            pieces: 40,
            median: Some(median),
            quarter: Some(quarter),
            three_quarters: Some(three_quarters),
            commonest: None,
            share: None,
        }
    }

    #[test]
    fn quarters_have_the_digits_that_their_distance_supports_and_no_more_than_they_had() {
        assert_eq!(decimals_of_quarters(&[own(16.0, 18.0, 19.625), own(16.0, 18.0, 20.0)]), 1);
        assert_eq!(decimals_of_quarters(&[own(55.0, 55.5, 56.0)]), 1);
        assert_eq!(decimals_of_quarters(&[own(5.0, 8.0, 14.0)]), 0);
        assert_eq!(decimals_of_quarters(&[own(1.25, 1.25, 1.25)]), 2);
    }
}
