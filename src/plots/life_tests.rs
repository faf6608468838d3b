//! What holds of the pictures of `life`.

use super::svg;
use crate::finding::*;

/// No reed, one, all at one time, values that are no numbers.
pub fn degenerate() -> Vec<Chart> {
    vec![
        life(vec![], f64::NAN, None),
        life(vec![life_point(0.0, 1.0, None)], 0.0, None),
        life(
            vec![life_point(0.0, 1.0, None), life_point(f64::NAN, f64::INFINITY, None)],
            1e308,
            Some(f64::NAN),
        ),
        life(
            vec![life_point(0.0, 1.0, None), life_point(4.0, 0.0, Some([0.0, 0.0]))],
            4.0,
            Some(4.0),
        ),
        life_lots(vec![], f64::NEG_INFINITY),
        life_lots(vec![vec![]; 60], 0.0),
        life_lots(vec![vec![f64::NAN, 3.0, f64::INFINITY], vec![3.0; 40]], 3.0),
        ratios(vec![], f64::NAN),
        ratios(vec![0.0, f64::NAN, f64::INFINITY], 1.25),
        ratios(vec![1e300, -1e300, 0.1], 0.0),
    ]
}

fn life_point(t: f64, share: f64, band: Option<[f64; 2]>) -> LifePoint {
    LifePoint { t, share, band }
}

fn life(points: Vec<LifePoint>, until: f64, median: Option<f64>) -> Chart {
    super::tests::rating_scale(ChartKind::Life {
        x_label: "hours of playing".to_owned(),
        points,
        until,
        going: vec![[1.0, 1.0], [f64::NAN, 0.5]],
        at_risk: vec![(0.0, 3), (f64::NAN, 1), (2.0, 1)],
        median: median.map(|at| BestShown { at, low: None, high: None }),
    })
}

fn life_lots(lots: Vec<Vec<f64>>, until: f64) -> Chart {
    let row = |ended: Vec<f64>| LotLifeShown {
        lot: example::HOSTILE[0].to_owned(),
        told: String::new(),
        median: ended.first().map(|&at| BestShown { at, low: None, high: None }),
        going: ended.clone(),
        ended,
    };
    let rows = lots.into_iter().map(row).collect();
    super::tests::rating_scale(ChartKind::LifeLots { x_label: String::new(), rows, until })
}

fn ratios(logarithms: Vec<f64>, worthwhile: f64) -> Chart {
    let row = |log: f64| RatioShown {
        label: "factor".to_owned(),
        step: String::new(),
        ratio: Interval { estimate: log.exp(), low: log.exp(), high: log.exp() },
        logarithm: example::band(log, 0.0),
        verdict: Verdict::Open,
    };
    let rows = logarithms.into_iter().map(row).collect();
    super::tests::rating_scale(ChartKind::Ratios { x_label: String::new(), rows, worthwhile })
}

#[test]
fn a_life_shows_how_many_are_still_playing_and_where_the_middle_goes_on() {
    let drawn = svg(&example::life());
    for text in ["reeds still playing", ">69<", ">27<", ">4<", "240<"] {
        assert!(drawn.contains(text), "{text}");
    }
    let lots = svg(&example::life_lots());
    assert!(lots.contains("not ended when last seen") && !lots.contains("<script"));
}

#[test]
fn ratios_stand_on_an_axis_of_equal_ratios_and_are_written_with_a_times_sign() {
    let drawn = svg(&example::ratios());
    for text in ["× 0.61 (0.45 to 0.82)", "× 2.46 (1.49 to 4.06)", "too small to matter"] {
        assert!(drawn.contains(text), "{text}");
    }
}
