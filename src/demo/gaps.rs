//! Empty cells: what was never reached, and what was forgotten.

use super::chance::Chance;
use super::entries::{Piece, Step};

/// Empties the cells of all steps after the one that was reached.
pub fn leave_out_after(piece: &mut Piece, reached: Step) {
    if reached < Step::Shape {
        piece.shape = None;
        piece.shaping = None;
    }
    if reached < Step::Profile {
        piece.scoring = None;
    }
    if reached < Step::Form {
        piece.forming_days = None;
        piece.forming_rh_pct = None;
        piece.forming_c = None;
    }
    if reached < Step::Bind {
        piece.wire_1_mm = None;
    }
    if reached < Step::Play {
        piece.length_mm = None;
        piece.tip_opening_mm = None;
        piece.scrape_min = None;
        piece.note = "";
    }
}

/// Empties the cells that the maker forgot to fill in, whatever they held.
pub fn forget_some(piece: &mut Piece, dice: &mut Chance) {
    for (cell, share) in [
        (&mut piece.tube_diameter_mm, 0.08),
        (&mut piece.hardness, 0.03),
        (&mut piece.density_g_cm3, 0.08),
        (&mut piece.gouge_center_thou, 0.02),
        (&mut piece.gouge_edge_mm, 0.05),
        (&mut piece.forming_rh_pct, 0.04),
        (&mut piece.forming_c, 0.04),
        (&mut piece.wire_1_mm, 0.05),
        (&mut piece.tip_opening_mm, 0.03),
        (&mut piece.scrape_min, 0.04),
        (&mut piece.hours_played, 0.05),
    ] {
        if dice.happens(share) {
            *cell = None;
        }
    }
}
