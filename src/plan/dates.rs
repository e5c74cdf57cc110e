//! What runs out: examinations, cylinder tests, hoses; and escape sets against the way out.

use super::Basis;
use super::figure::{Figure, Sense};
use crate::tongue::say;
use crate::units::Quantity;
use jiff::civil::Date;
use num_rational::BigRational;

pub(super) fn figures(b: &Basis<'_>, out: &mut Vec<Figure>) {
    let mut due: Vec<(String, Option<Date>)> =
        vec![(say!("examination of the pressure system").to_owned(), b.set.date("examination_due"))];
    due.extend(
        b.set
            .items("cylinders")
            .iter()
            .map(|c| (say!("test of {name}", name = b.name(c)), c.date("test_due"))),
    );
    due.extend(b.set.items("hoses").iter().map(|h| (b.name(h), h.date("replace_by"))));
    due.extend(b.wearers().iter().map(|w| {
        let hose = w.words("hose_name").map_or(say!("the hose"), |n| n.get(&b.language));
        (say!("hose {hose}", hose), w.date("hose_replace_by"))
    }));
    for (what, day) in due {
        let id = "last_good_day";
        out.push(match day {
            Some(day) => {
                let mut figure = Figure::shown(id, &say!("last good day, {what}", what), day.to_string(), "");
                figure.met = Some(day >= b.assumed.today);
                if figure.met == Some(false) {
                    figure.margin = Some(say!("overdue").into());
                    figure.share = Some(-1.0);
                }
                figure
            }
            None => Figure::lacking(
                id,
                &say!("last good day, {what}", what),
                say!("a file does not say it").into(),
            ),
        });
    }
    if b.job.choice("atmosphere") != Some("not") {
        escape_sets(b, out);
    }
}

fn escape_sets(b: &Basis<'_>, out: &mut Vec<Figure>) {
    let factor = b.site.number("way_out_factor").map(crate::units::Decimal::to_exact);
    let way_out = b.job.quantity("way_out");
    for w in b.wearers() {
        let label = say!("minutes of the escape set");
        let figure = match (w.quantity("escape_minutes"), way_out, &factor) {
            (Some(minutes), Some(way_out), Some(factor)) => {
                let wanted: BigRational = &way_out.value * factor;
                let wanted = Quantity { value: wanted, dimension: way_out.dimension };
                let note = say!("the way out with its factor, where the air is or could be dangerous");
                Figure {
                    margin: None,
                    ..Figure::limited(
                        b.units,
                        "escape_set",
                        label,
                        minutes,
                        (Sense::AtLeast, &wanted),
                        0,
                        note,
                    )
                }
            }
            // A rule of its own says that one must be carried.
            (None, _, _) => continue,
            (_, _, _) => Figure::lacking("escape_set", label, say!("the way out is not known").into()),
        };
        out.push(figure.of(&b.name(w)));
    }
}
