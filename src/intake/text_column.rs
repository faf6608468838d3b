//! The cells of one column, one behind the other: a column is read from its first
//! cell to its last, more than once, and what lies together is read fastest.

/// Rows whose ends are counted from one beginning. A line is kept below 16 MiB, so that the ends of a block fit into 32 bits.
const BLOCK: usize = 128;

#[derive(Debug, Default)]
pub(super) struct TextColumn {
    text: String,
    /// Where each cell ends, counted from the beginning of its block.
    ends: Vec<u32>,
    /// Where each block begins in `text`.
    blocks: Vec<usize>,
    longest: usize,
}

impl TextColumn {
    pub fn push(&mut self, cell: &str) {
        if self.ends.len().is_multiple_of(BLOCK) {
            self.blocks.push(self.text.len());
        }
        self.text.push_str(cell);
        self.longest = self.longest.max(cell.len());
        self.ends.push(end_in_block(self.text.len(), self.blocks[self.blocks.len() - 1]));
    }

    /// Makes room for as many cells again and again as there are, in all so many times as now.
    pub fn reserve_in_all(&mut self, times: f64) {
        let more = |now: usize| (now as f64 * (times - 1.0).max(0.0)) as usize;
        self.text.reserve_exact(more(self.text.len()));
        self.ends.reserve_exact(more(self.ends.len()));
    }

    /// The cells of a part that was read apart, behind these.
    pub fn append(&mut self, part: TextColumn) {
        self.text.reserve_exact(part.text.len());
        self.ends.reserve_exact(part.ends.len());
        let behind = self.text.len();
        self.text.push_str(&part.text);
        for (row, end) in part.ends.iter().enumerate() {
            if self.ends.len().is_multiple_of(BLOCK) {
                self.blocks.push(behind + part.start(row));
            }
            let end = behind + part.blocks[row / BLOCK] + *end as usize;
            self.ends.push(end_in_block(end, self.blocks[self.blocks.len() - 1]));
        }
        self.longest = self.longest.max(part.longest);
    }

    fn start(&self, row: usize) -> usize {
        let block = self.blocks[row / BLOCK];
        if row.is_multiple_of(BLOCK) { block } else { block + self.ends[row - 1] as usize }
    }

    pub fn get(&self, row: usize) -> &str {
        &self.text[self.start(row)..self.blocks[row / BLOCK] + self.ends[row] as usize]
    }

    /// Bytes of the longest cell.
    pub fn longest(&self) -> usize {
        self.longest
    }
}

fn end_in_block(end: usize, block: usize) -> u32 {
    (end - block) as u32 // a block has less than 4 GiB
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(cells: &[String]) -> TextColumn {
        let mut column = TextColumn::default();
        cells.iter().for_each(|cell| column.push(cell));
        column
    }

    /// Cells of many lengths, some of them empty.
    fn cells(count: usize) -> Vec<String> {
        (0..count).map(|row| "ä7 ".repeat(row * 7 % 5)).collect()
    }

    #[test]
    fn a_cell_comes_back_as_it_was_put_in() {
        let cells = cells(3 * BLOCK + 5);
        let column = column(&cells);
        assert!(cells.iter().enumerate().all(|(row, cell)| column.get(row) == cell));
        assert_eq!(column.longest(), 16);
    }

    #[test]
    fn a_part_stands_behind_what_was_there_wherever_the_blocks_end() {
        for before in [0, 1, BLOCK - 1, BLOCK, 2 * BLOCK + 3] {
            for after in [0, 1, BLOCK, 3 * BLOCK + 1] {
                let all = cells(before + after);
                let mut joined = column(&all[..before]);
                joined.append(column(&all[before..]));
                assert!(all.iter().enumerate().all(|(row, cell)| joined.get(row) == cell));
                joined.push("one more");
                assert_eq!(joined.get(all.len()), "one more");
            }
        }
    }
}
