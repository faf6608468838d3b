//! The cells of one column, one behind the other: a column is read from its first
//! cell to its last, more than once, and what lies together is read fastest.

use crate::whole;

/// No text is read that is longer than this, so that a place in it fits into 32 bits.
pub(super) const MOST_BYTES: u64 = u32::MAX as u64;

#[derive(Debug, Default)]
pub(super) struct TextColumn {
    text: String,
    /// Where each cell ends in `text`.
    ends: Vec<u32>,
    longest: usize,
}

impl TextColumn {
    pub fn push(&mut self, cell: &str) {
        self.text.push_str(cell);
        self.ends.push(whole::code(self.text.len())); // at most MOST_BYTES
        self.longest = self.longest.max(cell.len());
    }

    /// Makes room for so many times the text and the cells that there are.
    pub fn reserve_in_all(&mut self, times: f64) {
        let more = |length: usize| whole::part(length as f64 * (times - 1.0));
        self.text.reserve_exact(more(self.text.len()));
        self.ends.reserve_exact(more(self.ends.len()));
    }

    /// Bytes that the text may grow to without moving.
    #[cfg(test)]
    pub fn room(&self) -> usize {
        self.text.capacity()
    }

    /// The cells of a part that was read apart, behind these.
    pub fn append(&mut self, part: TextColumn) {
        if self.ends.is_empty() {
            *self = part;
            return;
        }
        let behind = whole::code(self.text.len()); // at most MOST_BYTES
        self.text.reserve_exact(part.text.len());
        self.text.push_str(&part.text);
        self.ends.reserve_exact(part.ends.len());
        self.ends.extend(part.ends.iter().map(|end| behind + end));
        self.longest = self.longest.max(part.longest);
    }

    #[expect(
        clippy::indexing_slicing,
        clippy::string_slice,
        reason = "every row of a table has an end in each column, between two characters; and every cell is read here, so it must be quick"
    )]
    pub fn get(&self, row: usize) -> &str {
        let start = if row == 0 { 0 } else { self.ends[row - 1] };
        &self.text[start as usize..self.ends[row] as usize]
    }

    /// Bytes of the longest cell.
    pub fn longest(&self) -> usize {
        self.longest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(cells: &[String]) -> TextColumn {
        let mut column = TextColumn::default();
        cells.iter().for_each(|cell| column.push(cell));
        column
    }

    #[test]
    fn a_cell_comes_back_as_it_was_put_in_also_from_a_part_that_was_read_apart() {
        let cells: Vec<String> = (0..40).map(|row| "ä7 ".repeat(row * 7 % 5)).collect();
        for apart in [0, 1, 17, 40] {
            let mut joined = column(&cells[..apart]);
            joined.reserve_in_all(2.5);
            joined.append(column(&cells[apart..]));
            joined.push("one more");
            assert!(cells.iter().enumerate().all(|(row, cell)| joined.get(row) == cell));
            assert_eq!((joined.get(cells.len()), joined.longest()), ("one more", 16));
        }
    }
}
