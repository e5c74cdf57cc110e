//! The few words paper adds to a view: heads of columns and sections, and the one word across a
//! sheet that is not live. Everything else on the sheet comes from the view.
//!
//! Always holds: a language is one complete value of [`Labels`]; the compiler finds a missing word.
//! Not here: other languages than English yet; a language unknown here gets English.

use crate::view::{Standing, StateWord};

/// The words of one language.
pub struct Labels {
    /// Over the number.
    pub permit: &'static str,
    /// State words, in the order of [`state`](Labels::state).
    pub states: [&'static str; 9],
    /// Words of standings, in the order of [`standing`](Labels::standing).
    pub standings: [&'static str; 6],
    /// Validity: while live, and not.
    pub valid_to: [&'static str; 2],
    /// The check word, and what to do with it.
    pub check_word: [&'static str; 2],
    /// Under the QR code.
    pub token_use: &'static str,
    /// What the QR code is, for those who do not see it.
    pub token_alt: &'static str,
    /// Where and what: site, place, set, job.
    pub whereabouts: [&'static str; 4],
    /// Title over the wearers: while live, and not.
    pub wearers: [&'static str; 2],
    /// Heads over the wearers.
    pub wearer: [&'static str; 6],
    /// Instead of wearers.
    pub nobody: &'static str,
    /// Before a time.
    pub since: &'static str,
    /// After a title that comes again.
    pub continued: &'static str,
    /// Over the list of what stands behind page one.
    pub behind: &'static str,
    /// Title of the signatures, and the words instead of them.
    pub signed: [&'static str; 2],
    /// Labels of a signature: key, hash of its line.
    pub signature: [&'static str; 2],
    /// Title of the holds, and the words instead of them.
    pub held: [&'static str; 2],
    /// Heads over the holds.
    pub hold: [&'static str; 4],
    /// A hold that stands.
    pub not_cleared: &'static str,
    /// Heading of the flags.
    pub flags: &'static str,
    /// Title of the pictures.
    pub pictures: &'static str,
    /// Under a picture over the number of wearers.
    pub wearers_axis: &'static str,
    /// At the set, at the mask, the least.
    pub along: [&'static str; 3],
    /// North, east, south, west.
    pub compass: [&'static str; 4],
    /// Beside the readings of the day.
    pub readings_lane: &'static str,
    /// Title of what is out of service.
    pub out: &'static str,
    /// Heads over it.
    pub out_heads: [&'static str; 3],
    /// Heads over the steps but the last.
    pub step: [&'static str; 5],
    /// Head over numbers of lines.
    pub line_head: &'static str,
    /// Before the number of a line.
    pub line: &'static str,
    /// Beside a step on which life hangs.
    pub critical: &'static str,
    /// Before a condition.
    pub wanted: &'static str,
    /// Title of the day.
    pub day: &'static str,
    /// Heads over the day but the last.
    pub day_heads: [&'static str; 3],
    /// Title of the last block.
    pub verify: &'static str,
    /// Its labels: log, line, hash, time, token.
    pub verify_labels: [&'static str; 5],
    /// Which program drew it.
    pub drawn_with: &'static str,
    /// "page" n "of" m.
    pub page: [&'static str; 2],
    /// Before the number of the last line known.
    pub as_of: &'static str,
    /// The attendant's card, and one without a permit.
    pub card: [&'static str; 2],
    /// Over the number on a card.
    pub card_permit: &'static str,
    /// Title of the tally.
    pub tally_title: &'static str,
    /// Heads over the tally.
    pub tally: [&'static str; 8],
    /// Who else is written into the tally: others, rescuers.
    pub besides: [&'static str; 2],
    /// Heads over the readings: when, what, by whom.
    pub readings: [&'static str; 5],
    /// Beside the place for the time at which the air is gone.
    pub air_gone: [&'static str; 3],
}

const ENGLISH: Labels = Labels {
    permit: "AIR PERMIT",
    states: [
        "DRAFT",
        "NOT ISSUED",
        "LIVE",
        "SUSPENDED",
        "HANDED BACK",
        "CLOSED",
        "REFUSED",
        "CANCELLED",
        "LAPSED",
    ],
    standings: ["met", "HOLD", "waiting", "not applicable", "out of service", "deviation"],
    valid_to: ["Valid to", "Valid to (this permit is not live)"],
    check_word: [
        "Check word",
        "Ask by radio for the word. If it differs, this sheet is out of date: take it down.",
    ],
    token_use: "Proves that this permit was issued. It does not prove that this sheet is the only copy, nor that the permit is still live.",
    token_alt: "QR code of the token, which stands in words in the last block of this paper",
    whereabouts: ["Site", "Place", "Set", "Job"],
    wearers: ["Who may be put on this air", "Wearers named (this permit is not live)"],
    wearer: ["Outlet", "Wearer", "Respirator", "Escape set", "Hose", "Tally"],
    nobody: "Nobody is named on this permit.",
    since: "since",
    continued: "continued",
    behind: "Behind this page:",
    signed: ["Signed", "Nobody has signed."],
    signature: ["key", "line hash"],
    held: ["What was held, and how it was cleared", "No step was held."],
    hold: ["", "Step", "What held it", "What was done; what cleared it"],
    not_cleared: "NOT CLEARED",
    flags: "To look at: nothing was refused for it",
    pictures: "In pictures",
    wearers_axis: "wearers on this air",
    along: ["set", "mask", "least"],
    compass: ["N", "E", "S", "W"],
    readings_lane: "readings",
    out: "Taken out of service",
    out_heads: ["", "Step", "Why"],
    step: ["", "Asked", "", "Found", "When, by whom"],
    line_head: "Line",
    line: "line",
    critical: "life-critical",
    wanted: "wanted:",
    day: "The day",
    day_heads: ["When, by whom", "", "What"],
    verify: "To verify this paper against the register",
    verify_labels: ["log", "as of line", "its hash", "its time (UTC)", "token"],
    drawn_with: "drawn with",
    page: ["page", "of"],
    as_of: "as of line",
    card: ["attendant's card", "BLANK CARD"],
    card_permit: "ATTENDANT'S CARD, AIR PERMIT NUMBER",
    tally_title: "Tally: write each time by hand; readings below",
    tally: ["Outlet", "Wearer", "Hose, escape set", "Respirator", "on air", "in", "out", "off air"],
    besides: ["other", "rescuer"],
    readings: ["Time", "Supply", "Reserve", "CO", "By"],
    air_gone: [
        "SUPPLY LOST AT",
        "AIR GONE AT",
        "as the screen says; write it again after each reading. Nobody waits for it",
    ],
};

impl Labels {
    /// The words for a BCP 47 language tag.
    pub fn of(_language: &str) -> &'static Labels {
        // One language so far: the argument is where the next one is chosen.
        &ENGLISH
    }

    /// The word across the sheet and in the foot, from the state alone, so that a wrong text in the
    /// view cannot hide that a permit is not live. None but the live one contains the word for it:
    /// half a sheet may be hidden.
    pub fn state(&self, state: StateWord) -> &'static str {
        let [draft, declared, live, suspended, back, closed, refused, cancelled, lapsed] = self.states;
        match state {
            StateWord::Draft => draft,
            StateWord::Declared => declared,
            StateWord::Live => live,
            StateWord::Suspended => suspended,
            StateWord::HandedBack => back,
            StateWord::Closed => closed,
            StateWord::Refused => refused,
            StateWord::Cancelled => cancelled,
            StateWord::Lapsed => lapsed,
        }
    }

    /// How a step stands, as a word beside its sign.
    pub fn standing(&self, standing: Standing) -> &'static str {
        let [open, hold, waiting, not_applicable, out, deviation] = self.standings;
        match standing {
            Standing::Open => open,
            Standing::Hold => hold,
            Standing::Waiting => waiting,
            Standing::NotApplicable => not_applicable,
            Standing::OutOfService => out,
            Standing::Deviation => deviation,
        }
    }
}
