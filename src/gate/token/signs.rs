//! Operators: ours, and those that people bring from other languages.

use super::Piece;
use crate::tongue::to_say;

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
    ("===", Piece::Same, to_say!("write ==")),
    ("!==", Piece::Differs, to_say!("write !=")),
    ("&&", Piece::And, to_say!("write and")),
    ("||", Piece::Or, to_say!("write or")),
    ("=>", Piece::AtLeast, to_say!("write >=")),
    ("=<", Piece::AtMost, to_say!("write <=")),
    ("<>", Piece::Differs, to_say!("write !=")),
    ("**", Piece::Times, to_say!("there are no powers here")),
    ("//", Piece::Over, to_say!("there is no whole-number division here; write /")),
    ("≥", Piece::AtLeast, to_say!("write >=")),
    ("≤", Piece::AtMost, to_say!("write <=")),
    ("≠", Piece::Differs, to_say!("write !=")),
    ("×", Piece::Times, to_say!("write *")),
    ("·", Piece::Times, to_say!("write *")),
    ("÷", Piece::Over, to_say!("write /")),
    ("−", Piece::Minus, to_say!("write the minus of the keyboard, -")),
    ("–", Piece::Minus, to_say!("write the minus of the keyboard, -")),
];

/// Foreign forms looked for after [`SIGNS`], because those begin with them.
pub(super) const FOREIGN_SHORT: &[(&str, Piece, &str)] = &[
    ("!", Piece::Not, to_say!("write not")),
    ("=", Piece::Same, to_say!("write == to compare; nothing is assigned in a gate")),
    ("&", Piece::And, to_say!("write and")),
    ("|", Piece::Or, to_say!("write or; there are no filters in a gate")),
];
