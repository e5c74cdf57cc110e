//! The report as one page that stands by itself: no script, nothing fetched, every text escaped.
//!
//! Always: what the page may do is said in its head and no more is allowed (`default-src 'none'`, the one style by its
//! hash); words of a register are data and never markup. The template lays out and decides nothing.

use super::{Report, plots};
use crate::tongue::{Tongue, say, say_n};
use data_encoding::BASE64;
use minijinja::value::{Kwargs, Serde, Value};
use minijinja::{AutoEscape, Environment, HtmlEscape, UndefinedBehavior, context};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

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

/// Links to the ends of a list of lines.
fn ends(of: &Value, id: &str) -> Value {
    let links = |name: &str| {
        let all = of.get_attr(name).ok().and_then(|v| v.try_iter().ok());
        all.into_iter().flatten().map(|l| at(&l, id).to_string()).collect::<Vec<_>>()
    };
    let between = of.get_attr("between").is_ok_and(|n| n.is_true());
    let (first, last) = (links("first"), links("last"));
    let joined = match (last.is_empty(), between) {
        (true, _) => first.join(", "),
        (false, false) => format!("{}, {}", first.join(", "), last.join(", ")),
        (false, true) => format!("{} … {}", first.join(", "), last.join(", ")),
    };
    Value::from_safe_string(joined)
}

/// The permit or the set that a finding is about.
fn about(of: &Value) -> String {
    let get = |name: &str| of.get_attr(name).ok().and_then(|v| v.as_str().map(str::to_owned));
    get("permit").or_else(|| get("set")).unwrap_or_default()
}

/// Words with their places filled in. What fills one is text, or was made to stand on the page.
fn put(text: &str, values: Kwargs) -> Result<Value, minijinja::Error> {
    let mut filled = String::with_capacity(text.len() + 64);
    let mut rest = text;
    // The places are ours; what fills them may hold braces of its own.
    while let Some((before, (name, after))) =
        rest.split_once('{').and_then(|(before, tail)| Some((before, tail.split_once('}')?)))
    {
        filled.push_str(before);
        let value: Value = values.get(name)?;
        if value.is_safe() {
            filled.push_str(&value.to_string());
        } else {
            filled.push_str(&HtmlEscape(&value.to_string()).to_string());
        }
        rest = after;
    }
    filled.push_str(rest);
    values.assert_all_used()?;
    Ok(Value::from_safe_string(filled))
}

/// The fixed words of the page, by the names that the template has for them.
fn fixed() -> BTreeMap<&'static str, Value> {
    let all = [
        ("title", say!("Audit: {verdict}")),
        ("head", say!("Audit of {registers}, worked out from the bytes by {program}")),
        ("of_register", say!("station {station} ({name})")),
        (
            "numbers",
            say!(
                "Numbers such as {link} lead to the lines they are from. Times are those of the site, with how far they are \
                 from UTC. A record says what was written down; whether it was so, people say."
            ),
        ),
        ("two_registers", say!("two registers")),
        ("in_lines", say!("(lines {lines})")),
        ("station", say!("Station {station}")),
        ("from_to", say!(", from {from} ({first}) to {to} ({last})")),
        ("head_log", say!("Head {head}, log {log}.")),
        ("contents", say!("Contents")),
        ("found", say!("What was found")),
        ("ask", say!("Questions to ask")),
        ("outside", say!("What stands outside")),
        ("holds", say!("Holds")),
        ("permits", say!("Permits")),
        ("sets", say!("Sets and air tests")),
        ("texts", say!("Texts in force, and what changed")),
        ("th_text", say!("text")),
        ("revision", say!("revision {n}")),
        ("differs", say!("{what}, line {line}, beside line {before}")),
        (
            "changes",
            say!(
                "lines put in (+): {put_in}, taken out (-): {taken_out}; each by its number in its own text"
            ),
        ),
        ("more_changes", say!("and {n} more; they stand in the register")),
        ("no_difference", say!("No line of it differs.")),
        ("no_changes", say!("No text was put in force a second time.")),
        ("people", say!("People and keys")),
        ("lines", say!("Lines")),
        ("lines_named", say!("Lines that are named above")),
        ("at_line", say!("line {line}:")),
        ("copy", say!("copy")),
        ("th_line", say!("line")),
        ("th_time", say!("time")),
        ("th_kind", say!("kind")),
        ("th_who", say!("who")),
        ("th_says", say!("says")),
        ("th_about", say!("permit or set")),
        ("th_rules", say!("what the rules say")),
        ("th_missing", say!("what is missing")),
        ("th_breaks", say!("what it says it breaks")),
        ("th_held_by", say!("held by")),
        ("th_stands", say!("how it stands")),
        ("th_from", say!("from")),
        ("th_to", say!("to")),
        ("th_lines", say!("lines")),
        ("th_own_word", say!("by their own word")),
        ("th_clocks", say!("written, by clocks outside")),
        ("th_when", say!("when")),
        ("th_permit", say!("permit")),
        ("th_held", say!("what held")),
        ("th_cleared", say!("cleared after")),
        ("th_how", say!("how")),
        ("th_step", say!("step")),
        ("th_given_on", say!("given on")),
        ("th_given", say!("given")),
        ("th_carried", say!("carried")),
        ("th_age", say!("age, h")),
        ("th_alarm", say!("alarm")),
        ("th_inside", say!("inside then")),
        ("th_out", say!("everyone out after")),
        ("th_what", say!("what")),
        ("th_value", say!("value")),
        ("th_person", say!("person")),
        ("th_signed", say!("signed")),
        ("th_by", say!("by")),
        ("th_as", say!("as")),
        ("th_machine", say!("machine")),
        ("th_key", say!("key")),
        ("th_tested", say!("air tested")),
        ("th_where", say!("where, by whom")),
        ("th_good_to", say!("good to")),
        ("th_found", say!("found")),
        ("th_roles", say!("roles")),
        ("th_often", say!("signed: how often, first and last line")),
        ("th_on_air", say!("on air")),
        ("th_supervisor", say!("as a supervisor")),
        ("no_contradiction", say!("No line contradicts the rules it was written under.")),
        ("contradicts", say!("Contradicts the rules: no honest program writes these lines here")),
        ("gaps", say!("Not told of, or late: a line that should stand somewhere does not")),
        ("forbidden", say!("Reports of what the rules forbid: true, and written down as what they are")),
        ("not_judged", say!("Not judged here")),
        ("no_question", say!("The lines give no reason for any.")),
        (
            "black",
            say!(
                "Black: something outside speaks for these lines. Hatched: nothing outside does; they could have been \
                 cut off or written anew."
            ),
        ),
        ("nothing_held", say!("Nothing ever held.")),
        (
            "day_key",
            say!(
                "Permit: white draft, dotted declared, black live, hatched suspended, grey handed back or over. \
                 People: thin grey on air, black inside."
            ),
        ),
        (
            "no_test",
            say!(
                "No air test is entered as a line of the set before it was issued; what was answered of one stands \
                 among its answers."
            ),
        ),
        ("carried_age", say!("Carried answers and their age")),
        ("no_permits", say!("No permit was opened.")),
        ("at_line_why", say!("line {line}: {why}")),
        ("judged", say!("Judged again, by kind, with the first and the last of its lines: {kinds}.")),
        (
            "scrolls",
            say!(
                "This picture is wider than a narrow screen: it scrolls sideways. All of it stands in tables too."
            ),
        ),
        (
            "refusals",
            say!(
                "Refusals that could not be judged again, since what was typed is in no record: {n} (lines {lines})."
            ),
        ),
        ("left_out_refusals", say!("A refusal that was left out of the record cannot be seen by anyone.")),
        ("unjudged", say!("not judged")),
        ("plain", say!("Plain answers")),
        ("question_lines", say!(" · lines {lines}")),
        ("and_more", say!(" and {n} more")),
        ("same_line", say!("the same line stands here, of {time}")),
        ("another_history", say!("another history")),
        ("it_holds", say!("it holds {hash}, here stands {here}")),
        ("not_here", say!("not here")),
        ("later", say!("it is later than the last line here")),
        ("span", say!("{from} to {to}")),
        ("nothing_outside", say!("nothing outside")),
        ("after", say!("after {time}")),
        ("before", say!("before {time}")),
        ("times", say!("times do not fit")),
        ("never", say!("never")),
        ("set_at", say!("Set {set} at {place}")),
        ("for_shutdown", say!(", for a shutdown alone")),
        ("opened", say!("Opened {time} ({line})")),
        ("issued", say!(", issued {time} ({line})")),
        ("never_issued", say!(", never issued")),
        ("valid_to", say!(", valid to {time}")),
        ("last_line", say!("; last line {line}.")),
        ("answers", say!("{answers} answers (lines {lines}), {held} held")),
        ("never_cleared", say!("{n} never cleared")),
        ("carried", say!("; {n} carried")),
        ("late", say!("; entered late: {steps}")),
        ("issued_on", say!("Issued on the air test of {day} ({line}), good to {due}:")),
        ("days_over", say!("{n} days over")),
        ("days_left", say!("{n} days left")),
        ("outside_limits", say!("; outside the limits: {why}")),
        ("left", say!("left")),
        ("never_told", say!("never told")),
        ("never_on", say!("told out; that they went on air, never")),
        ("nobody", say!("nobody")),
        ("beside", say!("{name} on air outside, mask off after {time} ({line})")),
        ("beside_never", say!("{name} on air outside, mask off:")),
        ("perhaps", say!("{name} on air and never told in, mask off after {time} ({line})")),
        ("perhaps_never", say!("{name} on air and never told in, mask off:")),
        ("readings", say!("Readings of the watch ({n})")),
        ("on_air", say!("On air ({n})")),
        ("refused", say!("Asked and refused ({n})")),
        ("hanging", say!("Not said to be taken down: {copies}.")),
        ("their_own", say!("their own")),
        ("the_stations", say!("the station's")),
        ("permits_of", say!("Permits:")),
        ("none", say!("none")),
        ("holds_too", say!("station {station} holds it too ({line}).")),
        ("not_known", say!("not known")),
        ("outside_its", say!("outside its limits")),
        ("within_its", say!("within its limits")),
        ("last_of", say!("Last {what}, {time} ({line}).")),
        ("last_event", say!("Last event {what}: {time} ({line}).")),
        ("drill", say!("Drill at {place}, {time} ({line}):")),
        ("not_timed", say!("not timed to the end")),
        ("mask_off", say!("the last mask off after {time}")),
        ("own_machine", say!("own machine")),
        ("at_station", say!("at the station")),
        ("entered_as", say!("entered as them: {n} (lines {lines})")),
        ("times_min", say!("{times} times, {minutes} min")),
        ("longest", say!("longest {minutes} min")),
        ("signed_at", say!("signed {time}")),
        ("stood_from", say!("from {time} ({line})")),
        ("stood_to", say!("to {time} ({line})")),
        ("th_off", say!("every mask off after")),
        ("th_way_out", say!("way out of the job")),
        ("longer", say!("longer than the way out")),
        ("as_told", say!("(as told {time})")),
        ("as_entered", say!("as it was entered, which counts; by the times told {time}")),
        ("inquiry", say!("What an inquiry asks first")),
        ("sought", say!("Looked for")),
        ("th_last", say!("last told of them before")),
        ("th_found_at", say!("found at")),
        ("th_after", say!("after")),
        ("missing", say!("missing")),
        ("not_seen", say!("not seen outside")),
        ("wrote", say!("What people wrote and told")),
        ("th_told_by", say!("told by")),
        ("flags", say!("To be looked at ({n})")),
        ("never_off", say!("never told off")),
        (
            "as_supervisor",
            say!("issued {issued}, narrowed {narrowed}, read again {looked}, refused {refused}"),
        ),
        (
            "custodians",
            say!(
                "In short: signed words and whole texts stand in the register. Custodians of its roster: {keys}"
            ),
        ),
    ];
    // Ours, and no markup.
    all.into_iter().map(|(name, words)| (name, Value::from_safe_string(words.to_owned()))).collect()
}

fn causes(all: &[crate::replay::Finding]) -> Vec<Value> {
    let one = |t: super::Told| context! { again => super::again(&t.again), t => Value::from(Serde(&t)) };
    super::told(all).into_iter().map(one).collect()
}

fn safe(svg: Option<String>) -> Value {
    Value::from_safe_string(svg.unwrap_or_default())
}

/// Text that stands between tags, where quotes need no escape: of what the lines say it would be a third.
fn between_tags(text: &str) -> Value {
    Value::from_safe_string(text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;"))
}

/// Which part of the page is of a register, by what two registers that are held together call it.
fn ids(report: &super::Report) -> BTreeMap<String, String> {
    let all = report.registers.iter().enumerate();
    all.flat_map(|(n, r)| r.names().map(|name| (name, format!("r{n}")))).collect()
}

/// The page.
pub fn page(report: &Report) -> Result<String, String> {
    let mut env = Environment::new();
    env.set_auto_escape_callback(|_| AutoEscape::Html);
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.add_filter("at", |of: &Value, id: &str| at(of, id));
    env.add_filter("ends", |of: &Value, id: &str| ends(of, id));
    env.add_filter("about", |of: &Value| about(of));
    env.add_filter("lasted", super::lasted);
    env.add_filter("words", super::said);
    env.add_filter("stored", |words: &str| super::stored(words));
    env.add_filter("put", put);
    env.add_filter("between_tags", |text: &str| between_tags(text));
    env.add_filter("site", |utc: &str, zone: &str| crate::time::for_people(utc, zone));
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
            let plain: Vec<Value> = r
                .plain
                .iter()
                .map(|p| context! { p => Value::from(Serde(p)), answered => p.answered() })
                .collect();
            context! {
                id => id.clone(),
                zone => r.last.as_ref().map_or("+00:00", |l| l.zone()),
                r => Value::from(Serde(r)),
                permits => permits,
                plain => plain,
                contradicts => causes(&r.found.contradicts),
                gaps => causes(&r.found.gaps),
                outside => safe(plots::outside(r, &format!("{id}o"))),
                held => safe(plots::holds(r, &format!("{id}h"))),
                size => say_n!(
                    r.volumes,
                    "{lines} lines in {n} volume",
                    "{lines} lines in {n} volumes",
                    lines = r.lines_checked
                ),
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
        language => Tongue::now().tag(),
        w => fixed(),
        report => Value::from(Serde(report)),
        ids => ids(report),
        registers => registers,
    })
    .map_err(|e| say!("the page cannot be laid out: {why}", why = format!("{e:#}")))
}
