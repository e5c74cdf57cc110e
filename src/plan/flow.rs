//! Demand against supply: everyone drawing all they can, and beside outlets that run open.

use super::Basis;
use super::figure::{Figure, Sense, from_float, in_unit, kept};
use crate::air::Refused;
use crate::air::demand::{Outlet, beside_open, peak_inhalation, spare};
use crate::air::measure::Flow;
use crate::site::Values;
use crate::tongue::{say, say_n};
use crate::units::Rounding;

/// A flow of a file.
pub(super) fn flow(values: &Values, field: &'static str) -> Result<Flow, Refused> {
    Flow::new(field, in_unit(values.quantity(field), "L/min"))
}

/// Everybody and everything on this air, each drawing all they can.
pub(super) struct Drawn {
    /// The wearers of the job.
    pub wearers: Vec<Flow>,
    /// Rescuers on this air and consumers, who draw beside them however many wearers there are.
    pub beside: Vec<Flow>,
    /// One more person, of the hungriest kind that is planned.
    pub one_more: Option<Flow>,
}

impl Drawn {
    /// What draws beside the wearers, together.
    pub fn beside(&self) -> f64 {
        self.beside.iter().map(|f| f.get()).sum()
    }
}

/// Rescuers who would come on this air; one who is a wearer in the same mask too, or stands there twice, breathes once.
pub(super) fn rescuers<'b>(b: &'b Basis<'_>) -> Vec<&'b Values> {
    let who = |v: &Values| (v.id().to_owned(), v.text("respirator").unwrap_or_default().to_owned());
    let mut counted: Vec<_> = b.wearers().iter().map(who).collect();
    let all = b.job.items("rescuers").iter().filter(|r| r.text("respirator").is_some());
    all.filter(|r| {
        let new = !counted.contains(&who(r));
        counted.push(who(r));
        new
    })
    .collect()
}

/// A flow of a rescuer's respirator.
fn of_rescuer(b: &Basis<'_>, rescuer: &Values, field: &'static str) -> Result<Flow, Refused> {
    let id = rescuer.text("respirator").unwrap_or_default();
    match b.site.item("respirators", id) {
        Some(kind) => flow(kind, field),
        None => Err(Refused::new(say!("a rescuer's respirator"), id, say!("of a kind that the site keeps"))),
    }
}

/// What everybody and everything on this air can draw, as the gates count it.
pub(super) fn drawn(b: &Basis<'_>) -> Result<Drawn, Refused> {
    let wearers: Vec<Flow> = b.wearers().iter().map(|w| flow(w, "most")).collect::<Result<_, _>>()?;
    let mut beside: Vec<Flow> =
        rescuers(b).into_iter().map(|r| of_rescuer(b, r, "most")).collect::<Result<_, _>>()?;
    let one_more = wearers.iter().chain(&beside).copied().reduce(|a, c| if c > a { c } else { a });
    beside.extend(consumers(b)?);
    Ok(Drawn { wearers, beside, one_more })
}

fn consumers(b: &Basis<'_>) -> Result<Vec<Flow>, Refused> {
    b.job.items("consumers").iter().map(|c| flow(c, "flow")).collect()
}

/// Who and what draws beside the wearers, in words; nothing if nobody does.
pub(super) fn beside_words(b: &Basis<'_>) -> Option<String> {
    let mut all = Vec::new();
    let rescuers = rescuers(b).len();
    if rescuers > 0 {
        all.push(say_n!(rescuers, "{n} rescuer on this air", "{n} rescuers on this air"));
    }
    all.extend(b.job.items("consumers").iter().map(|c| b.name(c)));
    (!all.is_empty()).then(|| crate::text::listed(&all, say!("and")))
}

pub(super) fn figures(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) {
    if let Err(why) = spared(b, out, changes) {
        out.push(Figure::lacking("flow_spare", say!("flow left over"), why.to_string()));
    }
    if let Err(why) = beside(b, out, changes) {
        out.push(Figure::lacking("flow_beside", say!("flow beside outlets run open"), why.to_string()));
    }
    for w in b.wearers().iter().filter(|w| w.choice("feeds") == Some("demand")) {
        let peak = flow(w, "planned").and_then(peak_inhalation).and_then(|p| from_float(p.get(), "L/min"));
        if let Ok(peak) = peak {
            let value = b.units.quantity(&peak, 0, Rounding::Up);
            let note = say!("highest flow within a breath at the planned work, pi times its minute volume");
            out.push(Figure::shown("peak_inhalation", say!("peak inhalation"), value, note).of(&b.name(w)));
        }
    }
}

fn spared(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) -> Result<(), Refused> {
    let (rated, drawn) = (flow(b.set, "rated_flow")?, drawn(b)?);
    let all: f64 = drawn.wearers.iter().map(|f| f.get()).sum::<f64>() + drawn.beside();
    let wanted = from_float(all, "L/min")?;
    let have = from_float(rated.get(), "L/min")?;
    let note = say!(
        "free air at working pressure; wearers, rescuers on this air and consumers, each drawing all they can"
    );
    let rated_for =
        Figure::limited(b.units, "rated_flow", say!("rated flow"), &have, (Sense::AtLeast, &wanted), 0, note);
    out.push(rated_for);
    // One more of the hungriest kind.
    if let Some(one) = drawn.one_more {
        let more: Vec<Flow> = drawn.wearers.iter().copied().chain([one]).collect();
        let n = b.wearers().len() + 1;
        let (left, lacks) = spare(rated, &more, &drawn.beside)?;
        let outlets = b.set.items("outlets").len();
        let who = one_more(n);
        if outlets < n {
            changes.push(say_n!(
                outlets,
                "{who} does not fit: the set has {n} outlets",
                "{who} does not fit: the set has {n} outlets",
                who
            ));
        } else if lacks.get() > 0.0 {
            let short = b.units.quantity(&from_float(lacks.get(), "L/min")?, 0, Rounding::Up);
            changes.push(say!("{who} does not fit: supply short by {short}", who, short));
        } else {
            let left = b.units.quantity(&from_float(left.get(), "L/min")?, 0, Rounding::Down);
            changes.push(say!("{who} would fit the supply, with {left} left over", who, left));
        }
    }
    Ok(())
}

/// `a third wearer`, `one more wearer, 11 in all,`.
fn one_more(n: usize) -> String {
    let one = match n {
        1 => say!("a first wearer"),
        2 => say!("a second wearer"),
        3 => say!("a third wearer"),
        4 => say!("a fourth wearer"),
        5 => say!("a fifth wearer"),
        6 => say!("a sixth wearer"),
        7 => say!("a seventh wearer"),
        8 => say!("an eighth wearer"),
        9 => say!("a ninth wearer"),
        10 => say!("a tenth wearer"),
        _ => return say!("one more wearer, {n} in all,", n),
    };
    one.to_owned()
}

/// Every outlet of the set may be run open on the day, whoever is on it: the one that is left with least.
fn beside(b: &Basis<'_>, out: &mut Vec<Figure>, changes: &mut Vec<String>) -> Result<(), Refused> {
    let leasts = b.wearers().iter().map(|w| flow(w, "least"));
    let leasts = leasts.chain(rescuers(b).into_iter().map(|r| of_rescuer(b, r, "least")));
    let leasts = leasts.collect::<Result<Vec<Flow>, _>>()?;
    let Some(least) = leasts.into_iter().reduce(|a, c| if c > a { c } else { a }) else { return Ok(()) };
    let outlets = b.set.items("outlets").iter().map(|o| {
        let limit = match o.choice("kind") {
            Some("limited") => Some(flow(o, "flow_limit")?),
            Some(_) | None => None,
        };
        Ok(Outlet { limit, least, most: least })
    });
    let outlets = outlets.collect::<Result<Vec<Outlet>, Refused>>()?;
    let fed = match beside_open(flow(b.set, "rated_flow")?, &outlets, &consumers(b)?) {
        Ok(fed) => fed,
        Err(why) => {
            changes.push(
                say!("outlets that are not limited, taken out of service or measured on the set: what is left beside one \
                 that runs open is not known")
                    .into(),
            );
            return Err(why);
        }
    };
    let Some(gets) = fed.into_iter().map(|f| f.gets).reduce(|a, c| if c < a { c } else { a }) else {
        return Ok(());
    };
    let (gets, least) = (from_float(gets.get(), "L/min")?, from_float(least.get(), "L/min")?);
    let gets = kept(&gets, "L/min", 0, Rounding::Down)?;
    let note =
        say!("what is left with every other outlet of the set run open, its hose cut, and every consumer on");
    let (id, label) = ("flow_beside", say!("flow beside outlets run open"));
    let figure = Figure::limited(b.units, id, label, &gets, (Sense::AtLeast, &least), 0, note);
    if figure.met == Some(false) {
        changes.push(
            say!("outlets taken out of service, narrower limiters, consumers on other air, or a larger set")
                .into(),
        );
    }
    out.push(figure);
    Ok(())
}
