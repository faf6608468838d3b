//! Sentences about where pieces are lost.

pub mod factors;
pub mod worth;

use super::digits::{count, percent, plural};
use super::lists::{and, name};
use super::stages::doing;
use crate::finding::{Interval, LossReason, StageResult};

/// One sentence: how many are lost, and where most of them.
pub fn answer(stages: &[StageResult], spoiled: usize, pieces: usize, share: Interval) -> String {
    if spoiled == 0 {
        return format!(
            "None of the {} is marked as spoiled; the share lost may still be up to {}.",
            plural(pieces, "piece", "pieces"),
            percent(share.high)
        );
    }
    let opening = format!(
        "{} of {} {} spoiled, {} ({} to {})",
        count(spoiled),
        plural(pieces, "piece", "pieces"),
        if spoiled == 1 { "was" } else { "were" },
        percent(share.estimate),
        percent(share.low),
        percent(share.high)
    );
    match worst(stages) {
        Some(stage) if stage.lost == spoiled => {
            format!("{opening}, {}while {}.", all(spoiled), doing(stage.stage))
        }
        Some(stage) => format!(
            "{opening}; {} took the most, {} of the {} that came to it.",
            doing(stage.stage),
            count(stage.lost),
            count(stage.entered)
        ),
        None if stages.is_empty() => format!("{opening}; the log does not say at which stage."),
        None => format!("{opening}; no one stage took the most."),
    }
}

fn all(spoiled: usize) -> &'static str {
    match spoiled {
        1 => "",
        2 => "both ",
        _ => "all ",
    }
}

/// The stage that lost the most pieces; none where two lost the same number or nothing was lost.
fn worst(stages: &[StageResult]) -> Option<&StageResult> {
    let most = stages.iter().map(|stage| stage.lost).max().filter(|lost| *lost > 0)?;
    let mut worst = stages.iter().filter(|stage| stage.lost == most);
    let first = worst.next()?;
    worst.next().is_none().then_some(first)
}

/// One sentence for each stage that lost pieces, with the reasons.
pub fn more(stages: &[StageResult]) -> Vec<String> {
    stages
        .iter()
        .filter(|stage| stage.lost > 0)
        .map(|stage| {
            format!(
                "While {}: {} of {} lost, {} ({} to {}); {}.",
                doing(stage.stage),
                count(stage.lost),
                count(stage.entered),
                percent(stage.share),
                percent(stage.low),
                percent(stage.high),
                reasons(&stage.by)
            )
        })
        .collect()
}

/// So many reasons are named.
const REASONS_SHOWN: usize = 4;

/// `9 cracked and 2 warped`; of many reasons the commonest, and how many pieces the others took.
pub fn reasons(by: &[LossReason]) -> String {
    let told = |by: &LossReason| format!("{} {}", count(by.n), reason(&by.reason));
    if by.len() <= REASONS_SHOWN + 1 {
        return and(&by.iter().map(told).collect::<Vec<_>>());
    }
    let (shown, rest) = by.split_at(REASONS_SHOWN);
    let pieces: usize = rest.iter().map(|by| by.n).sum();
    let mut parts: Vec<String> = shown.iter().map(told).collect();
    parts.push(format!("{} for {} other reasons", count(pieces), count(rest.len())));
    and(&parts)
}

/// A reason as it stands in a sentence.
pub fn reason(reason: &str) -> String {
    match reason {
        "other" => "for another reason".to_owned(),
        "no reason given" => "without a reason given".to_owned(),
        known => name(&known.replace('_', " ")),
    }
}

/// What these numbers cannot say.
pub fn caveats(without_stage: usize, spoiled: usize) -> Vec<String> {
    match without_stage {
        0 => Vec::new(),
        all if all == spoiled => {
            vec![
                "No spoiled piece has its stage in the log, so the stages cannot be told apart."
                    .to_owned(),
            ]
        }
        some => vec![format!(
            "{some} of the {spoiled} spoiled pieces {} no stage in the log and count at none of them, so the shares of \
             the stages are too low.",
            if some == 1 { "has" } else { "have" }
        )],
    }
}

/// The picture in words.
pub fn description(stages: &[StageResult]) -> String {
    let parts = stages.iter().map(|stage| {
        format!("{} {} of {}", doing(stage.stage), count(stage.lost), count(stage.entered))
    });
    format!("Pieces lost of those that came to each stage: {}.", and(&parts.collect::<Vec<_>>()))
}

/// How the picture is read.
pub const READING: &str = "Each row is a stage of the making. The bar is the share of the pieces that came to the stage and \
                           were lost there; the line is the range that this share may well have, given so few pieces.";

#[cfg(test)]
mod tests {
    use super::*;

    /// The first of so many reasons took 20 pieces, each of the others one.
    fn told(count: usize) -> String {
        let reason = |at: usize| LossReason {
            reason: format!("cause_{at}"),
            n: if at == 0 { 20 } else { 1 },
        };
        reasons(&(0..count).map(reason).collect::<Vec<_>>())
    }

    #[test]
    fn one_or_five_reasons_are_named_and_of_forty_the_commonest() {
        assert_eq!(told(1), "20 cause 0");
        assert_eq!(told(5), "20 cause 0, 1 cause 1, 1 cause 2, 1 cause 3 and 1 cause 4");
        assert_eq!(
            told(40),
            "20 cause 0, 1 cause 1, 1 cause 2, 1 cause 3 and 36 for 36 other reasons"
        );
    }
}
