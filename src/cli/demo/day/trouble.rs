//! What goes wrong on the demo's day, and who it passes to: the supply fails with two people in, the set is nudged, the
//! next shift takes it over.

use super::{Answers, Day, Given, MORNING, SET, id_of};
use crate::actions::Trouble;
use crate::checklist::StepKind;
use crate::cli::{End, could_not};
use crate::permit::decide::air::{self, Move, Told};
use crate::permit::decide::answer::{self, Typed};
use crate::permit::decide::sign::{Handing, Signing};
use crate::permit::gone::{Gone, air_gone};
use crate::permit::walk;
use crate::record::json::{Json, sorted};
use crate::time::{clock, seconds};

impl Day<'_> {
    /// A line of the station on the permit.
    fn told(&mut self, kind: &'static str, members: &[(&str, &str)], by: &str) -> Result<(), End> {
        let number = self.number.clone();
        let members = members.iter().map(|(k, v)| ((*k).to_owned(), Json::from(*v))).collect();
        let data = sorted(members);
        self.keep(|known| Ok(known.line(known.permit(&number)?, kind, by, data)))?;
        Ok(())
    }

    fn copy(&mut self, number: u64, hangs: &str, down: bool) -> Result<(), End> {
        let permit = self.number.clone();
        let mut members =
            vec![("hangs".to_owned(), Json::from(hangs)), ("number".to_owned(), Json::Int(number))];
        if down {
            members.push(("taken_down".to_owned(), Json::Bool(true)));
        }
        let data = sorted(members);
        self.wait(60);
        self.keep(|known| Ok(known.line(known.permit(&permit)?, "copy", "marit", data)))?;
        self.say(&format!("copy {number}, {hangs}: {}", if down { "taken down" } else { "hung" }))
    }

    /// Everybody is called by name and answers.
    fn roll_call(&mut self) -> Result<(), End> {
        self.wait(90);
        let number = self.number.clone();
        self.keep(|known| {
            let permit = known.permit(&number)?;
            let found = crate::permit::decide::crew::everyone(known, Some(permit), None);
            let found = Json::Arr(found.iter().map(|p| Json::from(p.as_str())).collect());
            Ok(known.line(permit, "roll_call", "oksana", sorted(vec![("found".to_owned(), found)])))
        })?;
        self.say("the roll is called by name, by voice: everyone found")
    }

    /// A signature that is refused, and the refusal kept.
    fn refused_to_sign(&mut self, what: &Signing, by: &str) -> Result<(), End> {
        let number = self.number.clone();
        let refused = self.desk(|desk| match desk.prepare(&number, what, by) {
            Err(Trouble::Refused(r)) => Ok(r),
            Err(other) => Err(other),
            Ok(_) => Err(Trouble::CouldNot(format!("`{}` was not refused", what.word()))),
        })?;
        self.loaded = Some(self.desk(|desk| desk.load())?);
        let n = crate::text::counted(refused.why.len(), "reason", "reasons");
        self.say(&format!("asked: {}. REFUSED, for {n}, and the refusal is kept:", what.word()))?;
        for why in refused.why.iter().take(2) {
            self.more(why)?;
        }
        self.more("...")
    }

    /// Answers again whatever an event ended, as the form asks for it, with what the morning's file says.
    fn redo(&mut self) -> Result<(), End> {
        let all: Answers =
            serde_yaml::from_str(MORNING).map_err(|e| could_not(format!("the demo's answers: {e}")))?;
        let mut kept = 0u32;
        while kept < 400 {
            let texts = self.texts.clone().ok_or_else(|| could_not("the demo lost its texts"))?;
            let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
            let known = loaded.known();
            let bench = answer::bench(&known, known.permit(&self.number)?, &texts, false)?;
            let stands = walk::walk(&bench);
            let Some(stand) = walk::next(&stands).and_then(|i| stands.get(i)) else {
                return self.say(&format!("{kept} answers given again, each for what ended the one before"));
            };
            let (step, item) = (stand.step.id().to_owned(), stand.item_id().map(str::to_owned));
            let begun = stand.answers.last().is_some_and(|a| a.value.as_deref() == Some("begun"));
            let value = match stand.step.kind() {
                StepKind::Derived(_) => None,
                StepKind::Timed(_) => Some(if begun { "done" } else { "begun" }.to_owned()),
                StepKind::Confirm
                | StepKind::Choice(_)
                | StepKind::Reading(_)
                | StepKind::Date
                | StepKind::Text => {
                    let of = |g: &&Given| g.step == step && g.item == item;
                    let last = all.answers.iter().rev().find(of).and_then(|g| g.value.clone());
                    last.or_else(|| (step == "carried_test").then(|| "yes".to_owned()))
                }
            };
            drop(stands);
            let given = Given { step, item, value, again: None, left_out: None, words: None };
            self.give(&given, false)?;
            kept += 1;
        }
        Err(could_not("what an event ended comes to no end in the demo"))
    }

    /// Both come out and off air: so many seconds after the signal each has the mask off.
    fn all_out(&mut self) -> Result<(), End> {
        for person in ["nikos", "zaneta"] {
            self.moves(person, Move::Out)?;
        }
        for person in ["nikos", "zaneta"] {
            self.moves(person, Move::OffAir)?;
        }
        Ok(())
    }

    fn all_in(&mut self) -> Result<(), End> {
        for person in ["zaneta", "nikos"] {
            self.moves(person, Move::OnAir)?;
            self.moves(person, Move::In)?;
        }
        Ok(())
    }

    fn reinstated(&mut self, cause: &str) -> Result<(), End> {
        self.roll_call()?;
        self.gauges("216")?;
        self.sign(&Signing::Reinstate { cause: cause.into() }, "eleni")?;
        self.say("reinstated by the supervisor, Ελένη Κυματοθραύστη")
    }

    pub(super) fn supply_fails(&mut self) -> Result<(), End> {
        self.wait(7 * 60);
        self.say("the horn at the set: the supply falls, the reserve feeds. First the signal, then the key")?;
        let words = "change-over, horn sounded, supply gauge at 4.1 bar";
        self.told("call_out", &[("words", words)], "oksana")?;
        self.say("EVERYONE CALLED OUT, and the permit is suspended")?;
        self.wait(20);
        self.told("event", &[("what", "change_over"), ("words", words)], "oksana")?;
        let orders = crate::show::orders::of("change_over", crate::show::orders::Given::default());
        self.more(&format!("to every wearer: {}", orders.wearers))?;
        self.more(&format!("the set: {}", orders.set))?;
        self.wait(15);
        self.told("reading", &[("what", "reserve"), ("value", "203"), ("unit", "bar")], "oksana")?;
        let loaded = self.loaded.as_ref().ok_or_else(|| could_not("the demo lost its register"))?;
        let known = loaded.known();
        let set = known.permit(&self.number)?.set.id.clone();
        if let Some(Gone::At(second, rests_on)) = air_gone(&known, &set, self.second - 35) {
            let at = clock(&crate::time::utc(second), &known.now.zone);
            self.say(&format!("AIR MAY BE GONE FROM {at} ON: {rests_on}"))?;
        }
        self.all_out()?;
        let cause =
            "the drain of the separator had stuck open and bled the supply away; shut by hand and tagged";
        self.refused_to_sign(&Signing::Reinstate { cause: cause.into() }, "eleni")?;
        self.copy(1, "at the manhole of tank 4 port", true)?;
        self.wait(25 * 60);
        let members = [("from", "other_tested"), ("machine", "filling bank FB-2"), ("set", "heron")];
        let members = members.into_iter().map(|(k, v)| (k.to_owned(), Json::from(v))).collect();
        self.keep(|known| Ok(air::of_set(known, "filled", members, &Told::default(), "lukasz")))?;
        self.say("the drain is shut and tagged, the reserve filled again from a tested bank")?;
        self.redo()?;
        self.reinstated(cause)?;
        self.copy(2, "at the manhole of tank 4 port", false)?;
        self.all_in()?;
        self.wait(8 * 60);
        self.gauges("216")?;
        self.wait(60);
        self.told("relieve", &[("from", "oksana"), ("role", "attendant"), ("to", "rasa")], "oksana")?;
        self.say("Оксана Журавель is relieved at the set by Rasa Vėtrungė, the tally read back")?;
        self.wait(12 * 60);
        self.gauges("216")?;
        self.all_out()
    }

    pub(super) fn nudged(&mut self) -> Result<(), End> {
        self.wait(4 * 60);
        let members = [("place", "quay3"), ("set", "heron")];
        let members = members.into_iter().map(|(k, v)| (k.to_owned(), Json::from(v))).collect();
        self.keep(|known| Ok(air::of_set(known, "moved", members, &Told::default(), "rasa")))?;
        self.say(
            "a crane's load nudges the set by half a metre: moved. The permit is suspended; the siting, the supply, and the \
             air test of 20 November count no more",
        )?;
        self.wait(16 * 60);
        self.air_test("2026-11-25", 1)?;
        self.say("Maëlle Grandclère tests the air anew, at the mask end, the set warm")?;
        self.redo()?;
        self.reinstated("the set stands where it did, within half a metre; sited, supplied and tested anew")?;
        self.copy(2, "at the manhole of tank 4 port", true)?;
        self.copy(3, "at the manhole of tank 4 port", false)?;
        self.all_in()?;
        self.wait(9 * 60);
        self.gauges("215")?;
        self.wait(2 * 60);
        self.moves("zaneta", Move::Out)?;
        self.moves("zaneta", Move::OffAir)?;
        let number = self.number.clone();
        let set = id_of(SET, "set").to_owned();
        self.wait(60);
        let members = vec![("set".to_owned(), Json::from(set.as_str()))];
        self.desk_denied(&number, "stop the set", |known| {
            air::request_of_set(known, "stopped", &set, members.clone(), "lukasz")
        })?;
        let typed = Typed {
            step: "wearer_seen".into(),
            item: Some("zaneta".into()),
            value: Some("yes".into()),
            shutdown: true,
            by: "lukasz".into(),
            ..Typed::default()
        };
        let texts = self.texts.clone().ok_or_else(|| could_not("the demo lost its texts"))?;
        self.wait(30);
        self.desk_denied(&number, "begin the shutdown", |known| {
            answer::answer(known, known.permit(&number)?, &texts, &typed)
        })?;
        self.moves("nikos", Move::Out)?;
        self.moves("nikos", Move::OffAir)
    }

    /// The early shift ends; the day shift takes the set over to shut it down.
    pub(super) fn next_shift(&mut self) -> Result<(), End> {
        // 14:05 at the site; the early shift ends at 14:30.
        self.wait(seconds("2026-11-25T13:05:00Z") - self.second);
        self.say("the work is done for the day; nobody is on air, and the early shift goes home at 14:30")?;
        self.roll_call()?;
        self.gauges("215")?;
        let handing = Handing {
            to: "ines".into(),
            shift: true,
            checked: vec!["warnings".into(), "wind".into()],
            unusual:
                "the separator's drain is shut by hand and tagged; the set was nudged by half a metre at noon"
                    .into(),
            staying: None,
        };
        self.sign(&Signing::HandOver(handing), "lukasz")?;
        self.say("handed over and signed by Łukasz Gżegżółka, who still holds it")?;
        self.sign(&Signing::TakeOver, "ines")?;
        self.holder = "ines";
        self.say("taken over and signed by Inês Valongueiro, for the day shift")?;
        self.copy(3, "at the manhole of tank 4 port", true)
    }
}
