//! One permit's lines with what they cite.
