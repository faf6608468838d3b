//! The validated log: pieces, ratings, lots, curves and repeat readings, with
//! where each came from and every row that was set aside.
//!
//! A [`Study`] is the only way into a question. It cannot be changed; a part of
//! it (some months, some pieces) is a new study. Polars holds the tables and
//! does the joins and grouped sums; what leaves is plain vectors, one entry a
//! piece or a rating.

mod columns;
mod counts;
mod outcome;
mod parts;
mod tables;

use std::any::Any;
use std::sync::{Arc, OnceLock};

use columns::ByColumn;

pub use counts::{LossCount, LotCount};
pub use outcome::{Better, Outcome, RatingRows, Settled};
pub use parts::{
    Factor, FactorKind, FileRead, Labels, PROFILE_FEATURES, ProfileReading, RepeatReading,
    Settings, StudyParts, Understood, profile_point_name,
};

pub use crate::catalogue::Stage;
pub use crate::problem::SetAside;

/// What became of a piece of cane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fate {
    InUse,
    WornOut,
    Spoiled,
    Lost,
    GivenAway,
    Unfinished,
}

impl Fate {
    pub const ALL: [Fate; 6] =
        [Fate::InUse, Fate::WornOut, Fate::Spoiled, Fate::Lost, Fate::GivenAway, Fate::Unfinished];

    /// The word in the tidy log.
    pub fn word(self) -> &'static str {
        match self {
            Fate::InUse => "in_use",
            Fate::WornOut => "worn_out",
            Fate::Spoiled => "spoiled",
            Fate::Lost => "lost",
            Fate::GivenAway => "given_away",
            Fate::Unfinished => "unfinished",
        }
    }

    pub fn from_word(word: &str) -> Option<Fate> {
        Fate::ALL.into_iter().find(|fate| fate.word() == word)
    }
}

/// The validated, immutable log.
#[derive(Debug, Clone)]
pub struct Study {
    parts: StudyParts,
    asked: Asked,
}

/// What nearly every question asks for, found when it is first asked.
#[derive(Debug, Clone)]
struct Asked {
    rating_rows: OnceLock<RatingRows>,
    reed_scores: OnceLock<Vec<Option<f64>>>,
    fates: OnceLock<Vec<Option<Fate>>>,
    furthest_stages: OnceLock<Vec<Option<Stage>>>,
    lot_counts: OnceLock<Vec<LotCount>>,
    loss_counts: OnceLock<Vec<LossCount>>,
    numbers: ByColumn<Arc<Vec<Option<f64>>>>,
    labels: ByColumn<Labels>,
    making_days: OnceLock<Vec<Option<i32>>>,
    profile: OnceLock<Vec<ProfileReading>>,
    shared: OnceLock<Arc<dyn Any + Send + Sync>>,
}

impl Asked {
    /// Nothing yet.
    fn of(parts: &StudyParts) -> Asked {
        Asked {
            rating_rows: OnceLock::new(),
            reed_scores: OnceLock::new(),
            fates: OnceLock::new(),
            furthest_stages: OnceLock::new(),
            lot_counts: OnceLock::new(),
            loss_counts: OnceLock::new(),
            numbers: ByColumn::of(&parts.pieces),
            labels: ByColumn::of(&parts.pieces),
            making_days: OnceLock::new(),
            profile: OnceLock::new(),
            shared: OnceLock::new(),
        }
    }
}

impl Study {
    /// Takes what the reader validated. The frames' columns are described at [`StudyParts`].
    pub fn new(parts: StudyParts) -> Study {
        Study::holding(tables::in_order(parts))
    }

    fn holding(parts: StudyParts) -> Study {
        Study { asked: Asked::of(&parts), parts }
    }

    /// Finds the counts that several questions ask for, before they are asked at once. Polars counts on threads of its own; a thread that waited for them
    /// within a question would take up another, and the first would stand still until that one is answered.
    pub fn prepare(&self) {
        self.lot_counts();
        self.loss_counts();
    }

    /// Keeps what the questions found of the whole study and all of them ask for. The first that is kept stays.
    pub fn share<Found: Any + Send + Sync>(&self, found: Found) {
        self.asked.shared.get_or_init(|| Arc::new(found));
    }

    /// What was shared, where it is of this kind. It is not found here: a thread that worked it out for others within a question could be taken up by one of them.
    pub fn shared<Found: Any + Send + Sync>(&self) -> Option<Arc<Found>> {
        self.asked.shared.get()?.clone().downcast().ok()
    }

    pub fn name(&self) -> &str {
        &self.parts.name
    }

    pub fn settings(&self) -> &Settings {
        &self.parts.settings
    }

    pub fn files(&self) -> &[FileRead] {
        &self.parts.files
    }

    /// How each column was understood, file by file.
    pub fn understood(&self) -> &[Understood] {
        &self.parts.understood
    }

    /// Every row and cell that was not used, word for word.
    pub fn set_aside(&self) -> &[SetAside] {
        &self.parts.set_aside
    }

    /// The columns that may predict, in stage order, then in the file's order.
    pub fn factors(&self) -> &[Factor] {
        &self.parts.factors
    }

    pub fn factor(&self, name: &str) -> Option<&Factor> {
        self.parts.factors.iter().find(|factor| factor.name == name)
    }

    /// A factor by whatever it is called.
    pub fn factor_called(&self, asked: &str) -> Option<&Factor> {
        self.parts.factors.iter().find(|factor| factor.is_called(asked))
    }

    /// How many pieces of cane were started.
    pub fn pieces(&self) -> usize {
        self.parts.pieces.height()
    }

    /// How many ratings there are, over all criteria.
    pub fn ratings(&self) -> usize {
        self.parts.ratings.height()
    }

    /// The part of the study that holds only the pieces marked `true`.
    ///
    /// # Panics
    /// When `keep` is not one mark a piece.
    pub fn restricted(&self, keep: &[bool]) -> Study {
        assert_eq!(keep.len(), self.pieces(), "one mark a piece");
        Study::holding(tables::restricted(&self.parts, keep))
    }

    /// The same pieces judged by other settings, for instance those that a trial fixed beforehand.
    pub fn judged_by(&self, settings: Settings) -> Study {
        Study::holding(StudyParts { settings, ..self.parts.clone() })
    }

    /// The ids of the pieces.
    pub fn ids(&self) -> Vec<&str> {
        self.words("reed").into_iter().map(Option::unwrap_or_default).collect()
    }

    pub fn fates(&self) -> &[Option<Fate>] {
        let find = || self.words("fate").into_iter().map(|word| Fate::from_word(word?)).collect();
        self.asked.fates.get_or_init(find)
    }

    /// A text column of the pieces: `lot`, `note`, a choice.
    pub fn words(&self, column: &str) -> Vec<Option<&str>> {
        tables::words(&self.parts.pieces, column)
    }

    /// A number column of the pieces, in the catalogue's unit. Of a million pieces a column is large and every question asks for most: all hold the same one.
    pub fn numbers(&self, column: &str) -> Arc<Vec<Option<f64>>> {
        let frame = &self.parts.pieces;
        self.asked.numbers.get(frame, column, || Arc::new(tables::numbers(frame, column))).clone()
    }

    /// A date column of the pieces, as days since 1970-01-01.
    pub fn days(&self, column: &str) -> Vec<Option<i32>> {
        tables::days(&self.parts.pieces, column)
    }

    /// A text column as codes, with the levels sorted by name.
    pub fn labels(&self, column: &str) -> &Labels {
        let frame = &self.parts.pieces;
        self.asked.labels.get(frame, column, || tables::labels(frame, column))
    }

    /// The makers of the pieces as codes, where two or more are named: a column that names one alone tells nobody apart.
    pub fn several_makers(&self) -> Option<&Labels> {
        Some(self.labels("maker")).filter(|makers| makers.levels.len() > 1)
    }

    /// The lots of the pieces as codes.
    pub fn lots(&self) -> &Labels {
        self.labels("lot")
    }

    /// The day that stands for a piece in time: when it was started, else when it was finished.
    pub fn making_days(&self) -> &[Option<i32>] {
        self.asked.making_days.get_or_init(|| {
            let finished = self.days("finished_on");
            let started = self.days("started_on").into_iter();
            started.zip(finished).map(|(start, end)| start.or(end)).collect()
        })
    }

    /// The lots of `lots.csv` that have a price, as (lot, price of a piece).
    pub fn prices(&self) -> Vec<(String, f64)> {
        let lots = tables::texts(&self.parts.lots, "lot");
        let prices = tables::numbers(&self.parts.lots, "price_per_piece");
        lots.into_iter().zip(prices).filter_map(|(lot, price)| Some((lot?, price?))).collect()
    }

    /// The lots of `lots.csv` that say how many pieces were bought, as (lot, pieces).
    pub fn pieces_bought(&self) -> Vec<(String, f64)> {
        let lots = tables::texts(&self.parts.lots, "lot");
        let pieces = tables::numbers(&self.parts.lots, "pieces_bought");
        lots.into_iter().zip(pieces).filter_map(|(lot, pieces)| Some((lot?, pieces?))).collect()
    }

    /// All thickness readings of profiles.
    pub fn profile(&self) -> &[ProfileReading] {
        self.asked.profile.get_or_init(|| self.profile_readings())
    }

    fn profile_readings(&self) -> Vec<ProfileReading> {
        let frame = &self.parts.profile;
        let positions = tables::numbers(frame, "from_tip_mm");
        let thicknesses = tables::numbers(frame, "thickness_mm");
        let lines = tables::words(frame, "line");
        let repeats = tables::counts(frame, "repeat");
        let pieces = tables::counts(frame, "piece");
        let places = positions.into_iter().zip(lines).zip(repeats);
        let rows = pieces.into_iter().zip(places).zip(thicknesses);
        let rows = rows.filter_map(|((piece, ((from_tip_mm, line), repeat)), thickness_mm)| {
            Some(ProfileReading {
                piece: piece? as usize,
                from_tip_mm: from_tip_mm?,
                line: line?.to_owned(),
                repeat: repeat.unwrap_or(1),
                thickness_mm: thickness_mm?,
            })
        });
        let mut readings = Vec::with_capacity(frame.height());
        readings.extend(rows);
        readings
    }

    /// All repeat readings of other measurements.
    pub fn readings(&self) -> Vec<RepeatReading> {
        let frame = &self.parts.readings;
        let measures = tables::texts(frame, "measure");
        let values = tables::numbers(frame, "value");
        let people = tables::texts(frame, "by");
        let repeats = tables::counts(frame, "repeat");
        let pieces = tables::counts(frame, "piece");
        let read = measures.into_iter().zip(values).zip(people);
        pieces
            .into_iter()
            .zip(read)
            .zip(repeats)
            .filter_map(|((piece, ((measure, value), by)), repeat)| {
                Some(RepeatReading {
                    piece: piece? as usize,
                    measure: measure?,
                    value: value?,
                    by,
                    repeat,
                })
            })
            .collect()
    }
}
