//! What the engine calls by the words of the terminal, called as the page calls it: keys, fields, screens.
//!
//! In: a sentence that may name commands (`airwrit walk`) and options (--until). Out: the same in the words of the page. Not
//! here: what the sentence says.

use crate::tongue::say;

/// What a command of the terminal is called on the page.
fn called(command: &str) -> Option<&'static str> {
    Some(match command {
        "walk" | "answer" => say!("the steps"),
        "reading" => say!("the gauges on the board"),
        "board" | "on" | "in" | "out" | "off" => say!("the board"),
        "roll-call" => say!("the roll call"),
        "call-out" => say!("the red key below"),
        "event" => say!("an alarm"),
        "suspend" => say!("stop the work"),
        "declare" => say!("declare"),
        "countersign" => say!("countersign"),
        "refuse" => say!("refuse"),
        "reinstate" => say!("reinstate"),
        "extend" => say!("a later end"),
        "hand-over" => say!("hand over"),
        "take-over" => say!("take over"),
        "hand-back" => say!("hand back"),
        "close" => say!("close"),
        "cancel" => say!("cancel"),
        "open" => say!("open a permit"),
        "set" => say!("what happens to the set"),
        "relieve" => say!("the tick beside who stands in, on the board"),
        "taken-down" => say!("tick it on the permit's screen"),
        "clock" => say!("the laptop's clock, from the site"),
        "witness" => say!("another station's register, from the set"),
        "excerpt" => say!("signed elsewhere, from the permit"),
        "take-in" => say!("signed elsewhere, from the permit or the site"),
        "note" => say!("words for the record"),
        "show" => say!("the permit's screen"),
        _ => return None,
    })
}

/// A command that is called otherwise with an option.
fn called_with(command: &str, option: &str) -> Option<&'static str> {
    Some(match (command, option) {
        ("walk", "--shutdown") => say!("Shut the set down, on the permit's screen"),
        ("open", "--shutdown") => say!("open a permit, to shut the set down alone"),
        ("on", "--report") => say!("Somebody went on air all the same, or is not planned: report it"),
        ("set", "--report") => say!("It has stopped, on the set's screen"),
        _ => return None,
    })
}

/// What an option of the terminal is called on the page: the words that stand at its field.
fn field(option: &str) -> Option<&'static str> {
    Some(match option {
        "--accept" => say!("the tick at each deviation"),
        "--again" => say!("what was done since"),
        "--checked" => say!("what was looked at together"),
        "--entry-permit" => say!("the later end of the entry permit"),
        "--limits" => say!("the words that narrow it"),
        "--not-seen" => say!("Or: why no gauge was read again"),
        "--seen" => say!("the fields of the gauges to be read again"),
        "--shift" => say!("The next shift takes it"),
        "--staying" => say!("Why people stay on air meanwhile; else everyone is off"),
        "--today" => say!("the day of today, from the laptop's clock"),
        "--until" => say!("Let it end earlier, at"),
        "--wearers" => say!("At most so many on air at once"),
        _ => return None,
    })
}

/// Words outside of commands: options are called as their fields, without what stands for their value.
fn fields(text: &str, out: &mut String) {
    let mut rest = text;
    while let Some(at) = rest.find("--") {
        let (before, from) = rest.split_at(at);
        out.push_str(before);
        let end = from.find(|c: char| !(c.is_ascii_lowercase() || c == '-')).unwrap_or(from.len());
        let (option, after) = from.split_at(end);
        rest = after;
        let Some(words) = field(option) else {
            out.push_str(option);
            continue;
        };
        out.push_str(&say!("“{field}”", field = words));
        // `STEP=VALUE`: what is typed there stands beside the field.
        if let Some(value) = after.strip_prefix(' ') {
            let end =
                value.find(|c: char| !(c.is_ascii_uppercase() || "=:".contains(c))).unwrap_or(value.len());
            if value.get(..end).is_some_and(|v| v.len() > 1 && !v.ends_with(':')) {
                rest = value.get(end..).unwrap_or_default();
            }
        }
    }
    out.push_str(rest);
}

/// Words that name a command of the terminal, or an option of one, as the page calls it; a command that has no key here stays
/// as it is.
pub fn here(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for (i, part) in text.split('`').enumerate() {
        let verb =
            part.strip_prefix("airwrit ").and_then(|p| p.split_whitespace().next()).filter(|_| i % 2 == 1);
        let with = verb.and_then(|v| part.split_whitespace().find_map(|option| called_with(v, option)));
        match with.or_else(|| verb.and_then(called)) {
            // A name as it stands is no part of a sentence in languages that bend their words.
            Some(called) => out += &say!("{called}", called),
            None if i % 2 == 1 && verb.is_some() => {
                out += &say!("{command} at a terminal", command = format!("`{part}`"))
            }
            None => fields(part, &mut out),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_and_options_are_called_by_what_stands_on_the_page() {
        assert_eq!(here("co was not read: `airwrit reading`"), "co was not read: the gauges on the board");
        assert_eq!(here("`airwrit doctor` tells"), "`airwrit doctor` at a terminal tells");
        assert_eq!(
            here("no command -- and -no option --none NONE"),
            "no command -- and -no option --none NONE"
        );
        let told = here("give it with --seen STEP=VALUE; say why with --not-seen");
        assert!(told.ends_with("say why with “Or: why no gauge was read again”"), "{told}");
        assert!(told.starts_with("give it with “the fields of the gauges to be read again”; say"), "{told}");
        assert_eq!(here("leave --until and I"), "leave “Let it end earlier, at” and I");
    }

    #[test]
    fn a_name_is_told_as_a_name_in_languages_that_bend_their_words() {
        use crate::tongue::Tongue;
        let told = |tongue: Tongue| tongue.within(|| here("co: `airwrit reading`"));
        assert_eq!(told(Tongue::Polish), "co: „przyrządy na tablicy”");
        assert_eq!(told(Tongue::Ukrainian), "co: «прилади на табло»");
    }
}
