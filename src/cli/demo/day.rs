//! The day itself: the answers of `examples/`, the holds, the signatures, the tally, the shutdown.

mod trouble;

use super::{Cast, secret_key};
use crate::actions::enrol::Enrolment;
use crate::actions::{Desk, Loaded, Trouble};
use crate::checklist::StepKind;
use crate::cli::printing::Undrawn;
use crate::cli::{End, could_not};
use crate::disk::Folder;
use crate::paper::PaperSize;
use crate::permit::bench::Texts;
use crate::permit::decide::Refusal;
use crate::permit::decide::air::{self, Move, Told};
use crate::permit::decide::answer::{self, Typed};
use crate::permit::decide::open::{self, Opening};
use crate::permit::decide::sign::{Limits, Seen, Signing, drawn};
use crate::permit::walk;
use crate::record::json::{Json, sorted};
use crate::record::line::{Draft, Line};
use crate::time::{Moment, clock, seconds};
use crate::view::Standing;
use crate::world::Random;
use jiff::tz::TimeZone;
use serde::Deserialize;
use sha2::{Digest, Sha256};
use std::io::Write;
use std::path::Path;
use std::rc::Rc;

/// Seconds between two answers.
const PACE: i64 = 12;
/// The step and item that somebody hurried over: flagged to the supervisor.
const HURRIED: (&str, Option<&str>) = ("hose_traced", Some("nikos"));
pub(super) const SITE: &str = include_str!("../../../examples/site.yaml");
pub(super) const SET: &str = include_str!("../../../examples/set.yaml");
pub(super) const JOB: &str = include_str!("../../../examples/job.yaml");
pub(super) const PRE_START: &str = include_str!("../../../checklists/pre-start.yaml");
pub(super) const SHUTDOWN: &str = include_str!("../../../checklists/shutdown.yaml");
pub(super) const MORNING: &str = include_str!("../../../examples/answers-pre-start.yaml");
pub(super) const EVENING: &str = include_str!("../../../examples/answers-shutdown.yaml");
/// Answered only where the air is tested on the permit itself.
const TODAY: [&str; 14] = [
    "air_test_date",
    "air_sampler",
    "air_instrument_good",
    "air_sample_point",
    "air_off",
    "air_co2_off",
    "air_o2_off",
    "air_o2",
    "air_co",
    "air_co2",
    "air_oil",
    "water_method",
    "air_water",
    "air_dew_point",
];
/// 06:02 at the site.
const BEGIN: &str = "2026-11-25T05:02:00Z";
pub(super) const LOG: &str = "d3a0d3a0d3a0d3a0d3a0d3a0d3a0d3a0";

/// Fixed, so that every run leaves the same register. Nothing real is sealed with it.
pub(super) struct NotRandom(pub(super) u64);

impl Random for NotRandom {
    fn fill(&mut self, bytes: &mut [u8]) -> Result<(), String> {
        for chunk in bytes.chunks_mut(32) {
            self.0 += 1;
            let digest = Sha256::digest(format!("airwrit demo {}", self.0));
            chunk.copy_from_slice(&digest[..chunk.len()]);
        }
        Ok(())
    }
}

#[derive(Deserialize)]
pub(super) struct Answers {
    pub(super) answers: Vec<Given>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Given {
    pub(super) step: String,
    pub(super) item: Option<String>,
    pub(super) value: Option<String>,
    again: Option<String>,
    left_out: Option<String>,
    words: Option<String>,
}

impl Given {
    fn plain(step: &str, value: &str) -> Given {
        Given {
            step: step.into(),
            item: None,
            value: Some(value.into()),
            again: None,
            left_out: None,
            words: None,
        }
    }
}

struct Day<'a> {
    register: Folder,
    seal: Folder,
    random: NotRandom,
    second: i64,
    zone: TimeZone,
    loaded: Option<Loaded>,
    number: String,
    texts: Option<Rc<Texts>>,
    /// Who answers: the holder of the permit.
    holder: &'static str,
    out: &'a mut dyn Write,
}

fn day_in<'a>(folder: &Path, out: &'a mut dyn Write) -> Result<Day<'a>, End> {
    Ok(Day {
        register: Folder::make(&folder.join("register"))?,
        seal: Folder::make_private(&folder.join("seal"))?,
        random: NotRandom(0),
        second: seconds(BEGIN),
        zone: TimeZone::UTC,
        loaded: None,
        number: String::new(),
        texts: None,
        holder: "lukasz",
        out,
    })
}

/// Only the beginning of the day: texts in force, the air test entered, nothing opened.
pub fn begun(cast: &Cast, folder: &Path, out: &mut dyn Write) -> Result<(), End> {
    day_in(folder, out)?.begin(cast)
}

/// The day until its permit is declared; its number.
#[cfg(test)]
pub fn declared(cast: &Cast, folder: &Path, out: &mut dyn Write) -> Result<String, End> {
    let mut day = day_in(folder, out)?;
    day.begin(cast)?;
    day.open()?;
    day.morning()?;
    day.sign(&Signing::Declare, "lukasz")?;
    Ok(day.number)
}

/// Plays; returns the permit's number and the number of lines.
pub fn play(cast: &Cast, folder: &Path, out: &mut dyn Write) -> Result<(String, usize), End> {
    let mut day = day_in(folder, out)?;
    day.begin(cast)?;
    day.open()?;
    day.too_early()?;
    day.morning()?;
    day.issue(folder)?;
    day.work()?;
    day.supply_fails()?;
    day.nudged()?;
    day.next_shift()?;
    day.evening()?;
    day.end(folder)?;
    let lines = day.loaded.as_ref().map_or(0, |l| l.register.lines.len());
    Ok((day.number, lines))
}

impl Day<'_> {
    fn say(&mut self, words: &str) -> Result<(), End> {
        let now = Moment::new(self.second, &self.zone);
        writeln!(self.out, "{}  {}", clock(&now.time, &now.zone), crate::text::safe_line(words))?;
        Ok(())
    }

    fn more(&mut self, words: &str) -> Result<(), End> {
        writeln!(self.out, "       {}", crate::text::safe_line(words))?;
        Ok(())
    }

    fn desk<T>(&mut self, work: impl FnOnce(&mut Desk<'_>) -> Result<T, Trouble>) -> Result<T, End> {
        let mut desk = Desk {
            register: &mut self.register,
            seal: &mut self.seal,
            random: &mut self.random,
            second: self.second,
            today: None,
        };
        Ok(work(&mut desk)?)
    }

    fn wait(&mut self, seconds: i64) {
        self.second += seconds;
        let now = Moment::new(self.second, &self.zone);
        if let Some(l) = &mut self.loaded {
            l.now = now;
        }
    }

    /// Decides on what is loaded and keeps the line.
    fn keep(
        &mut self,
        decide: impl FnOnce(&crate::permit::decide::Known<'_>) -> Result<Draft, Refusal>,
    ) -> Result<Line, End> {
        let mut loaded = self.loaded.take().ok_or_else(|| could_not("the demo lost its register"))?;
        let done = match decide(&loaded.known()) {
            Ok(draft) => self.desk(|desk| desk.keep(&mut loaded, &draft)),
            Err(r) => Err(End::from(r)),
        };
        self.loaded = Some(loaded);
        done
    }

    fn begin(&mut self, cast: &Cast) -> Result<(), End> {
        let enroller = "tuula";
        self.desk(|desk| {
            let e = Enrolment {
                station: "KM3",
                roster: &cast.roster,
                signs: &cast.signs,
                next_volume: false,
                lost: None,
            };
            desk.enrol(&e, LOG, enroller, &secret_key(enroller)).map(|_| ())
        })?;
        self.say(
            "register of station KM3 begun by Tuula Särkikoski; roster signed by two of three custodians",
        )?;
        for (kind, id, revision, text) in [
            ("site", "kormoran", None, SITE),
            ("set", id_of(SET, "set"), None, SET),
            ("form", "pre-start", Some(1), PRE_START),
            ("form", "shutdown", Some(1), SHUTDOWN),
        ] {
            self.second += 40;
            let approver = "jiri";
            self.desk(|desk| {
                desk.approve(approver, &secret_key(approver), kind, id, revision, text).map(|_| ())
            })?;
        }
        let loaded = self.desk(|desk| desk.load())?;
        self.zone = crate::actions::zone(&loaded.register.chain);
        self.loaded = Some(loaded);
        self.say(
            "site, set and two checklists put in force by Jiří Křepelka, each signed and kept byte for byte",
        )?;
        self.air_test("2026-11-20", 0)?;
        self.say("the air test that Maëlle Grandclère took here on 20 November is entered, with how far each reading may be off")
    }

    fn air_test(&mut self, date: &str, nth: i64) -> Result<(), End> {
        self.wait(40);
        let members = air_tested(date, nth);
        self.keep(|known| Ok(air::of_set(known, "air_test", members, &Told::default(), "maelle")))?;
        Ok(())
    }

    fn open(&mut self) -> Result<(), End> {
        self.wait(60);
        let read = crate::site::read_job("examples/job.yaml", JOB.as_bytes());
        let job = read.file.ok_or_else(|| could_not("the demo's job cannot be read"))?;
        let raw = job.values().to_raw();
        let set = id_of(SET, "set").to_owned();
        let line = self.keep(|known| {
            open::open(
                known,
                &Opening {
                    form: "pre-start".into(),
                    set,
                    site: "kormoran".into(),
                    for_shutdown: false,
                    follows: None,
                    job: raw,
                    by: "lukasz".into(),
                },
            )
        })?;
        self.number = line.permit.as_deref().unwrap_or_default().to_owned();
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let known = loaded.known();
        let permit = known.permit(&self.number)?;
        self.texts = Some(known.texts(permit)?);
        let number = self.number.clone();
        self.say(&format!("Łukasz Gżegżółka opens permit {number}"))
    }

    fn too_early(&mut self) -> Result<(), End> {
        self.wait(30);
        let number = self.number.clone();
        self.desk_denied(&number, "on air: zaneta", |known| {
            air::request(known, known.permit(&number)?, "zaneta", Move::OnAir, "lukasz")
        })
    }

    /// A request that must be refused: told, and kept as `denied`.
    fn desk_denied(
        &mut self,
        number: &str,
        request: &str,
        decide: impl FnMut(&crate::permit::decide::Known<'_>) -> Result<Draft, Refusal>,
    ) -> Result<(), End> {
        let refused = self.desk(|desk| match desk.request(decide, Some((request, Some(number), ""))) {
            Err(Trouble::Refused(r)) => Ok(r),
            Err(other) => Err(other),
            Ok(_) => Err(Trouble::CouldNot(format!("`{request}` was not refused"))),
        })?;
        self.loaded = Some(self.desk(|desk| desk.load())?);
        self.say(&format!(
            "asked: {request}. REFUSED, for {} {}, and the refusal is kept:",
            refused.why.len(),
            if refused.why.len() == 1 { "reason" } else { "reasons" }
        ))?;
        for why in refused.why.iter().take(2) {
            self.more(why)?;
        }
        if refused.why.len() > 2 {
            self.more("...")?;
        }
        Ok(())
    }

    fn morning(&mut self) -> Result<(), End> {
        self.answers(MORNING, false, false)
    }

    /// What is answered otherwise than in the file: the air test is carried, so that nothing is typed of it. `None`:
    /// the file's own answer; an empty list: it is not asked.
    fn otherwise(step: &str) -> Option<&'static [(&'static str, &'static str)]> {
        match step {
            "air_test_basis" => Some(&[("air_test_basis", "carried"), ("carried_test", "yes")]),
            _ if TODAY.contains(&step) => Some(&[]),
            _ => None,
        }
    }

    /// Gives the answers of a file: until nothing is left before declaring, or (rest) what remains.
    fn answers(&mut self, file: &str, shutdown: bool, rest: bool) -> Result<(), End> {
        let all: Answers =
            serde_yaml::from_str(file).map_err(|e| could_not(format!("the demo's answers: {e}")))?;
        let mut kept = 0;
        for given in all.answers {
            let own = self.is_wearers_own(&given.step, shutdown)?;
            if !shutdown && own != rest {
                continue;
            }
            let instead = if shutdown { None } else { Self::otherwise(&given.step) };
            let all = match instead {
                None => vec![given],
                Some(others) => others.iter().map(|(step, value)| Given::plain(step, value)).collect(),
            };
            for given in &all {
                self.by_itself(shutdown)?;
                self.give(given, shutdown)?;
                kept += 1;
            }
        }
        self.by_itself(shutdown)?;
        self.say(&format!("{kept} answers kept, each on disk before the next was asked"))
    }

    fn is_wearers_own(&self, step: &str, shutdown: bool) -> Result<bool, End> {
        let texts = self.texts.as_ref().ok_or_else(|| could_not("the demo lost its texts"))?;
        let form = if shutdown { texts.shutdown.as_ref() } else { Some(&texts.form) };
        Ok(form.and_then(|f| f.step(step)).is_some_and(|(_, s)| s.before() == crate::checklist::Before::Air))
    }

    /// Steps that are worked out, the start and the stop: done as soon as they are due.
    fn by_itself(&mut self, shutdown: bool) -> Result<(), End> {
        loop {
            let texts = self.texts.clone().ok_or_else(|| could_not("the demo lost its texts"))?;
            let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
            let known = loaded.known();
            let permit = known.permit(&self.number)?;
            let bench = answer::bench(&known, permit, &texts, shutdown)?;
            let stands = walk::walk(&bench);
            let running = answer::running(&known, &permit.set.id);
            let set = permit.set.id.clone();
            let next = if shutdown { stands.iter().position(|s| !s.done()) } else { walk::next(&stands) };
            let due = next.and_then(|i| stands.get(i));
            let worked_out = due.and_then(|s| {
                (matches!(s.step.kind(), StepKind::Derived(_)) && s.standing == Standing::Waiting)
                    .then(|| (s.step.id().to_owned(), s.item_id().map(str::to_owned)))
            });
            let change = match (shutdown, running) {
                (false, false) if walk::before_start(&stands).is_empty() => Some("started"),
                (true, true) if due.is_some_and(|s| s.stage.id() == walk::STOP) => Some("stopped"),
                _ => None,
            };
            drop(stands);
            if let Some(kind) = change {
                self.wait(45);
                let members = vec![("set".to_owned(), Json::from(set.as_str()))];
                let by = self.holder;
                self.keep(|known| air::request_of_set(known, kind, &set, members, by))?;
                self.say(&format!("the set is {kind}"))?;
            } else if let Some((step, item)) = worked_out {
                let given = Given { step, item, value: None, again: None, left_out: None, words: None };
                self.give(&given, shutdown)?;
            } else {
                return Ok(());
            }
        }
    }

    /// As long as the step takes, but for the one that somebody hurried over.
    fn pace(&self, given: &Given, shutdown: bool) -> Result<i64, End> {
        if (given.step.as_str(), given.item.as_deref()) == HURRIED {
            return Ok(PACE);
        }
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let texts = self.texts.as_ref().ok_or_else(|| could_not("the demo lost its texts"))?;
        let known = loaded.known();
        let bench = answer::bench(&known, known.permit(&self.number)?, texts, shutdown)?;
        let takes =
            bench.form.step(&given.step).and_then(|(_, s)| match s.takes()?.compute(&bench.asker(s, None)) {
                Ok(crate::gate::Value::Quantity(q)) => i64::try_from(q.value.to_integer()).ok(),
                Ok(_) | Err(_) => None,
            });
        Ok(takes.unwrap_or_default().max(PACE))
    }

    fn give(&mut self, given: &Given, shutdown: bool) -> Result<(), End> {
        let wait = match given.value.as_deref() {
            Some("done") => 15 * 60 + 20,
            Some(_) | None if given.again.is_some() => 300,
            Some(_) | None => self.pace(given, shutdown)?,
        };
        self.wait(wait);
        let (value, below) = crate::actions::below(given.value.as_deref());
        let typed = Typed {
            step: given.step.clone(),
            item: given.item.clone(),
            value,
            below,
            left_out: given.left_out.clone(),
            again: given.again.clone(),
            deviation: None,
            words: given.words.clone(),
            shutdown,
            by: self.holder.into(),
            ..Typed::default()
        };
        let texts = self.texts.clone().ok_or_else(|| could_not("the demo lost its texts"))?;
        let number = self.number.clone();
        self.keep(|known| answer::answer(known, known.permit(&number)?, &texts, &typed))?;
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let after = crate::cli::station::after(loaded, &number, &typed)?;
        let item = given.item.as_deref().map(|i| format!(" {i}")).unwrap_or_default();
        match (after.standing, &given.again) {
            (Standing::Hold, _) => {
                self.say(&format!("HOLD at {}{item}", given.step))?;
                for why in &after.why {
                    self.more(why)?;
                }
                self.more(&format!("do: {}", after.fix))?;
            }
            (_, Some(what)) => {
                self.say(&format!("{}{item} answered again ({}): open", given.step, what.replace('_', " ")))?;
            }
            (
                Standing::Open
                | Standing::Waiting
                | Standing::NotApplicable
                | Standing::OutOfService
                | Standing::Deviation,
                None,
            ) => {}
        }
        Ok(())
    }

    fn sign(&mut self, what: &Signing, by: &str) -> Result<(), End> {
        self.wait(120);
        let key = secret_key(by);
        let number = self.number.clone();
        let loaded = self.desk(|desk| {
            let (act, _) = desk.prepare(&number, what, by)?;
            desk.take_in(&act.sign(&key)?, false).map(|(_, loaded)| loaded)
        })?;
        self.loaded = Some(loaded);
        Ok(())
    }

    fn issue(&mut self, folder: &Path) -> Result<(), End> {
        self.sign(&Signing::Declare, "lukasz")?;
        self.say("declared and signed by the operator, Łukasz Gżegżółka")?;
        let texts = self.texts.clone().ok_or_else(|| could_not("the demo lost its texts"))?;
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let known = loaded.known();
        let bench = answer::bench(&known, known.permit(&self.number)?, &texts, false)?;
        let flags = crate::permit::flags::of(&bench);
        self.say("the supervisor is shown what to look at; nothing was refused for it:")?;
        for f in flags {
            self.more(&f.whole)?;
        }
        let seen = self.read_again()?;
        self.sign(&Signing::Countersign(Limits { seen, ..Limits::default() }), "eleni")?;
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let permit = loaded.known().permit(&self.number)?;
        let word = crate::show::check_word(permit).unwrap_or_default();
        let to = crate::time::for_people(permit.valid_to.as_deref().unwrap_or_default(), &loaded.now.zone);
        let because =
            permit.last_signed("countersign").and_then(|s| s.data.text("valid_by")).unwrap_or_default();
        let words = format!(
            "countersigned by the supervisor, Ελένη Κυματοθραύστη: LIVE until {to} ({because}); check word {word}"
        );
        self.say(&words)?;
        let number = self.number.clone();
        self.wait(60);
        self.keep(|known| {
            let data = crate::record::json::object([
                ("hangs", "at the manhole of tank 4 port".into()),
                ("number", Json::Int(1)),
            ]);
            Ok(known.line(known.permit(&number)?, "copy", "lukasz", data))
        })?;
        self.print(folder, &format!("{number}-live.pdf"), 1)?;
        self.card(folder, &format!("{number}-card.pdf"))
    }

    /// The supervisor reads the gauges that are drawn, without looking at what was found.
    fn read_again(&mut self) -> Result<Vec<Seen>, End> {
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let known = loaded.known();
        let permit = known.permit(&self.number)?;
        let texts = known.texts(permit)?;
        let mut seen = Vec::new();
        let mut words = Vec::new();
        for d in drawn(&known, permit, &texts) {
            let last = permit.last_answer(&permit.form.hash, &d.step, d.item.as_deref());
            let value = last.and_then(|a| a.value.clone()).unwrap_or_default().to_string();
            words.push(format!("{} {value} {}", d.label, d.unit));
            seen.push(Seen { step: d.step, item: d.item, value, unit: d.unit });
        }
        self.say(&format!("two gauges are drawn; the supervisor reads them again: {}", words.join(", ")))?;
        Ok(seen)
    }

    fn print(&mut self, folder: &Path, name: &str, copy: u64) -> Result<(), End> {
        Folder::make(&folder.join("permits"))?;
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let (known, lines) = (loaded.known(), &loaded.register.lines);
        let pdf = Undrawn::permit(&known, lines, &self.number, copy, PaperSize::A4, None)?.draw()?;
        crate::disk::write_file(&folder.join("permits").join(name), &pdf, true, false)?;
        self.say(&format!("printed: permits/{name}, {} kB", pdf.len() / 1000))
    }

    fn card(&mut self, folder: &Path, name: &str) -> Result<(), End> {
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let (known, lines) = (loaded.known(), &loaded.register.lines);
        let pdf = Undrawn::card(&known, lines, &self.number, None, PaperSize::A4, None)?.draw()?;
        crate::disk::write_file(&folder.join("permits").join(name), &pdf, true, false)?;
        self.say(&format!("printed: permits/{name}, the attendant's card"))
    }

    fn moves(&mut self, person: &str, to: Move) -> Result<(), End> {
        self.wait(90);
        let number = self.number.clone();
        match to {
            Move::OnAir | Move::In => {
                self.keep(|known| air::request(known, known.permit(&number)?, person, to, "oksana"))?;
            }
            Move::Out | Move::OffAir => {
                self.keep(|known| {
                    let p = known.permit(&number)?;
                    let told = Told::default();
                    Ok(air::report(known, Some(p), &p.set.id, person, to, Vec::new(), &told, "oksana"))
                })?;
            }
        }
        self.say(&format!("{person}: {}", to.kind().replace('_', " ")))
    }

    /// Supply, reserve and carbon monoxide are read.
    fn gauges(&mut self, reserve: &str) -> Result<(), End> {
        let number = self.number.clone();
        for (what, value, unit) in [("supply", "6", "bar"), ("reserve", reserve, "bar"), ("co", "1", "ppm")] {
            self.wait(20);
            self.keep(|known| {
                let data = crate::record::json::object([
                    ("unit", unit.into()),
                    ("value", value.into()),
                    ("what", what.into()),
                ]);
                Ok(known.line(known.permit(&number)?, "reading", "oksana", data))
            })?;
        }
        self.say(&format!("read: supply 6 bar, reserve {reserve} bar, carbon monoxide 1 ppm"))
    }

    fn work(&mut self) -> Result<(), End> {
        self.answers(MORNING, false, true)?;
        self.gauges("207")?;
        for person in ["zaneta", "nikos"] {
            self.moves(person, Move::OnAir)?;
            self.moves(person, Move::In)?;
        }
        self.wait(13 * 60);
        self.gauges("207")
    }

    fn evening(&mut self) -> Result<(), End> {
        self.wait(600);
        self.say("everyone is off air and seen: the shutdown begins, and the permit is suspended by its first answer")?;
        self.answers(EVENING, true, false)
    }

    fn end(&mut self, folder: &Path) -> Result<(), End> {
        self.sign(&Signing::HandBack { left_running: None, reason: None }, "ines")?;
        self.say("handed back and signed by the operator, Inês Valongueiro")?;
        self.sign(&Signing::Close, "eleni")?;
        self.say("closed and signed by the supervisor")?;
        let number = self.number.clone();
        self.print(folder, &format!("{number}-closed.pdf"), 0)?;
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let record = crate::record::excerpt::of(&loaded.register.lines, &number)
            .ok_or_else(|| could_not("the demo's permit has no lines"))?;
        crate::disk::write_file(&folder.join(format!("{number}.excerpt.jsonl")), &record, true, false)?;
        Ok(())
    }
}

pub(super) fn id_of<'t>(text: &'t str, key: &str) -> &'t str {
    let head = format!("{key}: ");
    text.lines().find_map(|l| l.strip_prefix(head.as_str())).unwrap_or_default().trim()
}

/// A test of the set's air as Maëlle takes it: the readings as read, and how far each may be off. No two tests read alike.
pub(super) fn air_tested(date: &str, nth: i64) -> Vec<(String, Json)> {
    let co = format!("1.{} ppm", 5 - nth.rem_euclid(5));
    let co2 = format!("{} ppm", 420 - 3 * nth.rem_euclid(7));
    let water = format!("{} mg/m3", 74 - nth.rem_euclid(8));
    let within = [("co", "0.3 ppm"), ("co2", "42 ppm"), ("o2", "0.2 %"), ("water", "7.4 mg/m3")];
    let within = within.map(|(name, off)| (name.to_owned(), Json::from(off)));
    let mut members: Vec<(String, Json)> = [
        ("co", co.as_str()),
        ("co2", &co2),
        ("date", date),
        ("instrument", "tube pump TP-0093, oxygen meter OM-0018"),
        ("instrument_good", "2027-01-31"),
        ("line_pressure", "6 bar"),
        ("line_temperature", "12 °C"),
        ("o2", "20.9 %"),
        ("oil", "0.1 mg/m3"),
        ("place", "quay3"),
        ("sample_point", "mask_end"),
        ("sampler", "Maëlle Grandclère"),
        ("set", "heron"),
        ("smell", "none"),
        ("water", &water),
    ]
    .into_iter()
    .map(|(name, value)| (name.to_owned(), Json::from(value)))
    .collect();
    members.push(("below".to_owned(), Json::Arr(vec!["oil".into()])));
    members.push(("within".to_owned(), sorted(within.to_vec())));
    members
}
