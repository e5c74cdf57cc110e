//! Typing.
