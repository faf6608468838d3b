//! Holds intervals against the smallest difference worth having, many factors at once.
//!
//! Straight lines and bends stand in one family, in which the bends together weigh a tenth: few are true, and a bend
//! that is chance must not cost the log its promise that nothing stands out where nothing matters.
//!
//! A choice of several kinds counts once in the family, by the test over all of them; which of its kinds differ is then a
//! closed test (Marcus, Peritz & Gabriel 1976; Shaffer 1986).

use super::Looked;
use super::sweet_spot::Bend;
use crate::finding::Verdict;
use crate::stats::multiplicity::benjamini_hochberg_weighted;

/// A verdict of a screened factor needs an adjusted p of at most this.
const SCREENED_AT: f64 = 0.05;
/// What all bends together weigh beside the straight lines, which weigh the rest to one.
const SHARE_OF_BENDS: f64 = 0.1;
/// Under so many degrees of freedom cluster-robust errors are a poor guide (Pustejovsky & Tipton 2018, section 4).
const FEWEST_DF: f64 = 4.0;
/// So many factors may be asked about beforehand in the study file; further ones are screened.
const ASKED_BEFOREHAND: usize = 2;

/// Holds each interval against the smallest difference worth having. Factors asked about beforehand stand alone, the
/// rest are one family, to which the bends of all belong.
pub(super) fn judge(looked: &mut [Looked], worthwhile: f64) {
    let beforehand = asked_beforehand(looked);
    let bends: Vec<f64> = bends(looked).map(|bend| bend.p).collect();
    let (alone, mut screened): (Vec<_>, Vec<_>) = by_factor(looked)
        .partition(|kinds| kinds.iter().any(|entry| beforehand.contains(&entry.at)));
    let of_bends = screen(&mut screened, &bends);
    for kinds in screened {
        verdicts(kinds, worthwhile, &adjusted_p(kinds));
    }
    for kinds in alone {
        verdicts(kinds, worthwhile, &adjusted_within(kinds));
    }
    for (bend, adjusted) in bends_of(looked).zip(of_bends) {
        bend.counts = adjusted <= SCREENED_AT;
    }
}

fn bends(looked: &[Looked]) -> impl Iterator<Item = &Bend> {
    looked.iter().filter_map(|entry| entry.bend.as_ref())
}

fn bends_of(looked: &mut [Looked]) -> impl Iterator<Item = &mut Bend> {
    looked.iter_mut().filter_map(|entry| entry.bend.as_mut())
}

/// Several screens of the same factors, each with its own worthwhile difference: one family, and nothing in it was asked
/// about beforehand.
pub(super) fn judge_together(screens: &mut [(&mut [Looked], f64)]) {
    let mut family: Vec<&mut [Looked]> =
        screens.iter_mut().flat_map(|(looked, _)| by_factor(looked)).collect();
    screen(&mut family, &[]);
    for (looked, worthwhile) in screens {
        verdicts(looked, *worthwhile, &adjusted_p(looked));
    }
}

fn adjusted_p(looked: &[Looked]) -> Vec<Option<f64>> {
    looked.iter().map(|entry| entry.result.q).collect()
}

fn asked_beforehand(looked: &[Looked]) -> Vec<usize> {
    let mut beforehand: Vec<usize> = Vec::new();
    for entry in looked.iter().filter(|entry| entry.beforehand) {
        if !beforehand.contains(&entry.at) && beforehand.len() < ASKED_BEFOREHAND {
            beforehand.push(entry.at);
        }
    }
    beforehand
}

/// The kinds of each factor stand together; a number is a group of one.
fn by_factor(looked: &mut [Looked]) -> impl Iterator<Item = &mut [Looked]> {
    looked.chunk_by_mut(|a, b| a.at == b.at)
}

/// Gives every entry its adjusted p: that of its factor in the family, and no smaller than its own within the factor. What
/// comes back are the adjusted p of the bends.
fn screen(family: &mut [&mut [Looked]], bends: &[f64]) -> Vec<f64> {
    let chances: Vec<Option<f64>> = family.iter().map(|kinds| overall(kinds)).collect();
    let lines: Vec<f64> = chances.iter().flatten().copied().collect();
    let (of_lines, of_bends) = adjusted_together(&lines, bends);
    let mut of_factors = of_lines.into_iter();
    let counted = family.iter_mut().zip(chances).filter(|(_, chance)| chance.is_some());
    for (kinds, of_factor) in counted.filter_map(|(kinds, _)| Some((kinds, of_factors.next()?))) {
        let adjusted = adjusted_within(kinds);
        for (entry, adjusted) in kinds.iter_mut().zip(adjusted) {
            entry.result.q = adjusted.map(|own| own.max(of_factor));
        }
    }
    of_bends
}

/// Where there are no lines, the bends keep their tenth: what was asked beforehand has had the rest.
fn adjusted_together(lines: &[f64], bends: &[f64]) -> (Vec<f64>, Vec<f64>) {
    if lines.is_empty() && !bends.is_empty() {
        let (_, of_bends) = adjusted_together(&[1.0], bends);
        return (Vec::new(), of_bends);
    }
    let share = |of: &[f64], all: f64| vec![all / of.len().max(1) as f64; of.len()];
    let weights = [share(lines, 1.0 - SHARE_OF_BENDS), share(bends, SHARE_OF_BENDS)].concat();
    let together = benjamini_hochberg_weighted(&[lines, bends].concat(), &weights);
    let mut adjusted = together.unwrap_or_default();
    let of_bends = adjusted.split_off(lines.len().min(adjusted.len()));
    (adjusted, of_bends)
}

/// The p of an entry that counts.
fn chance(entry: &Looked) -> Option<f64> {
    let is_tangled = entry.result.verdict == Verdict::Tangled;
    entry.result.p.filter(|p| p.is_finite() && !is_tangled)
}

/// The p of a whole factor: of the test over all kinds, else of its one entry, else the smallest times how many there are
/// (Bonferroni).
fn overall(kinds: &[Looked]) -> Option<f64> {
    let each: Vec<f64> = kinds.iter().filter_map(chance).collect();
    let least = each.iter().copied().reduce(f64::min)?;
    let joint = kinds.iter().find_map(|entry| entry.result.p_levels).filter(|_| each.len() > 1);
    Some(joint.unwrap_or((least * each.len() as f64).min(1.0)))
}

/// Each kind's p, adjusted for the other kinds of the factor.
fn adjusted_within(kinds: &[Looked]) -> Vec<Option<f64>> {
    let each: Vec<Option<f64>> = kinds.iter().map(chance).collect();
    let of_factor = overall(kinds).unwrap_or(1.0);
    let closed = closed(&each.iter().flatten().copied().collect::<Vec<f64>>(), of_factor);
    let mut closed = closed.into_iter();
    each.into_iter().map(|own| own.and_then(|_| closed.next())).collect()
}

/// Closed test of m kinds, the test over all of them given: a kind differs if that test and every smaller set that holds the
/// kind say so, each set by Bonferroni. In rising order that is p times m - 1, m - 1, m - 2, ..., 1.
fn closed(each: &[f64], of_all: f64) -> Vec<f64> {
    let count = each.len();
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|&a, &b| each[a].total_cmp(&each[b]));
    let (mut adjusted, mut most) = (vec![1.0; count], of_all);
    for (rank, place) in order.into_iter().enumerate() {
        let times = (count - rank).min(count.saturating_sub(1).max(1));
        most = most.max(each[place] * times as f64).min(1.0);
        adjusted[place] = most;
    }
    adjusted
}

fn verdicts(looked: &mut [Looked], worthwhile: f64, adjusted: &[Option<f64>]) {
    let entries = looked.iter_mut().zip(adjusted);
    for (entry, adjusted) in entries.filter(|(entry, _)| entry.result.verdict != Verdict::Tangled) {
        let passes = passes(*adjusted, entry.result.df);
        if let (Some(low), Some(high)) = (entry.result.low, entry.result.high) {
            entry.result.verdict = verdict(low, high, worthwhile, passes);
        }
    }
}

/// Whether an interval that excludes zero may count: enough degrees of freedom for the t distribution to be a guide, and
/// an adjusted p.
fn passes(adjusted: Option<f64>, df: Option<f64>) -> bool {
    let is_guided = df.is_some_and(|df| df >= FEWEST_DF);
    is_guided && adjusted.is_some_and(|adjusted| adjusted <= SCREENED_AT)
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
    fn a_factor_needs_its_adjusted_p_too() {
        assert_eq!(verdict(0.6, 1.2, 0.5, passes(Some(0.06), Some(9.0))), Verdict::Open);
        assert_eq!(verdict(0.6, 1.2, 0.5, passes(None, Some(9.0))), Verdict::Open);
        assert_eq!(verdict(0.6, 1.2, 0.5, passes(Some(0.04), Some(9.0))), Verdict::Clear);
    }

    #[test]
    fn under_four_degrees_of_freedom_nothing_stands_out() {
        assert_eq!(verdict(0.6, 1.2, 0.5, passes(Some(0.001), Some(3.9))), Verdict::Open);
    }

    #[test]
    fn an_interval_inside_the_worthwhile_difference_is_negligible_even_where_it_excludes_zero() {
        assert_eq!(verdict(0.1, 0.4, 0.5, true), Verdict::Negligible);
    }

    #[test]
    fn anything_else_is_open() {
        assert_eq!(verdict(-0.2, 0.9, 0.5, true), Verdict::Open);
    }

    fn near(found: &[f64], expected: &[f64]) {
        let off = found.iter().zip(expected).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(off < 1e-12 && found.len() == expected.len(), "{found:?}, expected {expected:?}");
    }

    /// By hand: the line weighs 0.9 and the bend 0.1, on average 0.5; 0.03 * 0.5 / 0.9 = 1/60, which doubles to 1/30, and 0.004 * 0.5 / 0.1 = 0.02 of rank two.
    #[test]
    fn a_bend_weighs_a_tenth_of_the_family() {
        let (lines, bends) = adjusted_together(&[0.03], &[0.004]);
        near(&[lines, bends].concat(), &[0.02, 0.02]);
        let (lines, bends) = adjusted_together(&[0.03], &[0.01]);
        near(&[lines, bends].concat(), &[1.0 / 30.0, 0.05]);
    }

    #[test]
    fn without_bends_the_lines_are_adjusted_as_ever() {
        near(&adjusted_together(&[0.01, 0.02], &[]).0, &[0.02, 0.02]);
    }

    #[test]
    fn bends_alone_keep_their_tenth() {
        near(&adjusted_together(&[], &[0.004]).1, &[0.04]);
    }

    /// By hand: sets of three hold 0.01 × 3; without the smallest, 0.02 × 3; without the two smallest, 0.04 × 2.
    #[test]
    fn four_kinds_after_their_common_test_are_a_closed_test() {
        near(&closed(&[0.04, 0.01, 0.3, 0.02], 0.001), &[0.08, 0.03, 0.3, 0.06]);
    }

    #[test]
    fn two_kinds_after_their_common_test_need_no_more_than_that_test() {
        near(&closed(&[0.01, 0.04], 0.02), &[0.02, 0.04]);
        near(&closed(&[0.01, 0.04], 0.2), &[0.2, 0.2]);
    }

    #[test]
    fn a_single_kind_keeps_its_p() {
        near(&closed(&[0.03], 0.03), &[0.03]);
    }
}
