//! What holds of every picture.

use super::*;
use crate::finding::*;

/// Stated for pictures of up to 2,000 reeds.
const LARGEST: usize = 60_000;

pub fn rating_scale(kind: ChartKind) -> Chart {
    example::chart("under_test", "Under test", kind)
}

fn choice(levels: Vec<FactorLevelShown>, y_range: [f64; 2]) -> Chart {
    rating_scale(ChartKind::FactorChoice {
        y_label: "rating".to_owned(),
        levels,
        good_at: Some(GoodLine { at: 7.0, lower_is_better: false }),
        y_range,
    })
}

fn number(points: Vec<PlottedPoint>, curve: Vec<FittedPoint>, y_range: [f64; 2]) -> Chart {
    rating_scale(ChartKind::FactorNumber {
        x_label: "days".to_owned(),
        y_label: "rating".to_owned(),
        points,
        curve,
        best: Some(BestShown { at: 3.0, low: None, high: Some(f64::NAN) }),
        good_at: Some(GoodLine { at: f64::NAN, lower_is_better: false }),
        y_range,
    })
}

fn foretold(points: Vec<PlottedPoint>, average: f64) -> Chart {
    rating_scale(ChartKind::Foretold {
        x_label: "foretold rating".to_owned(),
        y_label: "rating".to_owned(),
        points,
        average,
        good_at: Some(GoodLine { at: f64::NAN, lower_is_better: false }),
    })
}

fn part(first: &str, second: &str) -> [String; 2] {
    [first.to_owned(), second.to_owned()]
}

fn overlap(parts: Vec<[String; 2]>, lots: Vec<(&str, Vec<usize>)>, more: usize) -> Chart {
    let lots = lots.into_iter().map(|(lot, reeds)| OverlapShown { lot: lot.to_owned(), reeds });
    let label = "time on the forming pin, days".to_owned();
    rating_scale(ChartKind::Overlap { label, parts, lots: lots.collect(), more })
}

#[test]
fn an_overlap_grid_writes_every_count_beside_its_lot_and_escapes_names() {
    let parts = vec![part("3", "to 7"), part("8", "to 14")];
    let chart = overlap(parts, vec![("<b>Box", vec![4, 0]), ("Elm", vec![17, 23])], 2);
    let drawn = svg(&chart);
    for text in
        ["to 7", "to 14", ">4<", ">17<", ">23<", ">·<", "2 more lots not shown", "&lt;b&gt;Box"]
    {
        assert!(drawn.contains(text), "{text}");
    }
    assert!(!drawn.contains("<b>"));
}

#[test]
fn a_sorted_measurement_shows_what_is_dropped_and_the_judged_gain() {
    let text = written(&svg(&example::sorted()));
    for word in ["hardness (0.01 mm)", "dropped", "gained of ten pieces: +0.9", "good reeds, %"] {
        assert!(text.contains(word), "{word} in {text}");
    }
}

#[test]
fn of_300_blanks_the_first_and_the_last_are_shown_and_the_rest_counted() {
    let drawn = svg(&example::blanks_of(300));
    let text = written(&drawn);
    for word in ["25-100", "25-124", "25-399", "270 between these are in the table", "good from 7"]
    {
        assert!(text.contains(word), "{word}");
    }
    assert!(!text.contains("25-125") && !text.contains("25-394"), "{text}");
    // a single row is shown and not counted
    assert!(written(&svg(&example::blanks_of(31))).contains("25-125"));
}

fn candidate(x: f64, estimate: Option<f64>) -> CandidateShown {
    let interval = estimate.map(|value| Interval { estimate: value, low: value, high: value });
    CandidateShown {
        label: String::new(),
        x,
        rating: interval,
        good_per_ten: interval,
        is_present: true,
        is_thin: true,
    }
}

fn decision(candidates: Vec<CandidateShown>, reeds: Vec<PlottedPoint>) -> Chart {
    rating_scale(ChartKind::Decision {
        x_label: "days".to_owned(),
        y_label: "rating".to_owned(),
        candidates,
        reeds,
        good_at: Some(GoodLine { at: f64::NAN, lower_is_better: false }),
        y_range: [1.0, 10.0],
    })
}

#[test]
fn a_decision_shows_both_outcomes_the_reeds_the_present_practice_and_what_is_thin() {
    let drawn = svg(&example::decision());
    let text = written(&drawn);
    for word in ["rating", "good reeds of ten pieces", "present practice", "thin", "good from 7"] {
        assert!(text.contains(word), "{word}");
    }
    assert_eq!(text.matches("days on the pin (days)").count(), 2, "two panels");
    assert_eq!(text.matches(">thin<").count(), 2, "one candidate, in both panels");
    let rings = drawn.lines().filter(|line| line.contains("s-clay")).count();
    assert!(rings > 0 && !drawn.contains("<script"));
    let reeds: usize = drawn
        .lines()
        .filter(|line| line.starts_with("<path class=\"s-text\""))
        .map(|line| line.matches("h0").count())
        .sum();
    assert_eq!(reeds, 110 + 1, "with the one of the key");
}

fn map(families: Vec<Vec<[f64; 2]>>) -> Chart {
    let shown = |points| MapShown {
        label: example::HOSTILE[0].to_owned(),
        points,
        middle: [f64::NAN, 1.0],
    };
    let (x_label, y_label) = ("component 1".to_owned(), "component 2".to_owned());
    let families = families.into_iter().map(shown).collect();
    rating_scale(ChartKind::Map { x_label, y_label, families })
}

/// As many pieces as a map is given, in seven kinds.
fn crowded_map() -> Chart {
    let place = |i: usize| [(i as f64 * 0.618_034).fract(), (i as f64 * 0.754_878).fract()];
    map((0..7).map(|kind| (0..172).map(|i| place(7 * i + kind)).collect()).collect())
}

#[test]
fn kinds_on_a_map_are_named_on_it_and_told_apart_by_mark_and_colour() {
    let drawn = svg(&example::map());
    let text = written(&drawn);
    assert!(text.contains("kind 1") && text.contains("kind 2") && text.contains("component 1"));
    // dots of the one, lines of the other
    let dots: usize =
        drawn.lines().filter(|l| l.contains("s-river")).map(|l| l.matches("h0").count()).sum();
    assert!(dots >= 40, "{dots}");
    assert!(drawn.lines().any(|line| line.starts_with("<path class=\"s-cane\"")));
}

fn power(curves: Vec<Vec<[f64; 2]>>, planned: f64, wanted: f64) -> Chart {
    let named = |points| PowerShown { label: example::HOSTILE[0].to_owned(), points };
    let curves = curves.into_iter().map(named).collect();
    let x_label = "pieces started".to_owned();
    rating_scale(ChartKind::PowerCurve { x_label, curves, planned, wanted })
}

#[test]
fn the_planned_size_is_marked_on_the_curve_of_the_worthwhile_difference() {
    let curve = |far: f64| (0..9).map(|i| [8.0 * i as f64, 1.0 - far.powi(i)]).collect();
    let drawn = svg(&power(vec![curve(0.5), curve(0.7)], 24.0, 0.6));
    assert!(drawn.contains("planned: 24") && drawn.contains("asked for"), "{drawn}");
}

fn level(reeds: Vec<f64>, mean: Option<Band>) -> FactorLevelShown {
    FactorLevelShown { level: "none".to_owned(), reeds, mean }
}

/// Nothing at all, one point, equal values, values that are no numbers.
fn degenerate() -> Vec<Chart> {
    let point = |x, y| PlottedPoint { x, y, reeds: 1 };
    let fitted = |x, fit| FittedPoint { x, fit, low: fit, high: fit };
    let endless = [f64::NEG_INFINITY, f64::INFINITY];
    vec![
        rating_scale(ChartKind::Effects {
            rows: vec![],
            worthwhile: f64::NAN,
            unit: String::new(),
        }),
        rating_scale(ChartKind::Losses { stages: vec![] }),
        power(vec![], f64::NAN, f64::NAN),
        power(vec![vec![]; 7], f64::INFINITY, -3.0),
        power(vec![vec![[4.0, 0.5]], vec![[f64::NAN, 0.1], [1e308, f64::INFINITY]]], 4.0, 0.8),
        rating_scale(ChartKind::Shares {
            shares: vec![ShareShown { label: "none".to_owned(), share: f64::NAN }],
            x_label: String::new(),
        }),
        decision(vec![], vec![]),
        decision(vec![candidate(f64::NAN, None), candidate(5.0, None)], vec![]),
        decision(vec![candidate(5.0, Some(f64::INFINITY)); 3], vec![point(5.0, f64::NAN)]),
        foretold(vec![], f64::NAN),
        foretold(vec![point(5.0, 5.0); 3], 5.0),
        foretold(vec![point(f64::MAX, f64::MIN), point(f64::NAN, 1.0)], f64::INFINITY),
        overlap(vec![], vec![], 0),
        overlap(vec![part("0.4", "to 0.5")], vec![("one", vec![0]), ("two", vec![9_999])], 3),
        rating_scale(ChartKind::Curves {
            x_label: String::new(),
            y_label: String::new(),
            curves: vec![
                CurveShown { label: "none".to_owned(), points: vec![] },
                CurveShown { label: "one".to_owned(), points: vec![fitted(3.0, 3.0)] },
            ],
        }),
        map(vec![]),
        map(vec![vec![]; 9]),
        map(vec![vec![[2.0, 2.0]; 4], vec![[f64::NAN, 1.0], [f64::MAX, f64::MIN]]]),
        number(vec![], vec![], [1.0, 10.0]),
        number(vec![point(5.0, 5.0)], vec![fitted(5.0, 5.0)], [5.0, 5.0]),
        number(vec![point(5.0, 5.0); 40], vec![fitted(1e308, -1e308); 3], [10.0, 1.0]),
        number(vec![point(f64::NAN, 1.0), point(f64::MAX, f64::MIN)], vec![], endless),
        choice(vec![], [f64::NAN, f64::NAN]),
        choice(vec![level(vec![], None)], [1e308, -1e308]),
        choice(
            vec![level(vec![f64::NAN, f64::INFINITY], Some(example::band(f64::NAN, 1.0)))],
            endless,
        ),
    ]
}

fn crowded(reeds: usize) -> Chart {
    let points = (0..reeds)
        .map(|i| PlottedPoint {
            x: (i as f64 * 0.618_034).fract() * 40.0,
            y: 1.0 + (i as f64 * 0.754_878).fract() * 9.0,
            reeds: 1,
        })
        .collect();
    number(points, vec![], [1.0, 10.0])
}

/// 60 lots with 33 reeds each and names that need escaping.
fn many_lots() -> Chart {
    let lot = |i: usize| LotShown {
        lot: format!("{} {i} {}", example::HOSTILE[i % 6], example::long_label()),
        raw_mean: Some(5.5),
        pooled: example::band(5.0, 1.0),
        reeds: (0..33).map(|j| 1.0 + ((i * 33 + j) as f64 * 0.618_034).fract() * 9.0).collect(),
    };
    rating_scale(ChartKind::Lots {
        lots: (0..60).map(lot).collect(),
        overall: 5.0,
        good_at: Some(GoodLine { at: 7.0, lower_is_better: false }),
        y_label: "rating".to_owned(),
        range: [1.0, 10.0],
    })
}

fn all() -> Vec<Chart> {
    let mut all = example::every_chart();
    all.extend(degenerate());
    all.extend(super::life_tests::degenerate());
    all.extend([crowded(2000), crowded(20_000), many_lots(), crowded_map()]);
    all
}

/// The text of all `<text>` elements.
fn written(svg: &str) -> String {
    svg.lines().filter(|line| line.starts_with("<text")).collect::<Vec<_>>().join("\n")
}

#[test]
fn every_picture_is_small_and_the_same_each_time() {
    for chart in all() {
        let picture = svg(&chart);
        assert_eq!(picture, svg(&chart));
        assert!(
            picture.len() <= LARGEST,
            "{}: {} bytes",
            &format!("{:?}", chart.kind)[..60],
            picture.len()
        );
    }
}

#[test]
fn every_picture_says_what_it_is_to_those_who_do_not_see_it() {
    for chart in all() {
        let picture = svg(&chart);
        assert!(picture.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\""));
        assert!(picture.contains("role=\"img\" aria-labelledby="));
        assert!(picture.contains("<title id="));
        assert!(picture.contains("<desc id="));
        assert!(picture.contains("<text"), "text is real text");
    }
}

#[test]
fn no_number_in_a_picture_is_missing_or_endless() {
    for chart in all() {
        let picture = svg(&chart);
        let drawn = picture.split("</style>").nth(1).expect("the style sheet ends");
        for word in ["NaN", "\"inf", "-inf", "unknown"] {
            assert!(!drawn.contains(word), "{word} in {drawn}");
        }
    }
}

#[test]
fn the_text_of_a_log_is_escaped_and_shortened() {
    let picture = svg(&example::lots());
    assert!(!picture.contains("<script"));
    assert!(picture.contains("&lt;script&gt;"));
    assert!(!picture.contains(|c: char| c.is_control() && c != '\n'));
    assert!(!picture.contains('\u{202e}'));
    assert!(picture.lines().filter(|line| line.starts_with("<text")).all(|line| line.len() < 400));
}

/// Tags open and close in turn, and each attribute stands once.
#[test]
fn every_picture_is_well_formed() {
    for chart in all() {
        let picture = svg(&chart);
        let mut open = Vec::new();
        for tag in picture.split('<').skip(1) {
            let (tag, _) = tag.split_once('>').expect("a tag ends");
            let name = tag.trim_start_matches('/').split([' ', '/']).next().unwrap_or("");
            if tag.starts_with('/') {
                assert_eq!(open.pop(), Some(name));
            } else if !tag.ends_with('/') {
                open.push(name);
            }
            let names: Vec<&str> =
                tag.split("=\"").filter_map(|part| part.split(' ').next_back()).collect();
            assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
            assert!(names.len() <= 12, "{tag}");
        }
        assert!(open.is_empty(), "{open:?} left open");
    }
}

#[test]
fn every_reed_is_drawn_under_the_model() {
    let picture = svg(&example::factor_number());
    let reeds: usize = picture
        .lines()
        .filter(|line| line.starts_with("<path class=\"s-text\""))
        .map(|line| line.matches("h0").count())
        .sum();
    assert_eq!(reeds, 110);
    let (first_reed, curve) = (picture.find("s-text\" opacity"), picture.rfind("s-river"));
    assert!(first_reed < curve, "the curve is painted after the reeds");
}

#[test]
fn a_verdict_has_its_word_and_its_mark() {
    let text = written(&svg(&example::effects()));
    for verdict in ["● clear", "◐ leaning", "≈ negligible", "○ open", "× tangled"] {
        assert!(text.contains(verdict), "{verdict}");
    }
}

#[test]
fn the_numbers_of_a_picture_are_written_as_its_sentence_writes_them() {
    let text = written(&svg(&example::effects()));
    assert!(text.contains("+0.91 (+0.56 to +1.26)"), "{text}");
}

#[test]
fn axes_carry_their_units() {
    let text = written(&svg(&example::factor_number()));
    assert!(text.contains("time on the forming pin, days"));
    assert!(written(&svg(&example::effects())).contains("change, rating points"));
}

#[test]
fn an_interval_that_is_cut_at_the_edge_says_so_with_an_arrow() {
    let arrows =
        |svg: &str| svg.lines().filter(|l| l.starts_with("<polygon class=\"f-clay\"")).count();
    // only the wire's −15 to +3 is longer than three times the middle one, and only to the left
    assert_eq!(arrows(&svg(&example::effects())), 1);
}

#[test]
fn every_drawn_colour_has_a_class_so_that_dark_pages_can_change_it() {
    for chart in all() {
        let picture = svg(&chart);
        for line in picture.lines().filter(|line| line.contains("=\"#")) {
            assert!(line.contains("class=\""), "{line}");
        }
    }
}

#[test]
fn dots_that_are_several_reeds_are_said_to_be_and_lone_ones_are_not() {
    let says = |chart: &Chart| written(&svg(chart)).contains("the larger a dot, the more");
    assert!(says(&crowded(20_000)));
    assert!(!says(&crowded(2000)));
    let twice = PlottedPoint { x: 1.0, y: 2.0, reeds: 2 };
    assert!(says(&number(vec![twice], vec![], [1.0, 10.0])));
}

#[test]
fn a_row_of_very_many_reeds_says_how_many_and_stays_small() {
    let marks: Vec<f64> = (0..30_000).map(|i| 1.0 + 0.1 * f64::from(i % 90)).collect();
    let picture = svg(&choice(vec![level(marks, None)], [1.0, 10.0]));
    assert!(written(&picture).contains("30\u{202f}000 reeds"), "{}", written(&picture));
    assert!(picture.len() < LARGEST);
}

fn radii(canvas: &canvas::Canvas) -> Vec<f64> {
    let radius = |mark: &canvas::Mark| match mark {
        canvas::Mark::Dot { radius, .. } => Some(*radius),
        _ => None,
    };
    canvas.marks.iter().filter_map(radius).collect()
}

#[test]
fn a_quarter_of_the_largest_heap_of_reeds_has_a_quarter_of_its_area_and_the_key_the_size_of_one() {
    let mut canvas = canvas::Canvas::default();
    let lone = spots::draw(&mut canvas, &[((10.0, 0.0), 64), ((90.0, 0.0), 16)], 80);
    assert_eq!(radii(&canvas), [6.0, 12.0]);
    assert_eq!(lone, 1.5, "a sixty-fourth of the area of the largest");
}

#[test]
fn more_reeds_on_a_spot_than_there_is_room_for_are_one_dot_and_none_lies_hidden() {
    let drawn = |reeds: usize| {
        let mut canvas = canvas::Canvas::default();
        spots::draw(&mut canvas, &vec![((10.0, 10.0), 1); reeds], reeds);
        (radii(&canvas).len(), canvas.has_dots_of_several)
    };
    assert_eq!([drawn(29), drawn(30)], [(29, false), (1, true)]);
}

#[test]
fn more_than_forty_five_lots_are_cut_in_the_middle_and_it_is_said() {
    let lot = |i: usize| LotShown {
        lot: format!("lot {i}"),
        raw_mean: None,
        pooled: example::band(5.0, 1.0),
        reeds: vec![5.0],
    };
    let kind = ChartKind::Lots {
        lots: (0..75).map(lot).collect(),
        overall: 5.0,
        good_at: None,
        y_label: "rating".to_owned(),
        range: [1.0, 10.0],
    };
    let text = written(&svg(&rating_scale(kind)));
    assert!(text.contains("30 between these are in the table"));
    assert!(text.contains("lot 0<") && text.contains("lot 74<") && !text.contains("lot 50<"));
}
