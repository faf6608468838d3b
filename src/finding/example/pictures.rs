//! Every picture, with invented numbers and hostile labels.

use super::{HOSTILE, long_label};
use crate::finding::*;

pub fn band(estimate: f64, spread: f64) -> Band {
    Band {
        estimate,
        low: estimate - spread,
        high: estimate + spread,
        half_low: estimate - spread * 0.34,
        half_high: estimate + spread * 0.34,
    }
}

pub fn interval(estimate: f64, spread: f64) -> Interval {
    band(estimate, spread).interval()
}

/// Scores between 3 and 9 without chance: the golden ratio spreads them.
fn scores(n: usize, middle: f64) -> Vec<f64> {
    (0..n)
        .map(|i| middle + ((i as f64 * 0.618_034).fract() - 0.5) * 4.0)
        .map(|score| (score * 2.0).round() / 2.0)
        .collect()
}

pub fn chart(name: &str, title: &str, kind: ChartKind) -> Chart {
    Chart {
        name: name.to_owned(),
        title: title.to_owned(),
        description: format!("{title}, with the reeds it rests on."),
        reading: "Each grey dot is a reed. The bar is thick where half of the \
                  plausible values lie and thin where 95 in 100 lie."
            .to_owned(),
        kind,
    }
}

pub fn effects() -> Chart {
    let row = |label: &str, step: &str, within, between, verdict| EffectShown {
        label: label.to_owned(),
        step: step.to_owned(),
        within,
        between,
        verdict,
    };
    let rows = vec![
        row(
            "Gouge, centre",
            "+0.05 mm",
            Some(band(0.91, 0.35)),
            Some(interval(0.7, 1.1)),
            Verdict::Clear,
        ),
        row(
            "Forming",
            "+7 days",
            Some(band(0.21, 0.52)),
            Some(interval(1.3, 0.9)),
            Verdict::Tangled,
        ),
        row(
            "Scoring",
            "crosshatch instead of none",
            Some(band(-0.41, 0.38)),
            None,
            Verdict::Leaning,
        ),
        row("Hardness", "+1 unit", None, Some(interval(-0.52, 0.8)), Verdict::Open),
        row(
            "First wire",
            "+0.5 mm",
            Some(band(0.03, 0.2)),
            Some(interval(-6.0, 9.0)),
            Verdict::Negligible,
        ),
    ];
    let kind = ChartKind::Effects { rows, worthwhile: 0.5, unit: "rating points".to_owned() };
    chart("factor_effects", "What went with better reeds", kind)
}

/// Foretold from 4 to 8, rated about that and farther apart.
pub fn foretold() -> Chart {
    let points = (0..90)
        .map(|i| {
            let x = 4.0 + (f64::from(i) * 0.754_878).fract() * 4.0;
            let chance = (f64::from(i) * 0.618_034).fract() - 0.5;
            PlottedPoint { x, y: x + chance * 5.0, reeds: 1 }
        })
        .collect();
    let kind = ChartKind::Foretold {
        x_label: "foretold rating".to_owned(),
        y_label: "rating".to_owned(),
        points,
        average: 6.0,
        good_at: Some(GoodLine { at: 7.0, lower_is_better: false }),
    };
    chart("foretold", "What was foretold, and what was rated", kind)
}

pub fn shares() -> Chart {
    let shares = ["Gouge, centre", HOSTILE[0], HOSTILE[1], "Forming"].into_iter();
    let shares = shares.zip([1.0, 0.83, 0.405, 0.0]);
    let shares =
        shares.map(|(label, share)| ShareShown { label: label.to_owned(), share }).collect();
    let x_label = "kept, % of 200 halves of the lots".to_owned();
    let kind = ChartKind::Shares { shares, x_label };
    chart("factor_stability", "Which factors stay when the lots change", kind)
}

pub fn factor_number() -> Chart {
    let points = (0..110)
        .map(|i| {
            let x = 5.0 + f64::from(i % 23) * 1.6;
            let chance = (f64::from(i) * 0.618_034).fract() - 0.5;
            let y = 6.8 - (x - 18.0).powi(2) * 0.006 + chance * 4.0;
            PlottedPoint { x, y: (y * 2.0).round() / 2.0, reeds: 1 }
        })
        .collect();
    let curve = (0..=40)
        .map(|i| {
            let x = 5.0 + f64::from(i) * 0.88;
            let fit = 6.8 - (x - 18.0).powi(2) * 0.006;
            let spread = 0.35 + (x - 18.0).powi(2) * 0.002;
            FittedPoint { x, fit, low: fit - spread, high: fit + spread }
        })
        .collect();
    let kind = ChartKind::FactorNumber {
        x_label: "time on the forming pin, days".to_owned(),
        y_label: "rating, 1 to 10 (10 is best)".to_owned(),
        points,
        curve,
        best: Some(BestShown { at: 18.0, low: Some(15.0), high: Some(22.0) }),
        good_at: Some(GoodLine { at: 7.0, lower_is_better: false }),
        y_range: [1.0, 10.0],
    };
    chart("factor_forming_days", "Time on the forming pin and the rating", kind)
}

pub fn factor_choice() -> Chart {
    let level = |name: &str, n, middle| FactorLevelShown {
        level: name.to_owned(),
        reeds: scores(n, middle),
        mean: (n > 1).then(|| band(middle, 0.9)),
    };
    let kind = ChartKind::FactorChoice {
        y_label: "rating, 1 to 10 (10 is best)".to_owned(),
        levels: vec![
            level("none", 41, 6.1),
            level("lengthwise", 22, 6.4),
            level("crosshatch", 13, 5.4),
            level("both", 1, 7.0),
        ],
        good_at: Some(GoodLine { at: 7.0, lower_is_better: false }),
        y_range: [1.0, 10.0],
    };
    chart("factor_scoring", "Scoring and the rating", kind)
}

pub fn lots() -> Chart {
    let mut lots: Vec<LotShown> =
        [("Spring 3", 7.1, 5), ("Autumn 1", 6.7, 24), ("Old box", 6.2, 31)]
            .iter()
            .map(|(lot, mean, n)| LotShown {
                lot: (*lot).to_owned(),
                raw_mean: Some(mean + 0.4),
                pooled: band(*mean, 2.2 / f64::from(*n as u32).sqrt()),
                reeds: scores(*n, *mean),
            })
            .collect();
    lots.extend(HOSTILE.iter().enumerate().map(|(i, label)| LotShown {
        lot: (*label).to_owned(),
        raw_mean: None,
        pooled: band(6.0 - 0.2 * i as f64, 1.0),
        reeds: scores(4 + i, 6.0),
    }));
    lots.push(LotShown {
        lot: long_label(),
        raw_mean: Some(3.2),
        pooled: band(4.4, 1.2),
        reeds: vec![3.0; 9],
    });
    let kind = ChartKind::Lots {
        lots,
        overall: 6.24,
        good_at: Some(GoodLine { at: 7.0, lower_is_better: false }),
        y_label: "rating, 1 to 10 (10 is best)".to_owned(),
        range: [1.0, 10.0],
    };
    chart("lots", "Lots, the best first", kind)
}

pub fn losses() -> Chart {
    let stage = |stage: &str, entered, lost, low, high, reasons: &[(&str, usize)]| StageShown {
        stage: stage.to_owned(),
        entered,
        lost,
        share: Interval { estimate: lost as f64 / entered as f64, low, high },
        reasons: reasons.iter().map(|(reason, n)| ((*reason).to_owned(), *n)).collect(),
    };
    let stages = vec![
        stage("gouge", 160, 5, 0.0102, 0.0714, &[("cracked", 4), ("cut", 1)]),
        stage("profile", 155, 14, 0.0502, 0.1469, &[("cracked", 8), ("cut", 4), ("warped", 2)]),
        stage("form", 141, 0, 0.0, 0.0258, &[]),
        stage(
            "bind",
            141,
            9,
            0.0296,
            0.1178,
            &[(HOSTILE[0], 5), ("leaked", 2), ("other", 1), ("cut", 1), ("warped", 1)],
        ),
    ];
    chart("losses", "Where pieces were lost", ChartKind::Losses { stages })
}

pub fn curves() -> Chart {
    let curve = |label: &str, base: f64, slope: f64| CurveShown {
        label: label.to_owned(),
        points: (0..8)
            .map(|i| {
                let x = f64::from(i) * 4.0;
                let fit = base + slope * x + 0.08 * (x / 6.0).sin();
                FittedPoint { x, fit, low: fit - 0.02, high: fit + 0.02 }
            })
            .collect(),
    };
    let kind = ChartKind::Curves {
        x_label: "distance from the tip, mm".to_owned(),
        y_label: "thickness, mm".to_owned(),
        curves: vec![
            curve("1: thin tip (31)", 0.28, 0.018),
            curve("2: thick spine (22)", 0.36, 0.021),
            curve("3: flat (9)", 0.33, 0.012),
            curve("4: even", 0.31, 0.014),
            curve(HOSTILE[0], 0.3, 0.016),
            curve("6: late", 0.25, 0.019),
        ],
    };
    chart("families", "Thickness along the blade, by family", kind)
}

pub fn map() -> Chart {
    let place = |i: usize| [(i as f64 * 0.618_034).fract(), (i as f64 * 0.754_878).fract()];
    let family = |number: usize, n: usize, right: f64| MapShown {
        label: format!("kind {number}"),
        points: (0..n).map(|i| [right + place(i)[0], place(i)[1]]).collect(),
        middle: [right + 0.5, 0.5],
    };
    let kind = ChartKind::Map {
        x_label: "component 1 (62 % of the differences)".to_owned(),
        y_label: "component 2 (25 % of the differences)".to_owned(),
        families: vec![family(1, 40, 0.0), family(2, 25, 1.5)],
    };
    chart("families_map", "A map of the pieces", kind)
}

pub fn decision() -> Chart {
    let candidate = |label: &str, x: f64, rating: f64, good: f64| CandidateShown {
        label: label.to_owned(),
        x,
        rating: Some(interval(rating, 0.6)),
        good_per_ten: Some(interval(good, 1.4)),
        is_present: x == 20.0,
        is_thin: x > 30.0,
    };
    let reeds = (0..110).map(|i| {
        let chance = (f64::from(i) * 0.618_034).fract() - 0.5;
        PlottedPoint { x: 5.0 + f64::from(i % 23) * 1.6, y: 6.8 + chance * 4.0, reeds: 1 }
    });
    let kind = ChartKind::Decision {
        x_label: "days on the pin (days)".to_owned(),
        y_label: "rating".to_owned(),
        candidates: vec![
            candidate("10", 10.0, 6.4, 5.5),
            candidate("20", 20.0, 6.9, 6.1),
            candidate(HOSTILE[0], 30.0, 6.7, 6.0),
            candidate("40", 40.0, 6.2, 4.8),
        ],
        reeds: reeds.collect(),
        good_at: Some(GoodLine { at: 7.0, lower_is_better: false }),
        y_range: [1.0, 10.0],
    };
    chart("decision_forming_days", "Days on the pin: what each choice gives", kind)
}

pub fn power() -> Chart {
    let curve = |label: &str, rate: f64| PowerShown {
        label: label.to_owned(),
        points: (2..33).map(|i| f64::from(4 * i)).map(|n| [n, 1.0 - (-n / rate).exp()]).collect(),
    };
    let curves =
        vec![curve("1 point", 12.0), curve("0.75 points", 22.0), curve("0.5 points", 40.0)];
    let x_label = "pieces started".to_owned();
    let kind = ChartKind::PowerCurve { x_label, curves, planned: 64.0, wanted: 0.8 };
    chart("power", "What trials of growing size would show", kind)
}

/// A curve with a first stretch without a band, and reeds that go on.
pub fn life() -> Chart {
    let points = (0..18).map(|i| LifePoint {
        t: f64::from(i) * 2.0,
        share: 1.0 - f64::from(i) / 18.0,
        band: (i > 0).then(|| [0.85, 1.1].map(|part| (1.0 - f64::from(i) / 18.0) * part)),
    });
    let kind = ChartKind::Life {
        x_label: "hours of playing".to_owned(),
        points: points.collect(),
        until: 38.0,
        going: vec![[5.0, 0.89], [11.0, 0.72], [38.0, 0.06]],
        at_risk: vec![(0.0, 1_240), (10.0, 69), (20.0, 27), (30.0, 4)],
        median: Some(BestShown { at: 18.0, low: Some(14.0), high: None }),
    };
    chart("life", "Reeds still good to play", kind)
}

pub fn life_lots() -> Chart {
    let row = |lot: &str, ended: &[f64], going: &[f64], median| LotLifeShown {
        lot: lot.to_owned(),
        told: "2 of 4 worn out".to_owned(),
        median,
        ended: ended.to_vec(),
        going: going.to_vec(),
    };
    let median = BestShown { at: 16.0, low: Some(9.0), high: Some(21.0) };
    let mut rows = vec![
        row("Spring 3", &[9.0, 9.0, 16.0, 21.0], &[30.0], Some(median)),
        row(&long_label(), &[12.0], &[2.0, 2.0, 2.0], None),
    ];
    let open = BestShown { high: None, ..median };
    rows.extend(HOSTILE.iter().map(|lot| row(lot, &[16.0], &[16.0], Some(open))));
    let kind = ChartKind::LifeLots { x_label: "hours of playing".to_owned(), rows, until: 32.0 };
    chart("life_lots", "How long each lot's reeds lasted", kind)
}

pub fn ratios() -> Chart {
    let row = |label: &str, step: &str, log: f64, spread: f64, verdict| {
        let logarithm = band(log, spread);
        let ratio =
            Interval { estimate: log.exp(), low: logarithm.low.exp(), high: logarithm.high.exp() };
        let (label, step) = (label.to_owned(), step.to_owned());
        RatioShown { label, step, ratio, logarithm, verdict }
    };
    let rows = vec![
        row("Density", "+0.05 g/cm³", -0.5, 0.3, Verdict::Leaning),
        row(HOSTILE[0], HOSTILE[4], 0.1, 4.0, Verdict::Open),
        row("Scoring", "crosshatch, not none", 0.9, 0.5, Verdict::Clear),
        row("Hardness", "+2 softer", 0.02, 0.1, Verdict::Negligible),
        row("Forming", "+7 days", 0.3, 0.6, Verdict::Tangled),
    ];
    let x_label = "risk of wearing out, times".to_owned();
    let kind = ChartKind::Ratios { x_label, rows, worthwhile: 1.25 };
    chart("life_factors", "What went with wearing out sooner", kind)
}

pub fn repeats() -> Chart {
    let point = |i: u32| {
        let x = 1.2 + f64::from(i % 17) * 0.01;
        PlottedPoint { x, y: x + (f64::from(i) * 0.618_034).fract() * 0.04 - 0.02, reeds: 1 }
    };
    let kind = ChartKind::Pairs {
        x_label: "first reading, mm".to_owned(),
        y_label: format!("later reading by {}, mm", HOSTILE[0]),
        points: (0..60).map(point).collect(),
        apart: Some(0.034),
        range: None,
    };
    chart("repeat_gouge_center_mm", "Read twice: gouge at the centre", kind)
}

pub fn levels() -> Chart {
    let row = |label: &str, estimate, half, n| LevelShown {
        label: label.to_owned(),
        level: interval(estimate, half),
        n,
    };
    let rows = vec![
        row("player two", 0.9, 0.4, 33),
        row(&long_label(), 0.1, 0.9, 4),
        row(HOSTILE[0], -1.0, 0.5, 1240),
    ];
    let x_label = "rating points above the average of the players".to_owned();
    chart("leniency", "Who marks higher on the same reeds", ChartKind::Levels { rows, x_label })
}

pub fn maker_effects() -> Chart {
    let row = |label: &str, middle: f64, verdict: &str, makers: &[&str], more| MakerEffectsShown {
        label: label.to_owned(),
        step: "+1 mm".to_owned(),
        verdict: verdict.to_owned(),
        all: interval(middle, 0.3),
        makers: makers
            .iter()
            .enumerate()
            .map(|(at, maker)| ((*maker).to_owned(), interval(middle - 0.2 * at as f64, 0.6)))
            .collect(),
        more,
    };
    let long = long_label();
    let rows = vec![
        row("hardness", 0.4, "differs", &["ann", "ben", &long], 0),
        row(&long, -0.2, "cannot tell", &["ann", HOSTILE[0]], 3),
    ];
    let unit = "rating points".to_owned();
    let kind = ChartKind::MakerEffects { rows, more: 2, worthwhile: 0.5, unit };
    chart("makers_effects", "One measurement, each maker", kind)
}

pub fn control() -> Chart {
    let value = |i: u32| 1.28 + (f64::from(i) * 0.618_034).fract() * 0.06 - f64::from(i) * 0.000_4;
    let points = (0..120).map(|i| SeriesPoint {
        x: 19_000.0 + f64::from(i) * 3.0,
        y: value(i),
        is_flagged: i > 90 && i % 4 == 0,
    });
    let average = (0..120).map(|i| [19_000.0 + f64::from(i) * 3.0, 1.31 - f64::from(i) * 0.000_4]);
    let kind = ChartKind::Control(ControlShown {
        y_label: "gouge at the centre, mm".to_owned(),
        points: points.collect(),
        average: average.collect(),
        centre: 1.305,
        lower: 1.245,
        upper: 1.365,
        base: [19_000.0, 19_087.0],
        dates: vec![
            (19_000.0, "2022-01-08".to_owned()),
            (19_178.0, HOSTILE[0].to_owned()),
            (19_357.0, "2022-12-31".to_owned()),
        ],
    });
    chart("drift_gouge_center_mm", "Gouge at the centre over time", kind)
}

/// So many unfinished pieces, the best first, two of them with hostile names.
pub fn blanks_of(n: usize) -> Chart {
    let blank = |i: usize| BlankShown {
        piece: match i {
            1 => HOSTILE[0].to_owned(),
            2 => long_label(),
            _ => format!("25-{:03}", 100 + i),
        },
        beside: format!("{} %", 80 - 60 * i / n),
        rating: band(8.2 - 3.0 * i as f64 / n as f64, 1.9),
    };
    let kind = ChartKind::Blanks {
        blanks: (0..n).map(blank).collect(),
        good_at: Some(GoodLine { at: 7.0, lower_is_better: false }),
        y_label: "rating".to_owned(),
        range: [1.0, 10.0],
    };
    chart("blanks", "What the unfinished pieces may come to", kind)
}

pub fn sorted() -> Chart {
    let pieces = (0..90).map(|i| {
        let chance = (f64::from(i) * 0.618_034).fract();
        let x = 12.0 + f64::from(i % 15);
        PlottedPoint {
            x,
            y: f64::from(u8::from(chance < 0.75 - 0.03 * f64::from(i % 15))),
            reeds: 1,
        }
    });
    let share = |i: u32| {
        let (x, fit) = (13.0 + 3.0 * f64::from(i), 0.75 - 0.1 * f64::from(i));
        FittedPoint { x, fit, low: fit - 0.2, high: fit + 0.2 }
    };
    let kind = ChartKind::Sorted {
        x_label: "hardness (0.01 mm)".to_owned(),
        pieces: pieces.collect(),
        shares: (0..5).map(share).collect(),
        keep: [None, Some(20.0)],
        gain: interval(0.9, 0.7),
        worthwhile: 1.0,
    };
    chart("sort_hardness", "Dropping pieces by hardness", kind)
}

pub fn every_chart() -> Vec<Chart> {
    vec![
        effects(),
        factor_number(),
        factor_choice(),
        foretold(),
        shares(),
        lots(),
        decision(),
        losses(),
        life(),
        life_lots(),
        ratios(),
        blanks_of(8),
        sorted(),
        power(),
        repeats(),
        levels(),
        maker_effects(),
        control(),
        curves(),
        map(),
    ]
}
