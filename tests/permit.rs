//! The permit engine, used as a station uses it: every line decided, appended, folded.

mod admit;
mod asked;
mod calendar;
mod carry;
mod day;
mod flow;
mod kept;
mod language;
mod model;
mod past;
mod people;
mod reach;
mod shift;
mod table;
mod watching;
mod weeks;
