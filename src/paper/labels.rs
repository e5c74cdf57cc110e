//! The words that several parts of paper add to a view: the one word across a sheet that is not live, standings, labels
//! that the permit and its card share. All other words of the sheet come from the view or stand where they are drawn.
//!
//! Always holds: words come in the language that is bound for the drawing; the word of a state from the state alone, so that
//! a wrong text in the view cannot hide that a permit is not live. In every language none but the live one contains the
//! word for it: half a sheet may be hidden.

use crate::tongue::say;
use crate::view::{Standing, StateWord};

/// The word across the sheet and in the foot.
pub fn state(state: StateWord) -> &'static str {
    match state {
        StateWord::Draft => say!("DRAFT"),
        StateWord::Declared => say!("NOT ISSUED"),
        StateWord::Live => say!("LIVE"),
        StateWord::Suspended => say!("SUSPENDED"),
        StateWord::HandedBack => say!("HANDED BACK"),
        StateWord::Closed => say!("CLOSED"),
        StateWord::Refused => say!("REFUSED"),
        StateWord::Cancelled => say!("CANCELLED"),
        StateWord::Lapsed => say!("LAPSED"),
    }
}

/// The same of a live permit on whose air nobody may be put for now.
pub fn held() -> &'static str {
    say!("HELD")
}

/// How a step stands, as a word beside its sign.
pub fn standing(standing: Standing) -> &'static str {
    match standing {
        Standing::Open => say!("met"),
        Standing::Hold => say!("HOLD"),
        Standing::Waiting => say!("waiting"),
        Standing::NotApplicable => say!("not applicable"),
        Standing::OutOfService => say!("out of service"),
        Standing::Deviation => say!("deviation"),
    }
}

/// Over the end of a permit.
pub fn valid_to(live: bool) -> &'static str {
    if live { say!("Valid to") } else { say!("Valid to (this permit is not live)") }
}

/// Over the end of a permit that is held: whoever is on its air is off it by then.
pub fn off_by() -> &'static str {
    say!("Everyone off this air by")
}

/// Over the check word.
pub fn check_word() -> &'static str {
    say!("Check word")
}

/// Over what and where it is.
pub fn site() -> &'static str {
    say!("Site")
}

/// See [`site`].
pub fn place() -> &'static str {
    say!("Place")
}

/// See [`site`].
pub fn set() -> &'static str {
    say!("Set")
}

/// Since when somebody is on air.
pub fn since(time: &str) -> String {
    say!("since {time}", time)
}

/// A title that comes again on the next sheet.
pub fn again(title: &str) -> String {
    say!("{title} (continued)", title)
}

/// The last line of the register that a sheet knows, and when that was.
pub fn as_of(line: &str, time: &str) -> String {
    if time.is_empty() {
        say!("as of line {line}", line)
    } else {
        say!("as of line {line}, {time}", line, time)
    }
}
