//! The kinds, one by one: the table itself.

use super::{Belongs, Kind, Maker, Member, Shape};
use crate::trust::Role;
use crate::view::StateWord;

const fn must(name: &'static str, shape: Shape) -> Member {
    Member { name, must: true, shape }
}
const fn may(name: &'static str, shape: Shape) -> Member {
    Member { name, must: false, shape }
}

const WHERE: Member = must("where", Shape::OneOf(&["station", "own"]));
const SAID: Member = must("said", Shape::Long);
const AT: Member = may("at", Shape::Time);
const TOLD_BY: Member = may("told_by", Shape::Text);

/// Signatures of custodians under a roster.
pub const SIGNS: Shape = Shape::List(&Shape::Object(&[
    must("hash", Shape::OneOf(&["sha256", "sha512"])),
    must("key", Shape::SshKey),
    must("sign", Shape::Signature),
]));
/// The volume before: its last line, or words if it is lost.
const BEFORE: Shape = Shape::Object(&[
    may("head", Shape::Hash),
    may("log", Shape::Log),
    may("lost", Shape::Text),
    may("seq", Shape::Int),
]);
const ROSTER: Shape = Shape::Object(&[must("signs", SIGNS), must("text", Shape::Long)]);
const CITED_FILE: Shape = Shape::Object(&[must("hash", Shape::Hash), must("id", Shape::Id)]);
const TEXTS: Shape = Shape::List(&Shape::Text);

/// Every state.
pub const ANY: &[StateWord] = &[
    StateWord::Draft,
    StateWord::Declared,
    StateWord::Live,
    StateWord::Suspended,
    StateWord::HandedBack,
    StateWord::Closed,
    StateWord::Refused,
    StateWord::Cancelled,
];
const BEFORE_LIVE: &[StateWord] = &[StateWord::Draft, StateWord::Declared];
const NOT_ENDED: &[StateWord] =
    &[StateWord::Draft, StateWord::Declared, StateWord::Live, StateWord::Suspended];

const LIVE: &[StateWord] = &[StateWord::Live];

/// What a re-answer may say was done.
pub const AGAIN: &[&str] =
    &["refilled", "changed", "tightened", "cleaned", "moved", "waited", "read_wrong", "asked_again", "other"];
/// Of these an answer holds exactly one.
/// What an event may be.
pub const EVENTS: &[&str] = &[
    "supply_low",
    "change_over",
    "reserve_low",
    "co",
    "temperature",
    "oil",
    "over_pressure",
    "hose",
    "respirator",
    "wearer_silent",
    "contact_lost",
    "fire",
    "hazard_released",
    "wind_turned",
    "ventilation_lost",
    "attendant_unable",
    "unknown_person",
    "called",
    "drill",
    "false_alarm",
    "other",
];

/// Kinds that are written aside while the register cannot be written: reports, none of them signed.
pub const ASIDE: &[&str] = &["call_out", "event", "in", "off_air", "on_air", "out", "suspend"];
const ASIDE_ENTRY: &[Member] = &[
    must("at", Shape::Time),
    may("by", Shape::Id),
    must("data", Shape::Free),
    must("id", Shape::Log),
    must("kind", Shape::OneOf(ASIDE)),
    may("permit", Shape::Permit),
];

/// How far a reading of an air test may be off, either way.
const WITHIN: &[Member] = &[
    may("co", Shape::Quantity),
    may("co2", Shape::Quantity),
    may("dew_point", Shape::Quantity),
    may("o2", Shape::Quantity),
    may("oil", Shape::Quantity),
    may("water", Shape::Quantity),
];

const TALLY: &[Member] = &[
    AT,
    may("breach", TEXTS),
    may("outlet", Shape::Text),
    must("person", Shape::Text),
    may("set", Shape::Id),
    TOLD_BY,
];

use Belongs::{Permit, PermitOrSet, Register};
use Maker::{Signed, Station};

/// The table, by name.
pub static KINDS: &[Kind] = &[
    Kind {
        name: "air_test",
        maker: Station,
        belongs: Register,
        members: &[
            AT,
            may("below", Shape::List(&Shape::OneOf(&["co", "co2", "oil", "water"]))),
            may("certificate", Shape::Text),
            may("co", Shape::Quantity),
            may("co2", Shape::Quantity),
            must("date", Shape::Date),
            may("dew_point", Shape::Quantity),
            may("instrument", Shape::Text),
            may("instrument_good", Shape::Date),
            may("line_pressure", Shape::Quantity),
            may("line_temperature", Shape::Quantity),
            may("o2", Shape::Quantity),
            may("oil", Shape::Quantity),
            must("place", Shape::Id),
            may("sample_point", Shape::OneOf(&["mask_end", "outlet", "cylinder"])),
            must("sampler", Shape::Text),
            must("set", Shape::Id),
            may("smell", Shape::OneOf(&["none", "something"])),
            TOLD_BY,
            may("water", Shape::Quantity),
            may("within", Shape::Object(WITHIN)),
            may("witness", Shape::Object(&[must("hash", Shape::Hash), must("line", Shape::Hash)])),
        ],
        states: ANY,
        says: "the air of a set was tested at a place; `witness`: as another register has it, by its line (`hash`), read as our line `line` says",
    },
    Kind {
        name: "answer",
        maker: Station,
        belongs: Permit,
        members: &[
            may("again", Shape::OneOf(AGAIN)),
            AT,
            may("below", Shape::True),
            may("deviation", Shape::Object(&[must("instead", Shape::Text), must("reason", Shape::Text)])),
            must("form", Shape::Hash),
            may("item", Shape::Text),
            may("left_out", Shape::Text),
            may("rests_on", Shape::List(&Shape::Hash)),
            must("shown", Shape::Text),
            must("step", Shape::Ident),
            TOLD_BY,
            may("unit", Shape::Text),
            may("value", Shape::Text),
            may("words", Shape::Text),
        ],
        states: NOT_ENDED,
        says: "a step was answered: exactly one of `value`, `left_out` and `deviation`, which leaves its last answer as it is; `rests_on` cites the lines of the set that it was judged by",
    },
    Kind {
        name: "call_out",
        maker: Station,
        belongs: PermitOrSet,
        members: &[AT, may("set", Shape::Id), TOLD_BY, may("words", Shape::Text)],
        states: ANY,
        says: "everyone was called out",
    },
    Kind {
        name: "cancel",
        maker: Signed(&[Role::Supervisor]),
        belongs: Permit,
        members: &[must("reason", Shape::Text), SAID, WHERE],
        states: NOT_ENDED,
        says: "the permit is withdrawn; only at tally zero",
    },
    Kind {
        name: "carried",
        maker: Station,
        belongs: Permit,
        members: &[must("answers", Shape::List(&Shape::Hash)), must("form", Shape::Hash)],
        states: NOT_ENDED,
        says: "answers to the same form on another permit still hold and count here as they stand there (`answers` cites them; of a wait both its ends)",
    },
    Kind {
        name: "clock",
        maker: Signed(&[Role::Supervisor]),
        belongs: Register,
        members: &[must("last", Shape::Time), must("reason", Shape::Text), SAID, WHERE],
        states: ANY,
        says: "the station's clock is right and the line before (`last`) was written by a wrong one: the only line whose time may be earlier; live permits are suspended",
    },
    Kind {
        name: "close",
        maker: Signed(&[Role::Supervisor]),
        belongs: Permit,
        members: &[SAID, must("target", Shape::Hash), WHERE],
        states: &[StateWord::HandedBack],
        says: "the supervisor accepts the hand-back (`target`) and ends the permit",
    },
    Kind {
        name: "copy",
        maker: Station,
        belongs: Permit,
        members: &[
            must("hangs", Shape::Text),
            must("number", Shape::Int),
            may("sheet", Shape::OneOf(&["card", "permit"])),
            may("taken_down", Shape::True),
        ],
        states: ANY,
        says: "a numbered print of the permit, or of the attendant's card: where it hangs, or that it was taken down",
    },
    Kind {
        name: "countersign",
        maker: Signed(&[Role::Supervisor]),
        belongs: Permit,
        members: &[
            may("deviations", TEXTS),
            may(
                "limits",
                Shape::Object(&[
                    may("until", Shape::Time),
                    may("wearers", Shape::Int),
                    may("words", Shape::Text),
                ]),
            ),
            may("not_seen", Shape::Text),
            SAID,
            may(
                "seen",
                Shape::List(&Shape::Object(&[
                    may("item", Shape::Text),
                    must("step", Shape::Ident),
                    must("unit", Shape::Text),
                    must("value", Shape::Decimal),
                ])),
            ),
            must("target", Shape::Hash),
            must("token", Shape::Text),
            must("valid_by", Shape::Text),
            must("valid_to", Shape::Time),
            WHERE,
        ],
        states: &[StateWord::Declared],
        says: "the supervisor issues what the operator declared (`target`); may narrow it, and must where it accepts `deviations` (step, or step/item); `seen` are readings read again at the gauge without looking at the first, `not_seen` why none were",
    },
    Kind {
        name: "declare",
        maker: Signed(&[Role::Operator]),
        belongs: Permit,
        members: &[SAID, WHERE],
        states: &[StateWord::Draft],
        says: "the operator answers for the set, the air and the checks",
    },
    Kind {
        name: "denied",
        maker: Station,
        belongs: PermitOrSet,
        members: &[must("request", Shape::Text), may("set", Shape::Id), must("why", TEXTS)],
        states: ANY,
        says: "a request that was refused, and why",
    },
    Kind {
        name: "enrol",
        maker: Signed(&[Role::Enroller]),
        belongs: Register,
        members: &[
            may("before", BEFORE),
            must("roster", ROSTER),
            SAID,
            must("seal", Shape::Hash),
            must("station", Shape::Station),
            WHERE,
        ],
        states: ANY,
        says: "line 0: a volume begins at this station, with this seal key and roster; `before` names the last line of the volume before, or says in words how it was lost; live permits are suspended",
    },
    Kind {
        name: "event",
        maker: Station,
        belongs: PermitOrSet,
        members: &[
            AT,
            may("set", Shape::Id),
            TOLD_BY,
            must("what", Shape::OneOf(EVENTS)),
            may("words", Shape::Text),
        ],
        states: ANY,
        says: "an alarm or event; suspends",
    },
    Kind {
        name: "extend",
        maker: Signed(&[Role::Operator, Role::Supervisor]),
        belongs: Permit,
        members: &[
            may(
                "entry_permits",
                Shape::List(&Shape::Object(&[must("id", Shape::Id), must("until", Shape::Time)])),
            ),
            must("part", Shape::OneOf(&["asked", "given"])),
            may("reason", Shape::Text),
            SAID,
            may("target", Shape::Hash),
            may("token", Shape::Text),
            may("until", Shape::Time),
            may("valid_by", Shape::Text),
            may("valid_to", Shape::Time),
            WHERE,
        ],
        states: LIVE,
        says: "a later end, in two lines: the operator asks (`until`, `reason`), which changes nothing and falls with any later change of state; a supervisor gives it (`target`, `token`, `valid_by`, `valid_to`)",
    },
    Kind {
        name: "filled",
        maker: Station,
        belongs: Register,
        members: &[
            AT,
            must("date", Shape::Date),
            must("from", Shape::OneOf(&["this_set", "other_tested", "certificate", "not_known"])),
            may("machine", Shape::Text),
            must("set", Shape::Id),
            TOLD_BY,
        ],
        states: ANY,
        says: "the reserve of a set was filled, and where the air came from",
    },
    Kind {
        name: "form",
        maker: Signed(&[Role::Approver]),
        belongs: Register,
        members: &[
            must("form", Shape::Id),
            must("hash", Shape::Hash),
            must("revision", Shape::Int),
            SAID,
            must("text", Shape::Long),
            WHERE,
        ],
        states: ANY,
        says: "an approver puts a checklist in force",
    },
    Kind {
        name: "hand_back",
        maker: Signed(&[Role::Operator]),
        belongs: Permit,
        members: &[may("left_running", Shape::Permit), may("reason", Shape::Text), SAID, WHERE],
        states: &[StateWord::Draft, StateWord::Live, StateWord::Suspended],
        says: "the operator gives the permit back after the shutdown, or names the live permit the set runs on for",
    },
    Kind {
        name: "hand_over",
        maker: Signed(&[Role::Operator]),
        belongs: Permit,
        members: &[
            may("checked", Shape::List(&Shape::OneOf(&["fuel", "warnings", "wind"]))),
            must("part", Shape::OneOf(&["incoming", "outgoing"])),
            SAID,
            may("staying", Shape::Text),
            may("takes", Shape::OneOf(&["holder", "shift"])),
            may("target", Shape::Hash),
            may("to", Shape::Id),
            may("unusual", Shape::Text),
            WHERE,
        ],
        states: &[StateWord::Live, StateWord::Suspended],
        says: "another operator holds the permit, in two lines: the outgoing one (`to`, `takes`, `checked`, `unusual`, `staying` where people stay on air) changes nothing and falls with any later change of state; the incoming one (`target`) takes it",
    },
    Kind {
        name: "in",
        maker: Station,
        belongs: PermitOrSet,
        members: TALLY,
        states: ANY,
        says: "somebody went in, on air",
    },
    Kind {
        name: "job",
        maker: Station,
        belongs: Permit,
        members: &[must("job", Shape::Free)],
        states: BEFORE_LIVE,
        says: "the job of a permit replaced whole",
    },
    Kind {
        name: "moved",
        maker: Station,
        belongs: Register,
        members: &[AT, must("date", Shape::Date), must("place", Shape::Id), must("set", Shape::Id), TOLD_BY],
        states: ANY,
        says: "a set was moved, even by metres",
    },
    Kind {
        name: "note",
        maker: Station,
        belongs: PermitOrSet,
        members: &[may("set", Shape::Id), may("target", Shape::Hash), must("words", Shape::Text)],
        states: ANY,
        says: "what was meant by a line; changes no state",
    },
    Kind {
        name: "off_air",
        maker: Station,
        belongs: PermitOrSet,
        members: TALLY,
        states: ANY,
        says: "mask off in clean air",
    },
    Kind {
        name: "on_air",
        maker: Station,
        belongs: PermitOrSet,
        members: TALLY,
        states: ANY,
        says: "connected and on air, outside",
    },
    Kind {
        name: "open",
        maker: Station,
        belongs: Permit,
        members: &[
            may("follows", Shape::Permit),
            must("for", Shape::OneOf(&["work", "shutdown"])),
            must("form", CITED_FILE),
            must("job", Shape::Free),
            must("rules", Shape::Int),
            must("set", CITED_FILE),
            must("site", CITED_FILE),
        ],
        states: &[],
        says: "a permit is opened on texts in force; `follows` names one that was handed back or has ended, whose work it goes on with",
    },
    Kind {
        name: "out",
        maker: Station,
        belongs: PermitOrSet,
        members: TALLY,
        states: ANY,
        says: "somebody came out, still on air",
    },
    Kind {
        name: "plugged",
        maker: Station,
        belongs: Register,
        members: &[
            AT,
            must("date", Shape::Date),
            must("set", Shape::Id),
            must("supply_point", Shape::Id),
            TOLD_BY,
        ],
        states: ANY,
        says: "a set was connected to a supply point",
    },
    Kind {
        name: "reading",
        maker: Station,
        belongs: Permit,
        members: &[
            AT,
            may("item", Shape::Text),
            TOLD_BY,
            must("unit", Shape::Text),
            must("value", Shape::Decimal),
            must("what", Shape::Ident),
        ],
        states: ANY,
        says: "a gauge read while watching; changes no state",
    },
    Kind {
        name: "recovery",
        maker: Station,
        belongs: Register,
        members: &[
            may("aside", Shape::List(&Shape::Object(ASIDE_ENTRY))),
            may("hash", Shape::Hash),
            may("length", Shape::Int),
        ],
        states: ANY,
        says: "either bytes of an append that was never acknowledged were cut off: their `length` and SHA-256; or reports written aside while the register could not be written are entered: each counts as a line of its kind",
    },
    Kind {
        name: "refuse",
        maker: Signed(&[Role::Supervisor]),
        belongs: Permit,
        members: &[must("reason", Shape::Text), SAID, must("target", Shape::Hash), WHERE],
        states: &[StateWord::Declared],
        says: "the supervisor does not issue what was declared (`target`)",
    },
    Kind {
        name: "reinstate",
        maker: Signed(&[Role::Supervisor, Role::Operator]),
        belongs: Permit,
        members: &[must("cause", Shape::Text), SAID, WHERE],
        states: &[StateWord::Suspended],
        says: "what suspended the permit is over: people may go on this air again; after a roll call that found everyone, with nobody on air from the set; by its operator only after a drill or false alarm",
    },
    Kind {
        name: "released",
        maker: Station,
        belongs: Register,
        members: &[AT, must("date", Shape::Date), must("set", Shape::Id), TOLD_BY, may("words", Shape::Text)],
        states: ANY,
        says: "a set leaves this register: nothing is opened on it here until it is taken again",
    },
    Kind {
        name: "relieve",
        maker: Station,
        belongs: Permit,
        members: &[
            AT,
            may("breach", TEXTS),
            must("from", Shape::Id),
            must("role", Shape::OneOf(&["attendant", "entry_watch"])),
            must("to", Shape::Id),
            TOLD_BY,
        ],
        states: ANY,
        says: "another person stands in as attendant or entry watch, the tally read back",
    },
    Kind {
        name: "roll_call",
        maker: Station,
        belongs: PermitOrSet,
        members: &[AT, may("found", TEXTS), may("missing", TEXTS), may("set", Shape::Id), TOLD_BY],
        states: ANY,
        says: "everyone was called by name, by voice; one with `missing` suspends",
    },
    Kind {
        name: "roster",
        maker: Station,
        belongs: Register,
        members: &[must("signs", SIGNS), must("text", Shape::Long)],
        states: ANY,
        says: "a later version of the roster, signed by custodians of the old version and of the new one",
    },
    Kind {
        name: "serviced",
        maker: Station,
        belongs: Register,
        members: &[
            AT,
            must("date", Shape::Date),
            may("hours", Shape::Quantity),
            must("set", Shape::Id),
            TOLD_BY,
            must("what", Shape::OneOf(&["filter", "oil", "air_side", "other"])),
            may("words", Shape::Text),
        ],
        states: ANY,
        says: "a set was serviced",
    },
    Kind {
        name: "set",
        maker: Signed(&[Role::Approver]),
        belongs: Register,
        members: &[must("hash", Shape::Hash), SAID, must("set", Shape::Id), must("text", Shape::Long), WHERE],
        states: ANY,
        says: "an approver puts a set file in force",
    },
    Kind {
        name: "site",
        maker: Signed(&[Role::Approver]),
        belongs: Register,
        members: &[
            must("hash", Shape::Hash),
            SAID,
            must("site", Shape::Id),
            must("text", Shape::Long),
            must("what", Shape::OneOf(&["site", "limits"])),
            WHERE,
        ],
        states: ANY,
        says: "an approver puts a site file in force",
    },
    Kind {
        name: "started",
        maker: Station,
        belongs: Register,
        members: &[
            AT,
            may("breach", TEXTS),
            must("date", Shape::Date),
            may("hours", Shape::Quantity),
            must("set", Shape::Id),
            TOLD_BY,
        ],
        states: ANY,
        says: "a set was started",
    },
    Kind {
        name: "stopped",
        maker: Station,
        belongs: Register,
        members: &[
            AT,
            may("breach", TEXTS),
            must("date", Shape::Date),
            must("set", Shape::Id),
            may("target", Shape::Hash),
            TOLD_BY,
        ],
        states: ANY,
        says: "a set was stopped; with `target`, on the order of that event",
    },
    Kind {
        name: "suspend",
        maker: Station,
        belongs: PermitOrSet,
        members: &[AT, must("reason", Shape::Text), may("set", Shape::Id), TOLD_BY],
        states: ANY,
        says: "anyone stopped the work",
    },
    Kind {
        name: "taken",
        maker: Station,
        belongs: Register,
        members: &[AT, must("date", Shape::Date), must("set", Shape::Id), TOLD_BY, may("words", Shape::Text)],
        states: ANY,
        says: "a set that was released comes to this register again",
    },
    Kind {
        name: "witness",
        maker: Station,
        belongs: PermitOrSet,
        members: &[
            must("head", Shape::Hash),
            may("held", Shape::True),
            must("log", Shape::Log),
            must("seq", Shape::Int),
            may("set", Shape::Id),
            must("station", Shape::Station),
            must("time", Shape::Time),
        ],
        states: ANY,
        says: "another register was read: its last line (`log`, `seq`, `head`) then; `held` where it holds this set too and has not released it",
    },
];
