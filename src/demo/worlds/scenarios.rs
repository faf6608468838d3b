//! The worlds in which a naive answer goes wrong, and the plain ones beside them.
//!
//! Unless said otherwise: 12 lots of 12 or 13 pieces, 150 in all, over fourteen months; reeds of a lot scatter by 1 point, lots by 0.6, ratings by 0.7;
//! the maker rates every reed and a kinder friend two in five; skill grows by 0.05 points a month; one piece in ten cracks on the pin. So an effect
//! in points is one in standard deviations of a reed. All of it is invented.

use super::super::entries::Step;
use super::world::{Bend, FRIEND, Factor, Follows, Loss, MAKER, Player, World};

/// A world and what it is called.
#[derive(Debug, Clone, Copy)]
pub struct Scenario {
    pub name: &'static str,
    pub world: fn() -> World,
}

/// Every scenario of this module.
pub const ALL: [Scenario; 43] = [
    scenario("identified", identified),
    scenario("nothing matters", nothing_matters),
    scenario("nothing matters, 15 factors", || nothing_among(15)),
    scenario("nothing matters, 30 factors", || nothing_among(30)),
    scenario("by way of later", by_way_of_later),
    scenario("the same directly", the_same_directly),
    scenario("follows what matters", follows_what_matters),
    scenario("follows what matters, few reeds", follows_what_matters_few),
    scenario("assigned by lot quality", assigned_by_lot_quality),
    scenario("fixed by lot", fixed_by_lot),
    scenario("spoils the weak", || spoils_the_weak(0.0)),
    scenario("spoils the weak and harms", || spoils_the_weak(-0.1)),
    scenario("spoils alike", spoils_alike),
    scenario("lots are alike", || lots_differ(0.0)),
    scenario("lots differ by 0.3", || lots_differ(0.3)),
    scenario("lots differ by 0.6", || lots_differ(0.6)),
    scenario("lots differ by 1.0", || lots_differ(1.0)),
    scenario("read with error", read_with_error),
    scenario("skill and habits move together", skill_and_habits_move),
    scenario("season", season),
    scenario("a lenient player comes late", lenient_player_comes),
    scenario("empty cells", empty_cells),
    scenario("sweet spot inside", || sweet_spot(Bend { best: 0.3, lost: 0.4 })),
    scenario("sweet spot outside", || sweet_spot(Bend { best: 3.5, lost: 0.08 })),
    scenario("12 reeds in 3 lots", || few(&[4, 4, 4])),
    scenario("one lot only", || few(&[40])),
    scenario("every reed its own lot", || few(&[1; 40])),
    scenario("one player", one_player),
    scenario("a factor with one level", one_level),
    scenario("30 factors and 60 reeds", thirty_factors_sixty_reeds),
    scenario("forming time, free of the lots", forming_free),
    scenario("forming time, tangled with the lots", forming_tangled),
    scenario("forming time, better lots formed longer", forming_confounded),
    scenario("forming time, nothing to gain", forming_idle),
    scenario("forming time, best as it is", forming_best_already),
    scenario("forming time, longer spoils more", forming_spoils),
    scenario("forming time, its own for each lot and harmful", forming_harmful_by_lot),
    scenario("forming time, better lots formed longer and harmed", forming_confounded_harm),
    scenario("forming time, a small log", forming_few),
    scenario("forming time, a little to gain", forming_little),
    scenario("a choice of three kinds", three_kinds),
    scenario("all pieces lost", all_lost),
    scenario("no piece lost", none_lost),
];

const fn scenario(name: &'static str, world: fn() -> World) -> Scenario {
    Scenario { name, world }
}

/// The scenario of that name.
pub fn find(name: &str) -> Option<Scenario> {
    ALL.into_iter().find(|scenario| scenario.name == name)
}

/// Columns of an invented workshop. The first ten stand at three steps.
const NAMES: [(&str, Step); 30] = [
    ("sheen", Step::Cane),
    ("grain", Step::Cane),
    ("heft", Step::Cane),
    ("bow", Step::Cane),
    ("glide", Step::Gouge),
    ("hollow", Step::Gouge),
    ("curl", Step::Gouge),
    ("snug", Step::Form),
    ("press", Step::Form),
    ("lean", Step::Form),
    ("waist", Step::Shape),
    ("flank", Step::Shape),
    ("slope", Step::Profile),
    ("pull", Step::Bind),
    ("gloss", Step::Finish),
    ("knots", Step::Cane),
    ("ripple", Step::Gouge),
    ("flare", Step::Shape),
    ("taper", Step::Shape),
    ("ridge", Step::Profile),
    ("shoulder", Step::Profile),
    ("valley", Step::Profile),
    ("grip", Step::Form),
    ("twist", Step::Bind),
    ("lacing", Step::Bind),
    ("wax", Step::Bind),
    ("burr", Step::Finish),
    ("chime", Step::Finish),
    ("whisper", Step::Finish),
    ("rasp", Step::Finish),
];
/// Correlation within lots of factors of the same step.
const SHARED: f64 = 0.3;

/// So many factors without effect.
fn idle(count: usize) -> Vec<Factor> {
    let factor =
        |&(name, at): &(&'static str, Step)| Factor { shared: SHARED, ..Factor::idle(name, at) };
    NAMES.iter().take(count).map(factor).collect()
}

/// The plain workshop with these factors.
fn workshop(factors: Vec<Factor>) -> World {
    World {
        lots: (0..12).map(|lot| 12 + (lot + 1) % 2).collect(),
        days: 425,
        base: 10.0,
        lot_sd: 0.6,
        reed_sd: 1.0,
        rating_sd: 0.7,
        trend: 0.05,
        season: 0.0,
        players: vec![MAKER, FRIEND],
        factors,
        loss: Loss::ONE_IN_TEN,
    }
}

/// The factor of that name, changed.
fn with(mut world: World, name: &str, change: impl Fn(&mut Factor)) -> World {
    world.factors.iter_mut().filter(|factor| factor.name == name).for_each(change);
    world
}

/// Ten factors, of which three matter: sheen 0.5 points a step, glide 0.3, snug -0.4. Those of a step are correlated 0.3 within lots; grain drifts with the
/// months, as skill does, and does nothing.
pub fn identified() -> World {
    let world = with(nothing_matters(), "sheen", |factor| factor.effect = 0.5);
    let world = with(world, "glide", |factor| factor.effect = 0.3);
    with(world, "snug", |factor| factor.effect = -0.4)
}

/// The same log without any effect.
pub fn nothing_matters() -> World {
    nothing_among(10)
}

/// So many factors, none of which matters; 30 at most.
pub fn nothing_among(factors: usize) -> World {
    with(workshop(idle(factors)), "grain", |factor| factor.drift = 0.1)
}

/// [`identified`], but skill grows by 0.3 points a month and grain, which does nothing, by a third of a step.
pub fn skill_and_habits_move() -> World {
    with(World { trend: 0.3, ..identified() }, "grain", |factor| factor.drift = 0.3)
}

/// [`identified`], but reeds are better by a point at the best time of the year and worse by one half a year on; grain, which does nothing, goes with it.
pub fn season() -> World {
    with(World { season: 1.0, ..identified() }, "grain", |factor| factor.with_season = 1.0)
}

/// [`identified`], rated by the maker in seven cases of ten, and from the middle of the log on also by a player who is kinder by two points.
pub fn lenient_player_comes() -> World {
    let kind = Player { kinder: 2.0, share: 0.7, comes: 0.5, ..FRIEND };
    World { players: vec![Player { share: 0.7, ..MAKER }, kind], ..identified() }
}

/// [`identified`] with one cell in eight of every measurement empty.
pub fn empty_cells() -> World {
    let mut world = identified();
    world.factors.iter_mut().for_each(|factor| factor.unread = 0.125);
    world
}

/// How the later measurement acts, and varies, in [`by_way_of_later`].
const LATER: Factor = Factor { effect: 0.625, within: 0.6, ..Factor::idle("gloss", Step::Finish) };
/// Steps of the later measurement for one of the early factor: with 0.625 points a step, 0.5 in all.
const ON_THE_WAY: f64 = 0.8;

/// Glide does nothing but by way of gloss, which is measured later: 0.5 points a step in all.
pub fn by_way_of_later() -> World {
    let follows = Some(Follows { earlier: "glide", steps: ON_THE_WAY });
    along_the_way(Factor::idle("glide", Step::Gouge), Factor { follows, ..LATER })
}

/// Glide has the 0.5 points of its own, and gloss does not follow it: the two worlds' glide and ratings cannot be told apart.
pub fn the_same_directly() -> World {
    let effect = ON_THE_WAY * LATER.effect;
    along_the_way(Factor { effect, ..Factor::idle("glide", Step::Gouge) }, LATER)
}

/// Glide does 0.5 points a step itself; gloss follows it and does nothing. Without glide in its model gloss seems to do 0.4 points a step.
pub fn follows_what_matters() -> World {
    let follows = Some(Follows { earlier: "glide", steps: ON_THE_WAY });
    let early = Factor { effect: 0.5, ..Factor::idle("glide", Step::Gouge) };
    along_the_way(early, Factor { follows, effect: 0.0, ..LATER })
}

/// [`follows_what_matters`] with six pieces a lot: too few reeds for many columns, and this one must not be left out.
pub fn follows_what_matters_few() -> World {
    World { lots: vec![6; 12], ..follows_what_matters() }
}

fn along_the_way(early: Factor, later: Factor) -> World {
    let others = idle(4).into_iter();
    workshop(others.chain([early, later]).collect())
}

/// Better lots were left on the pin longer, a week for a standard deviation; within lots the days vary by half a week and do nothing.
pub fn assigned_by_lot_quality() -> World {
    let days = Factor { with_quality: 1.0, between: 0.3, within: 0.5, ..Factor::forming_days() };
    workshop(idle(4).into_iter().chain([days]).collect())
}

/// Each lot has its own days on the pin; they do nothing.
pub fn fixed_by_lot() -> World {
    let days = Factor { between: 1.0, within: 0.0, ..Factor::forming_days() };
    workshop(idle(4).into_iter().chain([days]).collect())
}

/// More of snug cracks the weak pieces, so that those that are left play better, though snug does `effect` points a step to a piece. A quarter of
/// the pieces is lost.
pub fn spoils_the_weak(effect: f64) -> World {
    let snug = Factor { effect, spoils: 0.4, spoils_weak: 3.0, ..Factor::idle("snug", Step::Form) };
    let loss = Loss { log_odds: -1.5, weaker: 1.5, ..Loss::ONE_IN_TEN };
    World { loss, ..workshop(idle(4).into_iter().chain([snug]).collect()) }
}

/// More of snug cracks pieces, weak or not: 0.6 log odds a step. One piece in five or so is lost.
pub fn spoils_alike() -> World {
    let snug = Factor { spoils: 0.6, ..Factor::idle("snug", Step::Form) };
    let loss = Loss { log_odds: -1.5, ..Loss::ONE_IN_TEN };
    World { loss, ..workshop(idle(4).into_iter().chain([snug]).collect()) }
}

/// Ten lots of very unequal size that differ by this standard deviation, and nothing else that matters: no factor, no trend. Both players rate every reed.
pub fn lots_differ(sd: f64) -> World {
    let both = vec![MAKER, Player { share: 1.0, ..FRIEND }];
    World {
        lots: vec![12, 20, 3, 15, 8, 30, 5, 24, 12, 18],
        lot_sd: sd,
        trend: 0.0,
        players: both,
        loss: Loss { log_odds: -3.0, ..Loss::ONE_IN_TEN },
        ..workshop(idle(2))
    }
}

/// Heft is read with an error as large as its spread within lots: reliability 0.5. It does 0.5 points a true step, which is 0.25 a step of one reading. A
/// third of the pieces is read three times.
pub fn read_with_error() -> World {
    let heft = Factor {
        effect: 0.5,
        reading: 1.0,
        read_again: 1.0 / 3.0,
        shared: 0.0,
        ..Factor::idle("heft", Step::Cane)
    };
    let others = idle(10).into_iter().filter(|factor| factor.name != "heft");
    workshop(others.chain([heft]).collect())
}

/// A tip opening with a best value; a step is 0.1 mm.
pub fn sweet_spot(bend: Bend) -> World {
    let idle_one = Factor::idle("tip_opening_mm", Step::Finish);
    let opening =
        Factor { centre: 1.2, step: 0.1, lowest: 0.5, bend: Some(bend), between: 0.3, ..idle_one };
    workshop(idle(4).into_iter().chain([opening]).collect())
}

/// Too few lots or reeds for much: four factors, one of which matters a lot.
pub fn few(lots: &[usize]) -> World {
    let world = World { lots: lots.to_vec(), loss: Loss::NEVER, ..workshop(idle(4)) };
    with(world, "sheen", |factor| factor.effect = 1.0)
}

/// [`identified`] with nobody to rate but the maker.
pub fn one_player() -> World {
    World { players: vec![MAKER], ..identified() }
}

/// A number that never varies, a choice with one kind, and a choice with three kinds that matters.
pub fn one_level() -> World {
    let same = Factor { within: 0.0, between: 0.0, ..Factor::idle("pull", Step::Bind) };
    let one = Factor { kinds: &["plain"], ..Factor::idle("waist", Step::Shape) };
    let kinds = &["flat", "round", "steep"];
    let three = Factor { kinds, effect: 0.6, ..Factor::idle("slope", Step::Profile) };
    workshop(idle(4).into_iter().chain([same, one, three]).collect())
}

/// Six lots of ten, none lost, and thirty factors, of which sheen does 0.5 points a step.
pub fn thirty_factors_sixty_reeds() -> World {
    let world = World { lots: vec![10; 6], loss: Loss::NEVER, ..nothing_among(30) };
    with(world, "sheen", |factor| factor.effect = 0.5)
}

/// The values of forming time that are asked about, days.
const CANDIDATES: [f64; 4] = [14.0, 21.0, 28.0, 35.0];
/// Best one week above the habit: four weeks instead of three.
const BEST_LONGER: Bend = Bend { best: 1.0, lost: 0.3 };

fn forming(bend: Option<Bend>, within: f64, between: f64, with_quality: f64) -> World {
    let days = Factor {
        bend,
        within,
        between,
        with_quality,
        candidates: &CANDIDATES,
        ..Factor::forming_days()
    };
    workshop(idle(4).into_iter().chain([days]).collect())
}

/// Forming time is best at 28 days and varies freely within lots around 21.
pub fn forming_free() -> World {
    forming(Some(BEST_LONGER), 1.0, 0.3, 0.0)
}

/// The same best value, but each lot was formed for its own time.
pub fn forming_tangled() -> World {
    forming(Some(BEST_LONGER), 0.0, 1.0, 0.0)
}

/// Forming time does nothing, but better lots were formed longer, with hardly any difference within a lot.
pub fn forming_confounded() -> World {
    forming(None, 0.15, 0.3, 1.0)
}

/// Forming time does nothing and varies freely.
pub fn forming_idle() -> World {
    forming(None, 1.0, 0.3, 0.0)
}

/// Forming time is best as it is.
pub fn forming_best_already() -> World {
    forming(Some(Bend { best: 0.0, lost: 0.3 }), 1.0, 0.3, 0.0)
}

/// Longer forming cracks the weak pieces, so that what is left plays better, though it does nothing to a piece: the plain means of the reeds praise what costs
/// reeds.
pub fn forming_spoils() -> World {
    let loss = Loss { log_odds: -1.5, weaker: 1.0, ..Loss::ONE_IN_TEN };
    let world = World { loss, ..forming_idle() };
    with(world, "forming_days", |days| (days.spoils, days.spoils_weak) = (0.4, 1.0))
}

/// The twin of [`forming_tangled`]: each lot was formed for its own time and the better ones longer, so that the plain means rise with the days as they do
/// there; but every week takes 0.3 points.
pub fn forming_harmful_by_lot() -> World {
    with(forming(None, 0.0, 0.3, 1.0), "forming_days", |days| days.effect = -0.3)
}

/// [`forming_confounded`], but every week takes 0.2 points.
pub fn forming_confounded_harm() -> World {
    with(forming_confounded(), "forming_days", |days| days.effect = -0.2)
}

/// [`forming_free`] with 36 pieces of six lots.
pub fn forming_few() -> World {
    World { lots: vec![6; 6], ..forming_free() }
}

/// A slope of 0.15 points a week, and no best value within what was tried.
pub fn forming_little() -> World {
    with(forming_idle(), "forming_days", |days| days.effect = 0.15)
}

/// A choice among three kinds that go by 0.5 points each.
pub fn three_kinds() -> World {
    let kinds = &["flat", "round", "steep"];
    let slope = Factor { kinds, effect: 0.5, ..Factor::idle("slope", Step::Profile) };
    workshop(idle(4).into_iter().chain([slope]).collect())
}

/// Not one piece becomes a reed.
pub fn all_lost() -> World {
    let loss = Loss { log_odds: f64::INFINITY, ..Loss::NEVER };
    World { loss, ..few(&[10; 6]) }
}

/// [`identified`] without a loss.
pub fn none_lost() -> World {
    World { loss: Loss::NEVER, ..identified() }
}
