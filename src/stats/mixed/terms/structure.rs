//! Which unknowns meet in a row, and in which order they are eliminated.
//!
//! The unknowns are the coefficients of every level of every term, then the fixed effects, and the outcome as a last column. Levels of one term never meet, so
//! a term whose levels touch no two levels of the same other leading term can be eliminated level by level (*leading* terms: reeds, then the tubes and lots
//! they are nested in). What is left, crossed terms with few levels and the fixed effects, is one small dense matrix.

use super::term::Grouping;
use crate::stats::error::StatsError;
use crate::whole;
use std::ops::Range;

/// Terms with fewer coefficients are no burden to the dense matrix.
const SMALL: usize = 48;
/// The most coefficients of crossed terms that one dense matrix shall carry.
const LARGEST_DENSE: usize = 4000;

/// A term in the order of elimination.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    /// Its place in the order the user gave.
    pub(super) given: usize,
    /// Coefficients a level.
    pub(super) size: usize,
    pub(super) levels: usize,
    /// The number of its first unknown.
    pub(super) first: usize,
}

/// One level of a leading term.
#[derive(Debug, Clone)]
pub(super) struct Node {
    pub(super) term: usize,
    /// Its first unknown.
    pub(super) unknown: usize,
    /// Where its rows begin among the values: one row a coefficient, `width` long.
    pub(super) first: usize,
    /// Its own coefficients and those it meets.
    pub(super) width: usize,
    /// The numbers of its columns: its own, later leading levels, dense unknowns, the outcome.
    pub(super) columns: Range<usize>,
    /// How many of its columns belong to leading levels, its own included.
    pub(super) leading: usize,
    pub(super) links: Range<usize>,
}

/// A later leading level that a level meets.
#[derive(Debug, Clone)]
pub(super) struct Link {
    pub(super) parent: usize,
    /// The first of the parent's columns among the columns of the level.
    pub(super) at: usize,
    /// Where the level's columns from `at` on stand among the parent's columns.
    pub(super) positions: Range<usize>,
}

/// The pattern of the whole system.
#[derive(Debug, Clone)]
pub(super) struct Structure {
    pub(super) terms: Vec<Shape>,
    /// The leading terms' levels, in the order of elimination.
    pub(super) nodes: Vec<Node>,
    pub(super) columns: Vec<u32>,
    pub(super) links: Vec<Link>,
    pub(super) positions: Vec<u32>,
    /// Unknowns of leading terms.
    pub(super) leading: usize,
    /// Unknowns of the other terms.
    pub(super) dense: usize,
    /// Fixed effects.
    pub(super) fixed: usize,
    /// How many numbers the leading levels' rows hold.
    pub(super) stored: usize,
}

/// A level of a term, the term by its given place.
type Level = (usize, u32);

impl Structure {
    pub(super) fn new(groupings: &[Grouping], fixed: usize) -> Result<Self, StatsError> {
        Self::with_small(groupings, fixed, SMALL)
    }

    /// `small` is the size up to which a term may stay in the dense matrix.
    pub(super) fn with_small(
        groupings: &[Grouping],
        fixed: usize,
        small: usize,
    ) -> Result<Self, StatsError> {
        let (order, meetings) = elimination(groupings, small);
        let terms = shapes(groupings, &order);
        let end = |terms: &[Shape]| terms.last().map_or(0, |t| t.first + t.size * t.levels);
        let leading = end(&terms[..meetings.len()]);
        let dense = end(&terms) - leading;
        if dense > LARGEST_DENSE {
            return Err(StatsError::OutOfRange {
                what: "the number of coefficients of crossed random terms".into(),
                value: dense as f64,
                expected: format!("at most {LARGEST_DENSE}, beside one term of any size"),
            });
        }
        let mut structure = Self {
            terms,
            nodes: Vec::new(),
            columns: Vec::new(),
            links: Vec::new(),
            positions: Vec::new(),
            leading,
            dense,
            fixed,
            stored: 0,
        };
        for (term, levels) in meetings.into_iter().enumerate() {
            for (level, met) in levels.into_iter().enumerate() {
                structure.add_node(term, level, &met);
            }
        }
        structure.add_links();
        Ok(structure)
    }

    fn add_node(&mut self, term: usize, level: usize, met: &[Level]) {
        let shape = self.terms[term];
        let unknown = shape.first + level * shape.size;
        let first = self.columns.len();
        self.columns.extend((unknown..unknown + shape.size).map(whole::code));
        // every term stands once among the shapes
        let place = |given: usize| self.terms.iter().find(|other| other.given == given);
        let mut later: Vec<u32> = Vec::new();
        for &(given, level) in met {
            if let Some(other) = place(given) {
                let start = other.first + level as usize * other.size;
                later.extend((start..start + other.size).map(whole::code));
            }
        }
        later.sort_unstable();
        self.columns.extend(later);
        let random = self.leading + self.dense;
        self.columns.extend((random..=random + self.fixed).map(whole::code));
        let columns = first..self.columns.len();
        let own = &self.columns[columns.clone()];
        self.nodes.push(Node {
            term,
            unknown,
            first: self.stored,
            width: own.len(),
            leading: own.partition_point(|&column| (column as usize) < self.leading),
            columns,
            links: 0..0,
        });
        self.stored += shape.size * self.nodes[self.nodes.len() - 1].width;
    }

    fn add_links(&mut self) {
        for place in 0..self.nodes.len() {
            let first_link = self.links.len();
            let columns = self.columns[self.nodes[place].columns.clone()].to_vec();
            let mut at = self.size_of(place);
            while at < self.nodes[place].leading {
                let parent = self.node_of(columns[at] as usize);
                let theirs = &self.columns[self.nodes[parent].columns.clone()];
                let first = self.positions.len();
                // the parent meets whatever the level meets after it: elimination() saw to that
                let place =
                    |column: &u32| whole::code(theirs.partition_point(|other| other < column));
                self.positions.extend(columns[at..].iter().map(place));
                self.links.push(Link { parent, at, positions: first..self.positions.len() });
                at += self.size_of(parent);
            }
            self.nodes[place].links = first_link..self.links.len();
        }
    }

    /// Coefficients of a leading level.
    pub(super) fn size_of(&self, node: usize) -> usize {
        self.terms[self.nodes[node].term].size
    }

    /// The leading level an unknown belongs to.
    fn node_of(&self, unknown: usize) -> usize {
        self.nodes.partition_point(|node| node.unknown <= unknown) - 1
    }

    /// The term of a random unknown.
    pub(super) fn term_of(&self, unknown: usize) -> usize {
        self.terms.partition_point(|term| term.first <= unknown) - 1
    }

    /// All random unknowns.
    pub(super) fn random(&self) -> usize {
        self.leading + self.dense
    }

    /// Rows of the dense matrix without the outcome.
    pub(super) fn trailing(&self) -> usize {
        self.dense + self.fixed
    }

    /// First unknown of a level of a term.
    pub(super) fn unknown(&self, term: usize, level: usize) -> usize {
        self.terms[term].first + level * self.terms[term].size
    }

    /// The leading level that starts at an unknown, if a leading term holds it.
    pub(super) fn node_at(&self, unknown: usize) -> Option<usize> {
        (unknown < self.leading).then(|| self.node_of(unknown))
    }

    /// The random blocks a level meets after itself: their first places among its columns, and their terms.
    pub(super) fn blocks(&self, node: &Node) -> impl Iterator<Item = (usize, usize)> {
        let columns = &self.columns[node.columns.clone()];
        let last = node.width - self.fixed - 1;
        let mut at = self.terms[node.term].size;
        std::iter::from_fn(move || {
            (at < last).then(|| {
                let term = self.term_of(columns[at] as usize);
                let here = at;
                at += self.terms[term].size;
                (here, term)
            })
        })
    }
}

fn shapes(groupings: &[Grouping], order: &[usize]) -> Vec<Shape> {
    let mut first = 0;
    let mut shapes = Vec::with_capacity(order.len());
    for &given in order {
        let (size, levels) = (groupings[given].size(), groupings[given].levels());
        shapes.push(Shape { given, size, levels, first });
        first += size * levels;
    }
    shapes
}

/// The order of the terms, and for every leading term the later levels that each of its levels meets, those met through eliminated levels included.
fn elimination(groupings: &[Grouping], small: usize) -> (Vec<usize>, Vec<Vec<Vec<Level>>>) {
    let burden = |term: usize| groupings[term].size() * groupings[term].levels();
    let mut left: Vec<usize> = (0..groupings.len()).collect();
    left.sort_by_key(|&term| std::cmp::Reverse(burden(term)));
    let mut order = Vec::new();
    let mut meetings: Vec<Vec<Vec<Level>>> = Vec::new();
    loop {
        let next = left.iter().position(|&term| {
            order.is_empty() || (burden(term) > small && stays_apart(&meetings, term))
        });
        let Some(next) = next else { break };
        let term = left.remove(next);
        let met = meet(groupings, term, &left, &order, &meetings);
        order.push(term);
        meetings.push(met);
    }
    order.extend(left);
    (order, meetings)
}

/// Whether no eliminated level meets two levels of the term, which elimination would have joined.
fn stays_apart(meetings: &[Vec<Vec<Level>>], term: usize) -> bool {
    let once = |met: &Vec<Level>| met.iter().filter(|(other, _)| *other == term).count() < 2;
    meetings.iter().all(|levels| levels.iter().all(once))
}

/// The levels of the terms in `left` that each level of a term meets: in a row, or through a level eliminated before.
fn meet(
    groupings: &[Grouping],
    term: usize,
    left: &[usize],
    order: &[usize],
    meetings: &[Vec<Vec<Level>>],
) -> Vec<Vec<Level>> {
    let rows = groupings[term].rows_by_level();
    let mut met: Vec<Vec<Level>> = rows.iter().map(|rows| in_rows(groupings, rows, left)).collect();
    for (_, levels) in order.iter().zip(meetings) {
        for through in levels {
            let Some(&(_, level)) = through.iter().find(|(other, _)| *other == term) else {
                continue;
            };
            let others = through.iter().filter(|(other, _)| left.contains(other));
            met[level as usize].extend(others);
        }
    }
    for levels in &mut met {
        levels.sort_unstable();
        levels.dedup();
    }
    met
}

fn in_rows(groupings: &[Grouping], rows: &[u32], terms: &[usize]) -> Vec<Level> {
    let mut met = Vec::new();
    for &term in terms {
        let first = met.len();
        let of_row = &groupings[term].of_row;
        met.extend(rows.iter().map(|&row| (term, of_row[row as usize])));
        met[first..].sort_unstable();
        // the sorted tail holds each level once after this
        let mut kept = met.split_off(first);
        kept.dedup();
        met.extend(kept);
    }
    met
}
