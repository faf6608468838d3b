//! What has changed since the last review?
//!
//! The earlier `results.json` is held against the present results by its keys: what has come to the log, which verdicts, recommendations and advice read
//! otherwise, and whether the two were judged alike at all. Nothing is tested: a verdict that changed is more data, chance or a changed habit, and the sentence
//! does not say which.

use serde_json::Value;

use crate::finding::{ChangedAnswer, FactorResult, LotResult, Results, Since};
use crate::words::decide::{plain_value, recommendation};
use crate::words::since::{self as words, Grown};

/// Holds the present results against an earlier `results.json`.
pub fn since(now: &Results, earlier: &Value) -> Since {
    let grown = Grown {
        last_day: text(&earlier["log"]["last_day"]),
        more_pieces: more(now.log.pieces, &earlier["log"]["pieces"]),
        more_reeds: more(now.log.reeds, &earlier["log"]["reeds"]),
        new_lots: new_lots(now, earlier),
    };
    let settings = changed_settings(now, earlier);
    let mut changes = Vec::new();
    changes.extend(changed_factors(now, earlier));
    changes.extend(changed_decisions(now, earlier));
    changes.extend(changed_lots(now, earlier));
    let sentences = words::sentences(&grown, &settings, &changes);
    changes.splice(0..0, settings);
    let Grown { last_day, more_pieces, more_reeds, new_lots } = grown;
    Since { last_day, more_pieces, more_reeds, new_lots, changes, sentences }
}

fn text(value: &Value) -> Option<String> {
    value.as_str().map(str::to_owned)
}

fn more(now: usize, before: &Value) -> i64 {
    let now = i64::try_from(now).unwrap_or(i64::MAX);
    now.saturating_sub(before.as_i64().unwrap_or(0))
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn lots(now: &Results) -> &[LotResult] {
    now.lots.as_ref().map_or(&[], |section| section.list.as_slice())
}

/// Lots that only the present results name; none where the earlier review did not ask about lots.
fn new_lots(now: &Results, earlier: &Value) -> Vec<String> {
    let before = list(&earlier["lots"]["list"]);
    let is_new = |lot: &&LotResult| !before.iter().any(|known| known["lot"] == lot.lot.as_str());
    if before.is_empty() {
        return Vec::new();
    }
    lots(now).iter().filter(is_new).map(|lot| lot.lot.clone()).collect()
}

/// Settings that decide what is good and what is worth having.
fn changed_settings(now: &Results, earlier: &Value) -> Vec<ChangedAnswer> {
    let settings = &now.settings;
    let number = |key: &str, value: f64| {
        let before = earlier["settings"][key].as_f64()?;
        let differs = (before - value).abs() > 1e-9 * value.abs().max(1.0);
        differs.then(|| changed("settings", key, words::shown(before), words::shown(value)))
    };
    let word = |key: &str, value: &str| {
        let before = text(&earlier["settings"][key])?;
        (before != value).then(|| changed("settings", key, before, value.to_owned()))
    };
    [
        number("good_at", settings.good_at),
        number("worthwhile", settings.worthwhile),
        word("outcome", &settings.outcome),
        word("settled", &settings.settled),
        word("best", &settings.best),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn changed(question: &str, about: &str, before: String, now: String) -> ChangedAnswer {
    ChangedAnswer { question: question.to_owned(), about: about.to_owned(), before, now }
}

fn changed_factors(now: &Results, earlier: &Value) -> Vec<ChangedAnswer> {
    let before = list(&earlier["factors"]["list"]);
    let factors = now.factors.as_ref().map_or(&[][..], |section| section.list.as_slice());
    let was = |result: &FactorResult| {
        let is_same = |known: &&Value| {
            known["factor"] == result.factor.as_str()
                && known["level"].as_str() == result.level.as_deref()
                && known["reference"].as_str() == result.reference.as_deref()
        };
        before.iter().find(is_same).and_then(|known| text(&known["verdict"]))
    };
    let changed_verdict = |result: &FactorResult| {
        let (before, now) = (was(result)?, result.verdict.word());
        let about = words::factor(&result.factor, result.level.as_deref());
        (before != now).then(|| changed("factors", &about, before, now.to_owned()))
    };
    factors.iter().filter_map(changed_verdict).collect()
}

fn changed_decisions(now: &Results, earlier: &Value) -> Vec<ChangedAnswer> {
    let before = list(&earlier["decide"]);
    let decisions = now.decide.as_deref().unwrap_or_default();
    let changed_advice = |result: &crate::finding::DecisionResult| {
        let known = before.iter().find(|known| known["factor"] == result.factor.as_str())?;
        let to = match &known["to"] {
            Value::String(kind) => Some(kind.clone()),
            Value::Number(number) => number.as_f64().map(words::shown),
            _ => None,
        };
        let before = words::advice(known["recommendation"].as_str()?, to.as_deref());
        let to = result.to.as_ref().map(plain_value);
        let now = words::advice(recommendation(result.recommendation), to.as_deref());
        (before != now).then(|| changed("decide", &result.factor, before, now))
    };
    decisions.iter().filter_map(changed_advice).collect()
}

fn changed_lots(now: &Results, earlier: &Value) -> Vec<ChangedAnswer> {
    let before = list(&earlier["lots"]["list"]);
    let changed_advice = |lot: &LotResult| {
        let known = before.iter().find(|known| known["lot"] == lot.lot.as_str())?;
        let (before, now) = (text(&known["advice"]), lot.advice.clone());
        let shown = |advice: Option<String>| advice.unwrap_or_else(|| words::NOT_RANKED.to_owned());
        (before != now).then(|| changed("lots", &lot.lot, shown(before), shown(now)))
    };
    lots(now).iter().filter_map(changed_advice).collect()
}
