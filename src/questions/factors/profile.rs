//! The readings of a profile as a few named features of each piece.
//!
//! Thicknesses a few millimetres apart say nearly the same, so in one model they would hide each other. What enters instead
//! is the mean thickness of the spine, how fast the spine rises from the tip, how far it stands above the rails (or the
//! channels), and how far left and right differ. Pieces are compared at the same distances from the tip: those that are read
//! on most of the rated reeds.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::super::piece_set::PieceSet;
use super::super::scores::ReedScores;
use super::sample::Cells;
use crate::catalogue::Stage;
use crate::stats::numeric::mean;
use crate::study::{
    Factor, FactorKind, PROFILE_FEATURES, ProfileReading, Study, profile_point_name,
};
use crate::whole;
use crate::words::criteria as words;

/// Share of the rated reeds that a feature must be known for.
const FEWEST_COVERED: f64 = 0.6;
/// Distances from the tip that a feature must rest on.
const FEWEST_DISTANCES: usize = 3;
/// Distances are told apart to a tenth of a millimetre.
const TENTHS: f64 = 10.0;
/// The taper is told over so many millimetres.
const TAPER_OVER_MM: f64 = 10.0;
const CHANNELS: (&str, &str) = ("left_channel", "right_channel");
const RAILS: (&str, &str) = ("left_rail", "right_rail");

/// Factors made of the profile's readings, one cell a piece, and what the reader must know of them.
#[derive(Debug, Default)]
pub(in crate::questions) struct Derived {
    pub factors: Vec<(Factor, Cells)>,
    pub caveats: Vec<String>,
}

/// The features that enough rated reeds have, and the single points that the study file asks about.
pub(in crate::questions) fn derived(study: &Study, scores: &ReedScores) -> Derived {
    let readings = study.profile();
    if readings.is_empty() {
        return Derived::default();
    }
    let lines = Lines::of(readings);
    let rated = PieceSet::of(&scores.piece, study.pieces());
    let features = features(study, &lines, &rated);
    let points = points(study, &lines);
    let labels: Vec<String> = features.iter().map(|(factor, _)| factor.label.clone()).collect();
    let example = lines.most_read().map(|(line, tenths)| point_name(line, tenths));
    let caveat = if labels.is_empty() {
        words::profile_not_used(FEWEST_DISTANCES, FEWEST_COVERED)
    } else {
        words::profile_features(&labels, example.as_deref())
    };
    Derived { factors: features.into_iter().chain(points).collect(), caveats: vec![caveat] }
}

/// Whether one factor may be adjusted for another, as far as the profile goes: a single point is a part of the features, so
/// neither is adjusted for the other, and it stands in no other model either.
pub(super) fn may_adjust(factor: &Factor, other: &Factor) -> bool {
    let is_feature = |factor: &Factor| is_derived(factor) && !is_point(factor);
    !is_point(other) && (!is_point(factor) || !is_feature(other))
}

fn is_derived(factor: &Factor) -> bool {
    factor.header.is_empty() && factor.stage == Stage::Profile
}

fn is_point(factor: &Factor) -> bool {
    is_derived(factor) && !PROFILE_FEATURES.contains(&factor.name.as_str())
}

/// A value for some of the pieces, by piece.
#[derive(Debug, Clone, Default)]
struct ByPiece(Vec<(usize, f64)>);

impl ByPiece {
    fn get(&self, piece: usize) -> Option<f64> {
        let at = self.0.binary_search_by_key(&piece, |(known, _)| *known).ok()?;
        Some(self.0[at].1)
    }

    fn pieces(&self) -> impl Iterator<Item = usize> {
        self.0.iter().map(|(piece, _)| *piece)
    }

    fn holds(&self, piece: usize) -> bool {
        self.get(piece).is_some()
    }
}

/// The pieces must rise.
impl FromIterator<(usize, f64)> for ByPiece {
    fn from_iter<Values: IntoIterator<Item = (usize, f64)>>(values: Values) -> Self {
        let values = Self(values.into_iter().collect());
        debug_assert!(values.0.is_sorted_by_key(|(piece, _)| *piece));
        values
    }
}

/// Which lines were compared, and how far from the tip, in tenths of a millimetre.
type Place = (usize, i64);

/// The mean of the repeats at each point.
struct Lines {
    at: BTreeMap<(String, i64), ByPiece>,
}

impl Lines {
    fn of(readings: &[ProfileReading]) -> Lines {
        let mut points: BTreeMap<(&str, i64), Vec<(usize, f64)>> = BTreeMap::new();
        for reading in readings.iter().filter(|reading| reading.thickness_mm.is_finite()) {
            let tenths = whole::signed((reading.from_tip_mm * TENTHS).round());
            let point = points.entry((reading.line.as_str(), tenths)).or_default();
            point.push((reading.piece, reading.thickness_mm));
        }
        let means = |mut point: Vec<(usize, f64)>| {
            // a study has them by piece already
            point.sort_by_key(|(piece, _)| *piece);
            let of_piece = point.chunk_by(|one, other| one.0 == other.0).map(|repeats| {
                let sum: f64 = repeats.iter().map(|(_, thickness)| thickness).sum();
                (repeats[0].0, sum / repeats.len() as f64) // a chunk has at least one
            });
            of_piece.collect()
        };
        let name = |(line, tenths): (&str, i64)| (line.to_owned(), tenths);
        Lines { at: points.into_iter().map(|(key, point)| (name(key), means(point))).collect() }
    }

    fn point(&self, line: &str, tenths: i64) -> Option<&ByPiece> {
        self.at.get(&(line.to_owned(), tenths))
    }

    fn distances(&self) -> BTreeSet<i64> {
        self.at.keys().map(|(_, tenths)| *tenths).collect()
    }

    fn has(&self, line: &str) -> bool {
        self.at.keys().any(|(known, _)| known == line)
    }

    /// The point that most pieces have, the spine's and the nearest to the tip on a tie.
    fn most_read(&self) -> Option<(&str, i64)> {
        let rank = |((line, tenths), pieces): &(&(String, i64), &ByPiece)| {
            (pieces.0.len(), line == "spine", std::cmp::Reverse(*tenths))
        };
        let most = self.at.iter().max_by_key(rank)?;
        Some((most.0.0.as_str(), most.0.1))
    }

    /// The thickness of the spine.
    fn spine(&self) -> BTreeMap<Place, ByPiece> {
        let point = |tenths| Some(((0, tenths), self.point("spine", tenths)?.clone()));
        self.distances().into_iter().filter_map(point).collect()
    }

    /// The spine less the mean of left and right.
    fn spine_over(&self, pair: (&str, &str)) -> BTreeMap<Place, ByPiece> {
        let point = |tenths| {
            let spine = self.point("spine", tenths)?;
            let sides = self.both(pair, tenths)?;
            let over = |(piece, left, right): (usize, f64, f64)| {
                Some((piece, spine.get(piece)? - (left + right) / 2.0))
            };
            Some(((0, tenths), sides.into_iter().filter_map(over).collect()))
        };
        self.distances().into_iter().filter_map(point).collect()
    }

    /// How far left and right are apart, of the channels and of the rails.
    fn asymmetry(&self) -> BTreeMap<Place, ByPiece> {
        let mut apart = BTreeMap::new();
        for (number, pair) in [CHANNELS, RAILS].into_iter().enumerate() {
            for tenths in self.distances() {
                let Some(sides) = self.both(pair, tenths) else { continue };
                let by_piece = sides.into_iter().map(|(piece, l, r)| (piece, (l - r).abs()));
                apart.insert((number, tenths), by_piece.collect());
            }
        }
        apart
    }

    /// The pieces read both left and right, with the two.
    fn both(&self, pair: (&str, &str), tenths: i64) -> Option<Vec<(usize, f64, f64)>> {
        let (left, right) = (self.point(pair.0, tenths)?, self.point(pair.1, tenths)?);
        let both = |&(piece, left): &(usize, f64)| Some((piece, left, right.get(piece)?));
        Some(left.0.iter().filter_map(both).collect())
    }
}

fn features(study: &Study, lines: &Lines, rated: &PieceSet) -> Vec<(Factor, Cells)> {
    let height = |values: &[(f64, f64)]| {
        mean(&values.iter().map(|(_, value)| *value).collect::<Vec<f64>>()).ok()
    };
    let [level, taper, to_rail, to_channel, asymmetry] = PROFILE_FEATURES;
    let spine = lines.spine();
    let has_rails = lines.has(RAILS.0) && lines.has(RAILS.1);
    let (above, beside) = if has_rails { (to_rail, RAILS) } else { (to_channel, CHANNELS) };
    let found = [
        (level, by_piece(&spine, rated, height)),
        (taper, by_piece(&spine, rated, slope)),
        (above, by_piece(&lines.spine_over(beside), rated, height)),
        (asymmetry, by_piece(&lines.asymmetry(), rated, height)),
    ];
    let is_new = |name: &str| study.factor(name).is_none();
    found
        .into_iter()
        .filter(|(name, values)| is_new(name) && !values.0.is_empty())
        .map(|(name, values)| (factor(study, name, words::feature(name)), cells(study, &values)))
        .collect()
}

/// A feature of each piece that was read at all the common places; empty where the places or the reeds are too few.
fn by_piece(
    places: &BTreeMap<Place, ByPiece>,
    rated: &PieceSet,
    feature: impl Fn(&[(f64, f64)]) -> Option<f64>,
) -> ByPiece {
    let common = common(places, rated);
    let Some((_, first)) = common.first() else { return ByPiece::default() };
    let mut values: Vec<(f64, f64)> = Vec::with_capacity(common.len());
    let whole = |piece: usize| {
        values.clear();
        for (place, by_piece) in &common {
            values.push((place.1 as f64 / TENTHS, by_piece.get(piece)?));
        }
        Some((piece, feature(&values)?))
    };
    first.pieces().filter_map(whole).collect()
}

/// The places at which enough rated reeds were read, all of them together; those with most gaps are given up first.
fn common<'a>(places: &'a BTreeMap<Place, ByPiece>, rated: &PieceSet) -> Vec<(Place, &'a ByPiece)> {
    let read = |by_piece: &ByPiece| by_piece.pieces().filter(|piece| rated.holds(*piece)).count();
    let needed = FEWEST_COVERED * rated.count() as f64;
    let mut kept: Vec<(Place, &ByPiece)> = places
        .iter()
        .map(|(place, by_piece)| (*place, by_piece))
        .filter(|(_, by_piece)| read(by_piece) as f64 >= needed)
        .collect();
    while distances(&kept) >= FEWEST_DISTANCES {
        let is_whole = |piece: usize| kept.iter().all(|(_, by_piece)| by_piece.holds(piece));
        let first = kept.first().into_iter().flat_map(|(_, by_piece)| by_piece.pieces());
        let whole = first.filter(|&piece| rated.holds(piece) && is_whole(piece)).count();
        if whole as f64 >= needed {
            return kept;
        }
        let Some(worst) = (0..kept.len()).min_by_key(|&at| read(kept[at].1)) else { break };
        kept.remove(worst);
    }
    Vec::new()
}

fn distances(places: &[(Place, &ByPiece)]) -> usize {
    places.iter().map(|((_, tenths), _)| tenths).collect::<BTreeSet<_>>().len()
}

/// How much thicker the spine gets over ten millimetres, by least squares.
fn slope(points: &[(f64, f64)]) -> Option<f64> {
    let (at, thick): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let (at_mean, thick_mean) = (mean(&at).ok()?, mean(&thick).ok()?);
    let square: f64 = at.iter().map(|x| (x - at_mean).powi(2)).sum();
    let product: f64 = points.iter().map(|(x, y)| (x - at_mean) * (y - thick_mean)).sum();
    (square > 0.0).then(|| TAPER_OVER_MM * product / square)
}

/// The single points that the study file names under `[decide]`.
fn points(study: &Study, lines: &Lines) -> Vec<(Factor, Cells)> {
    let asked = |name: &str| study.settings().candidates.contains_key(name);
    let mut points = Vec::new();
    for ((line, tenths), values) in &lines.at {
        let name = point_name(line, *tenths);
        if asked(&name) && study.factor(&name).is_none() {
            let label = words::point(line, *tenths as f64 / TENTHS);
            points.push((factor(study, &name, label), cells(study, values)));
        }
    }
    points
}

fn point_name(line: &str, tenths: i64) -> String {
    profile_point_name(tenths as f64 / TENTHS, line)
}

fn factor(study: &Study, name: &str, label: String) -> Factor {
    Factor {
        name: name.to_owned(),
        label,
        header: String::new(),
        stage: Stage::Profile,
        kind: FactorKind::Number,
        unit: Some("mm".to_owned()),
        step: None,
        higher_is: None,
        asked_beforehand: study.settings().candidates.contains_key(name),
    }
}

fn cells(study: &Study, values: &ByPiece) -> Cells {
    let mut cells = vec![None; study.pieces()];
    for &(piece, value) in &values.0 {
        if let Some(cell) = cells.get_mut(piece) {
            *cell = Some(value);
        }
    }
    Cells::Number(Arc::new(cells))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(
        piece: usize,
        from_tip_mm: f64,
        line: &str,
        repeat: u32,
        thickness_mm: f64,
    ) -> ProfileReading {
        ProfileReading { piece, from_tip_mm, line: line.to_owned(), repeat, thickness_mm }
    }

    fn near(found: Option<f64>, expected: f64) {
        assert!(found.is_some_and(|found| (found - expected).abs() < 1e-12), "{found:?}");
    }

    #[test]
    fn repeats_are_averaged_before_anything_is_made_of_them() {
        let lines =
            Lines::of(&[reading(0, 5.0, "spine", 1, 0.40), reading(0, 5.0, "spine", 2, 0.44)]);
        near(lines.point("spine", 50).and_then(|point| point.get(0)), 0.42);
    }

    /// 0.30, 0.44 and 0.64 at 5, 10 and 20 mm. Mean distance 35/3; by hand the products sum to 2.533, the squares to 116.7.
    #[test]
    fn the_taper_is_the_least_squares_slope_over_ten_millimetres() {
        near(
            slope(&[(5.0, 0.30), (10.0, 0.44), (20.0, 0.64)]),
            10.0 * 2.6 / 116.666_666_666_666_67,
        );
    }

    #[test]
    fn left_and_right_are_told_apart_without_regard_to_which_is_thicker() {
        let lines = Lines::of(&[
            reading(0, 5.0, "left_rail", 1, 0.30),
            reading(0, 5.0, "right_rail", 1, 0.34),
            reading(1, 5.0, "left_rail", 1, 0.34),
            reading(1, 5.0, "right_rail", 1, 0.30),
        ]);
        let apart = &lines.asymmetry()[&(1, 50)];
        near(apart.get(0), 0.04);
        near(apart.get(1), 0.04);
    }

    #[test]
    fn a_distance_that_few_reeds_were_read_at_is_given_up_so_that_the_others_keep_their_reeds() {
        let rated = PieceSet::of(&(0..10).collect::<Vec<_>>(), 10);
        let at = |pieces: std::ops::Range<usize>| -> ByPiece {
            pieces.map(|piece| (piece, 0.4)).collect()
        };
        // the last place is read on seven reeds, of which three lack the second
        let places = BTreeMap::from([
            ((0, 50), at(0..10)),
            ((0, 100), at(0..7)),
            ((0, 150), at(0..10)),
            ((0, 200), at(3..10)),
        ]);
        let kept: Vec<i64> = common(&places, &rated).iter().map(|(place, _)| place.1).collect();
        assert_eq!(kept, [50, 150, 200]);
    }

    #[test]
    fn two_distances_make_no_feature() {
        let rated = PieceSet::of(&(0..4).collect::<Vec<_>>(), 4);
        let all: ByPiece = (0..4).map(|piece| (piece, 0.4)).collect();
        assert!(
            common(&BTreeMap::from([((0, 50), all.clone()), ((0, 100), all)]), &rated).is_empty()
        );
    }

    #[test]
    fn a_point_is_named_as_its_column_in_a_wide_table_would_be() {
        assert_eq!(point_name("spine", 150), "profile_15_spine_mm");
        assert_eq!(point_name("left_rail", 25), "profile_2_5_left_rail_mm");
    }
}
