//! The log as tidy files.

use std::fmt::Write;

use super::super::entries::{Fate, Step};
use super::super::scenario::{PLAYER_ONE, PURCHASES, day};
use super::super::table::{Cell, Column, Table};
use super::super::{File, Workshop, writing};
use super::draw::{Made, SCALE};
use super::world::{Factor, World};
use crate::whole;

/// Days from the start of a piece to the finished reed, and on to its first rating.
const MAKING_DAYS: i32 = 30;
const RATED_AFTER: i32 = 3;
/// A reed rated here or above is a good one; the smallest difference worth having.
const GOOD_AT: f64 = 10.5;
const WORTHWHILE: f64 = 0.2;

/// Lots beyond those of the demo; no two names are close.
const FURTHER: [&str; 6] = ["Coppice", "Ferryman", "Juniper", "Weir", "Kestrel", "Orchard"];

/// The name of a lot: those of the demo, further ones, then all with a number.
pub(super) fn lot_name(lot: usize) -> String {
    let names: Vec<&str> = PURCHASES.iter().map(|purchase| purchase.name).chain(FURTHER).collect();
    let (round, name) = (lot / names.len(), names[lot % names.len()]); // below the number of names
    if round == 0 { name.to_owned() } else { format!("{name} {}", round + 1) }
}

pub(super) fn workshop(world: &World, lots: &[String], pieces: &[Made]) -> Workshop {
    let mut tables =
        vec![reeds(world, lots, pieces), ratings(world, pieces), purchases(world, lots)];
    if world.factors.iter().any(|factor| factor.read_again > 0.0) {
        tables.push(readings(world, pieces));
    }
    let mut files: Vec<File> = tables.iter().map(writing::file).collect();
    files.push(File { name: "study.toml", contents: study(world).into_bytes() });
    Workshop { files }
}

fn table(file: &'static str, names: &[&'static str], rows: Vec<Vec<Cell>>) -> Table {
    let columns = names.iter().map(|&name| Column { name, messy: name }).collect();
    Table { file, columns, rows }
}

fn word(text: &str) -> Cell {
    Cell::Word(text.to_owned())
}

fn reed(place: usize) -> Cell {
    Cell::Word(format!("r{:03}", place + 1))
}

fn reeds(world: &World, lots: &[String], pieces: &[Made]) -> Table {
    let mut names = vec!["reed", "lot", "started_on", "finished_on"];
    names.extend(world.factors.iter().map(|factor| factor.name));
    names.extend(["fate", "spoiled_at", "spoiled_by"]);
    let rows = pieces.iter().enumerate().map(|(place, piece)| reed_row(world, lots, place, piece));
    table("reeds.csv", &names, rows.collect())
}

fn reed_row(world: &World, lots: &[String], place: usize, piece: &Made) -> Vec<Cell> {
    let (reached, finished, at, by) = match piece.fate {
        Fate::Spoiled(step, how) => (step, Cell::Missing, word(step.word()), word(how)),
        _ => (Step::Play, Cell::Date(day(piece.day + MAKING_DAYS)), Cell::Missing, Cell::Missing),
    };
    let lot = lots.get(piece.lot).map_or(Cell::Missing, |lot| word(lot));
    let mut cells = vec![reed(place), lot, Cell::Date(day(piece.day)), finished];
    cells.extend(world.factors.iter().enumerate().map(|(column, factor)| {
        if factor.made_at <= reached { cell(factor, piece, column) } else { Cell::Missing }
    }));
    cells.extend([Cell::Fate(piece.fate), at, by]);
    cells
}

fn cell(factor: &Factor, piece: &Made, column: usize) -> Cell {
    let middle = factor.kinds.len().saturating_sub(1) as f64 / 2.0;
    let kind =
        piece.values.get(column).and_then(|value| factor.kinds.get(whole::part(value + middle)));
    let first = piece.readings.get(column).and_then(|readings| readings.first());
    match (kind, first) {
        (Some(kind), _) => word(kind),
        (None, Some(&value)) => Cell::Number(value, usize::from(factor.decimals)),
        (None, None) => Cell::Missing,
    }
}

fn ratings(world: &World, pieces: &[Made]) -> Table {
    let mut rows = Vec::new();
    for (place, piece) in pieces.iter().enumerate() {
        for &(player, mark) in &piece.ratings {
            let on = day(piece.day + MAKING_DAYS + RATED_AFTER);
            let name = world.players.get(player).map_or(Cell::Missing, |player| word(player.name));
            rows.push(vec![reed(place), Cell::Date(on), name, Cell::Score(mark)]);
        }
    }
    table("ratings.csv", &["reed", "date", "player", "overall"], rows)
}

fn purchases(world: &World, lots: &[String]) -> Table {
    let row = |(lot, name): (usize, &String)| {
        let price = PURCHASES[lot % PURCHASES.len()].price_per_piece; // below the number of purchases
        let bought = world.lots.get(lot).map_or(0.0, |&pieces| pieces as f64);
        vec![word(name), Cell::Number(price, 2), Cell::Number(bought, 0)]
    };
    let rows = lots.iter().enumerate().map(row).collect();
    table("lots.csv", &["lot", "price_per_piece", "pieces_bought"], rows)
}

/// Pieces that were read again, all readings with the first; a lost piece is not read at a step that it never reached.
fn readings(world: &World, pieces: &[Made]) -> Table {
    let mut rows = Vec::new();
    for (place, piece) in pieces.iter().enumerate() {
        let reached = if let Fate::Spoiled(step, _) = piece.fate { step } else { Step::Play };
        let read = world.factors.iter().zip(&piece.readings);
        for (factor, values) in
            read.filter(|(factor, values)| values.len() > 1 && factor.made_at <= reached)
        {
            for (repeat, &value) in values.iter().enumerate() {
                let (value, repeat) = (
                    Cell::Number(value, usize::from(factor.decimals)),
                    Cell::Number((repeat + 1) as f64, 0),
                );
                rows.push(vec![reed(place), word(factor.name), value, word(PLAYER_ONE), repeat]);
            }
        }
    }
    table("readings.csv", &["reed", "measure", "value", "by", "repeat"], rows)
}

fn study(world: &World) -> String {
    let mut text = format!(
        "# An invented workshop: nobody kept this log, and no number in it is a finding about cane.\n\
         title = \"An invented workshop\"\nscale = [{:.0}, {:.0}]\ngood_at = {GOOD_AT}\nworthwhile = {WORTHWHILE}\noutcome = \"overall\"\n",
        SCALE[0], SCALE[1]
    );
    for factor in &world.factors {
        let (name, stage) = (factor.name, factor.made_at.word());
        // writing to a text cannot fail
        let _ = match factor.kinds {
            [] => write!(
                text,
                "\n[columns.{name}]\nkind = \"number\"\nstage = \"{stage}\"\nstep = {:?}\n",
                factor.step
            ),
            _ => write!(text, "\n[columns.{name}]\nkind = \"choice\"\nstage = \"{stage}\"\n"),
        };
    }
    for factor in world.factors.iter().filter(|factor| !factor.candidates.is_empty()) {
        let _ = write!(text, "\n[decide.{}]\ncandidates = {:?}\n", factor.name, factor.candidates);
    }
    text
}
