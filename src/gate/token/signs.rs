//! Operators: ours, and those that people bring from other languages.

use super::Piece;

/// Written forms and what they are; longer ones first.
pub(super) const SIGNS: &[(&str, Piece)] = &[
    ("==", Piece::Same),
    ("!=", Piece::Differs),
    ("<=", Piece::AtMost),
    (">=", Piece::AtLeast),
    ("<", Piece::Less),
    (">", Piece::More),
    ("+", Piece::Plus),
    ("-", Piece::Minus),
    ("*", Piece::Times),
    ("/", Piece::Over),
    ("(", Piece::Open),
    (")", Piece::Close),
    (",", Piece::Comma),
];

/// Written forms from elsewhere: what was meant, and what to write. Longer ones first, and looked for
/// before [`SIGNS`].
pub(super) const FOREIGN: &[(&str, Piece, &str)] = &[
    ("===", Piece::Same, "write =="),
    ("!==", Piece::Differs, "write !="),
    ("&&", Piece::And, "write and"),
    ("||", Piece::Or, "write or"),
    ("=>", Piece::AtLeast, "write >="),
    ("=<", Piece::AtMost, "write <="),
    ("<>", Piece::Differs, "write !="),
    ("**", Piece::Times, "there are no powers here"),
    ("//", Piece::Over, "there is no whole-number division here; write /"),
    ("≥", Piece::AtLeast, "write >="),
    ("≤", Piece::AtMost, "write <="),
    ("≠", Piece::Differs, "write !="),
    ("×", Piece::Times, "write *"),
    ("·", Piece::Times, "write *"),
    ("÷", Piece::Over, "write /"),
    ("−", Piece::Minus, "write the minus of the keyboard, -"),
    ("–", Piece::Minus, "write the minus of the keyboard, -"),
];

/// Foreign forms looked for after [`SIGNS`], because those begin with them.
pub(super) const FOREIGN_SHORT: &[(&str, Piece, &str)] = &[
    ("!", Piece::Not, "write not"),
    ("=", Piece::Same, "write == to compare; nothing is assigned in a gate"),
    ("&", Piece::And, "write and"),
    ("|", Piece::Or, "write or; there are no filters in a gate"),
];
