//! Pictures of the report: a permit's day, holds until they were cleared, carbon monoxide beside its limit, what outside
//! speaks for.
//!
//! Out: SVG text that stands inside the page. Always: black on white, told apart by shape and hatching, words beside
//! every shape; everything drawn stands in a table too; no script, no style of its own, all text escaped. Positions are
//! of the page and decide nothing.

use super::Register;
use super::permits::PermitFacts;
use crate::audit::anchors::{Kind, Standing};
use crate::time::{clock, seconds};
use crate::tongue::say;

/// Width of every picture, and where its drawing begins.
const WIDE: f64 = 760.0;
const LEFT: f64 = 170.0;

/// Text as it may stand in SVG.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in crate::text::safe_line(text).chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

fn short(text: &str, most: usize) -> String {
    let cut: String = text.chars().take(most).collect();
    let more = if text.chars().nth(most).is_some() { "…" } else { "" };
    escaped(&format!("{cut}{more}"))
}

struct Svg {
    id: String,
    body: String,
    high: f64,
}

impl Svg {
    fn new(id: &str) -> Svg {
        Svg { id: id.to_owned(), body: String::new(), high: 0.0 }
    }

    fn text(&mut self, x: f64, y: f64, anchor: &str, words: &str) {
        self.body += &format!("<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{words}</text>");
    }

    fn bar(&mut self, x: f64, y: f64, (wide, high): (f64, f64), class: &str) {
        let fill = match class {
            "solid" => "#222".to_owned(),
            "pale" => "#d8d8d8".to_owned(),
            "empty" => "#fff".to_owned(),
            hatch => format!("url(#{}-{hatch})", self.id),
        };
        self.body += &format!(
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{:.1}\" height=\"{high:.1}\" fill=\"{fill}\" stroke=\"#222\" stroke-width=\"0.8\"/>",
            wide.max(1.0)
        );
    }

    fn rule(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64), dash: &str) {
        self.body += &format!(
            "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" stroke=\"#222\" stroke-width=\"1\" stroke-dasharray=\"{dash}\"/>"
        );
    }

    fn done(self, alt: &str) -> String {
        let Svg { id, body, high } = self;
        let hatch = |name: &str, path: &str| {
            format!(
                "<pattern id=\"{id}-{name}\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\"><path d=\"{path}\" \
                 stroke=\"#222\" stroke-width=\"1.2\" fill=\"none\"/></pattern>"
            )
        };
        format!(
            "<svg role=\"img\" viewBox=\"0 0 {WIDE} {high:.0}\" xmlns=\"http://www.w3.org/2000/svg\"><title>{}</title><defs>{}{}</defs>{body}</svg>",
            escaped(alt),
            hatch("slant", "M0,6 L6,0"),
            hatch("dots", "M1,3 h1.6")
        )
    }
}

fn x_of(t: i64, (from, to): (i64, i64)) -> f64 {
    let span = (to - from).max(1) as f64;
    LEFT + (t.clamp(from, to) - from) as f64 / span * (WIDE - LEFT - 12.0)
}

/// Whole hours at the site between two times; every second, third, sixth or twelfth where there are many.
fn axis(svg: &mut Svg, span: (i64, i64), zone: &str, (top, bottom): (f64, f64)) {
    let hours = (span.1 - span.0) / 3600 + 1;
    let step =
        [1, 2, 3, 6, 12, 24, 48, 168, 720].into_iter().find(|s| hours / s <= 12).unwrap_or(8760) * 3600;
    let offset = crate::time::offset_seconds(zone);
    let mut t = (span.0 + offset).div_euclid(step) * step - offset + step;
    while t < span.1 {
        let x = x_of(t, span);
        svg.rule((x, top), (x, bottom), "1 4");
        // The last one would be cut by the edge.
        let x = x.min(WIDE - 18.0);
        svg.text(x, bottom + 12.0, "middle", &clock(&crate::time::utc(t), zone));
        t += step;
    }
}

fn fill_of(state: &str) -> &'static str {
    match state {
        "live" => "solid",
        "suspended" => "slant",
        "declared" => "dots",
        "draft" => "empty",
        _ => "pale",
    }
}

/// A permit's day: its states, who was on air and inside, alarms.
pub fn day(p: &PermitFacts, id: &str) -> String {
    let span = (seconds(&p.opened.utc), seconds(&p.last.utc).max(seconds(&p.opened.utc) + 60));
    let zone = p.opened.zone().to_owned();
    let mut people: Vec<&str> = Vec::new();
    for s in &p.spells {
        if !people.contains(&s.person.as_str()) {
            people.push(&s.person);
        }
    }
    let mut svg = Svg::new(id);
    // Names of alarms stand one under the other, so that two of one minute can both be read.
    let top = 12.0 * p.alarms.len().min(6) as f64 + 8.0;
    let bottom = top + 26.0 + 20.0 * people.len() as f64;
    axis(&mut svg, span, &zone, (top, bottom));
    svg.text(LEFT - 8.0, top + 16.0, "end", say!("state of the permit"));
    for (i, c) in p.states.iter().enumerate() {
        let from = x_of(seconds(&c.utc), span);
        let to = p.states.get(i + 1).map_or(x_of(span.1, span), |n| x_of(seconds(&n.utc), span));
        svg.bar(from, top + 4.0, (to - from, 16.0), fill_of(c.state));
    }
    for (n, person) in people.iter().enumerate() {
        let y = top + 28.0 + 20.0 * n as f64;
        let name = p.spells.iter().find(|s| s.person == **person).map_or("", |s| s.name.as_str());
        svg.text(LEFT - 8.0, y + 10.0, "end", &short(if name.is_empty() { person } else { name }, 22));
        for s in p.spells.iter().filter(|s| s.person == **person) {
            let from = x_of(seconds(&s.from.utc), span);
            let to = s.to.as_ref().map_or(x_of(span.1, span), |t| x_of(seconds(&t.utc), span));
            svg.bar(from, y + 4.0, (to - from, 4.0), "pale");
            for (a, b) in &s.inside {
                let from = x_of(seconds(a), span);
                let to = b.as_ref().map_or(x_of(span.1, span), |b| x_of(seconds(b), span));
                svg.bar(from, y, (to - from, 12.0), "solid");
            }
        }
    }
    for (n, a) in p.alarms.iter().enumerate() {
        let (x, y) = (x_of(seconds(&a.when), span), 11.0 + 12.0 * (n % 6) as f64);
        svg.rule((x, y), (x, bottom), "5 2");
        let anchor = if x > WIDE - 90.0 { "end" } else { "start" };
        let side = if x > WIDE - 90.0 { -3.0 } else { 3.0 };
        svg.text(x + side, y, anchor, &short(&super::said(&a.what), 18));
    }
    svg.high = bottom + 18.0;
    svg.done(&say!("The day of {permit}: its state, who was on air and inside, alarms", permit = p.number))
}

/// How long each hold took until it was cleared.
pub fn holds(r: &Register, id: &str) -> Option<String> {
    let all: Vec<_> = r.holds.iter().rev().take(24).collect();
    let most = all.iter().filter_map(|h| h.cleared.as_ref()).map(|c| c.seconds).max().unwrap_or(60).max(60);
    if all.is_empty() {
        return None;
    }
    let mut svg = Svg::new(id);
    let left = 300.0;
    for (n, h) in all.iter().rev().enumerate() {
        let y = 6.0 + 18.0 * n as f64;
        svg.text(left - 8.0, y + 10.0, "end", &short(&format!("{} · {}", h.line, h.label), 44));
        match &h.cleared {
            Some(c) => {
                let wide = c.seconds as f64 / most as f64 * (WIDE - left - 150.0);
                svg.bar(left, y, (wide, 11.0), "solid");
                let words =
                    say!("{minutes} min, {how}", minutes = (c.seconds + 59) / 60, how = super::said(&c.how));
                svg.text(left + wide.max(1.0) + 6.0, y + 10.0, "start", &escaped(&words));
            }
            None => {
                svg.bar(left, y, (WIDE - left - 150.0, 11.0), "slant");
                svg.text(WIDE - 144.0, y + 10.0, "start", say!("never cleared here"));
            }
        }
    }
    svg.high = 10.0 + 18.0 * all.len() as f64;
    Some(svg.done(say!("How long each hold took until it was cleared")))
}

/// Carbon monoxide as it was read, beside the site's limit.
pub fn co(p: &PermitFacts, id: &str) -> Option<String> {
    let number = |text: &str| text.split(' ').next().and_then(|n| n.parse::<f64>().ok());
    let read: Vec<(i64, f64, &str)> = p
        .readings
        .iter()
        .filter(|r| r.what == "co" && matches!(r.unit.as_str(), "ppm" | "ml/m3"))
        .filter_map(|r| Some((seconds(&r.at.utc), number(&r.value)?, r.at.line.as_str())))
        .collect();
    let limit = p.co_most.as_deref().and_then(number);
    let alarm = p.co_alarm.as_deref().and_then(number);
    let (first, last) = (read.first()?.0, read.last()?.0);
    let span = (first - 300, last + 300);
    let most = read.iter().map(|r| r.1).chain(limit).chain(alarm).fold(1.0, f64::max) * 1.15;
    let y = |v: f64| 96.0 - v.max(0.0) / most * 84.0;
    let zone = p.opened.zone().to_owned();
    let mut svg = Svg::new(id);
    axis(&mut svg, span, &zone, (10.0, 96.0));
    svg.rule((LEFT, 96.0), (WIDE - 12.0, 96.0), "none");
    svg.text(LEFT - 8.0, 100.0, "end", "0 ppm");
    if let Some(a) = alarm {
        svg.rule((LEFT, y(a)), (WIDE - 12.0, y(a)), "2 3");
        let words = say!("everyone out at {limit}", limit = p.co_alarm.as_deref().unwrap_or_default());
        svg.text(LEFT - 8.0, y(a) + 4.0, "end", &escaped(&words));
    }
    if let Some(l) = limit.filter(|l| alarm != Some(*l)) {
        svg.rule((LEFT, y(l)), (WIDE - 12.0, y(l)), "8 3");
        svg.text(
            LEFT - 8.0,
            // Above the other line, so that both can be read.
            (y(l) + 4.0).min(alarm.map_or(f64::MAX, |a| if a < l { y(a) - 8.0 } else { f64::MAX })),
            "end",
            &escaped(&say!("limit {limit}", limit = p.co_most.as_deref().unwrap_or_default())),
        );
    }
    for (t, v, line) in &read {
        let (x, y) = (x_of(*t, span), y(*v));
        let over = limit.is_some_and(|l| *v > l) || alarm.is_some_and(|a| *v >= a);
        let fill = if over { "#fff" } else { "#222" };
        svg.body += &format!(
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{}\" fill=\"{fill}\" stroke=\"#222\" \
             stroke-width=\"{}\"><title>{}: {v} ppm</title></circle>",
            if over { 5.5 } else { 3.2 },
            if over { 2.5 } else { 1.0 },
            escaped(&say!("line {line}", line))
        );
    }
    svg.high = 114.0;
    Some(
        svg.done(say!(
            "Carbon monoxide as it was read, beside where everyone comes out and the limit of the site; a large ring is over one \
             of them"
        )),
    )
}

/// The register from its first line to its last: what something outside speaks for, and what nothing does.
pub fn outside(r: &Register, id: &str) -> Option<String> {
    let n = r.lines_checked.max(1) as f64;
    let spoken = (r.lines_checked as usize).checked_sub(r.anchored.after)? as f64;
    let wide = WIDE - 24.0;
    let mut svg = Svg::new(id);
    svg.bar(12.0, 24.0, (wide * spoken / n, 16.0), "solid");
    if r.anchored.after > 0 {
        svg.bar(12.0 + wide * spoken / n, 24.0, (wide * r.anchored.after as f64 / n, 16.0), "slant");
    }
    let mut count = 0.0;
    for b in &r.anchored.brackets {
        count += b.lines as f64;
        if b.by.is_some() {
            let x = 12.0 + wide * count / n;
            svg.rule((x, 14.0), (x, 46.0), "none");
        }
    }
    for h in &r.anchored.held {
        if let (Kind::Head | Kind::Paper | Kind::Token | Kind::Witness, Standing::Differs { at, .. }) =
            (h.anchor.kind, &h.standing)
        {
            svg.text(
                WIDE / 2.0,
                11.0,
                "middle",
                &escaped(&say!("another history from line {line}", line = at)),
            );
        }
    }
    let first = r
        .first
        .as_ref()
        .map(|a| say!("line {line} · {time}", line = a.line, time = a.site))
        .unwrap_or_default();
    let last = r
        .last
        .as_ref()
        .map(|a| say!("line {line} · {time}", line = a.line, time = a.site))
        .unwrap_or_default();
    svg.text(12.0, 58.0, "start", &escaped(&first));
    svg.text(WIDE - 12.0, 58.0, "end", &escaped(&last));
    svg.high = 66.0;
    Some(svg.done(say!(
        "The register from its first line to its last: black, something outside speaks for it; hatched, nothing does")))
}
