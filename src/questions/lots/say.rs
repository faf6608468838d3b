//! Say: the answer, what stands out, and what the numbers cannot say.

use std::collections::BTreeSet;

use super::super::Options;
use super::super::scores::{ReedScores, count_out, never_rated};
use super::adjusted::Adjusted;
use super::fit::{Fitted, Pooled};
use super::good::Good;
use super::{QUESTION, Rated, overlap, show};
use crate::finding::{Estimated, Finding, Interval, LotResult, LotsSection, Method, Section};
use crate::stats::rank::{SpreadCentre, spread_test};
use crate::study::{Better, Study};
use crate::words::lots as words;

fn estimated(share: Interval) -> Estimated {
    Estimated { estimate: share.estimate, low: share.low, high: share.high }
}

/// All that was found.
pub(super) struct Told<'a> {
    pub study: &'a Study,
    pub scores: &'a ReedScores,
    pub rated: &'a Rated,
    pub fitted: &'a Fitted,
    pub good: &'a Good,
}

impl Told<'_> {
    pub fn finding(
        &self,
        results: Vec<LotResult>,
        adjusted: Option<&Adjusted>,
        options: &Options,
    ) -> Finding {
        let Told { study, scores, rated, fitted, .. } = *self;
        let standing = self.standing(&results);
        let p_spread = self.p_spread();
        let mut left_out = never_rated(study, scores);
        count_out(&mut left_out, "rated, but without a lot", rated.without_lot);
        let mut charts = vec![show::chart(study, rated, fitted, &results)];
        charts.extend(overlap::charts(study, rated, &results));
        Finding {
            question: QUESTION.name,
            asked: QUESTION.asked.to_owned(),
            answer: words::answer(&standing),
            more: self.more(&results, &standing, p_spread),
            caveats: self.caveats(adjusted, options),
            charts,
            tables: show::tables(&results, options.adjusted),
            method: self.method(options),
            used: (rated.score.len(), "reeds"),
            left_out,
            section: Section::Lots(LotsSection {
                overall: Some(standing.overall).filter(|overall| overall.is_finite()),
                share_between: Some(estimated(standing.share_between)),
                sd_between: Some(fitted.fit.sd_group),
                sd_within: Some(fitted.fit.sd_residual),
                icc: Some(fitted.fit.intraclass_correlation()),
                p_spread,
                list: results,
            }),
        }
    }

    /// Test of whether the lots' reeds are equally even; none where no lot has three.
    fn p_spread(&self) -> Option<f64> {
        let test = spread_test(&self.rated.score, &self.rated.lot, SpreadCentre::Median);
        test.ok().map(|test| test.p_value()).filter(|p| p.is_finite())
    }

    fn more(
        &self,
        results: &[LotResult],
        standing: &words::Standing,
        p_spread: Option<f64>,
    ) -> Vec<String> {
        let mut more: Vec<String> = self.lucky(results).into_iter().collect();
        let named = [&standing.better, &standing.worse, &standing.buy, &standing.avoid];
        let named: BTreeSet<&String> = named.into_iter().flatten().collect();
        let too_few = standing.rated_lots < words::FEWEST_TO_RANK;
        let stands_out = |lot: &&LotResult| too_few || named.contains(&lot.lot);
        more.extend(results.iter().filter(stands_out).map(|result| result.sentence.clone()));
        more.extend(p_spread.and_then(|p| words::evenness(results, p)));
        more
    }

    fn caveats(&self, adjusted: Option<&Adjusted>, options: &Options) -> Vec<String> {
        let makers = self.study.labels("maker").levels.len();
        let mut caveats = words::caveats(self.scores.leniency.len(), makers);
        caveats.extend(self.scores.caveat.clone());
        caveats.extend(words::unknown(self.good.unknown));
        if options.adjusted {
            caveats.push(match adjusted {
                Some(adjusted) => words::taken_out(&adjusted.taken_out, adjusted.reeds),
                None => words::NOTHING_TAKEN_OUT.to_owned(),
            });
        }
        caveats
    }

    fn method(&self, options: &Options) -> Method {
        let score = crate::words::factors::score(self.scores.leniency.len());
        Method {
            model: words::model(self.fitted.ratings, self.fitted.draws, score),
            assumptions: words::assumptions(self.fitted.ratings),
            sources: words::sources(),
            seed: Some(options.seed),
        }
    }

    /// Which lots lie wholly on one side of the average of all, and what to do about them.
    fn standing(&self, results: &[LotResult]) -> words::Standing {
        let names = |chosen: &dyn Fn(&LotResult) -> bool| -> Vec<String> {
            results.iter().filter(|lot| chosen(lot)).map(|lot| lot.lot.clone()).collect()
        };
        let of =
            |lot: &LotResult| self.rated.code(&lot.lot).and_then(|code| self.fitted.of_lot(code));
        let lies = |side: fn(&Pooled) -> bool| names(&|lot| of(lot).is_some_and(side));
        let advised = |advice: &str| names(&|lot| lot.advice.as_deref() == Some(advice));
        let above = lies(|lot| lot.apart.0 > 0.0);
        let below = lies(|lot| lot.apart.1 < 0.0);
        let is_higher = self.study.outcome().better == Better::Higher;
        let (better, worse) = if is_higher { (above, below) } else { (below, above) };
        words::Standing {
            better,
            worse,
            buy: advised(words::BUY_AGAIN),
            avoid: advised(words::AVOID),
            overall: self.fitted.average(),
            share_between: self.fitted.share_between,
            boundary: self.fitted.fit.at_boundary,
            rated_lots: results.iter().filter(|lot| lot.rated > 0).count(),
        }
    }

    /// The lot with the best plain mean, where that mean rests on at most half as many reeds as the middle lot has.
    fn lucky(&self, results: &[LotResult]) -> Option<String> {
        let rated: Vec<&LotResult> = results.iter().filter(|lot| lot.rated > 0).collect();
        if rated.len() < words::FEWEST_TO_RANK {
            return None;
        }
        let sign = if self.study.outcome().better == Better::Higher { 1.0 } else { -1.0 };
        let value = |lot: &&LotResult| sign * lot.raw_mean.unwrap_or(f64::NEG_INFINITY);
        let raw_best = rated.iter().copied().max_by(|a, b| value(a).total_cmp(&value(b)))?;
        let mut sizes: Vec<usize> = rated.iter().map(|lot| lot.rated).collect();
        sizes.sort_unstable();
        let is_small = 2 * raw_best.rated <= sizes[sizes.len() / 2]; // five sizes at least
        // the results come best first
        is_small.then(|| words::lucky(raw_best, results.first()?, self.fitted.average())).flatten()
    }
}
