//! Holds intervals against the smallest difference worth having, many factors at once.

use super::Looked;
use crate::finding::Verdict;
use crate::stats::multiplicity::benjamini_hochberg;

/// A verdict of a screened factor needs an adjusted p of at most this.
const SCREENED_AT: f64 = 0.05;
/// Under so many degrees of freedom cluster-robust errors are a poor guide (Pustejovsky & Tipton 2018, section 4).
const FEWEST_DF: f64 = 4.0;
/// So many factors may be asked about beforehand in the study file; further ones are screened.
const ASKED_BEFOREHAND: usize = 2;

/// Holds each interval against the smallest difference worth having. Factors asked about beforehand stand alone, the
/// rest are one family.
pub(super) fn judge(looked: &mut [Looked], worthwhile: f64) {
    let mut beforehand: Vec<String> = Vec::new();
    for entry in looked.iter().filter(|entry| entry.beforehand) {
        if !beforehand.contains(&entry.result.factor) && beforehand.len() < ASKED_BEFOREHAND {
            beforehand.push(entry.result.factor.clone());
        }
    }
    let screened = |entry: &Looked| {
        entry.result.verdict != Verdict::Tangled && !beforehand.contains(&entry.result.factor)
    };
    let family: Vec<usize> = (0..looked.len())
        .filter(|&at| screened(&looked[at]) && looked[at].result.p.is_some_and(f64::is_finite))
        .collect();
    let p: Vec<f64> = family.iter().filter_map(|&at| looked[at].result.p).collect();
    let adjusted = benjamini_hochberg(&p).unwrap_or_default();
    for (&at, q) in family.iter().zip(adjusted) {
        looked[at].result.q = Some(q);
    }
    for entry in looked {
        let result = &mut entry.result;
        if result.verdict == Verdict::Tangled {
            continue;
        }
        let is_beforehand = beforehand.contains(&result.factor);
        if let (Some(low), Some(high)) = (result.low, result.high) {
            let passes = passes(is_beforehand, result.q, result.df);
            result.verdict = verdict(low, high, worthwhile, passes);
        }
    }
}

/// Whether an interval that excludes zero may count: enough degrees of freedom for the t distribution to be a guide, and
/// for a screened factor an adjusted p.
fn passes(is_beforehand: bool, q: Option<f64>, df: Option<f64>) -> bool {
    let is_guided = df.is_some_and(|df| df >= FEWEST_DF);
    is_guided && (is_beforehand || q.is_some_and(|q| q <= SCREENED_AT))
}

pub(super) fn verdict(low: f64, high: f64, worthwhile: f64, passes: bool) -> Verdict {
    if -worthwhile <= low && high <= worthwhile {
        Verdict::Negligible
    } else if passes && (low > worthwhile || high < -worthwhile) {
        Verdict::Clear
    } else if passes && (low > 0.0 || high < 0.0) {
        Verdict::Leaning
    } else {
        Verdict::Open
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_wholly_beyond_the_worthwhile_difference_is_clear() {
        assert_eq!(verdict(0.6, 1.2, 0.5, true), Verdict::Clear);
        assert_eq!(verdict(-1.2, -0.6, 0.5, true), Verdict::Clear);
    }

    #[test]
    fn an_interval_that_excludes_zero_but_not_the_worthwhile_difference_leans() {
        assert_eq!(verdict(0.1, 1.2, 0.5, true), Verdict::Leaning);
    }

    #[test]
    fn a_screened_factor_needs_its_adjusted_p_too() {
        assert_eq!(verdict(0.6, 1.2, 0.5, passes(false, Some(0.06), Some(9.0))), Verdict::Open);
        assert_eq!(verdict(0.6, 1.2, 0.5, passes(false, None, Some(9.0))), Verdict::Open);
        assert_eq!(verdict(0.6, 1.2, 0.5, passes(true, None, Some(9.0))), Verdict::Clear);
    }

    #[test]
    fn under_four_degrees_of_freedom_nothing_stands_out() {
        assert_eq!(verdict(0.6, 1.2, 0.5, passes(true, None, Some(3.9))), Verdict::Open);
    }

    #[test]
    fn an_interval_inside_the_worthwhile_difference_is_negligible_even_where_it_excludes_zero() {
        assert_eq!(verdict(0.1, 0.4, 0.5, true), Verdict::Negligible);
    }

    #[test]
    fn anything_else_is_open() {
        assert_eq!(verdict(-0.2, 0.9, 0.5, true), Verdict::Open);
    }
}
