//! How the answers of a permit stood when they were given, and what was known when it was last issued: what was relied on,
//! whatever came after.
//!
//! In: lines up to the permit's last one. Always: nothing later counts, so that what was worked out holds until the permit
//! has a new line, and an answer is judged once: its hash names the whole history that it was judged on. Remembered per
//! thread; of an excerpt, where lines are missing, nothing is.

use crate::checklist::Purpose;
use crate::gate::Verdict;
use crate::permit::bench::{Bench, Texts, in_force_for};
use crate::permit::decide::Known;
use crate::permit::state::{Permit, State};
use crate::permit::walk;
use crate::record::chain::Chain;
use crate::record::line::Line;
use crate::time::Moment;
use crate::tongue::Tongue;
use crate::view::Standing;
use std::cell::RefCell;
use std::collections::{BTreeMap, VecDeque};
use std::rc::Rc;

/// Most permits remembered.
const MOST: usize = 16;

/// What was relied on.
#[derive(Default)]
pub(super) struct Past {
    /// How each answer stood when it was given, by H of its line.
    pub stood: BTreeMap<String, (Standing, Vec<String>)>,
    /// The state at the last countersignature.
    pub issued: Option<(State, Moment)>,
}

/// What the past of a permit is worked out from beside its lines: names of people, the shutdown form, the language.
#[derive(Clone, PartialEq, Eq)]
struct Whose {
    number: String,
    language: String,
    tongue: Tongue,
    roster: String,
    shutdown: Option<String>,
}

impl Whose {
    fn of(chain: &Chain, number: &str, language: &str) -> Whose {
        Whose {
            number: number.to_owned(),
            language: language.to_owned(),
            tongue: Tongue::now(),
            roster: chain.origin.roster.hash().to_owned(),
            shutdown: in_force_for(chain, Purpose::Shutdown).map(|f| f.sha256().to_owned()),
        }
    }
}

/// What was worked out, and H of the permit's last line then.
type Worked = (Whose, String, Rc<Past>);

thread_local! {
    static REMEMBERED: RefCell<VecDeque<Worked>> = const { RefCell::new(VecDeque::new()) };
}

/// The past of a permit, told in a language.
pub(super) fn past(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    language: &str,
) -> Result<Rc<Past>, String> {
    let last = lines.iter().rposition(|l| l.permit.as_deref() == Some(number));
    let (upto, hash) = last.map_or((1, ""), |i| (i + 1, lines.get(i).map_or("", |l| l.hash.as_str())));
    let upto = lines.get(..upto).unwrap_or(lines);
    if known.state.of_one {
        return Ok(Rc::new(looked_back(known, upto, number, language, None)?));
    }
    let of = Whose::of(known.chain, number, language);
    let before = REMEMBERED.with(|r| r.borrow().iter().find(|(o, _, _)| *o == of).cloned());
    if let Some((_, _, past)) = before.as_ref().filter(|(_, h, _)| h == hash) {
        return Ok(past.clone());
    }
    let before = before.map(|(_, _, past)| past);
    let past = Rc::new(looked_back(known, upto, number, language, before.as_deref())?);
    REMEMBERED.with(|r| {
        let mut all = r.borrow_mut();
        all.retain(|(o, _, _)| *o != of);
        if all.len() == MOST {
            all.pop_front();
        }
        all.push_back((of, hash.to_owned(), past.clone()));
    });
    Ok(past)
}

/// Looks back over lines whose last one is the permit's; what `before` has of an answer is not judged again.
fn looked_back(
    known: &Known<'_>,
    lines: &[Line],
    number: &str,
    language: &str,
    before: Option<&Past>,
) -> Result<Past, String> {
    let (chain, known_of_one) = (known.chain, known.state.of_one);
    // It begins near the permit's own first line.
    let opened = known.state.permits.get(number).map_or(0, |p| p.opened.seq);
    let (mut state, skipped) = if known_of_one { (State::default(), 0) } else { known.state.before(opened) };
    state.of_one = known_of_one;
    let mut past = Past::default();
    let mut texts: Option<Texts> = None;
    for line in lines.iter().skip(skipped) {
        if known_of_one && chain.is_beside(line) {
            state.take_beside(line);
        } else {
            state.take(line).map_err(|b| b.why)?;
        }
        if line.permit.as_deref() != Some(number) {
            continue;
        }
        let Some(permit) = state.permits.get(number) else { continue };
        let now = Moment { time: line.time.to_string(), zone: line.zone.to_string() };
        match line.kind.name {
            "open" | "job" => {
                let mut own = Texts::of(chain, permit)?;
                own.language = language.to_owned();
                texts = Some(own);
            }
            "countersign" => past.issued = Some((state.clone(), now)),
            // What is carried is open, or it is not carried.
            "carried" => {
                let cited = line.data.texts("answers").into_iter();
                past.stood.extend(cited.map(|h| (h.to_owned(), (Standing::Open, Vec::new()))));
            }
            "answer" => {
                let stood = match before.and_then(|b| b.stood.get(line.hash.as_str())) {
                    Some(stood) => Some(stood.clone()),
                    None => texts.as_ref().and_then(|texts| stood(&state, permit, texts, &now, line)),
                };
                past.stood.extend(stood.map(|s| (line.hash.to_string(), s)));
            }
            _ => {}
        }
    }
    Ok(past)
}

/// How the answer of a line stands where it is the last one; `None` where its form has no such step.
fn stood(
    state: &State,
    permit: &Permit,
    texts: &Texts,
    now: &Moment,
    line: &Line,
) -> Option<(Standing, Vec<String>)> {
    let own = Bench::new(state, permit, texts, now);
    let form = line.data.text("form").unwrap_or_default();
    let bench = match own.shutdown() {
        Some(b) if b.form.sha256() == form => b,
        Some(_) | None => own,
    };
    let item = line.data.text("item");
    let (_, step) = bench.form.step(line.data.text("step").unwrap_or_default())?;
    let of_item = |e| bench.all_items(e).into_iter().find(|i| Some(i.id.as_str()) == item);
    let item = step.each().and_then(of_item);
    Some(
        match (line.data.has("left_out"), line.data.text("value"), walk::judge(&bench, step, item.as_ref())) {
            (true, _, _) => (Standing::OutOfService, Vec::new()),
            (false, Some("begun"), _) if step.kind().key() == "timed" => (Standing::Waiting, Vec::new()),
            (false, _, Verdict::Open) => (Standing::Open, Vec::new()),
            (false, _, Verdict::Shut(why) | Verdict::Unknown(why)) => (Standing::Hold, why),
        },
    )
}
