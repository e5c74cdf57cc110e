//! What a permit says, worked out once and rendered by every face: terminal, JSON, paper.
//! All text in here is final words for people in one language; faces add layout, never meaning.

mod recorded;
mod statement;

pub use recorded::{recorded, typed};
pub use statement::{About, Statement};

use crate::tongue::say;
use serde::{Deserialize, Serialize};

/// Where a line stands: `12`, or `2:12` in a later volume than the first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct LineNo {
    /// Volume, from 1.
    pub volume: u32,
    /// seq in it, from 0.
    pub line: u64,
}

impl std::fmt::Display for LineNo {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.volume {
            0 | 1 => write!(f, "{}", self.line),
            v => write!(f, "{v}:{}", self.line),
        }
    }
}

/// The state of a permit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StateWord {
    /// Being filled in.
    Draft,
    /// Signed by the operator, waiting for the supervisor.
    Declared,
    /// People may be put on air.
    Live,
    /// Stopped; nobody goes on air.
    Suspended,
    /// The operator has signed it off.
    HandedBack,
    /// Ended by the supervisor.
    Closed,
    /// The supervisor said no.
    Refused,
    /// Withdrawn.
    Cancelled,
    /// Its time ran out, tally zero.
    Lapsed,
}

impl StateWord {
    /// The word, in English: for programs, auditors and the tables of the record.
    pub const fn english(self) -> &'static str {
        match self {
            StateWord::Draft => "draft",
            StateWord::Declared => "declared",
            StateWord::Live => "live",
            StateWord::Suspended => "suspended",
            StateWord::HandedBack => "handed back",
            StateWord::Closed => "closed",
            StateWord::Refused => "refused",
            StateWord::Cancelled => "cancelled",
            StateWord::Lapsed => "lapsed",
        }
    }

    /// The word for people.
    pub fn word(self) -> &'static str {
        match self {
            StateWord::Draft => say!("draft"),
            StateWord::Declared => say!("declared"),
            StateWord::Live => say!("live"),
            StateWord::Suspended => say!("suspended"),
            StateWord::HandedBack => say!("handed back"),
            StateWord::Closed => say!("closed"),
            StateWord::Refused => say!("refused"),
            StateWord::Cancelled => say!("cancelled"),
            StateWord::Lapsed => say!("lapsed"),
        }
    }

    /// Handed back or ended: nobody works on it any more.
    pub const fn over(self) -> bool {
        self.ended() || matches!(self, StateWord::HandedBack)
    }

    /// True for states that nothing leads out of.
    pub const fn ended(self) -> bool {
        match self {
            StateWord::Closed | StateWord::Refused | StateWord::Cancelled | StateWord::Lapsed => true,
            StateWord::Draft
            | StateWord::Declared
            | StateWord::Live
            | StateWord::Suspended
            | StateWord::HandedBack => false,
        }
    }
}

/// A wearer on the permit.
#[derive(Clone, Debug, Serialize)]
pub struct WearerView {
    /// Name for people.
    pub name: String,
    /// Id as in the record.
    pub person: String,
    /// Respirator.
    pub respirator: String,
    /// Escape set or "none".
    pub escape_set: String,
    /// Hose.
    pub hose: String,
    /// Which one it is: serial, length, sections; or empty.
    pub hose_marks: String,
    /// Outlet.
    pub outlet: String,
    /// Tally state in words: "off air", "on air outside", "in", "out, still on air".
    pub tally: String,
    /// Since when, site time, or empty.
    pub since: String,
}

/// How a step stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Answered, its gate open.
    Open,
    /// Answered, its gate shut: a hold.
    Hold,
    /// Not answered, or not to be judged yet.
    Waiting,
    /// Its `when` does not hold.
    NotApplicable,
    /// Taken out of service with a reason.
    OutOfService,
    /// Answered, its gate shut, and left so: a supervisor must accept that, or has.
    Deviation,
}

/// One answer given to a step, in order.
#[derive(Clone, Debug, Serialize)]
pub struct AnswerView {
    /// The answer in words: "207 bar", "yes", "with the arrow".
    pub value: String,
    /// Site time.
    pub time: String,
    /// Who entered it.
    pub by: String,
    /// Standing of the gate at that time.
    pub standing: Standing,
    /// Why the gate was shut or unknown, or empty.
    pub because: Vec<String>,
    /// If it replaces an earlier answer: what was done.
    pub again: String,
    /// Where it was given, if it was carried here from another permit; or empty.
    pub carried: String,
    /// What a supervisor should look at: answered quickly, read wrong, the same value again.
    pub flags: Vec<String>,
    /// Left as a deviation: when, why, what instead; or empty.
    pub deviation: String,
    /// Told later: when it was found, who told it; or empty.
    pub told: String,
    /// Words beside it, or empty.
    pub words: String,
    /// Seq of the line.
    #[serde(flatten)]
    pub line: LineNo,
}

/// One step (for one item, if the step is asked for each).
#[derive(Clone, Debug, Serialize)]
pub struct StepView {
    /// Step id.
    pub step: String,
    /// What its answer is called.
    #[serde(skip)]
    pub called: String,
    /// Item name or empty.
    pub item: String,
    /// What was asked.
    pub ask: String,
    /// How it stands.
    pub standing: Standing,
    /// Every answer, oldest first.
    pub answers: Vec<AnswerView>,
    /// The condition in words or source, or empty.
    pub wanted: String,
    /// Why it stands as it does when not open (not applicable because, left out because).
    pub why: String,
    /// Life-critical.
    pub critical: bool,
}

/// A stage and its steps.
#[derive(Clone, Debug, Serialize)]
pub struct StageView {
    /// Which checklist, e.g. "Pre-use checks, revision 1".
    pub form: String,
    /// Title.
    pub title: String,
    /// Steps.
    pub steps: Vec<StepView>,
}

/// A signature.
#[derive(Clone, Debug, Serialize)]
pub struct SignOff {
    /// "Declared", "Countersigned".
    pub what: String,
    /// Person's name.
    pub name: String,
    /// Person's id.
    pub person: String,
    /// Role they signed as.
    pub role: String,
    /// `SHA256:...` of their key.
    pub key: String,
    /// Site time signed.
    pub time: String,
    /// The words signed, whole.
    pub said: String,
    /// Line number in the register.
    #[serde(flatten)]
    pub line: LineNo,
    /// H of that line.
    pub hash: String,
}

/// One line of the day: who went on air, events, calls.
#[derive(Clone, Debug, Serialize)]
pub struct DayView {
    /// Site time.
    pub time: String,
    /// In words.
    pub words: String,
    /// Breach of a rule, in words, or empty.
    pub breach: String,
    /// Who entered it, as the station says.
    pub by: String,
    /// It tells of a request that was refused.
    #[serde(skip)]
    pub refused: bool,
    /// Line number.
    #[serde(flatten)]
    pub line: LineNo,
}

/// A figure beside its limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bar {
    /// What it is.
    pub label: String,
    /// In words.
    pub value: String,
    /// What is wanted, in words.
    pub wanted: String,
    /// Value over limit; of a range, how far from its lower end to its upper.
    pub share: f32,
    /// A place in a range instead of a bar from nothing.
    pub within: bool,
    /// Within its limits.
    pub met: bool,
}

/// A time from and to, UTC seconds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Span {
    /// From.
    pub from: i64,
    /// To.
    pub to: i64,
    /// Inside, not only on air.
    pub inside: bool,
}

/// A row of a timeline.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lane {
    /// Whose.
    pub label: String,
    /// Times, in order.
    pub spans: Vec<Span>,
}

/// What happened at a moment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moment {
    /// UTC second.
    pub at: i64,
    /// In words, short; empty for a reading.
    pub words: String,
}

/// What a picture shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shows {
    /// Figures beside their limits.
    Bars(Vec<Bar>),
    /// A pressure for each number of wearers from 1, under the pressure that is there.
    Columns {
        /// Pressure in bar, and in words.
        each: Vec<(f32, String)>,
        /// The number that is planned.
        planned: usize,
        /// What is there, in bar, and in words.
        there: (f32, String),
    },
    /// The day.
    Times {
        /// From, UTC second.
        from: i64,
        /// To, UTC second.
        to: i64,
        /// Ticks: when, and the time at the site.
        ticks: Vec<(i64, String)>,
        /// Who was on air.
        lanes: Vec<Lane>,
        /// Events and readings.
        moments: Vec<Moment>,
    },
    /// Around the intake, by compass, north up.
    Around {
        /// Degrees that the wind comes from.
        wind: f32,
        /// In words.
        wind_words: String,
        /// Degrees at which the nearest exhaust lies.
        exhaust: f32,
        /// In words.
        exhaust_words: String,
        /// What else is told beside it.
        words: Vec<String>,
    },
    /// Pressure from the set to each mask: at the set, at the mask, and the least that the respirator takes.
    Falls(Vec<Fall>),
}

/// The pressure along one hose, bar gauge.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fall {
    /// Whose hose.
    pub label: String,
    /// At the set, and in words.
    pub set: (f32, String),
    /// At the mask, and in words.
    pub mask: (f32, String),
    /// The least wanted there, and in words.
    pub least: (f32, String),
}

/// A picture.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Picture {
    /// Title.
    pub title: String,
    /// What it shows, in a sentence, for whoever does not see it.
    pub alt: String,
    /// What it shows.
    pub shows: Shows,
}

/// Everything a permit says.
#[derive(Clone, Debug, Serialize)]
pub struct PermitView {
    /// BCP 47 language of the words.
    pub language: String,
    /// Permit number.
    pub number: String,
    /// State.
    pub state: StateWord,
    /// Live, and nobody may be put on this air until something is in order again.
    pub held: bool,
    /// State in large words: "LIVE", "HELD", "DRAFT: NOT A PERMIT".
    pub state_words: String,
    /// What the state means for the people: "People may be put on this air." / "Nobody goes on this air."
    pub state_means: String,
    /// Site, set, place names.
    pub site: String,
    /// Set name and serial.
    pub set: String,
    /// Place.
    pub place: String,
    /// What the job is.
    pub job: String,
    /// Valid to, site time with zone, or "not valid".
    pub valid_to: String,
    /// What limits it.
    pub valid_because: String,
    /// "Air permit. It does not permit entry, hot work or opening of plant."
    pub not_an_entry_permit: String,
    /// The statements of page one in order.
    pub page_one: Vec<Statement>,
    /// Wearers.
    pub wearers: Vec<WearerView>,
    /// What was found wrong or narrowed: out of service, deviations, limits; printed on page one.
    pub warnings: Vec<String>,
    /// What a supervisor should look at before signing, over all answers; refuses nothing.
    pub flags: Vec<String>,
    /// Stages with steps.
    pub stages: Vec<StageView>,
    /// The day's tally and events.
    pub day: Vec<DayView>,
    /// Which airwrit, and which version of its fixed words.
    pub drawn_with: String,
    /// Pictures of figures that stand in words elsewhere.
    pub pictures: Vec<Picture>,
    /// Sign-offs in order.
    pub sign_offs: Vec<SignOff>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Check word while live, else empty.
    pub check_word: String,
    /// QR token, or empty.
    pub token: String,
    /// Copy number and where it hangs, or empty.
    pub copy: String,
    /// Log id.
    pub log: String,
    /// As of this line.
    pub as_of: LineNo,
    /// H of that line.
    pub as_of_hash: String,
    /// UTC time of that line.
    pub as_of_utc: String,
    /// The same at the site, for people.
    pub as_of_at: String,
}

/// A part of what a supervisor is shown before signing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Found {
    /// What it is about.
    pub heading: &'static str,
    /// Final words.
    pub lines: Vec<String>,
    /// Lines that tell earlier of the same step than another one below them, by their place.
    #[serde(skip)]
    pub earlier: Vec<usize>,
}

/// What is called at an alarm, in a few large words.
#[derive(Clone, Debug, Serialize)]
pub struct OrderView {
    /// Which alarm.
    pub alarm: String,
    /// To the wearers.
    pub order: String,
    /// What else the set may be stopped for; empty where nothing else than the rule for all.
    pub set: String,
}

/// What the attendant goes on with when the laptop is gone. Empty texts are filled in by hand.
#[derive(Clone, Debug, Serialize)]
pub struct CardView {
    /// BCP 47 language of the words.
    pub language: String,
    /// Permit number.
    pub number: String,
    /// State; none on a blank card.
    pub state: Option<StateWord>,
    /// See [`PermitView::held`].
    pub held: bool,
    /// State in large words.
    pub state_words: String,
    /// What it means for the people.
    pub state_means: String,
    /// Site name.
    pub site: String,
    /// Set name and serial.
    pub set: String,
    /// Place.
    pub place: String,
    /// Valid to, site time with zone, or "not valid".
    pub valid_to: String,
    /// What limits it.
    pub valid_because: String,
    /// Check word while live, else empty.
    pub check_word: String,
    /// As of this line; none on a blank card.
    pub as_of: Option<LineNo>,
    /// H of that line.
    pub as_of_hash: String,
    /// UTC time of that line.
    pub as_of_utc: String,
    /// The same at the site, for people.
    pub as_of_at: String,
    /// Copy number and where it hangs, or empty.
    pub copy: String,
    /// What holds at every alarm, the first largest.
    pub rules: Vec<String>,
    /// "Air permit. It does not permit entry, hot work or opening of plant."
    pub not_an_entry_permit: String,
    /// What speaks against the air now.
    pub warnings: Vec<String>,
    /// The recall signal.
    pub signal: Statement,
    /// Whom to call, and where everyone goes.
    pub calls: Vec<Statement>,
    /// Pressures that send everyone out. Never a time.
    pub gauges: Vec<Statement>,
    /// Carbon monoxide, how often the gauges are read, the longest spell, the way out.
    pub limits: Vec<Statement>,
    /// The cylinders of the reserve by name: each is read by itself.
    pub cylinders: Vec<String>,
    /// Orders, the most dangerous alarm first.
    pub orders: Vec<OrderView>,
    /// Wearers planned, and whoever else is on this set's air.
    pub wearers: Vec<WearerView>,
    /// Rescuers by name.
    pub rescuers: Vec<String>,
}
