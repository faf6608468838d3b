//! Times and how they ended, checked once.

use crate::stats::error::{StatsError, require_finite, require_length};

/// How long each row was watched and whether it ended then; optionally since when it was watched.
#[derive(Debug, Clone, PartialEq)]
pub struct Lifetimes {
    pub(super) times: Vec<f64>,
    pub(super) ended: Vec<bool>,
    pub(super) entries: Option<Vec<f64>>,
}

impl Lifetimes {
    /// `times` from each row's start to its end or to when it was last seen, zero or more; `ended` is false where the row was still going (censored).
    ///
    /// # Errors
    /// `Empty`, `LengthMismatch`, `NotFinite`; `OutOfRange` for a negative time.
    pub fn new(times: &[f64], ended: &[bool]) -> Result<Self, StatsError> {
        require_finite("the times", times)?;
        require_length("the list of endings", times.len(), ended.len())?;
        if let Some(row) = times.iter().position(|&time| time < 0.0) {
            return Err(StatsError::OutOfRange {
                what: format!("the time in row {row}"),
                value: times[row],
                expected: "zero or more".into(),
            });
        }
        // adding zero turns -0 into 0, so that both sort alike
        let times = times.iter().map(|time| time + 0.0).collect();
        Ok(Self { times, ended: ended.to_vec(), entries: None })
    }

    /// Rows that came under observation only after their start (delayed entry, left truncation): a row is at risk at time `t` where
    /// `entry < t <= time`.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`; `OutOfRange` for an entry that is negative or not before the row's time.
    pub fn entering_at(mut self, entries: &[f64]) -> Result<Self, StatsError> {
        require_length("the list of entries", self.times.len(), entries.len())?;
        require_finite("the entries", entries)?;
        let pairs = entries.iter().zip(&self.times);
        let bad = pairs.enumerate().find(|(_, (entry, time))| **entry < 0.0 || entry >= time);
        if let Some((row, (&value, time))) = bad {
            return Err(StatsError::OutOfRange {
                what: format!("the entry in row {row}"),
                value,
                expected: format!("zero or more and before {time}"),
            });
        }
        self.entries = Some(entries.to_vec());
        Ok(self)
    }

    /// Number of rows, one or more.
    pub fn rows(&self) -> usize {
        self.times.len()
    }

    /// How many rows ended while they were watched.
    pub fn events(&self) -> usize {
        self.ended.iter().filter(|&&ended| ended).count()
    }

    /// The longest time watched: beyond it nothing is known.
    pub fn followed_until(&self) -> f64 {
        self.times.iter().copied().fold(0.0, f64::max)
    }

    /// How many rows are watched and still going just before a time.
    pub fn at_risk(&self, time: f64) -> usize {
        let entered = |row: usize| self.entries.as_ref().is_none_or(|entries| entries[row] < time);
        let rows = 0..self.rows();
        rows.filter(|&row| self.times[row] >= time && entered(row)).count()
    }

    /// The rows of one group.
    ///
    /// # Errors
    /// `LengthMismatch`; `Empty` where no row has the code.
    pub fn of_group(&self, groups: &[usize], code: usize) -> Result<Self, StatsError> {
        require_length("the list of groups", self.rows(), groups.len())?;
        let rows: Vec<usize> = (0..groups.len()).filter(|&row| groups[row] == code).collect();
        if rows.is_empty() {
            return Err(StatsError::Empty { what: format!("group {code}") });
        }
        Ok(self.rows_at(&rows))
    }

    /// Some of the rows, by their places.
    pub(super) fn rows_at(&self, rows: &[usize]) -> Self {
        let pick = |values: &Vec<f64>| rows.iter().map(|&row| values[row]).collect();
        Self {
            times: pick(&self.times),
            ended: rows.iter().map(|&row| self.ended[row]).collect(),
            entries: self.entries.as_ref().map(pick),
        }
    }

    /// Refuses data in which nothing ended.
    pub(super) fn require_events(&self) -> Result<(), StatsError> {
        if self.events() > 0 {
            return Ok(());
        }
        Err(StatsError::NoEvents { what: "the list of endings".into() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_negative_time_is_refused_with_its_row() {
        let fault = Lifetimes::new(&[1.0, -2.0], &[true, true]).unwrap_err();
        assert!(
            matches!(fault, StatsError::OutOfRange { what, .. } if what == "the time in row 1")
        );
    }

    #[test]
    fn what_is_no_number_is_refused() {
        let nan = Lifetimes::new(&[1.0, f64::NAN], &[true, true]);
        assert!(matches!(nan, Err(StatsError::NotFinite { row: 1, .. })));
        let endless = Lifetimes::new(&[f64::INFINITY], &[false]);
        assert!(matches!(endless, Err(StatsError::NotFinite { row: 0, .. })));
        assert!(matches!(Lifetimes::new(&[], &[]), Err(StatsError::Empty { .. })));
    }

    #[test]
    fn a_time_of_zero_is_a_time() {
        let lifetimes = Lifetimes::new(&[0.0, -0.0, 3.0], &[true, false, true]).unwrap();
        assert_eq!(lifetimes.at_risk(0.0), 3);
        assert_eq!(lifetimes.times[1].to_bits(), 0);
    }

    #[test]
    fn an_entry_must_lie_before_the_time() {
        let lifetimes = Lifetimes::new(&[2.0, 3.0], &[true, true]).unwrap();
        assert!(lifetimes.clone().entering_at(&[0.0, 3.0]).is_err());
        assert!(lifetimes.clone().entering_at(&[-1.0, 0.0]).is_err());
        let late = lifetimes.entering_at(&[0.0, 2.5]).unwrap();
        assert_eq!((late.at_risk(2.0), late.at_risk(3.0)), (1, 1));
    }

    #[test]
    fn a_group_that_does_not_occur_is_refused() {
        let lifetimes = Lifetimes::new(&[2.0, 3.0], &[true, false]).unwrap();
        assert_eq!(lifetimes.of_group(&[4, 9], 9).unwrap().events(), 0);
        assert!(matches!(lifetimes.of_group(&[4, 9], 5), Err(StatsError::Empty { .. })));
    }
}
