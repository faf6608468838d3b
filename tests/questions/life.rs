//! How long reeds last: worked by hand, and published data mapped to a log.

use std::fs;
use std::path::Path;

use canewright::finding::{Hazard, LifeSection, LifeStep, LotLife, Section};
use canewright::study::Study;
use serde_json::Value;

use super::{answered, close, noise, reeds, refused, table};

fn life(study: &Study) -> LifeSection {
    match answered("life", study).section {
        Section::Life(section) => section,
        other => panic!("{other:?}"),
    }
}

fn at(section: &LifeSection, time: f64) -> &LifeStep {
    let steps = section.curve.iter().take_while(|step| step.t <= time);
    steps.last().expect("the curve begins at 0")
}

fn hazard<'a>(section: &'a LifeSection, name: &str) -> &'a Hazard {
    let found = section.hazards.iter().find(|hazard| hazard.factor == name);
    found.unwrap_or_else(|| panic!("{name} is not among {:?}", section.hazards))
}

fn lot<'a>(section: &'a LifeSection, name: &str) -> &'a LotLife {
    section.by_lot.iter().find(|lot| lot.lot == name).expect("the lot is told")
}

/// Hours with a plus where the reed goes on.
fn hours(lives: &[&str]) -> Study {
    let text = table("hours_played,fate", lives.len(), |row| match lives[row].strip_suffix('+') {
        Some(hours) => format!("{hours},in_use"),
        None => format!("{},worn_out", lives[row]),
    });
    reeds(&text, "")
}

/// A case of the published ones: its table's columns by name, and its values.
fn published(case: &str) -> (Vec<String>, Vec<Vec<String>>, Value) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(case);
    let text = fs::read_to_string(folder.join("data.csv")).expect("the case has data");
    let mut lines = text.lines().map(|line| line.split(',').map(str::to_owned).collect::<Vec<_>>());
    let head = lines.next().expect("a header");
    let expected = fs::read_to_string(folder.join("expected.json")).expect("the case has values");
    let expected: Value = serde_json::from_str(&expected).expect("JSON");
    (head, lines.collect(), expected["values"].clone())
}

/// The published lives as a log: weeks of remission stand for hours; `group` and `lot` are columns of the case that become the knife and the lot.
fn log_of(case: &str, ended: &str, group: &str, lot: Option<&str>, only: Option<&str>) -> Study {
    let (head, rows, _) = published(case);
    let place = |name: &str| head.iter().position(|known| known == name).expect("a column");
    let rows: Vec<&Vec<String>> =
        rows.iter().filter(|row| only.is_none_or(|only| row[place(group)] == only)).collect();
    let text = table("lot,knife,hours_played,fate", rows.len(), |row| {
        let cell = |name: &str| rows[row][place(name)].as_str();
        let fate = if cell(ended) == "1" { "worn_out" } else { "in_use" };
        // a name that begins with a digit could be read as a number
        let lot = lot.map_or(String::new(), |lot| format!("lot {}", cell(lot)));
        format!("{lot},with {},{},{fate}", cell(group), cell("time"))
    });
    reeds(&text, "[columns.knife]\nis = \"knife\"\nstage = \"profile\"\nkind = \"choice\"\n")
}

fn value(values: &Value, name: &str) -> f64 {
    values[name].as_f64().unwrap_or_else(|| panic!("no value {name}"))
}

/// Freireich et al. 1963, Blood 21, 699-716; the values of the case, whose recipe and versions stand beside them.
#[test]
fn the_remissions_under_6_mp_have_the_published_curve() {
    let values = published("survival_gehan_6mp").2;
    let section = life(&log_of("survival_gehan_6mp", "cens", "treat", None, Some("6-MP")));
    for time in [6.0, 7.0, 10.0, 13.0, 16.0, 22.0, 23.0] {
        close(at(&section, time).s, value(&values, &format!("mp_km_t{time}")), 1e-9, "the share");
    }
    assert_eq!((section.n, section.retired, section.censored), (21, 9, 12));
    assert_eq!(section.median, Some(value(&values, "mp_median")));
    // R 4.2.2, survival 3.5.3: survfit(Surv(time, cens) ~ 1, conf.type = "log-log") of the 6-MP rows gives 13 and no upper limit
    assert_eq!((section.median_low, section.median_high), (Some(13.0), None));
    assert!(
        section.sentence.contains("the log does not show how many more"),
        "{}",
        section.sentence
    );
}

#[test]
fn the_two_groups_of_remissions_as_lots_have_the_published_medians_and_log_rank() {
    let values = published("survival_gehan_6mp").2;
    let section = life(&log_of("survival_gehan_6mp", "cens", "treat", Some("treat"), None));
    assert_eq!(lot(&section, "lot 6-MP").median, Some(value(&values, "mp_median")));
    assert_eq!(lot(&section, "lot control").median, Some(value(&values, "ctl_median")));
    let differ = section.lots_differ.as_ref().expect("compared");
    close(differ.statistic, value(&values, "logrank_chisq"), 1e-6, "log-rank");
    // R 4.2.2, survival 3.5.3: survdiff gives chi-squared 16.8 on one degree of freedom, p 0.00004
    assert!(differ.df == 1.0 && differ.p <= 0.003, "{}", differ.p);
    assert!(differ.sentence.contains("more than chance gives"), "{}", differ.sentence);
    // the groups that lasted longest come first
    assert_eq!(section.by_lot[0].lot, "lot 6-MP");
}

#[test]
fn the_two_groups_of_remissions_over_all_reeds_have_the_published_hazard_ratio() {
    let values = published("survival_gehan_6mp").2;
    let section = life(&log_of("survival_gehan_6mp", "cens", "treat", None, None));
    let knife = hazard(&section, "knife");
    assert_eq!(
        (knife.level.as_deref(), knife.scope.as_str()),
        (Some("with control"), "over all reeds")
    );
    let (b, se) = (value(&values, "cox_b_trt"), value(&values, "cox_se_trt"));
    close(knife.ratio.expect("fitted"), (-b).exp(), 1e-5, "hazard ratio");
    close(knife.low.expect("an end"), (-b - 1.959_964 * se).exp(), 1e-4, "lower end");
    close(knife.high.expect("an end"), (-b + 1.959_964 * se).exp(), 1e-3, "upper end");
    assert!(knife.verdict.stands_out());
    assert!(knife.sentence.contains("lasted less long"), "{}", knife.sentence);
}

/// Freireich et al. 1963: of the 21 pairs the child under 6-MP stayed longer in remission in 18. Within a pair only who ends first tells, so the ratio is 18 to 3
/// and the error of its logarithm the root of 1/18 + 1/3.
#[test]
fn the_pairs_of_remissions_as_lots_have_the_ratio_of_the_preferences() {
    let section = life(&log_of("survival_gehan_6mp", "cens", "treat", Some("pair"), None));
    let knife = hazard(&section, "knife");
    assert_eq!(knife.scope, "within lots");
    close(knife.ratio.expect("fitted"), 6.0, 1e-5, "hazard ratio");
    let reach = 1.959_964 * (1.0 / 18.0 + 1.0 / 3.0f64).sqrt();
    close(knife.low.expect("an end"), 6.0 * (-reach).exp(), 1e-4, "lower end");
    close(knife.high.expect("an end"), 6.0 * reach.exp(), 1e-3, "upper end");
}

/// Miller 1981, Survival Analysis: the maintained remissions of acute myelogenous leukaemia.
#[test]
fn the_maintained_remissions_have_the_published_curve_and_interval() {
    let values = published("survival_aml").2;
    let section = life(&log_of("survival_aml", "status", "x", None, Some("Maintained")));
    for time in [9.0, 13.0, 23.0, 31.0, 48.0] {
        close(at(&section, time).s, value(&values, &format!("maint_km_t{time}")), 1e-9, "share");
    }
    assert_eq!(section.median, Some(value(&values, "maint_median")));
    let step = at(&section, 23.0);
    close(step.low.expect("known"), value(&values, "maint_km_t23_loglog_lo"), 1e-6, "lower end");
    close(step.high.expect("known"), value(&values, "maint_km_t23_loglog_hi"), 1e-6, "upper end");
}

#[test]
fn both_groups_of_aml_have_the_published_log_rank_and_hazard_ratio() {
    let values = published("survival_aml").2;
    let differ = life(&log_of("survival_aml", "status", "x", Some("x"), None)).lots_differ;
    let differ = differ.expect("compared");
    close(differ.statistic, value(&values, "logrank_chisq"), 1e-6, "log-rank");
    // chi-squared says 0.065; as many deals say about as much
    assert!((0.03..0.11).contains(&differ.p), "{}", differ.p);
    assert!(differ.sentence.contains("may still differ"), "{}", differ.sentence);
    let section = life(&log_of("survival_aml", "status", "x", None, None));
    let knife = hazard(&section, "knife");
    // the larger group is the one that others are held against
    close(knife.ratio.expect("fitted").ln(), -value(&values, "cox_b_nonm"), 1e-5, "log ratio");
}

/// At risk 5, 4 and 2: 4/5, then 3/5, then half of it.
#[test]
fn a_hand_worked_curve_is_met() {
    let section = life(&hours(&["1", "2", "3+", "4", "5+"]));
    let told: Vec<(f64, usize, usize)> =
        section.curve.iter().map(|step| (step.t, step.at_risk, step.retired)).collect();
    assert_eq!(told, [(0.0, 5, 0), (1.0, 5, 1), (2.0, 4, 1), (4.0, 2, 1)]);
    for (time, share) in [(0.5, 1.0), (1.0, 0.8), (3.0, 0.6), (4.5, 0.3)] {
        close(at(&section, time).s, share, 1e-12, "share");
    }
    assert_eq!((section.median, section.unit.as_str()), (Some(4.0), "hours"));
    // up to 3 hours, at which three are at risk: 1 + 0.8 + 0.6; two ends before it show no error
    assert_eq!(section.restricted_mean, None);
}

/// Up to 5 hours, at which three are at risk: 1 + 6/7 + 5/7 + 4/7 + 3/7.
#[test]
fn a_hand_worked_mean_life_is_met() {
    let section = life(&hours(&["1", "2", "3", "4", "5", "6", "7"]));
    assert_eq!(section.restricted_to, Some(5.0));
    close(section.restricted_mean.expect("told"), 25.0 / 7.0, 1e-12, "mean");
    // min(T, 5) is 1, 2, 3, 4 and three times 5, whose variance over n is that of Greenwood; four ends give the factor 4/3
    let squares: f64 =
        [1.0, 2.0, 3.0, 4.0, 5.0, 5.0, 5.0f64].iter().map(|t| (t - 25.0 / 7.0).powi(2)).sum();
    let error = (squares / 7.0 / 7.0 * 4.0 / 3.0).sqrt();
    let low = section.restricted_mean_low.expect("told");
    close(low, 25.0 / 7.0 - 1.959_964 * error, 1e-6, "lower end");
    // a mean up to 5 hours is not above 5
    close(
        section.restricted_mean_high.expect("told"),
        (25.0 / 7.0 + 1.959_964 * error).min(5.0),
        1e-6,
        "upper end",
    );
}

#[test]
fn without_a_reed_worn_out_no_life_is_told() {
    let section = life(&hours(&["3+", "9+", "12+", "4+", "7+", "22+"]));
    assert_eq!((section.retired, section.median, section.quartile), (0, None, None));
    assert_eq!((section.restricted_mean, section.curve.len()), (None, 1));
    assert!(
        section.sentence.contains("No reed is worn out yet") && section.sentence.contains("22")
    );
    assert!(section.renewal.is_none() && section.lots_differ.is_none());
}

#[test]
fn a_median_that_was_not_reached_is_null_and_a_quarter_is_told_instead() {
    let lives: Vec<String> =
        (1..=20).map(|row| if row <= 7 { row.to_string() } else { "30+".to_owned() }).collect();
    let section = life(&hours(&lives.iter().map(String::as_str).collect::<Vec<_>>()));
    assert_eq!((section.median, section.median_high), (None, None));
    assert_eq!(section.quartile, Some(5.0));
    for told in ["not known yet", "One in four was worn out by 5", "20 reeds, 7 of them"] {
        assert!(section.sentence.contains(told), "{}", section.sentence);
    }
}

#[test]
fn reeds_that_all_wore_out_at_the_same_hour_have_that_life_and_no_spread() {
    let section = life(&hours(&["8"; 6]));
    // where the curve falls to 0 at once its band has no upper end
    assert_eq!((section.median, section.median_high), (Some(8.0), None));
    assert_eq!(section.restricted_mean, None);
    assert!(
        section.sentence.contains("worn out by 8 hours of playing, the log"),
        "{}",
        section.sentence
    );
}

#[test]
fn too_few_reeds_are_refused() {
    for lives in [&["5"][..], &["5", "9+", "3", "7"][..]] {
        let refusal = refused("life", &hours(lives));
        assert!(
            refusal.found.contains("tell") && refusal.takes.contains("It takes five"),
            "{refusal}"
        );
    }
    let none = refused("life", &reeds(&table("fate,rating", 9, |_| "in_use,12".to_owned()), ""));
    assert!(none.found.contains("none has hours"), "{none}");
}

#[test]
fn a_log_without_a_word_on_what_became_of_any_reed_is_refused() {
    let study = reeds(&table("hours_played", 9, |row| format!("{}", row + 1)), "");
    assert!(refused("life", &study).found.contains("no column that could"));
}

/// Used and left out make up the log.
#[test]
fn what_has_no_life_is_left_out_and_said() {
    let lines = [
        "0,in_use,",
        ",in_use,",
        "0,worn_out,",
        ",spoiled,form",
        ",spoiled,play",
        "4,spoiled,play",
        ",unfinished,",
        ",given_away,",
        "6,",
        "9,lost,",
    ];
    let text = table("hours_played,fate,spoiled_at", 16, |row| match lines.get(row) {
        Some(line) if line.matches(',').count() == 1 => format!("{line},"),
        Some(line) => (*line).to_owned(),
        None => format!("{row},worn_out,"),
    });
    let finding = answered("life", &reeds(&text, ""));
    let out = |why: &str| {
        finding.left_out.iter().find(|out| out.why.contains(why)).map_or(0, |out| out.n)
    };
    assert_eq!(out("not played yet"), 2);
    assert_eq!(out("how many hours"), 2);
    assert_eq!(out("at no hours"), 1);
    assert_eq!((out("before the first note"), out("unfinished")), (1, 1));
    let left_out: usize = finding.left_out.iter().map(|out| out.n).sum();
    assert_eq!((finding.used.0, finding.used.0 + left_out), (9, 16));
    let Section::Life(section) = finding.section else { panic!("another section") };
    assert_eq!(
        (section.n, section.retired, section.spoiled_in_play, section.censored),
        (9, 7, 1, 2)
    );
    let told = finding.caveats.join(" ");
    assert!(told.contains("1 reed was spoiled while playing; it counts as worn out"), "{told}");
}

/// Hours are missing for most, so days count. A reed that was playing before the log began is watched from its 60th day on.
#[test]
fn days_serve_where_hours_are_missing_and_count_a_reed_from_when_the_log_began() {
    let text = table("started_on,first_played,last_played,hours_played,fate", 9, |row| match row {
        0 => ",2023-11-02,2024-01-31,,worn_out".to_owned(),
        1 => "2024-01-01,2024-01-11,2024-02-10,9,worn_out".to_owned(),
        2 => "2024-01-01,2024-01-11,,,in_use".to_owned(),
        _ => format!("2024-01-02,2024-01-11,2024-02-{:02},,worn_out", 11 + row),
    });
    let finding = answered("life", &reeds(&text, ""));
    let late = "already playing before the log began";
    assert!(finding.caveats.iter().any(|told| told.contains(late)), "{:?}", finding.caveats);
    let Section::Life(section) = finding.section else { panic!("another section") };
    assert_eq!((section.unit.as_str(), section.n), ("days", 9));
    // at 30 days eight are at risk: the reed of the year before came under watch at 60 days
    let first = &section.curve[1];
    assert_eq!((first.t, first.at_risk, first.retired), (30.0, 8, 1));
    assert_eq!(section.curve.last().map(|step| step.t), Some(90.0));
}

/// One of them is older than the log, so that all come under watch at a time of their own; half a day is after the beginning.
#[test]
fn reeds_played_on_one_day_alone_count_half_a_day() {
    let text = table("started_on,first_played,last_played,fate", 8, |row| match row {
        0 => ",2023-12-01,2024-01-31,worn_out".to_owned(),
        1..4 => "2024-01-01,2024-01-11,2024-01-11,worn_out".to_owned(),
        _ => format!("2024-01-02,2024-01-11,2024-02-{:02},worn_out", 11 + row),
    });
    let section = life(&reeds(&text, ""));
    let first = &section.curve[1];
    assert_eq!((first.t, first.at_risk, first.retired, section.n), (0.5, 7, 3, 8));
}

#[test]
fn where_hours_are_counted_a_reed_of_before_the_log_is_left_out() {
    let text = table("started_on,first_played,hours_played,fate", 8, |row| match row {
        0 => ",2023-06-01,40,worn_out".to_owned(),
        _ => format!("2024-01-01,2024-01-11,{},worn_out", row + 5),
    });
    let finding = answered("life", &reeds(&text, ""));
    assert_eq!(finding.used.0, 7);
    assert_eq!(finding.left_out[0].why, "already playing before the log began");
}

/// Forty reeds of eight lots whose life grows with the density, in the order of the file and in another.
fn dense(order: impl Fn(usize) -> usize) -> Study {
    let mut text = "reed,lot,density_g_cm3,hours_played,fate\n".to_owned();
    for row in (0..64).map(order) {
        let density = 0.50 + 0.06 * noise(row, 1);
        let hours = (20.0 + 150.0 * (density - 0.5) + 4.0 * noise(row, 2)).max(1.0);
        let fate = if row % 5 == 0 { "in_use" } else { "worn_out" };
        text += &format!("{row},L{},{density:.3},{hours:.1},{fate}\n", row % 8);
    }
    reeds(&text, "")
}

#[test]
fn a_density_that_goes_with_longer_life_is_told_with_its_direction() {
    let finding = answered("life", &dense(|row| row));
    let Section::Life(section) = &finding.section else { panic!("another section") };
    let density = hazard(section, "density_g_cm3");
    assert!(density.high.expect("fitted") < 1.0 && density.verdict.stands_out(), "{density:?}");
    assert!(density.sentence.contains("lasted longer"), "{}", density.sentence);
    assert!(finding.answer.contains("a longer life"), "{}", finding.answer);
    let told = [finding.more.join(" "), finding.answer.clone()].join(" ");
    for word in ["because", "makes", "improves", "significant", "no difference", "p ="] {
        assert!(!told.contains(word), "{word}: {told}");
    }
}

#[test]
fn the_order_of_the_rows_does_not_count() {
    let (one, other) = (life(&dense(|row| row)), life(&dense(|row| (row * 37 + 5) % 64)));
    assert_eq!(one.curve, other.curve);
    assert_eq!(one.by_lot, other.by_lot);
    assert_eq!(one.lots_differ, other.lots_differ);
    let ratio = |section: &LifeSection| hazard(section, "density_g_cm3").ratio.expect("fitted");
    close(ratio(&one), ratio(&other), 1e-9, "ratio");
}

#[test]
fn a_factor_that_each_lot_has_its_own_of_is_tangled_and_told_over_all_reeds() {
    let text = table("lot,hardness,hours_played,fate", 72, |row| {
        let lot = row % 9;
        let hours = 12.0 + 4.0 * noise(row, 1) + lot as f64 * 0.2;
        format!("L{lot},{},{hours:.1},worn_out", 10 + lot)
    });
    let section = life(&reeds(&text, ""));
    let hardness = hazard(&section, "hardness");
    assert_eq!(hardness.scope, "over all reeds");
    assert_eq!(hardness.df, Some(7.0));
    assert!(hardness.sentence.contains("tangled"), "{}", hardness.sentence);
}

/// Twelve pieces with a known end, of which nine are good; lives in days are the same 40 for two and otherwise spread about it.
#[test]
fn keeping_reeds_playing_follows_little_s_law() {
    let text = table("started_on,first_played,last_played,hours_played,fate,rating", 24, |row| {
        let rating = if row % 4 == 0 { 8 } else { 15 };
        let days = 31 + row / 2;
        let last = if days < 31 {
            format!("2024-03-{days:02}")
        } else {
            format!("2024-04-{:02}", days - 30)
        };
        format!("2024-02-20,2024-03-01,{last},{},worn_out,{rating}", 5 + row)
    });
    let section = life(&reeds(&text, ""));
    let renewal = section.renewal.expect("told");
    close(renewal.share_good, 0.75, 1e-12, "share");
    assert_eq!((renewal.keep, renewal.unit.as_str()), (3, "pieces a month"));
    let expected = 3.0 * 30.436_875 / renewal.mean_life / 0.75;
    close(renewal.pace, expected, 1e-9, "pace");
    assert!(renewal.pace_low < renewal.pace && renewal.pace < renewal.pace_high);
    assert!((30.0..42.0).contains(&renewal.mean_life), "{}", renewal.mean_life);
    assert!(renewal.sentence.contains("pieces started a month"), "{}", renewal.sentence);
}

#[test]
fn names_of_lots_that_would_steer_a_page_are_told_harmless() {
    let lots = ["<script>alert(1)</script>", "=1+1", "\u{1b}[31mred", "endless "];
    let text = table("lot,hours_played,fate", 48, |row| {
        let lot = if row % 4 == 3 { lots[3].repeat(1_000) } else { lots[row % 4].to_owned() };
        format!("\"{lot}\",{},worn_out", 1 + (row % 4) * 9 + row / 4)
    });
    let finding = answered("life", &reeds(&text, ""));
    let told = [finding.more.join(" "), finding.answer].join(" ");
    assert!(!told.contains('\u{1b}') && told.len() < 3_000, "{told}");
}
