//! Tests of paper.
#![allow(clippy::unwrap_used, clippy::panic)]
mod sample;

use super::*;

#[test]
fn dump() {
    let Ok(dir) = std::env::var("AIRWRIT_PAPER_DUMP") else {
        return;
    };
    for (name, view) in sample::all() {
        let pdf = render(&view, PaperSize::A4).unwrap();
        std::fs::write(format!("{dir}/{name}.pdf"), pdf).unwrap();
    }
}
