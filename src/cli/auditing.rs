//! `airwrit audit`: registers and copies read, verified, replayed, held against what stands outside, reported.
//!
//! Always: everything is worked out from the bytes; of what is given to speak for a register, what cannot be read is an
//! error and never a silence. Exit codes: of the verdict; 1 where lines were not kept by their rules; 4 where another
//! history stands elsewhere.

use super::args::audit::{AnchorArgs, Audit};
use super::looking::{trusted, volumes_at};
use super::{End, Outcome, Outside, could_not, print_json, sheet, shell_word};
use crate::audit::anchors::{self, Anchor, Anchored};
use crate::audit::{self, Later, Trust, Verified};
use crate::record::line::Line;
use crate::replay::{Replayed, replay};
use crate::report::{self, Copy, Input};
use crate::tongue::say;
use std::path::Path;

/// A register as it was given.
struct Given {
    name: String,
    verified: Verified,
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
    Ok(Given { name: path.display().to_string(), verified: audit::verify_volumes(&bytes, trust, later) })
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
            let own = logs(&g.verified.lines);
            group.iter().any(|other| logs(&other.verified.lines).iter().any(|l| own.contains(l)))
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
    for path in &a.registers {
        given.push(read(path, trust.as_ref(), &later)?);
    }
    let groups = grouped(given);
    let firsts: Vec<&Given> = groups.iter().filter_map(|g| g.first()).collect();
    let replayed: Vec<Replayed> = firsts.iter().map(|g| replay(&g.verified.lines)).collect();
    let mut inputs = Vec::new();
    for (n, (group, replayed)) in groups.iter().zip(&replayed).enumerate() {
        let Some((first, copies)) = group.split_first() else { continue };
        let others: Vec<&Given> =
            firsts.iter().enumerate().filter(|(i, _)| *i != n).map(|(_, g)| *g).collect();
        let others: Vec<&Verified> = others.iter().map(|g| &g.verified).collect();
        inputs.push(Input {
            name: first.name.clone(),
            verified: &first.verified,
            replayed,
            anchored: anchored(&a.anchors, &first.verified, &others)?,
            copies: copies
                .iter()
                .map(|c| Copy::of(&c.name, &first.verified.lines, &c.verified.lines))
                .collect(),
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
    match report.overall.code {
        0 => Ok(()),
        1 => Err(End::No),
        code => Err(End::Code(code)),
    }
}

/// What of everything outside speaks for a register. `others` are registers that are at hand anyway.
pub fn anchored(given: &AnchorArgs, verified: &Verified, others: &[&Verified]) -> Result<Anchored, End> {
    let lines = &verified.lines;
    let own = logs(lines);
    let mut all: Vec<Anchor> = Vec::new();
    if let Some(chain) = verified.chain.as_ref().filter(|_| !given.tokens.is_empty()) {
        for token in &given.tokens {
            let text = scanned(token)?;
            let of = anchors::token(&text, &chain.origin.roster, &chain.origin.station);
            all.push(of.map_err(|why| could_not(say!("the token cannot be read: {why}", why)))?);
        }
    }
    for path in &given.papers {
        all.extend(paper(path, lines, &own)?);
    }
    for path in &given.heads {
        let name = path.display().to_string();
        let text = String::from_utf8(crate::disk::read_file(path)?)
            .map_err(|_| could_not(say!("{file} is not UTF-8", file = name)))?;
        let heads = anchors::heads(&name, &text).map_err(could_not)?;
        // A list of heads may be of several registers.
        all.extend(heads.into_iter().filter(|h| h.log.as_deref().is_none_or(|l| own.contains(&l))));
    }
    let mut witnesses = Vec::new();
    for path in &given.witnesses {
        witnesses.push(read(path, None, &[])?.verified);
    }
    for other in others.iter().copied().chain(&witnesses) {
        let station = other.report.station.as_deref().unwrap_or_default();
        all.extend(anchors::witnessed(&other.lines, station, &own));
    }
    Ok(anchors::held(lines, all))
}

/// A token as it was typed or scanned; or the one in a file or picture of this name.
fn scanned(typed: &str) -> Result<String, End> {
    if typed.starts_with("AW1.") {
        return Ok(typed.to_owned());
    }
    let bytes = crate::disk::read_file(Path::new(typed)).map_err(|_| {
        could_not(say!(
            "got `{got}`, which is neither a token (it begins with AW1.) nor a file that can be read",
            got = crate::text::safe_line(typed)
        ))
    })?;
    if super::picture::is_picture(&bytes) {
        return super::picture::token(&bytes).map_err(|why| could_not(format!("{typed}: {why}")));
    }
    String::from_utf8(bytes).map_err(|_| could_not(say!("{file} holds no token", file = typed)))
}

/// What a paper or an excerpt holds of this register; nothing if it is of another one.
fn paper(path: &Path, lines: &[Line], own: &[&str]) -> Result<Vec<Anchor>, End> {
    let bytes = crate::disk::read_file(path)?;
    let record = if bytes.starts_with(b"%PDF-") {
        let apart = sheet::apart(&bytes).ok_or_else(|| {
            could_not(say!(
                "{file}: this PDF says nowhere which record it was drawn from",
                file = shell_word(path)
            ))
        })?;
        apart.record.to_vec()
    } else {
        bytes
    };
    let excerpt = audit::verify_excerpt(&record, None);
    if excerpt.lines.is_empty() {
        let why = excerpt.report.said.first().map(|s| s.why.clone()).unwrap_or_default();
        return Err(could_not(say!("{file}: no line of it checks: {why}", file = shell_word(path), why)));
    }
    let of_it: Vec<Line> = excerpt.lines.into_iter().filter(|l| own.contains(&l.log.as_str())).collect();
    Ok(anchors::paper(&path.display().to_string(), &of_it, lines))
}
