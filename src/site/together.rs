//! What set, site and job must agree on: each is good by itself, and together they are not.

use super::values::Values;
use crate::air::limits::Profile;
use crate::tongue::say;
use crate::units::{Quantity, Rounding};

/// In words, everything in which the files of one permit disagree. `job` is worked out.
pub fn disagree(set: &Values, site: &Values, job: &Values) -> Vec<String> {
    let words = |q: &Quantity| q.words(None, Rounding::Nearest);
    let mut why = Vec::new();
    if let (Some(name), Some(own), Some(supply)) = (
        site.choice("limits.profile"),
        site.quantity("limits.water_most"),
        set.quantity("supply_pressure_to"),
    ) && let Ok(profile) = Profile::shipped(&name.replace('_', "-"))
        && let Some((_, rule)) = profile.figures(supply).iter().find(|(f, _)| *f == "water_most")
        && own.value > rule.value
    {
        why.push(say!(
            "the site allows {own} of water, {rule} at the highest supply pressure \
             of this set, {pressure}, at most {most}",
            own = words(own),
            rule = profile.title,
            pressure = words(supply),
            most = words(rule)
        ));
    }
    if let Some(lowest) = set.quantity("supply_pressure_from") {
        for w in job.items("wearers") {
            if let Some(needs) = w.quantity("inlet_from").filter(|n| n.value > lowest.value) {
                why.push(say!(
                    "the respirator of {name} wants {needed} at its mask end, and the \
                     supply of this set may fall to {lowest}",
                    name = w.id(),
                    needed = words(needs),
                    lowest = words(lowest)
                ));
            }
        }
    }
    why
}

/// In words, what in the job itself cannot be.
pub fn job(job: &Values) -> Vec<(&'static str, String)> {
    let mut why = Vec::new();
    let parts = ["notice", "make_safe", "walk", "wash_down"].map(|f| job.quantity(f));
    if parts.iter().all(|p| p.is_some_and(|q| num_traits::Zero::is_zero(&q.value))) {
        why.push((
            "walk",
            say!("the way out takes no time in any of its parts; nobody is out at once").to_owned(),
        ));
    }
    for field in ["hose", "outlet"] {
        let mut seen: Vec<&str> = Vec::new();
        let mut twice: Vec<&str> = Vec::new();
        for id in job.items("wearers").iter().filter_map(|w| w.text(field)) {
            if seen.contains(&id) && !twice.contains(&id) {
                twice.push(id);
            }
            seen.push(id);
        }
        why.extend(twice.iter().map(|id| {
            let words = match field {
                "hose" => say!("the hose `{id}` is given to two wearers", id),
                _ => say!("the outlet `{id}` is given to two wearers", id),
            };
            ("wearers", words)
        }));
    }
    why
}
