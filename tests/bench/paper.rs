//! How long a permit of 40 steps with a full day takes to be drawn, and how large it is, beside printpdf setting the same words
//! with nothing around them, in the same run. `cargo bench --bench paper`; prints a table and one line of JSON.
//!
//! Machines are noisy: the least of many runs counts, and the ratio.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, missing_docs)]

pub use airwrit::view;

#[path = "../../src/paper/tests/sample.rs"]
#[allow(dead_code)]
mod sample;

use airwrit::paper::{PaperSize, render};
use airwrit::view::PermitView;
use printpdf::{
    BuiltinFont, Mm, Op, PdfDocument, PdfFontHandle, PdfPage, PdfSaveOptions, Point, Pt, TextItem,
};
use std::time::Instant;

/// Wanted at most, milliseconds and bytes.
const MS: f64 = 15.0;
const BYTES: usize = 120_000;
const RUNS: usize = 60;

/// 40 steps, two wearers, a day of 60 lines, every picture.
fn permit() -> PermitView {
    let mut view = sample::long();
    view.wearers.truncate(2);
    view.stages.truncate(4);
    view.stages.iter_mut().for_each(|s| s.steps.truncate(10));
    view.day.truncate(60);
    view
}

/// The same words, a line each, as printpdf sets them by itself.
fn bare(words: &[String]) -> Vec<u8> {
    let mut doc = PdfDocument::new("bare");
    let font = PdfFontHandle::Builtin(BuiltinFont::Helvetica);
    doc.pages = words
        .chunks(70)
        .map(|some| {
            let mut ops = Vec::new();
            for (n, line) in some.iter().enumerate() {
                ops.extend([
                    Op::StartTextSection,
                    Op::SetFont { font: font.clone(), size: Pt(8.5) },
                    Op::SetTextCursor { pos: Point { x: Pt(36.0), y: Pt(800.0 - 11.0 * n as f32) } },
                    Op::ShowText { items: vec![TextItem::Text(line.clone())] },
                    Op::EndTextSection,
                ]);
            }
            PdfPage::new(Mm(210.0), Mm(297.0), ops)
        })
        .collect();
    doc.save(&PdfSaveOptions::default(), &mut Vec::new())
}

/// Every text of a view.
fn words(value: &serde_json::Value, out: &mut Vec<String>) {
    match value {
        serde_json::Value::String(s) if !s.is_empty() => out.push(s.clone()),
        serde_json::Value::Array(all) => all.iter().for_each(|v| words(v, out)),
        serde_json::Value::Object(all) => all.values().for_each(|v| words(v, out)),
        serde_json::Value::Null
        | serde_json::Value::Bool(_)
        | serde_json::Value::Number(_)
        | serde_json::Value::String(_) => {}
    }
}

/// The least of many runs, in milliseconds.
fn least(mut run: impl FnMut() -> usize) -> (f64, usize) {
    let mut best = (f64::INFINITY, 0);
    for _ in 0..RUNS {
        let begun = Instant::now();
        let size = run();
        best = (best.0.min(begun.elapsed().as_secs_f64() * 1000.0), size);
    }
    best
}

fn main() {
    let view = permit();
    let steps: usize = view.stages.iter().map(|s| s.steps.len()).sum();
    let mut all = Vec::new();
    words(&serde_json::to_value(&view).unwrap(), &mut all);
    let own = least(|| render(&view, PaperSize::A4).unwrap().len());
    let peer = least(|| bare(&all).len());
    let good = |yes: bool| if yes { "within" } else { "OVER" };
    println!("{steps} steps, {} lines of the day, {} texts; least of {RUNS} runs", view.day.len(), all.len());
    println!("{:<34} {:>10} {:>12}", "", "ms", "bytes");
    println!("{:<34} {:>10.2} {:>12}", "airwrit, a whole permit", own.0, own.1);
    println!("{:<34} {:>10.2} {:>12}", "printpdf, the same words bare", peer.0, peer.1);
    println!("{:<34} {:>10} {:>12}   {} {}", "limit", MS, BYTES, good(own.0 <= MS), good(own.1 <= BYTES));
    println!("ratio to printpdf {:.2}", own.0 / peer.0);
    println!(
        "{}",
        serde_json::json!({ "bench": "paper", "ms": own.0, "bytes": own.1, "peer_ms": peer.0, "peer_bytes": peer.1,
            "limit_ms": MS, "limit_bytes": BYTES })
    );
}
