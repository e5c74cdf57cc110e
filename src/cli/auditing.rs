//! `airwrit audit`: registers and copies read, verified, replayed, held against what stands outside, reported.
//!
//! Always: everything is worked out from the bytes; of what is given to speak for a register, what cannot be read is an
//! error and never a silence. Exit codes: of the verdict; 1 where lines were not kept by their rules; 4 where another
//! history stands elsewhere.

use super::args::audit::{AnchorArgs, Audit};
use super::looking::{excerpt_of, trusted, volumes_at};
use super::{End, Outcome, Outside, could_not, print_json, sheet, shell_word};
use crate::audit::anchors::{self, Anchor, Anchored, Kind};
use crate::audit::compare::{Compared, Kin, Side, compare, kin, log_before};
use crate::audit::{self, Later, Trust, Verdict, Verified};
use crate::disk::Folder;
use crate::record::aside::{self, Standing};
use crate::record::line::Line;
use crate::record::volumes::Volume;
use crate::replay::{Replayed, replay};
use crate::report::{self, Copy, Input};
use crate::tongue::say;
use std::collections::HashSet;
use std::path::Path;

/// A register as it was given.
pub struct Given {
    name: String,
    volumes: Vec<Volume>,
    /// Reports beside it that no line of it has entered.
    aside: Vec<Standing>,
    /// What came of verifying it.
    pub verified: Verified,
}

impl Given {
    fn bytes(&self) -> Vec<&[u8]> {
        self.volumes.iter().map(|v| v.bytes.as_slice()).collect()
    }

    /// Names of volumes that hold nothing. Where all do, that is told of the whole.
    fn empty(&self) -> Vec<String> {
        let any = self.volumes.iter().any(|v| !v.bytes.is_empty());
        let all = self.volumes.iter().filter(|v| any && v.bytes.is_empty());
        all.map(|v| v.name.clone()).collect()
    }

    /// Whole lines behind the first that does not check.
    fn behind(&self) -> usize {
        let whole =
            self.volumes.iter().map(|v| v.bytes.iter().filter(|b| **b == b'\n').count()).sum::<usize>();
        match self.verified.report.verdict {
            Verdict::Broken | Verdict::CouldNot => whole.saturating_sub(self.verified.lines.len() + 1),
            Verdict::Sound | Verdict::Unproven => 0,
        }
    }

    /// To be held against another copy.
    pub fn side(&self) -> Side<'_> {
        Side::of(&self.verified, &self.bytes())
    }
}

/// The name of a folder's first volume, where it is not the first by that name.
pub fn late(path: &Path, volumes: &[Volume]) -> Option<String> {
    let first = volumes.first().filter(|_| crate::disk::is_folder(path))?;
    crate::record::volumes::number(&first.name).filter(|n| *n > 1).map(|_| first.name.clone())
}

fn read(path: &Path, trust: Option<&Trust>, later: &[Later]) -> Result<Given, End> {
    let volumes = volumes_at(path)?;
    let bytes: Vec<&[u8]> = volumes.iter().map(|v| v.bytes.as_slice()).collect();
    if bytes.first().is_some_and(|b| b.starts_with(b"%PDF-")) {
        return Err(End::Usage(say!(
            "{file} is a paper: what it holds speaks for a register; give it with --paper",
            file = shell_word(path)
        )));
    }
    let mut verified = audit::verify_volumes(&bytes, trust, later);
    if let Some(name) = late(path, &volumes) {
        audit::begins_late(&mut verified.report, &name);
    }
    Ok(Given { name: path.display().to_string(), verified, volumes, aside: Vec::new() })
}

/// A copy that another one is held against: a register, or an excerpt of one.
pub fn copy(path: &Path, trust: Option<&Trust>, later: &[Later]) -> Result<Given, End> {
    let given = read(path, trust, later)?;
    if given.verified.report.verdict != Verdict::Broken || crate::disk::is_folder(path) {
        return Ok(given);
    }
    // An excerpt has gaps: read as a register it ends at the first one.
    let excerpt = audit::verify_with(&given.bytes().concat(), trust, later, true);
    let is_one = excerpt.report.between > 0 && excerpt.lines.len() > given.verified.lines.len();
    Ok(if is_one { Given { verified: excerpt, ..given } } else { given })
}

fn logs(lines: &[Line]) -> Vec<&str> {
    let mut logs: Vec<&str> = Vec::new();
    for l in lines.iter().filter(|l| l.kind.name == "enrol") {
        logs.push(&l.log);
    }
    logs
}

/// Copies of one register stand together, the longest first.
fn grouped(given: Vec<Given>) -> Vec<Vec<Given>> {
    let mut groups: Vec<Vec<Given>> = Vec::new();
    for g in given {
        let same = |group: &Vec<Given>| {
            let (side, of_group) = (g.side(), group.iter().map(Given::side).collect::<Vec<_>>());
            let own = side.logs();
            of_group.iter().any(|other| other.logs().iter().any(|l| own.contains(l)))
        };
        match groups.iter_mut().find(|group| same(group)) {
            Some(group) => group.push(g),
            None => groups.push(vec![g]),
        }
    }
    for group in &mut groups {
        group.sort_by_key(|g| std::cmp::Reverse(g.verified.lines.len()));
    }
    groups
}

/// `airwrit audit`.
pub fn audit(a: &Audit, outside: &mut Outside<'_>) -> Outcome {
    let trust = trusted(&a.trust)?;
    let later = super::rosters::later(&a.rosters)?;
    let mut given = Vec::new();
    let now = crate::time::utc((outside.second)());
    for path in &a.registers {
        let mut one = read(path, trust.as_ref(), &later)?;
        one.aside = beside_it(path, &one.verified.lines, &now);
        given.push(one);
    }
    let mut excerpts = Vec::new();
    for (path, g) in a.registers.iter().zip(&mut given) {
        let excerpt = excerpt_of(path, &g.verified.report)?;
        g.verified.report.excerpt.clone_from(&excerpt);
        excerpts.extend(excerpt.map(|permit| (path, permit)));
    }
    let mut groups = grouped(given);
    let mut all = Vec::new();
    for n in 0..groups.len() {
        let firsts = groups.iter().enumerate().filter_map(|(i, g)| Some((i, g.first()?)));
        let (own, others): (Vec<_>, Vec<_>) = firsts.partition(|(i, _)| *i == n);
        let others: Vec<&Given> = others.into_iter().map(|(_, g)| g).collect();
        for (_, first) in own {
            all.push(anchored(&a.anchors, &first.verified, &others, trust.as_ref(), &now)?);
        }
    }
    for (first, anchored) in groups.iter_mut().filter_map(|g| g.first_mut()).zip(&mut all) {
        anchored.shows_before(&mut first.verified.report);
    }
    let firsts = groups.iter().filter_map(|g| g.first());
    let replayed: Vec<Replayed> = firsts.map(|g| replay(&g.verified.lines)).collect();
    let mut inputs = Vec::new();
    for ((group, replayed), anchored) in groups.iter().zip(&replayed).zip(all) {
        let Some((first, copies)) = group.split_first() else { continue };
        inputs.push(Input {
            name: first.name.clone(),
            verified: &first.verified,
            replayed,
            copies: copies.iter().map(|c| beside(first, c, &anchored)).collect(),
            anchored,
            aside: not_entered(first, copies),
            empty: first.empty(),
            behind: first.behind(),
            now: now.clone(),
        });
    }
    let report = report::of(&inputs);
    if let Some(to) = &a.html {
        let page = report::page(&report).map_err(could_not)?;
        // Never over a file that stands: it may be a record.
        if crate::disk::exists(to) {
            return Err(could_not(say!(
                "{file} exists, and a report is never written over a file: give another name, or take that one away",
                file = shell_word(to)
            )));
        }
        crate::disk::write_file(to, page.as_bytes(), false, false)?;
        writeln!(outside.err, "{}", say!("the report is written to {file}", file = shell_word(to)))?;
    }
    if a.json {
        print_json(&report, outside.out)?;
    } else {
        write!(outside.out, "{}", crate::text::safe(&report::words(&report)))?;
    }
    for (path, permit) in excerpts {
        writeln!(
            outside.err,
            "{}",
            say!(
                "hint: read as an excerpt of {permit} it checks. A whole register is audited; of an excerpt: `airwrit verify \
                 --excerpt {file}`, or give it with --paper beside the register. A register with lines missing is broken",
                permit,
                file = shell_word(path)
            )
        )?;
    }
    match report.overall.code {
        0 => Ok(()),
        1 => Err(End::No),
        code => Err(End::Code(code)),
    }
}

/// Ids of the reports that lines have entered.
fn entered(lines: &[Line]) -> HashSet<String> {
    let of = lines.iter().filter(|l| l.kind.name == "recovery");
    of.flat_map(|l| aside::entered(&l.data)).map(|e| e.id).collect()
}

/// Reports beside a register and its copies that it has not entered, each once.
fn not_entered(first: &Given, copies: &[Given]) -> Vec<Standing> {
    let mut ids = entered(&first.verified.lines);
    let all = std::iter::once(first).chain(copies).flat_map(|g| &g.aside);
    all.filter(|s| ids.insert(s.entry.id.clone())).cloned().collect()
}

/// Reports that stand aside in a register's folder.
fn beside_it(path: &Path, lines: &[Line], now: &str) -> Vec<Standing> {
    if !crate::disk::is_folder(path) {
        return Vec::new();
    }
    let ids = entered(lines);
    let mut all = aside::standing(&[&Folder::at(path)], now, &|id| ids.contains(id));
    all.retain(|s| !ids.contains(&s.entry.id));
    all
}

/// A copy beside the register; one that goes on otherwise is judged too.
fn beside(first: &Given, other: &Given, anchored: &Anchored) -> Copy {
    let copy = Copy::read(&other.name, &first.side(), &other.side());
    let copy = copy.spoken_for(anchored, &other.verified.lines);
    if copy.forked() { copy.judged(&replay(&other.verified.lines)) } else { copy }
}

/// What of everything outside speaks for a register. `others` are registers that are at hand anyway.
pub fn anchored(
    given: &AnchorArgs,
    verified: &Verified,
    others: &[&Given],
    trust: Option<&Trust>,
    now: &str,
) -> Result<Anchored, End> {
    let lines = &verified.lines;
    let own = logs(lines);
    // What is of another register that is at hand is told there.
    let at_hand: Vec<&str> = others.iter().flat_map(|o| logs(&o.verified.lines)).collect();
    let mut all: Vec<Anchor> = Vec::new();
    if let Some(chain) = verified.chain.as_ref().filter(|_| !given.tokens.is_empty()) {
        for token in &given.tokens {
            let text = scanned(token)?;
            let of = anchors::token(&text, &chain.origin.roster, &chain.origin.station);
            all.push(of.map_err(|why| could_not(say!("the token cannot be read: {why}", why)))?);
        }
    }
    for path in &given.papers {
        all.extend(paper(path, lines, &own, &at_hand, trust)?);
    }
    for other in others {
        all.extend(witnessed(&other.verified, lines, &own, &at_hand, trust));
        let of_it = &other.verified;
        match kin(lines, &of_it.lines) {
            Kin::Another { .. } | Kin::Unknown => {
                let (name, report) = (other.name.clone(), &of_it.report);
                let anchor = anchors::of_another_log(Kind::Witness, name, lines, &of_it.lines, report);
                let strangers = of_strangers(of_it, trust);
                all.push(judged(anchor, report.verdict, &said_first(of_it), strangers));
            }
            Kin::Strangers | Kin::Before | Kin::After => {}
        }
    }
    for path in &given.witnesses {
        let other = read(path, trust, &[])?;
        if other.verified.report.verdict == Verdict::CouldNot {
            let why = said_first(&other.verified);
            return Err(could_not(say!(
                "{file} cannot be read as a register: {why}",
                file = shell_word(path),
                why
            )));
        }
        let found = witnessed(&other.verified, lines, &own, &at_hand, trust);
        // Another station's register that read this one is what a witness is.
        if found.is_empty() || kin(lines, &other.verified.lines) != Kin::Strangers {
            all.push(no_witness(&other, lines, &own, trust));
        }
        all.extend(found);
    }
    for path in &given.heads {
        let name = path.display().to_string();
        let text = String::from_utf8(crate::disk::read_file(path)?)
            .map_err(|_| could_not(say!("{file} is not UTF-8", file = name)))?;
        let heads = anchors::heads(&name, &text).map_err(could_not)?;
        let known = |log: &str| own.contains(&log) || at_hand.contains(&log);
        let others = anchors::other_histories(&all);
        let stands = |h: &Anchor| {
            let here = lines.iter().any(|l| l.hash == h.hash);
            here || h.log.as_deref().is_none_or(|l| known(l) || others.iter().any(|o| o == l))
        };
        if let Some(first) = heads.first().filter(|_| !lines.is_empty() && !heads.iter().any(stands)) {
            return Err(could_not(say!(
                "{from}: got log {log}, wanted {ours}: no head in this file is of what was given; copied wrong, or \
                 another history",
                from = first.from,
                log = first.log.clone().unwrap_or_default(),
                ours = own.join(", ")
            )));
        }
        // A list of heads may be of several registers.
        all.extend(heads.into_iter().filter(|h| h.log.as_deref().is_none_or(|l| !at_hand.contains(&l))));
    }
    let zone = lines.last().map_or("+00:00", |l| l.zone.as_str());
    let all = all.into_iter().map(|a| a.by_clock(now, zone)).collect();
    let mut anchored = anchors::held(lines, all);
    anchored.given |= given.any();
    Ok(anchored)
}

/// Whether whoever is trusted did not sign for it.
fn of_strangers(verified: &Verified, trust: Option<&Trust>) -> bool {
    audit::not_vouched(&verified.report.custodians, trust).is_some_and(|_| trust.is_some())
}

/// With the verdict on the thing that anchors are from.
fn judged(anchor: Anchor, verdict: Verdict, why: &str, strangers: bool) -> Anchor {
    let anchor = anchor.judged(verdict, why);
    if strangers { anchor.of_strangers() } else { anchor }
}

fn said_first(verified: &Verified) -> String {
    verified.report.said.first().map(audit::Said::words).unwrap_or_default()
}

/// What another register says that it read of this one.
fn witnessed(
    other: &Verified,
    lines: &[Line],
    own: &[&str],
    at_hand: &[&str],
    trust: Option<&Trust>,
) -> Vec<Anchor> {
    let station = other.report.station.as_deref().unwrap_or_default();
    let ours: Vec<&str> =
        lines.iter().filter(|l| l.kind.name == "enrol").filter_map(|l| l.data.text("station")).collect();
    let known: Vec<&str> = own.iter().chain(at_hand).copied().collect();
    let mut found = anchors::witnessed(&other.lines, station, own);
    found.extend(anchors::witnessed_elsewhere(&other.lines, station, &ours, &known, log_before(lines)));
    let verdict = other.report.verdict;
    let why = match other.report.said.first() {
        Some(said) if verdict == Verdict::Unproven && said.rule == "custodian" => say!(
            "its custodians are not among those you trust: it shows no more than that somebody had these lines"
        )
        .to_owned(),
        Some(said) => said.words(),
        None => String::new(),
    };
    let strangers = of_strangers(other, trust);
    found.into_iter().map(|a| judged(a, verdict, &why, strangers)).collect()
}

/// A register that was given as a witness, by itself: what it is.
fn no_witness(other: &Given, lines: &[Line], own: &[&str], trust: Option<&Trust>) -> Anchor {
    let (from, report) = (other.name.clone(), &other.verified.report);
    let shares = logs(&other.verified.lines).iter().any(|l| own.contains(l));
    let anchor = if !shares {
        anchors::of_another_log(Kind::Witness, from, lines, &other.verified.lines, report)
    } else if matches!(compare(lines, &other.verified.lines), Compared::Forked { .. }) {
        let why = say!(
            "ANOTHER HISTORY: it is a copy of this register that goes on differently; give both to audit"
        );
        Anchor::elsewhere(Kind::Witness, from, why.into())
    } else {
        let why = say!("it is a copy of this register and no witness: give it as a second register");
        Anchor::idle(Kind::Witness, from, why.into())
    };
    judged(anchor, report.verdict, &said_first(&other.verified), of_strangers(&other.verified, trust))
}

/// A token as it was typed or scanned; or the one in a file or picture of this name.
fn scanned(typed: &str) -> Result<String, End> {
    if typed.trim().to_ascii_uppercase().starts_with("AW1.") {
        return Ok(typed.to_owned());
    }
    super::slip::token_of_file(typed)?.ok_or_else(|| no_token(typed))
}

/// What was given is neither a token nor names a file.
pub(super) fn no_token(typed: &str) -> End {
    could_not(say!(
        "got `{got}`, which is neither a token (it begins with AW1.) nor a file that can be read",
        got = crate::text::safe_line(typed)
    ))
}

/// What a paper or an excerpt holds of this register, and what came of verifying it.
fn paper(
    path: &Path,
    lines: &[Line],
    own: &[&str],
    at_hand: &[&str],
    trust: Option<&Trust>,
) -> Result<Vec<Anchor>, End> {
    let bytes = crate::disk::read_file(path)?;
    let apart = if bytes.starts_with(b"%PDF-") {
        Some(sheet::apart(&bytes).ok_or_else(|| {
            could_not(say!(
                "{file}: this PDF says nowhere which record it was drawn from",
                file = shell_word(path)
            ))
        })?)
    } else {
        None
    };
    let record = apart.as_ref().map_or(bytes.as_slice(), |a| a.record);
    let excerpt = audit::verify_with(record, trust, &[], true);
    let said = said_first(&excerpt);
    if excerpt.lines.is_empty() || excerpt.report.verdict == Verdict::CouldNot {
        return Err(could_not(say!(
            "{file}: no line of it checks: {why}",
            file = shell_word(path),
            why = said
        )));
    }
    let pages = apart.as_ref().map(|a| sheet::compared(&bytes, a, &excerpt));
    let verdict = sheet::verdict(excerpt.report.verdict, pages);
    let why = match pages {
        Some(sheet::Pages::Differ) => {
            say!("PAGES DIFFER: what is drawn from the record in this file is another file").to_owned()
        }
        // Whatever else is the matter with it: nobody held its pages against its record.
        Some(sheet::Pages::NotCompared) => {
            let pages =
                say!("pages not compared: another version drew them, and they may say anything").to_owned();
            [pages].into_iter().chain(Some(said).filter(|s| !s.is_empty())).collect::<Vec<_>>().join("; ")
        }
        Some(sheet::Pages::Same) | None => said,
    };
    let name = path.display().to_string();
    let of_it: Vec<Line> = excerpt.lines.iter().filter(|l| own.contains(&l.log.as_str())).cloned().collect();
    let found = if !of_it.is_empty() {
        anchors::paper(&name, &of_it, lines)
    } else if excerpt.lines.iter().any(|l| at_hand.contains(&l.log.as_str())) {
        Vec::new()
    } else {
        vec![anchors::of_another_log(Kind::Paper, name, lines, &excerpt.lines, &excerpt.report)]
    };
    let strangers = of_strangers(&excerpt, trust);
    Ok(found.into_iter().map(|a| judged(a, verdict, &why, strangers)).collect())
}
