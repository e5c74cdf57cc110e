//! Judging the token of a printed permit: who issued it, and whether that still counts.
//!
//! A token proves issue: that a supervisor's key signed this permit number and this end. It does not prove
//! that the sheet is the only copy, nor that the permit was not suspended, taken back or narrowed since.
//! What the register says of the permit now is looked up only where a register is at hand.
//! Not here: whether the roster itself is vouched for (`audit`).

use super::Verdict;
use crate::permit::state::State;
use crate::record::line::Line;
use crate::tongue::say;
use crate::trust::roster::{KeyStanding, Person, PersonKey};
use crate::trust::token::Token;
use crate::trust::{Role, Roster};
use crate::view::StateWord;
use serde::Serialize;

/// What came of judging a token.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// Issued, by who may, and its time runs.
    Yes,
    /// The answer is no.
    No,
    /// The token is not what a supervisor signed.
    Broken,
    /// Nothing is wrong, but something is not proven.
    Unproven,
}

/// A token judged.
#[derive(Clone, Debug, Serialize)]
pub struct Judged {
    /// The answer.
    pub answer: Answer,
    /// Permit number that it claims.
    pub permit: String,
    /// Valid to, UTC.
    pub valid_to: String,
    /// The line it was issued on, seq.
    pub issued_on: u64,
    /// H of that line.
    pub issued_on_hash: String,
    /// Who signed it: id, name, fingerprint of the key.
    pub by: Option<(String, String, String)>,
    /// The line that carries it, where a register is at hand.
    pub line: Option<u64>,
    /// The permit's state now, in words, where a register is at hand.
    pub state: Option<&'static str>,
    /// Its time is over and people are still on its air: it lapses when the last one is off.
    pub still_on: bool,
    /// Why not, or what is not proven.
    pub why: Vec<String>,
}

impl Judged {
    fn worse(&mut self, answer: Answer, why: String) {
        let rank = |a: Answer| match a {
            Answer::Yes => 0,
            Answer::Unproven => 1,
            Answer::No => 2,
            Answer::Broken => 3,
        };
        if rank(answer) > rank(self.answer) {
            self.answer = answer;
        }
        self.why.push(why);
    }

    /// Live by the register, and nobody may be put on its air for now.
    pub fn held(&mut self, why: String) {
        self.state = Some("held");
        self.worse(Answer::No, say!("HELD: {why}", why));
    }

    /// Something outside the token is not proven, or broken.
    pub fn rests_on(&mut self, verdict: Verdict, why: String) {
        match verdict {
            Verdict::Sound => {}
            Verdict::Unproven => self.worse(Answer::Unproven, why),
            Verdict::Broken | Verdict::CouldNot => self.worse(Answer::Broken, why),
        }
    }
}

/// Judges a token with a roster, at a UTC time.
pub fn judge(token: &Token, roster: &Roster, now: &str) -> Judged {
    let mut out = Judged {
        answer: Answer::Yes,
        permit: token.claim.permit.clone(),
        valid_to: token.claim.valid_to.clone(),
        issued_on: token.claim.seq,
        issued_on_hash: token.claim.hash.clone(),
        by: None,
        line: None,
        state: None,
        still_on: false,
        why: Vec::new(),
    };
    let mut keys = roster.persons.iter().flat_map(|p| p.keys.iter().map(move |k| (p, k)));
    let named = |k: &PersonKey| crate::trust::token::key_id(&k.key) == token.key_id;
    match keys.find(|(_, k)| named(k)) {
        None => out.worse(
            Answer::No,
            say!("no key of anybody on roster version {version} made this token", version = roster.version),
        ),
        Some((_, k)) if !token.signed_by(&k.key) => {
            out.worse(
                Answer::Broken,
                say!("the signature is wrong: this is not what that key signed").into(),
            );
        }
        Some((person, key)) => signer(&mut out, roster, person, key, now),
    }
    if token.claim.valid_to.as_str() < now {
        out.worse(
            Answer::No,
            say!(
                "its time has run out: valid to {valid_to}, now {now}",
                valid_to = token.claim.valid_to,
                now
            ),
        );
    }
    out
}

fn signer(out: &mut Judged, roster: &Roster, person: &Person, key: &PersonKey, now: &str) {
    out.by = Some((person.id.clone(), person.name.clone(), key.key.fingerprint()));
    if !person.roles.contains(&Role::Supervisor) {
        out.worse(
            Answer::No,
            say!(
                "`{person}` is no supervisor on roster version {version}",
                person = person.id,
                version = roster.version
            ),
        );
    }
    match roster.standing(person, &key.key, now) {
        KeyStanding::Good => {}
        // Compromised at a time to come: dated ahead, or this clock is behind.
        KeyStanding::CompromisedLater(at) => {
            out.worse(
                Answer::No,
                say!("the key of `{person}` is compromised, as of {at}", person = person.id, at),
            );
        }
        KeyStanding::No(why) => match &key.revoked {
            Some((at, crate::trust::roster::RevokedAs::Compromised)) => {
                out.worse(
                    Answer::No,
                    say!("the key of `{person}` is compromised since {at}", person = person.id, at),
                );
            }
            Some((_, crate::trust::roster::RevokedAs::Retired)) | None if now < key.from.as_str() => {
                out.worse(Answer::No, why);
            }
            Some((_, crate::trust::roster::RevokedAs::Retired)) | None => out.worse(
                Answer::Unproven,
                say!("{why}; the token does not say when it was made, so that this may be before", why),
            ),
        },
    }
}

/// Looks the permit up in a register that was read whole.
pub fn look_up(out: &mut Judged, text: &str, lines: &[Line], state: &State, now: &str) {
    let carrier = lines
        .iter()
        .find(|l| matches!(l.kind.name, "countersign" | "extend") && l.data.text("token") == Some(text));
    let Some(permit) = state.permits.get(&out.permit) else {
        out.worse(
            Answer::No,
            say!(
                "this register does not know {permit}: it is of another register, or issued later",
                permit = out.permit
            ),
        );
        return;
    };
    let over = permit.valid_to.as_deref().is_some_and(|v| v < now);
    let life = state.life(permit, now);
    // With somebody on air it lapses only once they are off; nobody may go on air on it any more.
    let life = if over && life == StateWord::Live { StateWord::Lapsed } else { life };
    out.state = Some(life.english());
    let last = permit.issued();
    match (carrier, last) {
        (None, _) => out.worse(
            Answer::No,
            say!(
                "no line of {permit} in this register carries this token; it may be an older copy",
                permit = out.permit
            ),
        ),
        (Some(line), Some(last)) => {
            out.line = Some(line.seq);
            if last.stamp.hash != line.hash {
                out.worse(
                    Answer::No,
                    say!(
                        "it was issued again on line {line}: this sheet is out of date",
                        line = last.stamp.line
                    ),
                );
            }
        }
        (Some(line), None) => out.line = Some(line.seq),
    }
    let on: Vec<&str> = state
        .on_air
        .iter()
        .filter(|p| p.permit.as_deref() == Some(out.permit.as_str()))
        .map(|p| p.person.as_str())
        .collect();
    out.still_on = life == StateWord::Lapsed && !on.is_empty();
    if out.still_on {
        let words = say!(
            "the time of {permit} is over, and people are still on its air: nobody else goes on it",
            permit = out.permit
        );
        out.worse(Answer::No, words);
    } else if life != StateWord::Live {
        out.worse(Answer::No, say!("{permit} is {state} now", permit = out.permit, state = life.word()));
    }
    if life != StateWord::Live && !on.is_empty() {
        out.why.push(say!("still on air on it: {persons}", persons = on.join(", ")));
    }
}

/// What a token never proves; printed with every answer.
pub fn proves_issue() -> &'static str {
    say!(
        "a token proves issue: that this supervisor's key signed this number and this end. It does not prove that the \
         sheet is the only copy, nor that the permit was not suspended, narrowed or taken back since: ask for the \
         check word by radio"
    )
}

/// The exit code of an answer.
pub const fn exit_code(answer: Answer) -> i32 {
    match answer {
        Answer::Yes => 0,
        Answer::No => 1,
        Answer::Broken => 4,
        Answer::Unproven => 5,
    }
}
