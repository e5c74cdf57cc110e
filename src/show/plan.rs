//! A plan in words for a terminal: the answer first, then what limits, then every figure.

use crate::plan::{Figure, Plan, Sense};
use crate::text::wrapped;
use crate::tongue::say;

/// Longest line.
const WIDTH: usize = 100;

/// A plan in words.
pub fn plan(p: &Plan) -> String {
    let mut out = String::new();
    let mut line = |indent: usize, text: &str| {
        let wide = WIDTH - indent - 2;
        for (n, l) in wrapped(text, wide).iter().enumerate() {
            out.push_str(&" ".repeat(indent + if n == 0 { 0 } else { 2 }));
            out.push_str(l);
            out.push('\n');
        }
    };
    let wearers = p.wearers.join(", ");
    line(0, &say!("{set} at {place}: {wearers}", set = p.set, place = p.place, wearers));
    line(0, if p.fits { say!("IT FITS, as far as files can say") } else { say!("IT DOES NOT FIT") });
    for what in &p.assumed {
        line(2, &say!("assumed: {what}", what));
    }
    let mut part = |title: &str, all: &[String]| {
        if !all.is_empty() {
            line(0, "");
            line(0, title);
            all.iter().for_each(|l| line(2, l));
        }
    };
    part(say!("WHAT CHANGES THE ANSWER"), &p.changes);
    part(say!("WHAT LIMITS, THE TIGHTEST FIRST"), &p.limits);
    let figures: Vec<String> = p.figures.iter().map(figure).collect();
    part(say!("EVERY FIGURE"), &figures);
    if let Some(first) = p.table.first() {
        let head: Vec<String> = (1..=first.lasts.len()).map(|n| format!("{n:>9}")).collect();
        let mut rows = vec![format!("{:>24}{}", say!("wearers:"), head.concat())];
        rows.extend(p.table.iter().map(|r| {
            let cells: Vec<String> = r
                .lasts
                .iter()
                .map(|(minutes, enough)| {
                    format!("{:>9}", format!("{minutes}{}", if *enough { " " } else { "!" }))
                })
                .collect();
            format!("{:>24}{}", r.reading, cells.concat())
        }));
        line(0, "");
        let head = match &p.beside {
            Some(who) => say!(
                "HOW LONG THE RESERVE LASTS, each drawing all they can, with {who} beside them; ! is less than they need to \
                 get out",
                who
            ),
            None => say!(
                "HOW LONG THE RESERVE LASTS, each drawing all they can; ! is less than they need to get out"
            )
            .to_owned(),
        };
        line(0, &head);
        for r in rows {
            out.push_str(&r);
            out.push('\n');
        }
    }
    out
}

fn figure(f: &Figure) -> String {
    let of = f.of.as_ref().map(|o| format!(", {o}")).unwrap_or_default();
    let wanted = match &f.wanted {
        Some((Sense::AtLeast, limit)) => format!(", {}", say!("wanted at least {limit}", limit)),
        Some((Sense::AtMost, limit)) => format!(", {}", say!("wanted at most {limit}", limit)),
        None => String::new(),
    };
    let margin = f.margin.as_ref().map(|m| format!("; {m}")).unwrap_or_default();
    let mark = match (f.met, f.unknown()) {
        (_, true) => "??",
        (Some(false), _) => say!("NO"),
        (Some(true), _) => say!("ok"),
        (None, false) => "",
    };
    let note = if f.note.is_empty() { String::new() } else { format!(" ({})", f.note) };
    format!("{mark:<2} {}{of}: {}{wanted}{margin}{note}", f.label, f.value)
}
