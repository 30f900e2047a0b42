//! How large a sheet may be. All are our own choice, far above what a session needs, so that a file given
//! by mistake or made to harm is refused before it takes memory; `tests/sheet.rs` watches them.

/// Longest file, bytes.
pub const LONGEST_BYTES: usize = 4 << 20;

/// Longest cell, bytes.
pub(super) const LONGEST_CELL: usize = 4000;

/// Most rows.
pub(super) const MOST_ROWS: usize = 5000;

/// Most columns.
pub(super) const MOST_COLUMNS: usize = 200;

/// Characters of a cell that are shown in a sentence.
pub(super) const SHOWN_CHARS: usize = 60;
