//! Looking: lint, show, excerpt, verify.

use super::args::{TrustArgs, Verify};
use super::files::Files;
use super::sheet;
use super::{End, Outcome, Outside, Place, could_not, print_json, shell_word};
use crate::actions::Looked;
use crate::audit::anchors::Anchored;
use crate::audit::bounded::{self, Means};
use crate::audit::compare::{Against, Side, against};
use crate::audit::{self, Trust, Verdict};
use crate::disk::Folder;
use crate::finding::any_error;
use crate::permit::decide::crew;
use crate::record::aside;
use crate::record::excerpt as excerpts;
use crate::record::volumes::Volume;
use crate::time::for_people;
use crate::tongue::{Tongue, say, say_n};
use crate::view::{PermitView, Standing, StateWord};
use crate::world::Storage;
use std::io::Write;
use std::path::{Path, PathBuf};

/// `airwrit lint`.
pub fn lint(files: &[PathBuf], json: bool, outside: &mut Outside<'_>) -> Outcome {
    let mut all = Vec::new();
    let (mut sets, mut sites, mut jobs) = (Vec::new(), Vec::new(), Vec::new());
    for path in files {
        let bytes = crate::disk::read_file(path)?;
        let name = path.display().to_string();
        let (kind, found) = crate::lint::lint(&name, &bytes);
        all.extend(found);
        match kind {
            crate::lint::Kind::Site(crate::site::Kind::Set) => sets.push((name.clone(), bytes.clone())),
            crate::lint::Kind::Site(crate::site::Kind::Site) => sites.push((name.clone(), bytes.clone())),
            crate::lint::Kind::Site(crate::site::Kind::Job) => jobs.push((name.clone(), bytes.clone())),
            crate::lint::Kind::Checklist | crate::lint::Kind::Unknown => {}
        }
        if matches!(kind, crate::lint::Kind::Site(_)) {
            let now = crate::time::Moment::new((outside.second)(), &jiff::tz::TimeZone::UTC);
            all.extend(crate::lint::overdue(&name, &bytes, now.date()));
        }
    }
    // Of one set and one site a job is judged as it will be when it is opened.
    if let ([set], [site]) = (sets.as_slice(), sites.as_slice()) {
        all.extend(jobs.iter().flat_map(|job| lint_together(job, set, site)));
    }
    if json {
        print_json(&all, outside.out)?;
    } else {
        for f in &all {
            writeln!(outside.out, "{}", crate::text::safe(&f.to_string()))?;
        }
        let errors = all.iter().filter(|f| f.level == crate::finding::Level::Error).count();
        let files = say_n!(files.len(), "{n} file", "{n} files");
        let warnings = say_n!(all.len() - errors, "{n} warning", "{n} warnings");
        let errors = say_n!(errors, "{n} error", "{n} errors");
        writeln!(outside.err, "{files}, {errors}, {warnings}")?;
    }
    if any_error(&all) { Err(End::No) } else { Ok(()) }
}

/// What of a job's file a set and a site together forbid, each a name and bytes; nothing where one of them cannot be read.
fn lint_together(
    job: &(String, Vec<u8>),
    set: &(String, Vec<u8>),
    site: &(String, Vec<u8>),
) -> Vec<crate::finding::Finding> {
    let job_file = crate::site::read_job(&job.0, &job.1).file;
    let set = crate::site::read_set(&set.0, &set.1).file;
    let site = crate::site::read_site(&site.0, &site.1).file;
    let (Some(j), Some(set), Some(site)) = (job_file, set, site) else { return Vec::new() };
    let place = || crate::finding::Place { file: job.0.clone(), line: 1, column: 1 };
    let why = match j.values().clone().worked_out(site.values(), &|_| None) {
        Ok(worked_out) => {
            crate::permit::decide::open::problems_of_files(&worked_out, set.values(), site.values())
        }
        Err(lacks) => lacks,
    };
    why.into_iter().map(|w| crate::finding::Finding::error("job-refused", place(), w)).collect()
}

/// Reads the register to look at it: needs no key and waits for nobody.
pub fn look(place: &Place, outside: &mut Outside<'_>) -> Result<Looked, End> {
    let looked = match place.look(outside) {
        Ok(looked) if looked.broken.is_none() => looked,
        damaged => {
            // Who may be on air is told all the same.
            if let Ok(l) = &damaged {
                let all = super::calling::concerned(&l.known(), None, None);
                super::calling::signal(l, &all, true, outside)?;
                if l.aside > 0 {
                    let words = say_n!(
                        l.aside,
                        "{n} report written aside beside it, as far as they can be read:",
                        "{n} reports written aside beside it, as far as they can be read:"
                    );
                    writeln!(outside.err, "  {words}")?;
                    for words in place.aside_in_words(outside) {
                        writeln!(outside.err, "    {}", crate::text::safe_line(&words))?;
                    }
                }
            }
            super::calling::salvaged(place, damaged.as_ref().ok(), outside)?;
            damaged?.whole()?
        }
    };
    if looked.torn {
        writeln!(
            outside.err,
            "{}",
            say!(
                "after line {line} stand bytes that are no whole line: an entry is being written, or was cut short",
                line = looked.chain.seq
            )
        )?;
    }
    if looked.aside > 0 {
        let words = say_n!(
            looked.aside,
            "{n} report written aside, not in the register yet; counted here, entered with the next line",
            "{n} reports written aside, not in the register yet; counted here, entered with the next line"
        );
        writeln!(outside.err, "{words}")?;
    }
    if looked.unread > 0 {
        let words = say_n!(
            looked.unread,
            "{n} report written aside CANNOT BE READ OR ARE MISSING; it may have been an alarm: everything at work counts \
             as suspended. Ask who was there; the next entry records it",
            "{n} reports written aside CANNOT BE READ OR ARE MISSING; it may have been an alarm: everything at work counts \
             as suspended. Ask who was there; the next entry records it"
        );
        writeln!(outside.err, "{words}")?;
    }
    if looked.older {
        writeln!(
            outside.err,
            "{}",
            say!(
                "THIS REGISTER IS OLDER THAN ITS SEAL KEY, or its end was cut off: newer lines exist. Who is on air, and \
                 what was called, is NOT known here"
            )
        )?;
    }
    if looked.state.missing {
        writeln!(
            outside.err,
            "{}",
            say!(
                "a volume before this one is missing: who went on air in it, and whether they came off, is NOT known \
                 here"
            )
        )?;
    }
    Ok(looked)
}

/// `airwrit show`.
pub fn show(place: &Place, permit: Option<&str>, json: bool, outside: &mut Outside<'_>) -> Outcome {
    let looked = look(place, outside)?;
    let in_part = looked.in_part();
    let perhaps_others = in_part || looked.state.missing;
    let known = looked.known();
    if let Some(number) = permit {
        let of_set = match crate::show::set(&known, number) {
            _ if known.state.permits.contains_key(number) => None,
            None => crate::show::texts(&known, &looked.lines, number),
            Some(stands) => {
                let mut of_set = stands.lines();
                of_set.extend(crate::show::texts(&known, &looked.lines, number).unwrap_or_default());
                Some(of_set)
            }
        };
        if let Some(lines) = of_set {
            if json {
                return print_json(&serde_json::json!({ "set": number, "lines": lines }), outside.out);
            }
            for line in lines {
                writeln!(outside.out, "{}", crate::text::safe_line(&line))?;
            }
            return Ok(());
        }
        known.permit(number)?;
        let view =
            crate::show::permit(&known, &looked.lines, number, None, Tongue::asked()).map_err(could_not)?;
        let since = known
            .permit(number)
            .ok()
            .filter(|p| !p.life.ended())
            .map(|p| crate::permit::since::since_last_closed(&known, &looked.lines, p))
            .unwrap_or_default();
        if json {
            let mut view = serde_json::to_value(&view).map_err(|e| could_not(e.to_string()))?;
            if let Some(members) = view.as_object_mut() {
                members.insert("since_last_closed".into(), since.into());
                members.insert("perhaps_others".into(), perhaps_others.into());
            }
            return print_json(&view, outside.out);
        }
        if in_part {
            writeln!(outside.out, "!! {}", in_part_words())?;
        }
        print_permit(&view, outside.out)?;
        if !since.is_empty() {
            writeln!(outside.out, "\n{}", say!("Texts"))?;
        }
        for line in &since {
            writeln!(outside.out, "  {}", crate::text::safe_line(line))?;
        }
        return Ok(());
    }
    let rows: Vec<(String, crate::view::StateWord, String, String)> = known
        .state
        .permits
        .values()
        .map(|p| {
            let life = crate::show::shown_life(&known, p);
            let since = for_people(&p.since.time, &p.since.zone);
            (p.number.clone(), life, since, p.set.id.clone())
        })
        .collect();
    if json {
        let permits: Vec<_> = rows
            .iter()
            .map(|(number, state, since, set)| {
                serde_json::json!({ "permit": number, "state": state.english(), "since": since, "set": set })
            })
            .collect();
        let on_air: Vec<_> = known
            .state
            .on_air
            .iter()
            .map(|p| {
                serde_json::json!({
                    "person": p.person, "where": p.whereabouts.words(), "set": p.set, "permit": p.permit,
                    "outlet": p.outlet, "since": for_people(&p.since.time, &p.since.zone),
                })
            })
            .collect();
        return print_json(
            &serde_json::json!({
                "permits": permits,
                "on_air": on_air,
                "perhaps_others": perhaps_others,
            }),
            outside.out,
        );
    }
    if rows.is_empty() {
        writeln!(outside.out, "{}", say!("no permit yet"))?;
        let hint = place.typed(say!("`airwrit open --job FILE` opens one"));
        writeln!(outside.err, "{}", say!("hint: {hint}", hint))?;
    }
    for (number, life, since, set) in rows {
        let life = life.word();
        let words = say!(
            "{permit}  {state}  since {time}  set {set}",
            permit = number,
            state = format!("{life:<11}"),
            time = since,
            set = crate::text::safe_line(&set)
        );
        writeln!(outside.out, "{words}")?;
    }
    for p in &known.state.on_air {
        let words = say!(
            "ON AIR  {person}  {whereabouts}  {permit}  since {time}",
            person = crate::text::safe_line(&crew::who(&known, &p.person)),
            whereabouts = p.whereabouts.words(),
            permit = p.permit.as_deref().unwrap_or(say!("no permit")),
            time = crate::time::clock(&p.since.time, &p.since.zone)
        );
        writeln!(outside.out, "{words}")?;
    }
    Ok(())
}

/// Over everything that is read from a register of which something is missing.
fn in_part_words() -> &'static str {
    say!(
        "THIS IS NOT ALL: something of the register is missing or being written. Nobody goes on any air by what stands \
         here; who is on air may stand elsewhere"
    )
}

/// `airwrit board`.
pub fn board(place: &Place, json: bool, outside: &mut Outside<'_>) -> Outcome {
    let looked = look(place, outside)?;
    let known = looked.known();
    let rows = crate::show::board(&known, &looked.lines, Tongue::asked()).map_err(could_not)?;
    if json {
        let rows = serde_json::to_value(&rows).map_err(|e| could_not(e.to_string()))?;
        let now = for_people(&known.now.time, &known.now.zone);
        let apart = crate::show::apart(&known);
        let all = serde_json::json!({ "as_of": now, "out_now": crate::show::out_of_no_row(&known), "permits": rows, "apart": apart });
        return print_json(&all, outside.out);
    }
    let in_part = looked.in_part();
    let out = &mut outside.out;
    writeln!(out, "{}", say!("as of {time}", time = for_people(&known.now.time, &known.now.zone)))?;
    if in_part {
        writeln!(out, "!! {}", in_part_words())?;
    }
    for words in crate::show::out_of_no_row(&known) {
        writeln!(out, "\n!! {}", crate::text::safe_line(&words))?;
    }
    if rows.is_empty() {
        writeln!(out, "{}", say!("no permit is open, nobody is on air on one"))?;
    }
    for r in &rows {
        let valid = crate::text::safe_line(&r.valid_to);
        let valid = if r.ends { say!("valid to {time}", time = valid).into() } else { valid };
        writeln!(out, "\n{}  {}  {valid}", r.number, r.state)?;
        if !r.check_word.is_empty() {
            writeln!(out, "{}", say!("check word {word}", word = r.check_word))?;
        }
        let means = if in_part { in_part_words() } else { r.means.as_str() };
        writeln!(out, "{means}\n{}", crate::text::safe_line(&r.place))?;
        if r.on_air.is_empty() {
            writeln!(out, "  {}", say!("nobody on air on it"))?;
        }
        let (on_air, read) = (format!("  {}  ", say!("ON AIR")), format!("  {}  ", say!("read")));
        let parts = [
            (on_air.as_str(), &r.on_air),
            ("  !! ", &r.warnings),
            ("  ", &r.orders),
            (read.as_str(), &r.readings),
        ];
        for (head, lines) in parts {
            for line in lines {
                writeln!(out, "{head}{}", crate::text::safe_line(line))?;
            }
        }
    }
    for words in crate::show::apart(&known) {
        writeln!(out, "\n!! {}", crate::text::safe_line(&words))?;
    }
    for p in known.state.on_air.iter().filter(|p| p.permit.is_none()) {
        writeln!(
            out,
            "\n{}",
            say!(
                "ON AIR ON NO PERMIT  {person}, {whereabouts}, set {set}",
                person = crate::text::safe_line(&crew::who(&known, &p.person)),
                whereabouts = p.whereabouts.words(),
                set = crate::text::safe_line(&p.set)
            )
        )?;
    }
    Ok(())
}

/// The sign of a standing: a word and a shape, no colour.
pub fn sign(standing: Standing) -> &'static str {
    match standing {
        Standing::Open => say!("[x] open"),
        Standing::Hold => say!("[!] HOLD"),
        Standing::Waiting => say!("[ ] waits"),
        Standing::NotApplicable => say!("[-] not applicable"),
        Standing::OutOfService => say!("[/] out of service"),
        Standing::Deviation => say!("[~] deviation"),
    }
}

fn print_permit(v: &PermitView, out: &mut dyn Write) -> Outcome {
    let line = |s: &str| crate::text::safe_line(s).into_owned();
    writeln!(out, "{}  {}", v.number, v.state_words)?;
    writeln!(out, "{}", v.state_means)?;
    if matches!(v.state, StateWord::Live | StateWord::Suspended | StateWord::Lapsed) {
        let because =
            if v.valid_because.is_empty() { String::new() } else { format!(" ({})", line(&v.valid_because)) };
        writeln!(out, "{}{because}", say!("valid to {time}", time = v.valid_to))?;
    }
    if !v.check_word.is_empty() {
        writeln!(out, "{}", say!("check word {word}", word = v.check_word))?;
    }
    writeln!(out, "{}\n{}\n{}\n{}", line(&v.site), line(&v.set), line(&v.place), line(&v.job))?;
    for w in &v.warnings {
        writeln!(out, "!! {}", line(w))?;
    }
    for f in &v.flags {
        writeln!(out, "?? {}", line(f))?;
    }
    for s in &v.page_one {
        let note = if s.note.is_empty() { String::new() } else { format!(" ({})", line(&s.note)) };
        writeln!(out, "  {}: {}{note}", line(&s.label), line(&s.value))?;
    }
    for w in &v.wearers {
        writeln!(
            out,
            "  {}",
            say!(
                "{name} ({person}): {tally} {since}; outlet {outlet}, hose {hose} ({marks}), {respirator}, escape set \
                 {escape_set}",
                name = line(&w.name),
                person = line(&w.person),
                tally = w.tally,
                since = w.since,
                outlet = line(&w.outlet),
                hose = line(&w.hose),
                marks = line(&w.hose_marks),
                respirator = line(&w.respirator),
                escape_set = line(&w.escape_set)
            )
        )?;
    }
    for stage in &v.stages {
        writeln!(out, "\n{}", line(&stage.title))?;
        for s in &stage.steps {
            let item = if s.item.is_empty() { String::new() } else { format!(" {}", line(&s.item)) };
            let told = |a: &crate::view::AnswerView| {
                [&a.words, &a.told].map(|w| line(w)).join(" ").trim().to_owned()
            };
            let beside = s.answers.last().map(told).filter(|w| !w.is_empty());
            let beside = beside.map(|w| format!("  {w}")).unwrap_or_default();
            let answer =
                s.answers.last().map(|a| format!(": {}{beside}", line(&a.value))).unwrap_or_default();
            writeln!(out, "  {:<19} {}{item}{answer}", sign(s.standing), s.step)?;
            if matches!(s.standing, Standing::Hold | Standing::Deviation) {
                writeln!(out, "      {}", line(&s.why))?;
            }
        }
    }
    if !v.day.is_empty() {
        writeln!(out, "\n{}", say!("The day"))?;
    }
    for d in &v.day {
        let breach =
            if d.breach.is_empty() { String::new() } else { say!("BREACH: {why}", why = line(&d.breach)) };
        let breach = if breach.is_empty() { breach } else { format!("  {breach}") };
        let by = if d.by.is_empty() { String::new() } else { format!("  [{}]", line(&d.by)) };
        writeln!(out, "  {}  {}{breach}{by}", d.time, line(&d.words))?;
    }
    for s in &v.sign_offs {
        writeln!(
            out,
            "\n{}\n  {}",
            say!(
                "{what} by {name} ({person}, {role}) {time}",
                what = s.what,
                name = line(&s.name),
                person = line(&s.person),
                role = s.role,
                time = s.time
            ),
            s.key
        )?;
        for l in s.said.lines() {
            writeln!(out, "  {}", line(l))?;
        }
    }
    writeln!(out, "\n{}", v.not_an_entry_permit)?;
    Ok(())
}

/// `airwrit excerpt`.
pub fn excerpt(place: &Place, number: &str, to: &Path, outside: &mut Outside<'_>) -> Outcome {
    let looked = look(place, outside)?;
    looked.known().permit(number)?;
    let bytes = excerpts::of(&looked.lines, number)
        .ok_or_else(|| could_not(say!("{permit} has no first line in this register", permit = number)))?;
    // Never over a file that stands: it may be the register itself, which begins alike.
    crate::disk::write_file(to, &bytes, false, false)?;
    let lines = bytes.iter().filter(|b| **b == b'\n').count();
    let words = say!(
        "{file} written, {lines} of {all} lines",
        file = shell_word(to),
        lines,
        all = looked.lines.len()
    );
    writeln!(outside.out, "{words}")?;
    Ok(())
}

/// Whom the reader trusts, from the command line.
pub fn trusted(t: &TrustArgs) -> Result<Option<Trust>, End> {
    let TrustArgs { custodian, threshold, trust: file } = t;
    let trust = match (file, custodian.is_empty()) {
        (Some(file), _) => {
            let bytes = crate::disk::read_file(file)?;
            let text =
                String::from_utf8(bytes).map_err(|_| could_not(say!("the trust file is not UTF-8")))?;
            Some(Trust::read(&text).map_err(could_not)?)
        }
        (None, true) => None,
        (None, false) => {
            let threshold = threshold.unwrap_or(custodian.len());
            let trust = Trust { custodians: custodian.clone(), threshold };
            Some(trust.check().map_err(End::Usage)?)
        }
    };
    if trust.is_none() && threshold.is_some() {
        return Err(End::Usage(say!("--threshold without --custodian says nothing").into()));
    }
    Ok(trust)
}

/// `airwrit verify`.
pub fn verify(v: &Verify, outside: &mut Outside<'_>) -> Outcome {
    let trust = trusted(&v.trust)?;
    let later = super::rosters::later(&v.rosters)?;
    // Where nothing but the verdict is wanted, a register may be longer than fits into memory.
    if !v.excerpt && v.against.is_none() && !v.anchors.any() {
        let files = Files::at(&v.what)?;
        if !files.begins_with(b"%PDF-") {
            let mut report = bounded::verdict(&files, trust.as_ref(), &later, Means::here());
            if let Some(name) = files.late().filter(|_| crate::disk::is_folder(&v.what)) {
                audit::begins_late(&mut report, &name);
            }
            if v.json {
                let report = serde_json::to_value(&report).map_err(|e| could_not(e.to_string()))?;
                print_json(&report, outside.out)?;
            } else {
                write!(outside.out, "{}", audit::words(&report))?;
                no_anchor(report.verdict, outside)?;
            }
            hint_of_excerpt(&v.what, &report, outside)?;
            hint_of_aside(&v.what, outside)?;
            return ended(report.verdict);
        }
    }
    let volumes = volumes_at(&v.what)?;
    let late = super::auditing::late(&v.what, &volumes);
    let volumes: Vec<&[u8]> = volumes.iter().map(|v| v.bytes.as_slice()).collect();
    // A permit's paper: the record in it, and the pages drawn from it.
    let paper = volumes.first().copied().filter(|b| b.starts_with(b"%PDF-"));
    let apart = match paper {
        Some(pdf) => Some(sheet::apart(pdf).ok_or_else(|| {
            could_not(
                say!(
                    "this PDF says nowhere which record it was drawn from: it is no permit of airwrit with its record \
                     (a card has none), or its end was changed"),
            )
        })?),
        None => None,
    };
    let mut verified = if let Some(a) = &apart {
        audit::verify_with(a.record, trust.as_ref(), &later, true)
    } else if v.excerpt {
        audit::verify_with(&volumes.concat(), trust.as_ref(), &later, true)
    } else {
        audit::verify_volumes(&volumes, trust.as_ref(), &later)
    };
    if let Some(name) = late {
        audit::begins_late(&mut verified.report, &name);
    }
    let compared = match &v.against {
        None => None,
        Some(path) => {
            let other = super::auditing::copy(path, trust.as_ref(), &later)?;
            Some(against(&Side::of(&verified, &volumes), &other.side()))
        }
    };
    let now = crate::time::utc((outside.second)());
    let mut outside_of_it = super::auditing::anchored(&v.anchors, &verified, &[], trust.as_ref(), &now)?;
    outside_of_it.shows_before(&mut verified.report);
    let pages = apart.as_ref().zip(paper).map(|(a, pdf)| (a, sheet::compared(pdf, a, &verified)));
    let of_record = verified.report.verdict;
    let verdict = sheet::verdict(of_record, pages.as_ref().map(|(_, pages)| *pages));
    let worse = worse(compared.as_ref(), &outside_of_it)
        .filter(|_| matches!(verdict, Verdict::Sound | Verdict::Unproven));
    if v.json {
        let mut report = serde_json::to_value(&verified.report).map_err(|e| could_not(e.to_string()))?;
        if let (Some((a, pages)), Some(members)) = (&pages, report.as_object_mut()) {
            members.insert(
                "verdict".into(),
                serde_json::to_value(verdict).map_err(|e| could_not(e.to_string()))?,
            );
            members.insert(
                "record".into(),
                serde_json::to_value(of_record).map_err(|e| could_not(e.to_string()))?,
            );
            members.insert("pages".into(), pages.word().into());
            members.insert("drawn_by".into(), a.version.clone().into());
            members.insert("beside".into(), a.about.beside.clone().into());
            let view = sheet::view(&verified, &a.about);
            members.insert("page_one".into(), view.map_or(serde_json::Value::Null, |v| page_one_in_json(&v)));
            members.insert("held_beside".into(), a.about.held.clone().into());
        }
        if let (Some(worse), Some(members)) = (worse, report.as_object_mut()) {
            let by_itself = members.insert("verdict".into(), worse.word().into());
            members.insert("by_itself".into(), by_itself.unwrap_or_default());
        }
        if let (Some(c), Some(members)) = (&compared, report.as_object_mut()) {
            members.insert("against".into(), serde_json::to_value(c).map_err(|e| could_not(e.to_string()))?);
        }
        if let (true, Some(members)) = (v.anchors.any(), report.as_object_mut()) {
            let held = serde_json::to_value(&outside_of_it).map_err(|e| could_not(e.to_string()))?;
            members.insert("anchored".into(), held);
        }
        print_json(&report, outside.out)?;
    } else {
        // What is said first is how it ended.
        if let Some(worse) = worse {
            let first = match worse {
                Worse::AnotherHistory => {
                    say!("ANOTHER HISTORY of this register stands elsewhere, see below.")
                }
                Worse::LongerElsewhere => {
                    say!(
                        "THE END OF THIS REGISTER IS NOT HERE: something outside names a later line, see below."
                    )
                }
                Worse::BrokenBeside => say!("SOMETHING GIVEN BESIDE IT IS BROKEN, see below."),
                Worse::KeptTwice => say!("TWO REGISTERS KEEP ONE SET AT ONE TIME, see below."),
                Worse::UnfitBeside => {
                    say!("SOMETHING GIVEN BESIDE IT CANNOT BE AS IT IS THERE, see below.")
                }
            };
            write!(outside.out, "{first} {} ", say!("By itself:"))?;
        }
        if let Some((a, pages)) = pages.as_ref().filter(|_| verdict != of_record) {
            let broken = verdict == Verdict::Broken;
            write!(outside.out, "{}: ", if broken { say!("broken") } else { say!("unproven") })?;
            pages_in_words(a, *pages, outside)?;
            write!(outside.out, "{} ", say!("the record in it, by itself:"))?;
        }
        write!(outside.out, "{}", audit::words(&verified.report))?;
        if !v.anchors.any() && v.against.is_none() {
            no_anchor(verified.report.verdict, outside)?;
        }
        if let Some(a) = &apart {
            page_one_in_words(a, &verified, outside)?;
        }
        if v.anchors.any() {
            write!(outside.out, "{}", crate::text::safe(&audit::anchors::words(&outside_of_it)))?;
        }
        if let Some(c) = &compared {
            write!(outside.out, "{}", audit::compare::in_words(c))?;
        }
        if let Some((a, pages)) = pages.as_ref().filter(|_| verdict == of_record) {
            pages_in_words(a, *pages, outside)?;
        }
    }
    match worse {
        // As `audit` has it: nothing is broken, and what was given is not as it should be.
        Some(Worse::KeptTwice) => Err(End::No),
        Some(Worse::UnfitBeside) if verdict == Verdict::Sound => Err(End::No),
        Some(Worse::UnfitBeside) | None => ended(verdict),
        Some(Worse::AnotherHistory | Worse::LongerElsewhere | Worse::BrokenBeside) => {
            Err(End::Code(audit::exit_code(Verdict::Broken)))
        }
    }
}

/// Where nothing was given beside it: lines that were cut off leave no trace in what is left.
fn no_anchor(verdict: Verdict, outside: &mut Outside<'_>) -> Outcome {
    if matches!(verdict, Verdict::Sound | Verdict::Unproven) {
        let words = say!(
            "nothing outside speaks for any of its lines: no token, paper, head or other register was given"
        );
        writeln!(outside.out, "{words}")?;
    }
    Ok(())
}

/// What stands beside a register that checks by itself.
#[derive(Clone, Copy)]
enum Worse {
    AnotherHistory,
    LongerElsewhere,
    BrokenBeside,
    /// Another register keeps a set at the same time.
    KeptTwice,
    /// Copied wrong, made by nobody's key, or of a time that does not fit.
    UnfitBeside,
}

impl Worse {
    const fn word(self) -> &'static str {
        match self {
            Worse::AnotherHistory => "another_history",
            Worse::LongerElsewhere => "longer_elsewhere",
            Worse::BrokenBeside => "broken_beside",
            Worse::KeptTwice => "kept_twice",
            Worse::UnfitBeside => "unfit_beside",
        }
    }
}

fn worse(compared: Option<&Against>, outside: &Anchored) -> Option<Worse> {
    let another = compared.is_some_and(Against::is_another_history);
    if !another && outside.only_longer() {
        Some(Worse::LongerElsewhere)
    } else if another || outside.against() {
        Some(Worse::AnotherHistory)
    } else if outside.broken() || compared.is_some_and(|c| c.there.is_some()) {
        Some(Worse::BrokenBeside)
    } else if compared.is_some_and(Against::keeps_too) {
        Some(Worse::KeptTwice)
    } else if outside.unfit() > 0 {
        Some(Worse::UnfitBeside)
    } else {
        None
    }
}

/// Longer ones are no excerpts, and are not read into memory for a hint.
const EXCERPT: u64 = 32 * 1024 * 1024;

/// Of a file that breaks where its numbers do, and reads well as an excerpt: its permit.
pub(super) fn excerpt_of(path: &Path, report: &audit::Report) -> Result<Option<String>, End> {
    let gap = report.verdict == Verdict::Broken && report.said.first().is_some_and(|s| s.rule == "seq");
    if !gap || crate::disk::is_folder(path) || crate::disk::length(path)? > EXCERPT {
        return Ok(None);
    }
    let excerpt = audit::verify_excerpt(&crate::disk::read_file(path)?, None);
    let good = matches!(excerpt.report.verdict, Verdict::Sound | Verdict::Unproven);
    Ok(excerpt.report.permits.first().map(|(number, _)| number.clone()).filter(|_| good))
}

fn hint_of_excerpt(path: &Path, report: &audit::Report, outside: &mut Outside<'_>) -> Outcome {
    if let Some(permit) = excerpt_of(path, report)? {
        writeln!(
            outside.err,
            "{}",
            say!(
                "hint: read as an excerpt of {permit} it checks. If it was given to you as one, verify it with \
                 --excerpt; a register with lines missing is broken",
                permit
            )
        )?;
    }
    Ok(())
}

/// Reports that lie beside a register are in no line that was verified.
fn hint_of_aside(path: &Path, outside: &mut Outside<'_>) -> Outcome {
    let n = if crate::disk::is_folder(path) { aside::named(&Folder::at(path)) } else { 0 };
    if n > 0 {
        let said = say_n!(
            n,
            "hint: {n} report written aside lies in this folder; only lines were verified. `airwrit audit` tells what it says",
            "hint: {n} reports written aside lie in this folder; only lines were verified. `airwrit audit` tells what they say"
        );
        writeln!(outside.err, "{said}")?;
    }
    Ok(())
}

fn ended(verdict: Verdict) -> Outcome {
    match audit::exit_code(verdict) {
        0 => Ok(()),
        code => Err(End::Code(code)),
    }
}

/// What page one says, for programs.
fn page_one_in_json(v: &PermitView) -> serde_json::Value {
    serde_json::json!({ "permit": v.number, "state": v.state, "held": v.held, "state_words": v.state_words,
        "state_means": v.state_means, "valid_to": v.valid_to, "as_of": v.as_of, "as_of_utc": v.as_of_utc })
}

/// What page one says, as of when, and whether its end is over by the clock here.
fn page_one_in_words(a: &sheet::Apart<'_>, verified: &audit::Verified, outside: &mut Outside<'_>) -> Outcome {
    let Ok(view) = sheet::view(verified, &a.about) else { return Ok(()) };
    let line = |s: &str| crate::text::safe_line(s).into_owned();
    writeln!(
        outside.out,
        "{}",
        say!(
            "page one: {state}: {means} Valid to: {valid_to}. As of line {line}, {time}: what came after it is not in \
             this file",
            state = line(&view.state_words),
            means = line(&view.state_means),
            valid_to = line(&view.valid_to),
            line = view.as_of,
            time = view.as_of_utc
        )
    )?;
    let now = crate::time::utc((outside.second)());
    let end = verified.state.permits.get(&a.about.number).and_then(|p| p.valid_to.as_deref());
    if let Some(end) = end.filter(|end| view.state == StateWord::Live && *end < now.as_str()) {
        writeln!(
            outside.out,
            "{}",
            say!("ITS TIME IS OVER: it ended at {end}, and it is {now} here", end, now)
        )?;
    }
    if a.about.held.is_some() {
        writeln!(outside.out, "{}", say!("HELD stands beside the record: the station's word"))?;
    }
    Ok(())
}

fn pages_in_words(a: &sheet::Apart<'_>, pages: sheet::Pages, outside: &mut Outside<'_>) -> Outcome {
    let version = crate::text::safe_line(&a.version);
    match pages {
        sheet::Pages::Same => {
            writeln!(outside.out, "{}", say!("pages: drawn again from the record, the same in every byte"))?;
        }
        sheet::Pages::Differ => writeln!(
            outside.out,
            "{}",
            say!(
                "PAGES DIFFER: what is drawn from the record in this file is another file. Do not rely on these \
                 pages; the record can be taken out of it and read by itself"
            )
        )?,
        sheet::Pages::NotCompared => writeln!(
            outside.out,
            "{}",
            say!(
                "pages not compared: airwrit {version} drew them, this is {here}. They may say anything: rely on the \
                 record alone",
                version,
                here = crate::paper::DRAWN_BY
            )
        )?,
    }
    for words in &a.about.beside {
        writeln!(
            outside.out,
            "{}",
            say!("beside the record, the station's word: {words}", words = crate::text::safe_line(words))
        )?;
    }
    Ok(())
}

/// The volumes of a folder, or a file as the only one.
pub fn volumes_at(path: &Path) -> Result<Vec<Volume>, End> {
    if crate::disk::is_folder(path) {
        let volumes = crate::record::volumes::read(&Folder::at(path))?;
        if volumes.is_empty() { Err(no_register_in(path)) } else { Ok(volumes) }
    } else {
        Ok(vec![Volume { name: path.display().to_string(), bytes: crate::disk::read_file(path)? }])
    }
}

/// A folder without a volume: where registers stand in folders of it, these are meant.
pub(super) fn no_register_in(path: &Path) -> End {
    let holds = |name: &String| {
        let folder = path.join(name);
        crate::disk::is_folder(&folder)
            && crate::record::volumes::names(&Folder::at(&folder)).is_ok_and(|names| !names.is_empty())
    };
    let inside: Vec<String> = Folder::at(path).list().unwrap_or_default().into_iter().filter(holds).collect();
    let (folder, file) = (shell_word(path), crate::record::store::VOLUME);
    if inside.is_empty() {
        return could_not(say!(
            "there is no register in {folder}: no file {file}, or of a later volume, stands in it",
            folder,
            file
        ));
    }
    let those: Vec<String> = inside.iter().map(|name| shell_word(&path.join(name))).collect();
    could_not(say_n!(
        those.len(),
        "there is no register in {folder} itself; one stands in a folder of it: give {those}",
        "there is no register in {folder} itself; {n} stand in folders of it: give {those}",
        folder,
        those = those.join(" ")
    ))
}
