//! Demand against supply: whom the set can feed at once, who falls short and by how much.
//!
//! Three flows per respirator: `least` it must get, `planned` for the work, `most` it can draw with every valve
//! open. Always: rated flow is free air delivered at working pressure. An outlet that is not limited can take all
//! there is, so beside one nobody is promised anything. Not here: whether the hose lets it through (`hose`), the
//! reserve (`reserve`).
//! Sources: 42 CFR 84.163 for least flows (read; they stand in site files), peak inhalation flow of sine
//! breathing as pi times the minute volume, arithmetic.

use super::Refused;
use super::measure::Flow;
use crate::tongue::say;

/// An outlet in use and what is asked of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlet {
    /// Most it gives when run open; `None`: not limited, or nobody vouches for it.
    pub limit: Option<Flow>,
    /// Least that its wearer must get.
    pub least: Flow,
    /// Most that its wearer can draw.
    pub most: Flow,
}

/// What one outlet still gets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fed {
    /// Flow left for it, at most its own limit.
    pub gets: Flow,
    /// What its wearer lacks; none if they get the least.
    pub short: Option<Flow>,
}

/// Flow left over with everyone and everything drawing all they can; what lacks, as the second.
///
/// # Errors
/// The sum is beyond what a flow can be.
pub fn spare(rated: Flow, most: &[Flow], consumers: &[Flow]) -> Result<(Flow, Flow), Refused> {
    let drawn: f64 = most.iter().chain(consumers).map(|f| f.get()).sum();
    let spare = rated.get() - drawn;
    Ok((
        Flow::new(say!("the flow left over"), spare.max(0.0))?,
        Flow::new(say!("the flow that lacks"), (-spare).max(0.0))?,
    ))
}

/// What each outlet still gets while every other runs open, the worst for it, and consumers draw all they take.
///
/// # Errors
/// An outlet beside it is not limited: the worst case is not known.
pub fn beside_open(rated: Flow, outlets: &[Outlet], consumers: &[Flow]) -> Result<Vec<Fed>, Refused> {
    let taken: f64 = consumers.iter().map(|f| f.get()).sum();
    let unlimited = outlets.iter().filter(|o| o.limit.is_none()).count();
    outlets
        .iter()
        .enumerate()
        .map(|(n, own)| {
            let beside_unlimited = unlimited > usize::from(own.limit.is_none());
            if beside_unlimited {
                return Err(Refused::new(
                    say!("an outlet beside it"),
                    say!("not limited"),
                    say!("where each has its own limiter; else measure the flow with one run open"),
                ));
            }
            let others: f64 = outlets
                .iter()
                .enumerate()
                .filter(|(m, _)| *m != n)
                .filter_map(|(_, o)| o.limit)
                .map(|f| f.get())
                .sum();
            let left = (rated.get() - taken - others).max(0.0);
            let gets = own.limit.map_or(left, |limit| left.min(limit.get()));
            let short = own.least.get() - gets;
            Ok(Fed {
                gets: Flow::new(say!("the flow it gets"), gets)?,
                short: (short > 0.0).then(|| Flow::new(say!("the flow that lacks"), short)).transpose()?,
            })
        })
        .collect()
}

/// Highest flow within a breath, of sine breathing at a minute volume: pi times it. Speech comes on top.
///
/// # Errors
/// Beyond what a flow can be.
pub fn peak_inhalation(minute_volume: Flow) -> Result<Flow, Refused> {
    Flow::new(say!("the peak inhalation flow"), core::f64::consts::PI * minute_volume.get())
}
