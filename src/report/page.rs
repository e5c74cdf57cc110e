//! The report as one page that stands by itself: no script, nothing fetched, every text escaped.
//!
//! Always: what the page may do is said in its head and no more is allowed (`default-src 'none'`, the one style by its
//! hash); words of a register are data and never markup. The template lays out and decides nothing.

use super::{Report, plots};
use data_encoding::BASE64;
use minijinja::value::{Serde, Value};
use minijinja::{AutoEscape, Environment, UndefinedBehavior, context};
use sha2::{Digest, Sha256};

const TEMPLATE: &str = include_str!("page.html");
const STYLE: &str = include_str!("page.css");

/// A link to a line in the table of lines: of anything that has `volume` and `seq`, or `volume` and `line`.
fn at(of: &Value, id: &str) -> Value {
    let get = |name: &str| of.get_attr(name).ok().filter(|v| !v.is_undefined() && !v.is_none());
    let (Some(volume), Some(line)) = (get("volume"), get("seq").or_else(|| get("line"))) else {
        return Value::from("");
    };
    let number = |v: &Value| u64::try_from(v.clone()).unwrap_or_default();
    let (volume, line) = (number(&volume), number(&line));
    let words = if volume > 1 { format!("{volume}:{line}") } else { line.to_string() };
    Value::from_safe_string(format!("<a href=\"#{}L{volume}-{line}\">{words}</a>", plots::escaped(id)))
}

/// The permit or the set that a finding is about.
fn about(of: &Value) -> String {
    let get = |name: &str| of.get_attr(name).ok().and_then(|v| v.as_str().map(str::to_owned));
    get("permit").or_else(|| get("set")).unwrap_or_default()
}

/// Seconds as people say them.
fn lasted(seconds: i64) -> String {
    match seconds {
        s if s < 120 => format!("{s} s"),
        s if s < 2 * 3600 => format!("{} min {} s", s / 60, s % 60),
        s if s < 48 * 3600 => format!("{} h {} min", s / 3600, s % 3600 / 60),
        s => format!("{} days {} h", s / 86_400, s % 86_400 / 3600),
    }
}

fn safe(svg: Option<String>) -> Value {
    Value::from_safe_string(svg.unwrap_or_default())
}

/// The page.
pub fn page(report: &Report) -> Result<String, String> {
    let mut env = Environment::new();
    env.set_auto_escape_callback(|_| AutoEscape::Html);
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.add_filter("at", |of: &Value, id: &str| at(of, id));
    env.add_filter("about", |of: &Value| about(of));
    env.add_filter("lasted", lasted);
    env.add_filter("words", |text: &str| text.replace('_', " "));
    env.add_template("page", TEMPLATE).map_err(|e| e.to_string())?;
    let registers: Vec<Value> = report
        .registers
        .iter()
        .enumerate()
        .map(|(n, r)| {
            let id = format!("r{n}");
            let permits: Vec<Value> = r
                .permits
                .iter()
                .enumerate()
                .map(|(i, p)| {
                    context! {
                        p => Value::from(Serde(p)),
                        day => safe(Some(plots::day(p, &format!("{id}p{i}d")))),
                        co => safe(plots::co(p, &format!("{id}p{i}c"))),
                    }
                })
                .collect();
            context! {
                id => id.clone(),
                r => Value::from(Serde(r)),
                permits => permits,
                outside => safe(plots::outside(r, &format!("{id}o"))),
                held => safe(plots::holds(r, &format!("{id}h"))),
            }
        })
        .collect();
    let hash = BASE64.encode(&Sha256::digest(STYLE.as_bytes()));
    let policy =
        format!("default-src 'none'; style-src 'sha256-{hash}'; base-uri 'none'; form-action 'none'");
    let page = env.get_template("page").map_err(|e| e.to_string())?;
    page.render(context! {
        policy => Value::from_safe_string(policy),
        style => Value::from_safe_string(STYLE.to_owned()),
        report => Value::from(Serde(report)),
        registers => registers,
    })
    .map_err(|e| format!("the page cannot be laid out: {e:#}"))
}
