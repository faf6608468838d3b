//! A small log out of a few bytes: which columns there are and what fills them, who rated, what the study file says.

use arbitrary::Arbitrary;

/// Headers that canewright knows in every stage, some that it does not, and what a study file may ask for.
const HEADERS: [&str; 40] = [
    "tube",
    "maker",
    "started_on",
    "finished_on",
    "note",
    "tube_diameter_mm",
    "hardness",
    "density_g_cm3",
    "flex_mm",
    "gouge_center_mm",
    "gouge_edge_mm",
    "blade_mm",
    "length_mm",
    "tip_opening_mm",
    "scrape_min",
    "crow_hz",
    "forming_days",
    "forming_rh_pct",
    "soak_min",
    "wire_1_mm",
    "wrap",
    "sealant",
    "scoring",
    "shape",
    "shape_tip_mm",
    "overall",
    "response",
    "tone",
    "pitch",
    "hours_played",
    "first_played",
    "last_played",
    "fate",
    "spoiled_at",
    "spoiled_by",
    "anchor",
    "pieces_since_sharpening",
    "my_own",
    "profile_15_spine_mm",
    "price",
];
const FATES: [&str; 7] = ["in use", "retired", "cracked", "unfinished", "spoiled", "lost", ""];
const STAGES: [&str; 5] = ["gouge", "form", "bind", "finish", ""];
const ODD: [&str; 12] =
    ["", "n/a", "1e300", "-1e300", "1e-300", "0", "-0", "NaN", "inf", "1,5", "<b>", "=1+1"];
const PLAYERS: [&str; 3] = ["Ann", "Bob", "Cy"];
const MOST_ROWS: u8 = 48;

/// What fills a column.
#[derive(Debug, Arbitrary)]
enum Filling {
    Same(i16),
    Rising { from: i16, step: i8 },
    Noise { middle: i16, spread: u8 },
    Levels { count: u8, by_lot: bool },
    Words { count: u8 },
    Days { first: u16, step: i8 },
    Fates,
    Odd,
}

#[derive(Debug, Arbitrary)]
struct Column {
    header: u8,
    /// A power of ten, so that numbers come in every size.
    tenths: i8,
    /// Of 256 cells so many are empty.
    empty: u8,
    filling: Filling,
}

#[derive(Debug, Arbitrary)]
struct Ratings {
    /// Of 256 reeds so many are rated each time.
    share: u8,
    times: u8,
    players: u8,
    whole: bool,
    spread: u8,
    follows_first_column: bool,
    dated: bool,
    criteria: u8,
}

#[derive(Debug, Arbitrary)]
struct Settings {
    low: i8,
    width: u8,
    good_at: u8,
    worthwhile: u8,
    best_is_low: bool,
    target: Option<u8>,
    settled: u8,
    window: Option<u8>,
    candidates: Vec<i8>,
}

#[derive(Debug, Arbitrary)]
pub struct Log {
    rows: u8,
    lots: u8,
    chance: u64,
    columns: Vec<Column>,
    ratings: Option<Ratings>,
    settings: Option<Settings>,
    prices: bool,
    profile: Option<u8>,
    readings: Option<u8>,
    /// Cells that are put in word for word.
    cells: Vec<(u8, u8, String)>,
}

/// SplitMix64 (Steele, Lea & Flood 2014): the same bytes make the same log.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn below(&mut self, count: u64) -> u64 {
        self.next() % count.max(1)
    }

    fn happens(&mut self, of_256: u8) -> bool {
        self.below(256) < u64::from(of_256)
    }

    /// About normal: a sum of four evenly spread numbers, from -2 to 2.
    fn bell(&mut self) -> f64 {
        (0..4).map(|_| self.below(1 << 20) as f64 / f64::from(1 << 20) - 0.5).sum()
    }
}

impl Log {
    /// The files by name.
    pub fn files(&self) -> Vec<(&'static str, String)> {
        let mut chance = Chance(self.chance);
        let mut files = vec![("reeds.csv", self.reeds(&mut chance))];
        if let Some(ratings) = &self.ratings {
            files.push(("ratings.csv", self.ratings(ratings, &mut chance)));
        }
        if let Some(settings) = &self.settings {
            files.push(("study.toml", self.study(settings)));
        }
        if self.prices {
            let lots = (0..self.lots()).map(|lot| format!("L{lot},{},20\n", 10 * lot));
            files.push(("lots.csv", format!("lot,price_per_piece,pieces_bought\n{}", lots.collect::<String>())));
        }
        if let Some(stations) = self.profile {
            files.push(("profile.csv", self.profile(stations, &mut chance)));
        }
        if let Some(repeats) = self.readings {
            files.push(("readings.csv", self.readings(repeats, &mut chance)));
        }
        files
    }

    fn rows(&self) -> usize {
        usize::from(self.rows % MOST_ROWS)
    }

    fn lots(&self) -> usize {
        1 + usize::from(self.lots % 9)
    }

    fn lot(&self, row: usize) -> usize {
        row * self.lots() / self.rows().max(1)
    }

    fn reeds(&self, chance: &mut Chance) -> String {
        let columns: Vec<&Column> = self.columns.iter().take(8).collect();
        let headers =
            columns.iter().map(|column| HEADERS[usize::from(column.header) % HEADERS.len()]);
        let headers: Vec<&str> = ["reed", "lot"].into_iter().chain(headers).collect();
        let mut text = headers.join(",") + "\n";
        for row in 0..self.rows() {
            let mut cells = vec![row.to_string(), format!("L{}", self.lot(row))];
            for column in &columns {
                cells.push(column.cell(row, self.lot(row), chance));
            }
            for (_, column, word) in self.cells.iter().filter(|(at, ..)| usize::from(*at) == row) {
                let column = usize::from(*column) % cells.len();
                cells[column] = format!("\"{}\"", word.replace('"', "\"\""));
            }
            text += &(cells.join(",") + "\n");
        }
        text
    }

    fn ratings(&self, ratings: &Ratings, chance: &mut Chance) -> String {
        let [low, high] = self.scale();
        let criteria = ["overall", "response", "tone"];
        let criteria = &criteria[..1 + usize::from(ratings.criteria % 3)];
        let mut text = format!("reed,date,player,{}\n", criteria.join(","));
        for row in 0..self.rows() {
            for time in 0..1 + ratings.times % 4 {
                if !chance.happens(ratings.share.max(64)) {
                    continue;
                }
                let player = PLAYERS[chance.below(1 + u64::from(ratings.players % 3)) as usize];
                let day = if ratings.dated {
                    day(row as i64 * 3 + i64::from(time))
                } else {
                    String::new()
                };
                text += &format!("{row},{day},{player}");
                for _ in criteria {
                    let slope = if ratings.follows_first_column { row as f64 / 10.0 } else { 0.0 };
                    let middle = f64::midpoint(low, high) + slope;
                    let mark = middle + chance.bell() * f64::from(ratings.spread) / 32.0;
                    let mark = mark.clamp(low, high);
                    text += &format!(",{}", if ratings.whole { mark.round() } else { mark });
                }
                text.push('\n');
            }
        }
        text
    }

    fn scale(&self) -> [f64; 2] {
        let settings = self.settings.as_ref();
        settings.map_or([1.0, 10.0], |settings| {
            [f64::from(settings.low), f64::from(settings.low) + 1.0 + f64::from(settings.width)]
        })
    }

    fn study(&self, settings: &Settings) -> String {
        let [low, high] = self.scale();
        let on_scale = |share: u8| low + (high - low) * f64::from(share) / 255.0;
        let settled = ["all", "last", "after 2 ratings"][usize::from(settings.settled % 3)];
        let mut text = format!(
            "scale = [{low:?}, {high:?}]\ngood_at = {:?}\nworthwhile = {:?}\nsettled = \"{settled}\"\noutcome = \"overall\"\n",
            on_scale(settings.good_at),
            f64::from(settings.worthwhile.max(1)) / 16.0,
        );
        if settings.best_is_low {
            text += "best = \"low\"\n";
        }
        if let Some(days) = settings.window {
            text += &format!("window = {}\n", u32::from(days) + 1);
        }
        if let Some(target) = settings.target {
            text += &format!("[criteria.overall]\ntarget = {:?}\n", on_scale(target));
        }
        if !settings.candidates.is_empty() {
            let candidates = &settings.candidates[..settings.candidates.len().min(4)];
            text += &format!("[decide.forming_days]\ncandidates = {candidates:?}\n");
        }
        text
    }

    fn profile(&self, stations: u8, chance: &mut Chance) -> String {
        let mut text = "reed,from_tip_mm,line,thickness_mm\n".to_owned();
        for row in 0..self.rows() {
            for station in 0..1 + stations % 5 {
                let thickness = 0.9 - f64::from(station) / 10.0 + chance.bell() / 50.0;
                text += &format!("{row},{},spine,{thickness:.2}\n", 3 * station);
            }
        }
        text
    }

    fn readings(&self, repeats: u8, chance: &mut Chance) -> String {
        let mut text = "reed,measure,value,by,repeat\n".to_owned();
        for row in 0..self.rows() {
            for repeat in 0..1 + repeats % 3 {
                let by = PLAYERS[chance.below(2) as usize];
                text +=
                    &format!("{row},hardness,{:.1},{by},{}\n", 12.0 + chance.bell(), repeat + 1);
            }
        }
        text
    }
}

impl Column {
    fn cell(&self, row: usize, lot: usize, chance: &mut Chance) -> String {
        if chance.happens(self.empty / 2) {
            return String::new();
        }
        let size = 10_f64.powi(i32::from(self.tenths / 16));
        let number = |value: f64| format!("{}", value * size);
        match &self.filling {
            Filling::Same(value) => number(f64::from(*value)),
            Filling::Rising { from, step } => {
                number(f64::from(*from) + f64::from(*step) * row as f64)
            }
            Filling::Noise { middle, spread } => {
                number(f64::from(*middle) + f64::from(*spread) * chance.bell())
            }
            Filling::Levels { count, by_lot } => {
                let count = u64::from(count % 6) + 1;
                number(if *by_lot { lot as u64 % count } else { chance.below(count) } as f64)
            }
            Filling::Words { count } => {
                format!("word {}", chance.below(u64::from(count % 40) + 1))
            }
            Filling::Days { first, step } => {
                day(i64::from(*first) / 8 + i64::from(*step) * row as i64)
            }
            Filling::Fates => {
                let words = if self.tenths < 0 { &STAGES[..] } else { &FATES[..] };
                words[chance.below(words.len() as u64) as usize].to_owned()
            }
            Filling::Odd => format!("\"{}\"", ODD[chance.below(ODD.len() as u64) as usize]),
        }
    }
}

/// A day counted from the first of 2020, in a calendar of twelve months of 28 days.
fn day(count: i64) -> String {
    let (year, rest) = (2020 + count.div_euclid(336), count.rem_euclid(336));
    format!("{year:04}-{:02}-{:02}", 1 + rest / 28, 1 + rest % 28)
}
