//! Sets of pieces, a bit for each piece of the log.
//!
//! Which of a million pieces have a cell in this column, and in all of those, is asked for every factor and each of its adjusters. Sixty-four pieces are compared at once.

/// The pieces of a log for which something holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct PieceSet {
    words: Vec<u64>,
}

const BITS: usize = u64::BITS as usize;

impl PieceSet {
    /// The pieces that are marked, one mark a piece.
    pub fn marked(mut marks: impl ExactSizeIterator<Item = bool>) -> Self {
        let mut set = Self::none(marks.len());
        for word in &mut set.words {
            let marks = marks.by_ref().take(BITS).enumerate();
            *word = marks.fold(0, |word, (place, mark)| word | u64::from(mark) << place);
        }
        set
    }

    /// These rows of a log of so many pieces.
    pub fn of(rows: &[usize], pieces: usize) -> Self {
        let mut set = Self::none(pieces);
        // rows mostly rise: a word is then gathered before it is put down
        for alike in rows.chunk_by(|one, next| one / BITS == next / BITS) {
            let word = alike.iter().fold(0, |word, piece| word | 1 << (piece % BITS));
            if let Some(piece) = alike.first() {
                set.words[piece / BITS] |= word;
            }
        }
        set
    }

    fn none(pieces: usize) -> Self {
        Self { words: vec![0; pieces.div_ceil(BITS)] }
    }

    /// The pieces that are in both.
    pub fn and(mut self, other: &Self) -> Self {
        debug_assert_eq!(self.words.len(), other.words.len(), "sets of one log");
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word &= other);
        self
    }

    pub fn holds(&self, piece: usize) -> bool {
        self.words[piece / BITS] >> (piece % BITS) & 1 == 1
    }

    pub fn count(&self) -> usize {
        self.words.iter().map(|word| word.count_ones() as usize).sum()
    }

    /// How many of these pieces are not among the others.
    pub fn count_without(&self, other: &Self) -> usize {
        debug_assert_eq!(self.words.len(), other.words.len(), "sets of one log");
        let pairs = self.words.iter().zip(&other.words);
        pairs.map(|(word, other)| (word & !other).count_ones() as usize).sum()
    }

    /// The share of these pieces that are not among the others; 0 of none.
    pub fn share_without(&self, other: &Self) -> f64 {
        self.count_without(other) as f64 / self.count().max(1) as f64
    }

    /// Keeps the pieces that pass; each is asked about once.
    pub fn retain(&mut self, mut stays: impl FnMut(usize) -> bool) {
        for (place, word) in self.words.iter_mut().enumerate() {
            for piece in bits(*word) {
                if !stays(place * BITS + piece) {
                    *word &= !(1 << piece);
                }
            }
        }
    }

    /// Rows of the pieces, rising.
    pub fn iter(&self) -> impl Iterator<Item = usize> + Clone {
        let words = self.words.iter().enumerate();
        words.flat_map(|(place, word)| bits(*word).map(move |piece| place * BITS + piece))
    }
}

/// Places of the bits that are set, rising.
fn bits(word: u64) -> impl Iterator<Item = usize> + Clone {
    let next = |left: &u64| Some(left & left.wrapping_sub(1)).filter(|left| *left != 0);
    let first = Some(word).filter(|word| *word != 0);
    std::iter::successors(first, next).map(|left| left.trailing_zeros() as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two habits of 200 pieces, so that words are full, part full and empty.
    fn sets() -> (PieceSet, PieceSet) {
        let thirds = PieceSet::marked((0..200).map(|piece| piece % 3 == 0));
        let early = PieceSet::of(&(0..130).collect::<Vec<_>>(), 200);
        (thirds, early)
    }

    #[test]
    fn a_set_holds_the_pieces_that_are_marked_and_tells_them_in_order() {
        let (thirds, early) = sets();
        assert!((0..200).all(|piece| thirds.holds(piece) == (piece % 3 == 0)));
        assert_eq!(thirds.iter().collect::<Vec<_>>(), (0..200).step_by(3).collect::<Vec<_>>());
        assert_eq!(early.iter().collect::<Vec<_>>(), (0..130).collect::<Vec<_>>());
        assert_eq!((thirds.count(), early.count()), (67, 130));
    }

    #[test]
    fn what_two_sets_share_and_what_one_lacks_add_up() {
        let (thirds, early) = sets();
        let both = thirds.clone().and(&early);
        assert_eq!(both.count(), 44);
        assert_eq!(both.count() + thirds.count_without(&early), thirds.count());
        assert_eq!(early.share_without(&thirds), 86.0 / 130.0);
        assert_eq!(PieceSet::of(&[], 200).share_without(&thirds), 0.0);
    }

    #[test]
    fn pieces_that_do_not_pass_are_gone() {
        let (mut thirds, _) = sets();
        thirds.retain(|piece| piece % 2 == 1);
        assert_eq!(thirds.iter().collect::<Vec<_>>(), (3..200).step_by(6).collect::<Vec<_>>());
    }
}
