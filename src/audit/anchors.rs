//! What stands outside a register and speaks for it: how far it reaches, and what nothing outside speaks for.
//!
//! In: lines that check; hashes of lines that somebody holds elsewhere. Out: which of them stand here, up to which line and
//! time the register is held from outside, brackets between one anchor and the next, and what does not fit. Always: an
//! anchor shows that its line, and through the chain every line before it, stood as it stands when the anchor was made; it
//! shows nothing of the lines after. No anchor is believed for its place: its hash is looked for. A hash that is not here
//! means that another history was shown to somebody: it is told with both lines, and no rule chooses one. What came of
//! verifying the thing itself that holds a hash stands beside it: what is broken counts for nothing, and another register
//! whose custodians nobody vouches for is no clock and no witness. Everything that was given is named.
//! Not here: reading papers and other registers (`cli`), copies held against each other (`compare`).

use super::compare::{Kin, kin};
use super::{Report, Verdict, slip};
use crate::record::line::Line;
use crate::time::{for_people, is_time, seconds, utc};
use crate::tongue::{say, say_n};
use crate::trust::Roster;
use crate::trust::token::Token;
use crate::view::LineNo;
use serde::Serialize;
use std::collections::HashMap;

/// What kind of thing holds a hash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// The token of a printed permit.
    Token,
    /// A permit's paper, or an excerpt in a file.
    Paper,
    /// A line of another register.
    Witness,
    /// A head copied by hand.
    Head,
}

/// A hash that somebody outside holds.
#[derive(Clone, Debug, Serialize)]
pub struct Anchor {
    /// Kind.
    pub kind: Kind,
    /// Where it is from, in words, with what is the matter with that.
    pub from: String,
    /// Where it is from, and no more.
    #[serde(skip)]
    pub short: String,
    /// H of a line; empty where none is of this register.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub hash: String,
    /// The log it is said to be of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub log: Option<String>,
    /// The line it is said to be.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seq: Option<u64>,
    /// UTC: when it stood outside, by another clock than this register's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outside: Option<String>,
    /// Why it proves nothing, where it does not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nothing: Option<String>,
    /// What it tells of another history, or of lines that are not here, where it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub elsewhere: Option<String>,
    /// What came of verifying the paper or register that it is from, where that is not sound.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<Verdict>,
    /// It says of its line what is not so, or no key of the roster made it.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub unfit: bool,
    /// What a token says was issued.
    #[serde(skip)]
    issue: Option<Issue>,
}

/// A token that a key of the roster made: some line must carry it.
#[derive(Clone, Debug)]
struct Issue {
    token: String,
    permit: String,
    /// Why it shows nothing where no line carries it: whose key it is may issue nothing.
    doubt: Option<String>,
}

impl Issue {
    /// What is told of it where no line here carries it, beside the line that it names.
    fn carried(&self, lines: &[Line], named: Option<usize>) -> Carried {
        let gives = |l: &&Line| matches!(l.kind.name, "countersign" | "extend");
        if lines.iter().filter(gives).any(|l| l.data.text("token") == Some(&*self.token)) {
            return Carried::Here;
        }
        if let Some(why) = &self.doubt {
            return Carried::Nothing(say!("{why}; and no line that checks here carries this token", why));
        }
        // A line that is not here itself is told of by that.
        let Some(named) = named else { return Carried::Here };
        let permit = &self.permit;
        let of_it = |l: &Line| l.permit.as_deref() == Some(&**permit);
        if !lines.iter().any(of_it) {
            return Carried::Otherwise(say!(
                "ANOTHER HISTORY: this register does not know {permit}, and holds the line that its token names. Nothing \
                 tells which one is true",
                permit
            ));
        }
        let settles =
            |l: &&Line| of_it(l) && (gives(l) || matches!(l.kind.name, "refuse" | "cancel" | "close"));
        match lines.iter().skip(named + 1).find(settles) {
            Some(line) => Carried::Otherwise(say!(
                "ANOTHER HISTORY: no line of {permit} that checks here carries this token, and line {line} here tells \
                 otherwise. Nothing tells which one is true",
                permit,
                line = line.seq
            )),
            None => Carried::Later(say!(
                "NOT HERE: no line of {permit} that checks here carries this token; the end was cut off, or this copy is \
                 older",
                permit
            )),
        }
    }
}

/// How a register stands to a token.
enum Carried {
    /// A line of it carries it, or the line that it names says more.
    Here,
    /// It shows nothing.
    Nothing(String),
    /// It went another way here.
    Otherwise(String),
    /// It came after the last line here.
    Later(String),
}

impl Anchor {
    fn of(kind: Kind, from: String) -> Anchor {
        let hash = String::new();
        Anchor {
            kind,
            short: from.clone(),
            from,
            hash,
            log: None,
            seq: None,
            outside: None,
            nothing: None,
            elsewhere: None,
            verdict: None,
            unfit: false,
            issue: None,
        }
    }

    /// Something that was given and holds no line of this register: why it proves nothing.
    pub fn idle(kind: Kind, from: String, why: String) -> Anchor {
        Anchor { nothing: Some(why), ..Anchor::of(kind, from) }
    }

    /// Something that shows another history under another log.
    pub fn elsewhere(kind: Kind, from: String, why: String) -> Anchor {
        Anchor { elsewhere: Some(why), ..Anchor::of(kind, from) }
    }

    /// With what came of verifying the thing that it is from: `why` tells what is the matter with it.
    pub fn judged(mut self, verdict: Verdict, why: &str) -> Anchor {
        if verdict == Verdict::Sound {
            return self;
        }
        self.from = match verdict {
            Verdict::Broken | Verdict::CouldNot => say!("{from}, BROKEN ({why})", from = self.from, why),
            Verdict::Sound | Verdict::Unproven => say!("{from}, unproven ({why})", from = self.from, why),
        };
        self.verdict = Some(verdict);
        if self.kind == Kind::Witness {
            // Whoever has these lines can write such a register, with any clock.
            self.outside = None;
        }
        self
    }

    /// Of a thing that says it is of this station, and whose custodians nobody vouches for: no history of the station.
    pub fn of_strangers(mut self) -> Anchor {
        if self.elsewhere.take().is_some() {
            let why = say!(
                "it says that it is of this station too, under another log: nobody you trust vouches for that"
            );
            self.nothing = Some(why.into());
        }
        self
    }

    /// Beside the clock of whoever looks (UTC, and the offset for people): a time that is still to come brackets nothing.
    pub fn by_clock(mut self, now: &str, zone: &str) -> Anchor {
        if let Some(outside) = self.outside.take_if(|o| seconds(o) > seconds(now) + APART) {
            self.unfit = true;
            self.from = say!(
                "{from}, which says {outside}, and that is to come: by the clock of this machine it is {now}. One of the two \
                 is wrong, and its time is taken for nothing",
                from = self.from,
                outside = for_people(&outside, zone),
                now = for_people(now, zone)
            );
        }
        self
    }

    fn is_broken(&self) -> bool {
        matches!(self.verdict, Some(Verdict::Broken | Verdict::CouldNot))
    }

    /// Whether what it is from checks, so that it counts.
    pub fn speaks(&self) -> bool {
        match self.verdict {
            None | Some(Verdict::Sound) => true,
            Some(Verdict::Unproven) => self.kind != Kind::Witness,
            Some(Verdict::Broken | Verdict::CouldNot) => false,
        }
    }
}

/// How an anchor stands to the register.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "standing")]
pub enum Standing {
    /// Its line stands here.
    Holds {
        /// Where.
        at: LineNo,
        /// Its time, UTC.
        time: String,
    },
    /// Another line stands in its place: two histories.
    Differs {
        /// Where.
        at: LineNo,
        /// H of the line here.
        here: String,
    },
    /// It, or what it was issued by, is later than the last line here: the end was cut off, or this copy is older.
    Beyond,
    /// It stands nowhere here.
    NotHere,
    /// It is of a history under another log, or tells of a permit otherwise than the lines here.
    Elsewhere,
    /// It proves nothing.
    Nothing,
}

/// An anchor and how it stands.
#[derive(Clone, Debug, Serialize)]
pub struct Held {
    /// The anchor.
    #[serde(flatten)]
    pub anchor: Anchor,
    /// Standing.
    #[serde(flatten)]
    pub standing: Standing,
}

/// Lines between one anchor and the next.
#[derive(Clone, Debug, Serialize)]
pub struct Bracket {
    /// First line.
    pub from: LineNo,
    /// Last line.
    pub to: LineNo,
    /// So many.
    pub lines: usize,
    /// The times that these lines give themselves, UTC.
    pub says_from: String,
    /// The last of them.
    pub says_to: String,
    /// UTC, by a clock outside: written after this, if what was copied was the last line then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<String>,
    /// UTC, by a clock outside: written before this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<String>,
    /// What holds its end; `None`: nothing outside speaks for these lines.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
}

/// What is outside, beside what is here.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Anchored {
    /// Whether anything was given, be it of another register.
    pub given: bool,
    /// Every anchor.
    pub held: Vec<Held>,
    /// The last line that something outside speaks for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub upto: Option<LineNo>,
    /// Its time, UTC.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub upto_time: Option<String>,
    /// So many lines come after it.
    pub after: usize,
    /// Lines between the anchors.
    pub brackets: Vec<Bracket>,
    /// Times that do not fit the anchors, in words.
    pub said: Vec<String>,
    /// Lines that a clock outside shows to be older than what is held against the key under them, in words.
    pub shown: Vec<String>,
    /// Offset of the site at the last line: times in words are the site's.
    #[serde(skip)]
    pub zone: String,
}

/// A clock outside and the station's may differ by so much before it is told. Seconds.
const APART: i64 = 300;

impl Anchored {
    /// Whether an anchor shows another history than this one, or a longer one.
    pub fn against(&self) -> bool {
        let no = |h: &Held| match h.standing {
            Standing::Differs { .. } | Standing::Beyond | Standing::NotHere | Standing::Elsewhere => true,
            Standing::Holds { .. } | Standing::Nothing => false,
        };
        self.held.iter().any(no)
    }

    /// Whether all of that is no more than that it went on: the end was cut off, or this copy is older.
    pub fn only_longer(&self) -> bool {
        let of = |h: &Held| match h.standing {
            Standing::Differs { .. } | Standing::NotHere | Standing::Elsewhere => false,
            Standing::Beyond | Standing::Holds { .. } | Standing::Nothing => true,
        };
        self.against() && self.held.iter().all(of)
    }

    /// Lines signed with a key that is compromised since: where a clock outside shows that the line stood before, that
    /// is said and the doubt is gone.
    pub fn shows_before(&mut self, report: &mut Report) {
        let clocks: Vec<(LineNo, &str, &str)> = self
            .held
            .iter()
            .filter(|h| h.anchor.speaks())
            .filter_map(|h| match (&h.standing, &h.anchor.outside) {
                (Standing::Holds { at, time }, Some(outside))
                    if seconds(time) <= seconds(outside) + APART =>
                {
                    Some((*at, outside.as_str(), h.anchor.short.as_str()))
                }
                (
                    Standing::Holds { .. }
                    | Standing::Differs { .. }
                    | Standing::Beyond
                    | Standing::NotHere
                    | Standing::Elsewhere
                    | Standing::Nothing,
                    _,
                ) => None,
            })
            .collect();
        let mut shown = Vec::new();
        report.said.retain(|said| {
            let (Some(line), Some(since)) = (said.line, &said.since) else { return true };
            let held = clocks.iter().find(|(at, outside, _)| *at >= line && seconds(outside) + APART < seconds(since));
            let Some((_, outside, by)) = held else { return true };
            shown.push(say!(
                "line {line}: signed with a key compromised at {since}, and it stood outside at {outside} already ({by})", line, since, outside, by));
            false
        });
        if !shown.is_empty() && report.said.is_empty() && report.verdict == Verdict::Unproven {
            report.verdict = Verdict::Sound;
        }
        self.shown = shown;
    }

    /// How many things that were given cannot be as they are, beside these lines: copied wrong, by nobody's key, of a time
    /// that does not fit.
    pub fn unfit(&self) -> usize {
        self.held.iter().filter(|h| h.anchor.unfit).count() + self.said.len()
    }

    /// Each of them, in words.
    pub fn unfit_in_words(&self) -> Vec<String> {
        let of = |h: &Held| match &h.anchor.nothing {
            Some(why) => format!("{}: {why}", h.anchor.from),
            None => h.anchor.from.clone(),
        };
        let all = self.held.iter().filter(|h| h.anchor.unfit).map(of);
        all.chain(self.said.iter().map(|t| say!("TIMES DO NOT FIT: {words}", words = t))).collect()
    }

    /// Whether something that was given to speak for the register is broken itself.
    pub fn broken(&self) -> bool {
        self.held.iter().any(|h| h.anchor.is_broken())
    }
}

/// An anchor from the token of a printed permit.
pub fn token(text: &str, roster: &Roster, station: &str) -> Result<Anchor, String> {
    // It is base32, and people type it in small letters too.
    let text = text.trim().to_ascii_uppercase();
    let token = Token::read(&text)?;
    let judged = slip::judge(&token, roster, &token.claim.valid_to);
    let (mut verdict, mut unfit) = (None, false);
    let nothing = if !token.claim.permit.starts_with(&format!("{station}-")) {
        Some(say!("it is of another station than {station}", station))
    } else if judged.by.is_none() {
        // As whoever checks the token by itself is told: not what that key signed, or no key that is known.
        match judged.answer {
            slip::Answer::Broken => verdict = Some(Verdict::Broken),
            slip::Answer::Yes | slip::Answer::No | slip::Answer::Unproven => unfit = true,
        }
        Some(say!(
            "no key of the roster made this token: anybody may have written it ({key})",
            key = judged.why.join("; ")
        ))
    } else {
        None
    };
    let doubt = (judged.answer == slip::Answer::No).then(|| judged.why.join("; "));
    let issue = nothing.is_none().then(|| Issue { token: text, permit: token.claim.permit.clone(), doubt });
    let by = judged.by.map(|(_, name, _)| say!(", signed by {name}", name)).unwrap_or_default();
    let from = say!(
        "token of {permit}, valid to {valid_to}{by}",
        permit = token.claim.permit,
        valid_to = token.claim.valid_to,
        by
    );
    let (hash, seq) = (token.claim.hash, Some(token.claim.seq));
    Ok(Anchor { hash, seq, nothing, verdict, unfit, issue, ..Anchor::of(Kind::Token, from) })
}

/// Anchors from a record that stands outside: an excerpt, or what is attached to a paper. Its last line speaks for all
/// before; each that stands in another place than here is named.
pub fn paper(name: &str, record: &[Line], lines: &[Line]) -> Vec<Anchor> {
    let here: HashMap<(&str, u64), &str> =
        lines.iter().map(|l| ((l.log.as_str(), l.seq), l.hash.as_str())).collect();
    let of = |l: &Line| Anchor {
        hash: l.hash.to_string(),
        log: Some(l.log.to_string()),
        seq: Some(l.seq),
        ..Anchor::of(Kind::Paper, name.to_owned())
    };
    let differs = |l: &&Line| here.get(&(l.log.as_str(), l.seq)).is_some_and(|h| *h != l.hash);
    match record.iter().find(differs) {
        Some(first) => vec![of(first)],
        None => record.last().map(of).into_iter().collect(),
    }
}

/// Anchors from another register's lines that say what they read of this one.
pub fn witnessed(other: &[Line], station: &str, logs: &[&str]) -> Vec<Anchor> {
    let told = other.iter().filter(|l| l.kind.name == "witness");
    told.filter_map(|l| {
        let log = l.data.text("log").filter(|log| logs.contains(log))?;
        let from = say!("station {station}, its line {line}", station, line = l.seq);
        Some(Anchor {
            hash: l.data.text("head")?.to_owned(),
            log: Some(log.to_owned()),
            seq: l.data.int("seq"),
            outside: Some(l.time.to_string()),
            ..Anchor::of(Kind::Witness, from)
        })
    })
    .collect()
}

/// Lines of another log that were given to speak for a register: what they tell of it. `what` is what they are, in words.
pub fn of_another_log(kind: Kind, from: String, lines: &[Line], other: &[Line], report: &Report) -> Anchor {
    let station = report.station.as_deref().unwrap_or_default();
    let log = report.log.as_deref().unwrap_or_default();
    let of_log = |kind, from, why| Anchor { log: report.log.clone(), ..Anchor::elsewhere(kind, from, why) };
    match kin(lines, other) {
        Kin::Strangers => Anchor::idle(
            kind,
            from,
            say!("it speaks for nothing here: it is of station {station}, log {log}", station, log),
        ),
        Kin::Before => {
            Anchor::idle(kind, from, say!("it is of a volume before, log {log}, which is not here", log))
        }
        Kin::Unknown => Anchor::idle(
            kind,
            from,
            say!(
                "it is of station {station} too, under log {log}; how that log and this one belong together is not to be \
                 seen here",
                station,
                log
            ),
        ),
        Kin::After => Anchor::elsewhere(
            kind,
            from,
            say!(
                "NOT HERE: it is of a later volume, log {log}; this copy is older, or that volume was taken out",
                log
            ),
        ),
        Kin::Another { permits } if permits.is_empty() => of_log(
            kind,
            from,
            say!(
                "ANOTHER HISTORY: it is of station {station} too, under another log, {log}. Nothing tells which one is \
                 true",
                station,
                log
            ),
        ),
        Kin::Another { permits } => of_log(
            kind,
            from,
            say!(
                "ANOTHER HISTORY: it has the permit {permits} of station {station} too, under another log, {log}. \
                 Nothing tells which one is true",
                permits = permits.join(", "),
                station,
                log
            ),
        ),
    }
}

/// Another register's lines that say what they read of this station under logs that are not here. `before` is the log of the
/// volume before the first one here, if that is missing.
pub fn witnessed_elsewhere(
    other: &[Line],
    station: &str,
    ours: &[&str],
    logs: &[&str],
    before: Option<&str>,
) -> Vec<Anchor> {
    let told = other.iter().filter(|l| l.kind.name == "witness");
    told.filter_map(|l| {
        let log = l.data.text("log").filter(|log| !logs.contains(log))?;
        let of = l.data.text("station").filter(|of| ours.contains(of))?;
        let from = say!("station {station}, its line {line}", station, line = l.seq);
        Some(if before == Some(log) {
            Anchor::idle(Kind::Witness, from, say!("it is of a volume before, log {log}, which is not here", log))
        } else {
            let why = say!(
                "ANOTHER HISTORY, or a volume that is not here: it read a register of station {of} under log {log}", of, log);
            Anchor { log: Some(log.to_owned()), ..Anchor::elsewhere(Kind::Witness, from, why) }
        })
    })
    .collect()
}

/// Heads copied by hand, one a line: `[TIME] [LOG] [LINE] HASH`, in any order; also what `airwrit freeze` prints. A line
/// that begins with `#` is skipped.
pub fn heads(name: &str, text: &str) -> Result<Vec<Anchor>, String> {
    let hex = |w: &str| w.bytes().all(|b| b.is_ascii_hexdigit());
    let mut out = Vec::new();
    let mut log: Option<String> = None;
    for (n, line) in (1..).zip(text.lines()).filter(|(_, l)| !l.trim_start().starts_with('#')) {
        let (mut hash, mut seq, mut outside) = (None, None, None);
        let words: Vec<&str> =
            line.split(|c: char| c.is_whitespace() || c == ',').filter(|w| !w.is_empty()).collect();
        let wrong = |got: &str, wanted: &str| {
            let got = crate::text::safe_line(got);
            Err(say!(
                "{file}:{line}: got `{got}`, wanted {wanted}: copied wrong?",
                file = name,
                line = n,
                got,
                wanted
            ))
        };
        for w in &words {
            match w.len() {
                64 if hex(w) && hash.is_some() => return wrong(w, say!("one head on a line")),
                64 if hex(w) => hash = Some(w.to_ascii_lowercase()),
                32 if hex(w) => log = Some(w.to_ascii_lowercase()),
                l if l >= 24 && hex(w) => {
                    return Err(say!(
                        "{file}:{line}: got {got} hexadecimal digits, wanted 64 of a head or 32 of a log: copied \
                         wrong?",
                        file = name,
                        line = n,
                        got = l
                    ));
                }
                20 if is_time(w) => outside = Some((*w).to_owned()),
                _ => {}
            }
        }
        let Some(hash) = hash else {
            if outside.is_some() {
                return wrong(line.trim(), say!("a head of 64 hexadecimal digits beside the time"));
            }
            continue;
        };
        for w in words.iter().filter(|w| !((w.len() == 64 || w.len() == 32) && hex(w)) && !is_time(w)) {
            // Words stand beside numbers in what `airwrit freeze` prints; nothing else has digits.
            match w.parse::<u64>() {
                Ok(_) if seq.is_some() => return wrong(w, say!("one number of a line")),
                Ok(number) => seq = Some(number),
                Err(_) if w.bytes().any(|b| b.is_ascii_digit()) => {
                    return wrong(
                        w,
                        say!("a UTC time as 2026-11-25T16:40:00Z, a log, the number of a line or a head"),
                    );
                }
                Err(_) => {}
            }
        }
        let from = say!("{file}, its line {line}", file = name, line = n);
        out.push(Anchor { hash, log: log.clone(), seq, outside, ..Anchor::of(Kind::Head, from) });
    }
    if out.is_empty() {
        return Err(say!(
            "{file} holds no head: wanted lines like `2026-11-25T16:40:00Z LOG LINE HASH`, HASH of 64 hexadecimal \
             digits",
            file = name
        ));
    }
    Ok(out)
}

/// What an anchor says of its line that is not so: got and wanted.
fn mistaken(anchor: &Anchor, line: &Line) -> Vec<(String, String)> {
    let mut out = Vec::new();
    if let Some(seq) = anchor.seq.filter(|s| *s != line.seq) {
        out.push((
            say!("line {line}", line = seq),
            say!("line {line}, where this hash stands", line = line.seq),
        ));
    }
    if let Some(log) = anchor.log.as_deref().filter(|l| *l != line.log) {
        out.push((say!("log {log}", log), say!("log {log}", log = line.log)));
    }
    out
}

/// A head in which no more digits than this are other ones was copied wrong: two heads of different lines agree in four of
/// their 64 by chance.
const SLIPS: usize = 8;

/// In how many places two heads are not alike.
fn apart(a: &str, b: &str) -> usize {
    let differ = a.bytes().zip(b.bytes()).filter(|(a, b)| a != b).count();
    differ + a.len().abs_diff(b.len())
}

/// The logs of what shows another history.
pub fn other_histories(anchors: &[Anchor]) -> Vec<String> {
    anchors.iter().filter(|a| a.elsewhere.is_some()).filter_map(|a| a.log.clone()).collect()
}

/// Looks for every anchor among the lines that check.
pub fn held(lines: &[Line], anchors: Vec<Anchor>) -> Anchored {
    let places: Vec<LineNo> = super::numbered(lines).map(|(at, _)| at).collect();
    let by_hash: HashMap<&str, usize> = lines.iter().enumerate().map(|(i, l)| (l.hash.as_str(), i)).collect();
    let by_place: HashMap<(&str, u64), usize> =
        lines.iter().enumerate().map(|(i, l)| ((l.log.as_str(), l.seq), i)).collect();
    let last_of: HashMap<&str, u64> = lines.iter().map(|l| (l.log.as_str(), l.seq)).collect();
    let only_log = if last_of.len() == 1 { lines.first().map(|l| l.log.as_str()) } else { None };
    let at = |i: usize| places.get(i).copied().unwrap_or(LineNo { volume: 0, line: 0 });
    let mut out = Anchored { given: !anchors.is_empty(), ..Anchored::default() };
    let mut ends: Vec<(usize, Anchor)> = Vec::new();
    let mut logs: Vec<&str> = last_of.keys().copied().collect();
    logs.sort_unstable();
    let others = other_histories(&anchors);
    for mut anchor in anchors {
        let log = anchor.log.as_deref().or(only_log);
        let placed = log.zip(anchor.seq).and_then(|place| by_place.get(&place));
        let beyond = log.zip(anchor.seq).is_some_and(|(l, s)| last_of.get(l).is_some_and(|last| s > *last));
        let found = by_hash.get(anchor.hash.as_str());
        if let Some(line) = found.and_then(|i| lines.get(*i)) {
            for (got, wanted) in mistaken(&anchor, line) {
                anchor.unfit = true;
                anchor.from = say!(
                    "{from}, got {got}, wanted {wanted}: copied wrong?",
                    from = anchor.from,
                    got,
                    wanted
                );
            }
        } else if let Some(log) = anchor.log.as_deref().filter(|l| !last_of.contains_key(l)) {
            if anchor.kind == Kind::Head && others.iter().any(|l| l == log) {
                let why = say!(
                    "ANOTHER HISTORY: it is of log {log}, which is of this station too and is not here",
                    log
                );
                anchor.elsewhere = Some(why);
            } else if anchor.elsewhere.is_none() && anchor.nothing.is_none() {
                let ours = logs.join(", ");
                anchor.nothing =
                    Some(say!("it speaks for nothing here: got log {log}, wanted {ours}", log, ours));
            }
        }
        if let (Kind::Head, None, None) = (anchor.kind, found, &anchor.nothing) {
            let own = placed.and_then(|i| lines.get(*i));
            let near = |l: &&Line| apart(&l.hash, &anchor.hash) <= SLIPS;
            if let Some(line) = own.filter(near).or_else(|| lines.iter().find(near)) {
                anchor.unfit = true;
                anchor.nothing = Some(say_n!(
                    apart(&line.hash, &anchor.hash),
                    "{n} of its 64 digits is not that of line {line}, all others are: copied wrong?",
                    "{n} of its 64 digits are not those of line {line}, all others are: copied wrong?",
                    line = by_hash.get(line.hash.as_str()).map(|i| at(*i).to_string()).unwrap_or_default()
                ));
            }
        }
        let mut later = false;
        if let (Some(issue), None) = (&anchor.issue, &anchor.nothing) {
            match issue.carried(lines, found.copied()) {
                Carried::Here => {}
                Carried::Nothing(why) => (anchor.unfit, anchor.nothing) = (true, Some(why)),
                Carried::Otherwise(why) => anchor.elsewhere = Some(why),
                Carried::Later(why) => (later, anchor.elsewhere) = (true, Some(why)),
            }
        }
        let standing = match (found, placed) {
            _ if later => Standing::Beyond,
            _ if anchor.elsewhere.is_some() => Standing::Elsewhere,
            _ if anchor.nothing.is_some() => Standing::Nothing,
            (Some(i), _) if anchor.is_broken() => {
                anchor.nothing =
                    Some(say!("its line {at} is one of these lines, and it does not count", at = at(*i)));
                Standing::Nothing
            }
            (Some(i), _) => {
                if anchor.speaks() {
                    ends.push((*i, anchor.clone()));
                }
                let time = lines.get(*i).map(|l| l.time.clone()).unwrap_or_default();
                Standing::Holds { at: at(*i), time: time.to_string() }
            }
            (None, Some(i)) => {
                let here = lines.get(*i).map(|l| l.hash.clone()).unwrap_or_default();
                Standing::Differs { at: at(*i), here: here.to_string() }
            }
            (None, None) if beyond => Standing::Beyond,
            (None, None) => Standing::NotHere,
        };
        out.held.push(Held { anchor, standing });
    }
    ends.sort_by(|a, b| (a.0, &a.1.outside).cmp(&(b.0, &b.1.outside)));
    out.zone = lines.last().map(|l| l.zone.to_string()).unwrap_or_default();
    out.said = times(lines, &places, &ends);
    out.brackets = brackets(lines, &places, &ends);
    let upto = ends.last().map(|(i, _)| *i);
    out.upto = upto.map(at);
    out.upto_time = upto.and_then(|i| lines.get(i)).map(|l| l.time.to_string());
    out.after = lines.len() - upto.map_or(0, |i| i + 1);
    out
}

fn brackets(lines: &[Line], places: &[LineNo], ends: &[(usize, Anchor)]) -> Vec<Bracket> {
    let mut out: Vec<Bracket> = Vec::new();
    let mut from = 0;
    // Where the clock outside stood when what came before was held.
    let mut after: Option<String> = None;
    let mut cuts: Vec<(usize, Option<&Anchor>)> = ends.iter().map(|(i, a)| (*i, Some(a))).collect();
    if let Some(last) = lines.len().checked_sub(1) {
        cuts.push((last, None));
    }
    for (to, anchor) in cuts {
        let outside = anchor.and_then(|a| a.outside.clone());
        if to >= from
            && let (Some(first), Some(last)) = (lines.get(from), lines.get(to))
            && let (Some(a), Some(b)) = (places.get(from), places.get(to))
        {
            out.push(Bracket {
                from: *a,
                to: *b,
                lines: to + 1 - from,
                says_from: first.time.to_string(),
                says_to: last.time.to_string(),
                after: after.clone(),
                before: outside.clone(),
                by: anchor.map(|a| a.short.clone()),
            });
            from = to + 1;
        } else if let (Some(last), Some(earlier)) = (out.last_mut(), &outside)
            && last.before.as_ref().is_none_or(|b| earlier < b)
        {
            last.before = Some(earlier.clone());
        }
        // Only a head that was copied says that nothing stood after it.
        if let Some(a) = anchor.filter(|a| a.kind == Kind::Head) {
            after = after.max(a.outside.clone());
        }
    }
    out
}

/// Times that do not fit: a line that stood outside before it says it was written; lines after a head that say they are
/// older than the moment at which it was copied.
fn times(lines: &[Line], places: &[LineNo], ends: &[(usize, Anchor)]) -> Vec<String> {
    let mut out = Vec::new();
    for (i, anchor) in ends {
        let (Some(line), Some(at), Some(outside)) = (lines.get(*i), places.get(*i), &anchor.outside) else {
            continue;
        };
        if seconds(&line.time) > seconds(outside) + APART {
            out.push(say!(
                "line {at} says it is of {time}, and stood outside at {outside} already ({by}): one of the clocks was \
                 wrong", at, time = for_people(&line.time, &line.zone), outside = for_people(outside, &line.zone),
                by = anchor.short));
        }
        if anchor.kind != Kind::Head {
            continue;
        }
        let limit = utc(seconds(outside) - APART);
        let older: Vec<usize> =
            (i + 1..lines.len()).filter(|j| lines.get(*j).is_some_and(|l| l.time < limit)).collect();
        let ends =
            older.first().zip(older.last()).and_then(|(a, b)| Some((places.get(*a)?, places.get(*b)?)));
        if let Some((first, last)) = ends {
            out.push(say!(
                "lines {first} to {last} ({lines}) say they are older than {outside}, when the last line outside was \
                 {at} ({by}): written later than they say, or an old head was copied", first, last, lines = older.len(),
                outside = for_people(outside, &line.zone), at, by = anchor.short));
        }
    }
    out
}

/// In words.
pub fn words(a: &Anchored) -> String {
    let mut s = String::new();
    let site = |time: &str| for_people(time, &a.zone);
    for h in &a.held {
        s += &format!(
            "{}: {}\n",
            h.anchor.from,
            match &h.standing {
                Standing::Holds { at, time } => say!("holds line {at} of {time}", at, time = site(time)),
                Standing::Differs { at, here } => say!(
                    "ANOTHER HISTORY: it holds {hash}, and line {at} here is {here}. Nothing tells which one is true",
                    hash = h.anchor.hash,
                    at,
                    here
                ),
                Standing::Beyond if h.anchor.elsewhere.is_some() => {
                    h.anchor.elsewhere.clone().unwrap_or_default()
                }
                Standing::Beyond => say!(
                    "NOT HERE: line {line} comes after the last one here; the end was cut off, or this copy is older",
                    line = h.anchor.seq.unwrap_or_default()
                ),
                Standing::NotHere =>
                    say!("NOT HERE: no line of this register is {hash}", hash = h.anchor.hash),
                Standing::Elsewhere => h.anchor.elsewhere.clone().unwrap_or_default(),
                Standing::Nothing => h.anchor.nothing.clone().unwrap_or_default(),
            }
        );
    }
    for b in &a.brackets {
        let between = match (&b.after, &b.before) {
            (Some(a), Some(b)) => {
                say!(", written between {from} and {to} by clocks outside", from = site(a), to = site(b))
            }
            (None, Some(b)) => say!(", written before {to} by a clock outside", to = site(b)),
            (Some(a), None) => say!(", written after {from} by a clock outside", from = site(a)),
            (None, None) => String::new(),
        };
        let by = b.by.as_ref().map_or_else(
            || say!("nothing outside speaks for these").to_owned(),
            |by| say!("held by: {by}{between}", by, between),
        );
        s += &(say!(
            "lines {first} to {last} ({lines}), by their own word of {from} to {to}: {by}",
            first = b.from,
            last = b.to,
            lines = b.lines,
            from = site(&b.says_from),
            to = site(&b.says_to),
            by
        ) + "\n");
    }
    for shown in &a.shown {
        s += &format!("{shown}\n");
    }
    for t in &a.said {
        s += &(say!("TIMES DO NOT FIT: {words}", words = t) + "\n");
    }
    s
}
