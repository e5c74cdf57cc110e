//! What must fit together inside one file: ends of ranges, a reserve and its cylinders, entry permits
//! or a reason why there is none. By the names of fields; a table without them is not concerned.

use super::Kind;
use super::values::{Entry, Held, Values};
use crate::air::limits::Profile;
use crate::source::{Findings, Node, Tree};
use crate::text::forbidden_in_line;
use crate::tongue::say;

/// Adds what does not fit. `root` gives the places.
pub(super) fn check(kind: Kind, values: &Values, root: &Node, out: &mut Findings) {
    ranges(values, root, out);
    match kind {
        Kind::Set => {
            reserve(values, root, out);
            gauges(values, root, out);
            outlets(values, root, out);
            drive(values, root, out);
            super::plate::check(values, root, out);
        }
        Kind::Job => entry_permits(values, root, out),
        Kind::Site => {
            zone(values, root, out);
            limits(values, root, out);
            respirators(values, root, out);
            siting(values, root, out);
            air_tests(values, root, out);
            escape_sets(values, root, out);
            sections(values, root, out);
        }
    }
}

/// `X_from` must not be above `X_to`, in every group and item.
fn ranges(values: &Values, node: &Node, out: &mut Findings) {
    for Entry { field, held, .. } in values.entries() {
        let own = node.get(field.name).unwrap_or(node);
        match held {
            Held::Map(m) => ranges(m, own, out),
            Held::Items(items) => {
                for (n, item) in items.iter().enumerate() {
                    let at = match &own.tree {
                        crate::source::Tree::Seq(nodes) => nodes.get(n).unwrap_or(own),
                        crate::source::Tree::Scalar(..) | crate::source::Tree::Map(_) => own,
                    };
                    ranges(item, at, out);
                }
            }
            Held::Quantity(from) => {
                let to =
                    field.name.strip_suffix("_from").and_then(|stem| values.quantity(&format!("{stem}_to")));
                if to.and_then(|to| from.quantity.compare(to)) == Some(std::cmp::Ordering::Greater) {
                    let message = say!("`{field}` is {from}, above its upper end", field = field.name, from);
                    out.hinted("empty-range", own, message, say!("the lower end comes first"));
                }
            }
            Held::Id(_)
            | Held::Words(_)
            | Held::Text(_)
            | Held::Bool(_)
            | Held::Choice(_)
            | Held::Number(_)
            | Held::Date(_)
            | Held::Span { .. }
            | Held::TimeOfDay(_)
            | Held::Texts(_) => {}
        }
    }
}

fn reserve(values: &Values, root: &Node, out: &mut Findings) {
    let at = root.get("reserve").unwrap_or(root);
    let some = !values.items("cylinders").is_empty();
    match values.choice("reserve") {
        Some("cylinders") if !some => out.hinted(
            "reserve-disagrees",
            at,
            say!("the reserve is cylinders, and none is listed"),
            say!("list them, or write `reserve: none`"),
        ),
        Some("none") if some => out.hinted(
            "reserve-disagrees",
            at,
            say!("there is no reserve, and cylinders are listed"),
            say!("remove them, or write `reserve: cylinders`"),
        ),
        Some(_) | None => {}
    }
}

/// Where a field stands; the file as a whole where a default stands for it.
fn at<'n>(root: &'n Node, field: &str) -> &'n Node {
    root.get(field).unwrap_or(root)
}

/// Where a field of an item stands; the item or the list where it does not.
pub(super) fn nth<'n>(root: &'n Node, list: &str, n: usize, field: &str) -> &'n Node {
    let whole = at(root, list);
    let item = match &whole.tree {
        crate::source::Tree::Seq(items) => items.get(n).unwrap_or(whole),
        crate::source::Tree::Scalar(..) | crate::source::Tree::Map(_) => whole,
    };
    item.get(field).unwrap_or(item)
}

/// Pressures of the reserve that contradict each other, and those without which it cannot be judged.
fn gauges(values: &Values, root: &Node, out: &mut Findings) {
    // A set file has a rated flow; a table without one is not concerned.
    if values.choice("reserve") == Some("cylinders") && values.quantity("rated_flow").is_some() {
        for field in ["reserve_minimum", "reserve_floor"] {
            if values.quantity(field).is_none() {
                let message = say!("the reserve is cylinders, and `{field}` is not given", field);
                out.hinted(
                    "reserve-not-judged",
                    at(root, "reserve"),
                    message,
                    say!("ask the maker, then add it"),
                );
            }
        }
    }
    let mut below = |low: &str, high: &str, why: &str| {
        let (Some(l), Some(h)) = (values.quantity(low), values.quantity(high)) else { return };
        if l.value >= h.value {
            let unit = crate::units::unit("bar");
            let words = |q: &crate::units::Quantity| q.words(unit, crate::units::Rounding::Nearest);
            let message = say!(
                "`{low}` is {l}, not below `{high}`, {h}: {why}",
                low,
                l = words(l),
                high,
                h = words(h),
                why
            );
            out.hinted(
                "pressures-disagree",
                at(root, low),
                message,
                say!("compare both with the maker's papers"),
            );
        }
    };
    below("reserve_floor", "reserve_low_warning", say!("the warning would sound when the air is gone"));
    below("reserve_floor", "reserve_minimum", say!("people would go on air with nothing to leave on"));
    below("reserve_low_warning", "reserve_minimum", say!("people would go on air with the warning sounding"));
    below("change_over_lowest", "supply_pressure_to", say!("no change-over could meet it"));
    if let (Some(to), Some(rated)) =
        (values.quantity("supply_pressure_to"), values.quantity("rated_pressure"))
        && to.value > rated.value
    {
        let message =
            say!("`supply_pressure_to` is above `rated_pressure`, which the supply side stands at most");
        out.hinted(
            "pressures-disagree",
            at(root, "supply_pressure_to"),
            message,
            say!("compare both with the plate"),
        );
    }
    let fill =
        values.items("cylinders").iter().filter_map(|c| c.quantity("fill_pressure")).map(|q| &q.value).min();
    if let (Some(fill), Some(minimum)) = (fill, values.quantity("reserve_minimum"))
        && minimum.value > *fill
    {
        let message =
            say!("`reserve_minimum` is above the fill pressure of a cylinder: no fill could meet it");
        out.hinted(
            "pressures-disagree",
            at(root, "reserve_minimum"),
            message,
            say!("compare it with the cylinders"),
        );
    }
}

fn outlets(values: &Values, root: &Node, out: &mut Findings) {
    let rated = values.quantity("rated_flow");
    for o in values.items("outlets") {
        let limit = o.quantity("flow_limit");
        if o.choice("kind") == Some("limited") && limit.is_none() {
            let message =
                say!("the outlet `{outlet}` is limited, and its `flow_limit` is not given", outlet = o.id());
            out.hinted(
                "outlet-limit",
                at(root, "outlets"),
                message,
                say!("give it, or write `kind: not_stated`"),
            );
        }
        if let (Some(limit), Some(rated)) = (limit, rated)
            && limit.value > rated.value
        {
            let message = say!("the outlet `{outlet}` gives more than the set's rated flow", outlet = o.id());
            out.warning("outlet-limit", at(root, "outlets"), message).hint =
                Some(say!("a limiter that limits nothing: compare both with the maker's papers").into());
        }
    }
}

/// A motor where there must be one, and a plug that carries it.
fn drive(values: &Values, root: &Node, out: &mut Findings) {
    let electric = matches!(values.choice("driven_by"), Some("mains" | "generator"));
    for field in ["motor", "socket"].into_iter().filter(|_| electric) {
        if values.get(field).is_none() {
            let message = say!("it is driven by electricity, and `{field}` is not given", field);
            out.hinted("no-motor", at(root, "driven_by"), message, say!("copy it from the plate"));
        }
    }
    if let (Some(plug), Some(current)) = (values.quantity("socket"), values.quantity("motor.current"))
        && plug.value < current.value
    {
        let message = say!("`socket` is rated below the full-load current of the motor");
        out.hinted("plug-too-small", at(root, "socket"), message, say!("compare both with the plate"));
    }
}

/// A time zone that nobody knows would put every time of day an hour or more off.
fn zone(values: &Values, root: &Node, out: &mut Findings) {
    let Some(name) = values.text("zone") else { return };
    if jiff::tz::TimeZone::get(name).is_err() {
        let known: Vec<String> = jiff::tz::db().available().map(|n| n.to_string()).collect();
        let near = crate::text::nearest(name, known.iter().map(String::as_str));
        let hint = near.map_or(say!("an IANA name, such as Europe/Lisbon").to_owned(), |n| {
            say!("did you mean {near}?", near = n)
        });
        let message = say!("the time zone {zone} is not known", zone = crate::text::quoted(name, 48));
        out.hinted("unknown-zone", at(root, "zone"), message, hint);
    }
}

/// Limits looser than the named rule that the site works under.
fn limits(values: &Values, root: &Node, out: &mut Findings) {
    let Some(name) = values.choice("limits.profile") else { return };
    // The water of the line follows from the pressure that the set says. Here only what holds at every pressure: at
    // nought the table is at its loosest.
    let nought = crate::units::Quantity {
        value: num_rational::BigRational::from_integer(0.into()),
        dimension: crate::units::Dimension::Pressure,
    };
    // The choices of the field are those that ship.
    let Ok(profile) = Profile::shipped(&name.replace('_', "-")) else { return };
    for (field, rule) in profile.figures(&nought) {
        let Some(own) = values.quantity(&format!("limits.{field}")) else { continue };
        let looser = if field == "o2_from" { own.value < rule.value } else { own.value > rule.value };
        if looser {
            let place = root.get("limits").and_then(|l| l.get(field)).unwrap_or(root);
            let words = rule.words(None, crate::units::Rounding::Nearest);
            let message =
                say!("`{field}` is looser than {rule}: {words}", field, rule = profile.title, words);
            out.hinted(
                "looser-than-its-rule",
                place,
                message,
                say!("a site may only be stricter than its rule"),
            );
        }
    }
}

/// In light wind or downwind fumes reach farther, never less far.
fn siting(values: &Values, root: &Node, out: &mut Findings) {
    if let (Some(down), Some(any)) =
        (values.quantity("clearance_downwind"), values.quantity("clearance_exhaust"))
        && down.value < any.value
    {
        let words = |q: &crate::units::Quantity| q.words(None, crate::units::Rounding::Nearest);
        let message = say!(
            "`clearance_downwind` is {downwind}, less than `clearance_exhaust`, {any}, which is wanted in any wind",
            downwind = words(down),
            any = words(any)
        );
        out.hinted(
            "clearances-disagree",
            at(root, "clearance_downwind"),
            message,
            say!("downwind the distance is at least as large"),
        );
    }
}

/// The longest time between air tests that the source of its default knows.
const TEST_MONTHS: i32 = 3;

fn air_tests(values: &Values, root: &Node, out: &mut Findings) {
    let Some((months, days)) = values.span("air_test_months") else { return };
    let place = at(root, "air_test_months");
    let shown = crate::units::span_text(months, days);
    if months <= 0 && days <= 0 {
        let message = say!("`air_test_months` is {shown}: no air test could be good for any permit", shown);
        out.hinted("empty-span", place, message, say!("write {TEST_MONTHS} months, or less", TEST_MONTHS));
    // No three months are longer than 92 days.
    } else if months > TEST_MONTHS
        || months == TEST_MONTHS && days > 0
        || i64::from(months) * 30 + i64::from(days) > 92
    {
        let message = say!(
            "`air_test_months` is {shown}, longer than the {TEST_MONTHS} months between air tests of HSE HSG53 (from memory)",
            shown,
            TEST_MONTHS
        );
        out.warning("test-too-rare", place, message).hint =
            Some(say!("write {TEST_MONTHS} months, or less", TEST_MONTHS));
    }
}

/// An escape set that is approved with no respirator, or with one the site does not have, can be carried by nobody.
fn escape_sets(values: &Values, root: &Node, out: &mut Findings) {
    let known: Vec<&str> = values.items("respirators").iter().map(Values::id).collect();
    for (n, set) in values.items("escape_sets").iter().enumerate() {
        let place = nth(root, "escape_sets", n, "approved_with");
        let with = set.texts("approved_with");
        if with.is_empty() {
            let message = say!("the escape set `{set}` is approved with no respirator", set = set.id());
            out.hinted("escape-approval", place, message, say!("name the respirators that its maker names"));
        }
        for id in with.iter().filter(|id| !known.contains(&id.as_str())) {
            let message = say!(
                "the escape set `{set}` is approved with {with}, which is no respirator of this site",
                set = set.id(),
                with = crate::text::quoted(id, 40)
            );
            let hint = match crate::text::nearest(id, known.iter().copied()) {
                Some(near) => say!("did you mean `{near}`?", near),
                None => say!("name an id of `respirators`").to_owned(),
            };
            out.hinted("escape-approval", place, message, hint);
        }
    }
}

/// Sections of a hose are counted.
fn sections(values: &Values, root: &Node, out: &mut Findings) {
    for (list, field) in [("hoses", "sections"), ("respirators", "sections_most")] {
        for (n, item) in values.items(list).iter().enumerate() {
            if let Some(number) = item.number(field).filter(|d| !d.to_exact().is_integer()) {
                let message = say!(
                    "`{field}` of `{item}` is {number}; wanted: a whole number",
                    field,
                    item = item.id(),
                    number
                );
                out.hinted("not-whole", nth(root, list, n, field), message, say!("count the sections"));
            }
        }
    }
    if let Some(number) = values.number("rescuers_least").filter(|d| !d.to_exact().is_integer()) {
        let message = say!("`rescuers_least` is {number}; wanted: a whole number", number);
        out.hinted("not-whole", at(root, "rescuers_least"), message, say!("write 2"));
    }
}

fn respirators(values: &Values, root: &Node, out: &mut Findings) {
    for (n, r) in values.items("respirators").iter().enumerate() {
        if let (Some(inlet), Some(from)) = (r.quantity("inlet_from"), r.quantity("pressure_from"))
            && inlet.value > from.value
        {
            let message = say!(
                "the respirator `{respirator}` wants more at its mask end than its maker's table begins with: no hose adds pressure",
                respirator = r.id()
            );
            out.hinted(
                "pressures-disagree",
                nth(root, "respirators", n, "inlet_from"),
                message,
                say!("compare `inlet_from` and `pressure_from` with the maker's papers"),
            );
        }
        let most = r.quantity("most");
        for field in ["least", "planned"] {
            if let (Some(flow), Some(most)) = (r.quantity(field), most)
                && flow.value > most.value
            {
                let message = say!(
                    "the respirator `{respirator}` has `{field}` above `most`, which it can draw",
                    respirator = r.id(),
                    field
                );
                out.hinted(
                    "flows-disagree",
                    at(root, "respirators"),
                    message,
                    say!("compare both with the maker's papers"),
                );
            }
        }
    }
}

/// Characters of a text of a job beyond which it takes the room of what people work by on page one. Our own judgement: about
/// two lines there.
const SHORT: usize = 120;
/// Beyond this no job is taken from a file.
const LONGEST: usize = 200;

/// Every text of a job stands on one line of the record, and most of them on page one.
fn texts_of_job(node: &Node, name: &str, out: &mut Findings) {
    match &node.tree {
        Tree::Scalar(text, _) => {
            if text.chars().any(forbidden_in_line) {
                let message =
                    say!("`{name}` must be one line, and holds a line break or a control character", name);
                out.hinted("not-one-line", node, message, say!("write it on one line"));
            } else if !text.trim().is_empty() && !text.chars().any(char::is_alphanumeric) {
                // Somebody acts by it: a dot is no signal. An empty one is told where it is read.
                let got = crate::text::quoted(text, 20);
                let message = say!("`{name}` is {got}, which says nothing", name, got);
                out.hinted("no-words", node, message, say!("write words or a number"));
            } else if text.chars().count() > LONGEST {
                let message = say!(
                    "`{name}` has {long} characters; wanted: at most {LONGEST}, most of them stand on page one",
                    name,
                    long = text.chars().count(),
                    LONGEST
                );
                out.hinted(
                    "text-too-long",
                    node,
                    message,
                    say!("say it in at most {SHORT} characters", SHORT),
                );
            } else if text.chars().count() > SHORT {
                let message = say!(
                    "`{name}` has {long} characters: it leaves little room on page one for what people work by",
                    name,
                    long = text.chars().count()
                );
                out.warning("long-text", node, message).hint =
                    Some(say!("say it in at most {SHORT} characters", SHORT));
            }
        }
        Tree::Map(all) => all.iter().for_each(|(key, n)| texts_of_job(n, &key.text, out)),
        Tree::Seq(all) => all.iter().for_each(|n| texts_of_job(n, name, out)),
    }
}

/// What is asked of a job file and not of a job in a register, which was judged when it was written.
pub(super) fn job_file(values: &Values, root: &Node, out: &mut Findings) {
    texts_of_job(root, "job", out);
    // A table without persons is not concerned.
    if values.get("wearers").is_none() {
        return;
    }
    if values.items("wearers").is_empty() {
        out.hinted(
            "no-wearer",
            at(root, "wearers"),
            say!("the job names no wearer"),
            say!("name who goes on this air"),
        );
    }
    for (field, message) in super::together::job(values) {
        // Opening a permit refuses it; a job that is still being written is read nevertheless.
        out.warning("job-disagrees", at(root, field), message).hint =
            Some(say!("change the job to what will be done; no permit is opened on it").into());
    }
}

fn entry_permits(values: &Values, root: &Node, out: &mut Findings) {
    if values.items("entry_permits").is_empty() && values.text("why_no_entry_permit").is_none() {
        out.hinted(
            "no-entry-permit",
            root,
            say!("no entry permit is named, and no reason why there is none"),
            say!("add `entry_permits:` or `why_no_entry_permit:`"),
        );
    }
}
