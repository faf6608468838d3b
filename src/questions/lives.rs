//! How long each reed was played, and whether that was its end.
//!
//! Hours of playing, or days from the first playing to the last where hours are missing for most. A reed ends when it is worn out, or spoiled while playing: a
//! crack at the stand is an end of the cane's own. A reed in use, lost or given away is known to have lasted so long and is censored. A piece that never played
//! has no life and is left out. (The reader takes a played reed without a fate to be in use, and says so.)

use super::scores::count_out;
use std::sync::Arc;

use crate::catalogue::Stage;
use crate::finding::LeftOut;
use crate::stats::StatsError;
use crate::stats::survival::Lifetimes;
use crate::study::{Fate, Study};
use crate::words::life::left_out as words;

/// A reed played on one day alone lasted for a part of it.
const ONE_DAY_ALONE: f64 = 0.5;

/// What a life is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum LifeUnit {
    Hours,
    Days,
}

/// The reeds that were played, in the order of the pieces.
#[derive(Debug, Clone)]
pub(super) struct Lives {
    pub unit: LifeUnit,
    pub piece: Vec<usize>,
    pub time: Vec<f64>,
    pub ended: Vec<bool>,
    /// How old each reed was when the log began; all 0 where none was older.
    pub entry: Vec<f64>,
    pub left_out: Vec<LeftOut>,
    /// Ended by being spoiled while playing.
    pub spoiled_in_play: usize,
    /// First played before the log began.
    pub late: usize,
}

/// One piece as the log tells it.
enum Told {
    Life { time: f64, ended: bool, entry: f64 },
    Out(&'static str),
}

/// The columns that tell of lives, read once.
struct Log<'a> {
    fates: &'a [Option<Fate>],
    spoiled_at: Vec<Option<&'a str>>,
    hours: Arc<Vec<Option<f64>>>,
    first: Vec<Option<i32>>,
    last: Vec<Option<i32>>,
    started: Vec<Option<i32>>,
    /// The day on which the log began, where most of the played pieces have a day on which they were started.
    began: Option<i32>,
    last_day: Option<i32>,
}

impl Lives {
    /// In hours, unless most of the played reeds have none and more have days.
    pub fn of(study: &Study) -> Self {
        let log = Log::of(study);
        let pieces = 0..log.fates.len();
        let has_hours = pieces.clone().filter(|&piece| log.hours[piece].is_some()).count();
        let has_days = pieces.clone().filter(|&piece| log.first[piece].is_some()).count();
        let played = pieces.filter(|&piece| log.seems_played(piece)).count();
        let unit = if 2 * has_hours < played && has_days > has_hours {
            LifeUnit::Days
        } else {
            LifeUnit::Hours
        };
        log.lives(unit)
    }

    /// In days, whatever else the log has.
    pub fn in_days(study: &Study) -> Self {
        Log::of(study).lives(LifeUnit::Days)
    }

    pub fn retired(&self) -> usize {
        self.ended.iter().filter(|&&ended| ended).count()
    }

    /// The lives of some of the reeds, by their places.
    pub fn lifetimes(&self, places: &[usize]) -> Result<Lifetimes, StatsError> {
        let time: Vec<f64> = places.iter().map(|&place| self.time[place]).collect();
        let ended: Vec<bool> = places.iter().map(|&place| self.ended[place]).collect();
        let entry: Vec<f64> = places.iter().map(|&place| self.entry[place]).collect();
        let lifetimes = Lifetimes::new(&time, &ended)?;
        if entry.iter().all(|&entry| entry == 0.0) {
            return Ok(lifetimes);
        }
        lifetimes.entering_at(&entry)
    }

    pub fn all(&self) -> Result<Lifetimes, StatsError> {
        self.lifetimes(&(0..self.piece.len()).collect::<Vec<_>>())
    }
}

impl<'a> Log<'a> {
    fn of(study: &'a Study) -> Self {
        let started = study.days("started_on");
        let (first, last) = (study.days("first_played"), study.days("last_played"));
        let finished = study.days("finished_on");
        let rated = &study.rating_rows().day;
        let days = [&started, &finished, &first, &last, rated];
        let dated =
            first.iter().zip(&started).filter(|(first, _)| first.is_some()).map(|(_, day)| day);
        let (known, all) =
            dated.fold((0, 0), |(known, all), day| (known + usize::from(day.is_some()), all + 1));
        Self {
            fates: study.fates(),
            spoiled_at: study.words("spoiled_at"),
            hours: study.numbers("hours_played"),
            began: started.iter().flatten().min().copied().filter(|_| 2 * known >= all),
            last_day: days.into_iter().flatten().flatten().max().copied(),
            first,
            last,
            started,
        }
    }

    fn seems_played(&self, piece: usize) -> bool {
        let played_on = |fate| matches!(fate, Some(Fate::InUse | Fate::WornOut));
        self.hours[piece].is_some() || self.first[piece].is_some() || played_on(self.fates[piece])
    }

    fn lives(&self, unit: LifeUnit) -> Lives {
        let mut lives = Lives {
            unit,
            piece: Vec::new(),
            time: Vec::new(),
            ended: Vec::new(),
            entry: Vec::new(),
            left_out: Vec::new(),
            spoiled_in_play: 0,
            late: 0,
        };
        let mut out: Vec<&'static str> = Vec::new();
        for piece in 0..self.fates.len() {
            match self.told(piece, unit) {
                Told::Out(why) => {
                    lives.late += usize::from(why == words::LATE);
                    out.push(why);
                }
                Told::Life { time, ended, entry } => {
                    lives.piece.push(piece);
                    lives.time.push(time);
                    lives.ended.push(ended);
                    lives.entry.push(entry);
                    lives.late += usize::from(entry > 0.0);
                    let is_spoiled = self.fates[piece] == Some(Fate::Spoiled);
                    lives.spoiled_in_play += usize::from(is_spoiled);
                }
            }
        }
        for why in words::ALL {
            let n = out.iter().filter(|known| **known == why).count();
            count_out(&mut lives.left_out, why, n);
        }
        lives
    }

    fn told(&self, piece: usize, unit: LifeUnit) -> Told {
        let fate = self.fates[piece];
        let ended = matches!(fate, Some(Fate::WornOut | Fate::Spoiled));
        if fate == Some(Fate::Unfinished) {
            return Told::Out(words::UNFINISHED);
        }
        match unit {
            LifeUnit::Hours => self.in_hours(piece, ended),
            LifeUnit::Days => self.in_days(piece, ended),
        }
    }

    fn in_hours(&self, piece: usize, ended: bool) -> Told {
        match self.hours[piece].filter(|hours| hours.is_finite()) {
            Some(hours) if hours > 0.0 && self.age_at_the_beginning(piece) > 0.0 => {
                Told::Out(words::LATE)
            }
            Some(hours) if hours > 0.0 => Told::Life { time: hours, ended, entry: 0.0 },
            Some(_) if self.fates[piece] == Some(Fate::WornOut) => Told::Out(words::NO_HOUR),
            _ => self.without(piece, words::WITHOUT_HOURS),
        }
    }

    fn in_days(&self, piece: usize, ended: bool) -> Told {
        let Some(first) = self.first[piece] else {
            return self.without(piece, words::WITHOUT_DAYS);
        };
        let goes_on = matches!(self.fates[piece], None | Some(Fate::InUse));
        let last = self.last[piece].or(self.last_day.filter(|_| goes_on));
        let Some(last) = last else { return Told::Out(words::WITHOUT_LAST_DAY) };
        let days = f64::from(last) - f64::from(first);
        let entry = self.age_at_the_beginning(piece);
        if days < 0.0 {
            return Told::Out(words::BACKWARDS);
        }
        let time = days.max(ONE_DAY_ALONE);
        // gone before the log began, or on that day: it was never watched
        if entry > 0.0 && entry >= time {
            return Told::Out(words::LATE);
        }
        Told::Life { time, ended, entry }
    }

    /// Why a piece has no life: it never played, or the log does not tell how long.
    fn without(&self, piece: usize, untold: &'static str) -> Told {
        let fate = self.fates[piece];
        let at_play = self.spoiled_at[piece] == Some(Stage::Play.word());
        let is_played = self.hours[piece].is_some_and(|hours| hours > 0.0)
            || self.last[piece].is_some()
            || self.first[piece].is_some();
        let was_played = is_played || at_play || fate == Some(Fate::WornOut);
        Told::Out(match fate {
            Some(Fate::Spoiled) if !was_played => words::SPOILED,
            _ if was_played || fate == Some(Fate::InUse) && self.hours[piece].is_none() => untold,
            _ => words::NOT_PLAYED,
        })
    }

    /// Days since its first playing on the day on which the log began, for a reed of which the log does not hold the making; else 0. Such a reed is in the
    /// log only because it had lasted until then.
    fn age_at_the_beginning(&self, piece: usize) -> f64 {
        let is_older = self.started[piece].is_none();
        match (self.first[piece].filter(|_| is_older), self.began) {
            (Some(first), Some(began)) => (f64::from(began) - f64::from(first)).max(0.0),
            _ => 0.0,
        }
    }
}
