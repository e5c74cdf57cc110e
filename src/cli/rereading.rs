//! The supervisor reads two gauges again before issuing: asked for one at a time, without what the operator read.
//!
//! Always: `!` calls everyone out here too. Not here: which are drawn, and how they are compared (`permit::decide`).

use super::args::{CallOut, Narrowing};
use super::{End, Outcome, Outside, Place};
use crate::permit::decide::Known;
use crate::permit::decide::sign::{Drawn, Limits, Seen, drawn};
use crate::text::safe_line;
use crate::tongue::say;
use crate::view::StateWord;

/// What is given on the command line, by the gauges drawn.
fn given(typed: &[String], drawn: &[Drawn]) -> Result<Vec<Seen>, End> {
    let mut out = Vec::new();
    for t in typed {
        let Some((key, value)) = t.split_once('=') else {
            return Err(End::Usage(say!("got `{got}`, wanted STEP[/ITEM]=VALUE", got = safe_line(t))));
        };
        let Some(d) = drawn.iter().find(|d| d.key() == key.trim()) else {
            let keys: Vec<String> = drawn.iter().map(Drawn::key).collect();
            let keys = if keys.is_empty() { say!("none").to_owned() } else { keys.join(", ") };
            return Err(End::Usage(say!(
                "`{gauge}` was not drawn; drawn: {keys}",
                gauge = safe_line(key),
                keys
            )));
        };
        let one = seen(d, value);
        // Which of two the hand meant nobody can say; and the first would be a guess that the second mends.
        if out.iter().any(|s: &Seen| s.key() == one.key()) {
            return Err(End::Usage(say!(
                "`{gauge}` stands twice, wanted each gauge once",
                gauge = safe_line(key)
            )));
        }
        out.push(one);
    }
    Ok(out)
}

fn seen(d: &Drawn, typed: &str) -> Seen {
    let value = typed.trim();
    let value = value.strip_suffix(d.unit.as_str()).unwrap_or(value).trim();
    let value = crate::units::Decimal::read(value).map_or_else(|_| value.to_owned(), |v| v.to_string());
    Seen { step: d.step.clone(), item: d.item.clone(), value, unit: d.unit.clone() }
}

/// What was read again goes with what is narrowed; asked for where it was not given.
pub fn read_again(
    station: Option<&Place>,
    known: &Known<'_>,
    number: &str,
    n: &Narrowing,
    limits: &mut Limits,
    outside: &mut Outside<'_>,
) -> Outcome {
    limits.not_seen.clone_from(&n.not_seen);
    let permit = known.permit(number)?;
    let texts = known.texts(permit)?;
    let drawn = drawn(known, permit, &texts);
    limits.seen = given(&n.seen, &drawn)?;
    // Where it cannot be issued the reasons come at once: nobody is sent to a gauge for that.
    if limits.not_seen.is_some() || known.life(permit) != StateWord::Declared {
        return Ok(());
    }
    let given: Vec<String> = limits.seen.iter().map(Seen::key).collect();
    for d in drawn.iter().filter(|d| !given.contains(&d.key())) {
        let out = if station.is_some() { format!(" {}", say!("(! everyone out)")) } else { String::new() };
        writeln!(
            outside.err,
            "{}",
            say!("read this gauge yourself now: {gauge}", gauge = safe_line(&d.ask))
        )?;
        loop {
            write!(
                outside.err,
                "{} ",
                say!(
                    "{gauge} [{key}] in {unit}{out} >",
                    gauge = safe_line(&d.label),
                    key = d.key(),
                    unit = d.unit,
                    out
                )
            )?;
            outside.err.flush()?;
            let mut typed = String::new();
            if outside.input.read_line(&mut typed)? == 0 {
                writeln!(
                    outside.err,
                    "\n{}",
                    say!("nothing is signed: {gauge} was not read again", gauge = safe_line(&d.label))
                )?;
                return Err(End::No);
            }
            match (station, typed.trim()) {
                (Some(place), "!") => {
                    let c = CallOut { permit: Some(number.to_owned()), ..CallOut::default() };
                    super::calling::call_out(place, &c, outside)?;
                }
                (_, "") => {}
                (_, text) => {
                    limits.seen.push(seen(d, text));
                    break;
                }
            }
        }
    }
    Ok(())
}
