//! Fixed words in several languages: what the program itself says to a crew.
//!
//! English stands in the code and is the key: `say!("{name} is on air", name)`. Each other language is one table from the
//! English words to its own, `tongue/*.yaml`. Whoever changes an English sentence changes its key, so that a translation
//! can be missing but never stale. A missing one shows the English words, never a blank, and a test finds it.
//!
//! In: the language, bound for the length of one request or one drawing ([`Tongue::within`]); not bound, English. Out: words.
//! Always: no word of a table decides anything; nothing compares words but to find a translation. Plural forms follow the
//! rules of Unicode CLDR 46 for cardinal numbers.
//! Not here: texts of checklists and sites, which carry their own languages (`words`).

use std::cell::Cell;
use std::collections::HashMap;
use std::fmt::Display;
use std::sync::OnceLock;

/// A language that the program speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tongue {
    /// English, the key of all tables.
    English,
    /// Polish.
    Polish,
    /// Ukrainian.
    Ukrainian,
}

/// The words of one language by the English ones.
pub type Table = HashMap<String, String>;

thread_local! {
    static NOW: Cell<(Tongue, bool)> = const { Cell::new((Tongue::English, false)) };
}

/// Puts the language back that was bound before, also when what was bound for unwinds.
struct Back((Tongue, bool));

impl Drop for Back {
    fn drop(&mut self) {
        NOW.set(self.0);
    }
}

impl Tongue {
    /// All of them, English first.
    pub const ALL: [Tongue; 3] = [Tongue::English, Tongue::Polish, Tongue::Ukrainian];

    /// The BCP 47 tag.
    pub fn tag(self) -> &'static str {
        match self {
            Tongue::English => "en",
            Tongue::Polish => "pl",
            Tongue::Ukrainian => "uk",
        }
    }

    /// What its speakers call it.
    pub fn name(self) -> &'static str {
        match self {
            Tongue::English => "English",
            Tongue::Polish => "polski",
            Tongue::Ukrainian => "українська",
        }
    }

    /// The language of a tag, by its main part: `pl` for `pl-PL`; none if it is not spoken here.
    pub fn of(tag: &str) -> Option<Tongue> {
        let main = tag.split('-').next().unwrap_or(tag);
        Tongue::ALL.into_iter().find(|t| t.tag().eq_ignore_ascii_case(main))
    }

    /// The language bound here.
    pub fn now() -> Tongue {
        NOW.get().0
    }

    /// The language bound here, if somebody asked for it: then it stands before that of a site.
    pub fn asked() -> Option<Tongue> {
        let (tongue, asked) = NOW.get();
        asked.then_some(tongue)
    }

    /// Binds the language for the length of `work`; nobody asked for it.
    pub fn within<T>(self, work: impl FnOnce() -> T) -> T {
        let _back = Back(NOW.replace((self, false)));
        work()
    }

    /// Binds the language that somebody asked for.
    pub fn within_asked<T>(self, work: impl FnOnce() -> T) -> T {
        let _back = Back(NOW.replace((self, true)));
        work()
    }

    fn text(self) -> &'static str {
        match self {
            Tongue::English => "",
            Tongue::Polish => include_str!("tongue/pl.yaml"),
            Tongue::Ukrainian => include_str!("tongue/uk.yaml"),
        }
    }

    /// Its table, read once; empty for English.
    pub fn table(self) -> &'static Table {
        static READ: [OnceLock<Table>; 3] = [const { OnceLock::new() }; 3];
        let [english, polish, ukrainian] = &READ;
        let of = match self {
            Tongue::English => english,
            Tongue::Polish => polish,
            Tongue::Ukrainian => ukrainian,
        };
        // A table that cannot be read is found by a test; people get English words then.
        of.get_or_init(|| serde_yaml::from_str(self.text()).unwrap_or_default())
    }

    /// Which of its plural forms goes with a number: its place in `one|few|many` (English: `one|other`).
    fn form(self, n: u64) -> usize {
        let (ten, hundred) = (n % 10, n % 100);
        let few = (2..=4).contains(&ten) && !(12..=14).contains(&hundred);
        match self {
            Tongue::English => usize::from(n != 1),
            Tongue::Polish if n == 1 => 0,
            Tongue::Ukrainian if ten == 1 && hundred != 11 => 0,
            Tongue::Polish | Tongue::Ukrainian => 2 - usize::from(few),
        }
    }
}

/// The words for these English ones in the language bound here; none where that is English or they are missing.
pub fn translated(english: &str) -> Option<&'static str> {
    match Tongue::now() {
        Tongue::English => None,
        other @ (Tongue::Polish | Tongue::Ukrainian) => other.table().get(english).map(String::as_str),
    }
}

/// Words that were made in English and kept, in the language bound here: by the sentence of ours that they are, with what
/// fills it. None where that is English, or they are no sentence of ours.
pub fn said_again(english: &str) -> Option<String> {
    let table = match Tongue::now() {
        Tongue::English => return None,
        other @ (Tongue::Polish | Tongue::Ukrainian) => other.table(),
    };
    if let Some(whole) = table.get(english) {
        return Some(whole.clone());
    }
    let mut best: Option<(usize, &str, Filled<'_>)> = None;
    for (key, ours) in table.iter().filter(|(key, _)| key.contains('{') && !key.contains('|')) {
        let Some((fixed, values)) = filled_in(key, english) else { continue };
        // The longest of the words that are ours; of two as long, the same one on every day.
        let more = best.as_ref().is_none_or(|(most, other, _)| (fixed, ours.as_str()) > (*most, *other));
        if fixed >= FIXED && more {
            best = Some((fixed, ours, values));
        }
    }
    let (_, ours, values) = best?;
    let values: Vec<(&str, String)> = values
        .into_iter()
        .map(|(name, value)| (name, translated(value).map_or_else(|| value.to_owned(), str::to_owned)))
        .collect();
    let values: Vec<(&str, &dyn Display)> = values.iter().map(|(n, v)| (*n, v as &dyn Display)).collect();
    Some(fill(ours, &values))
}

/// So many letters of a sentence are ours before it is taken for one.
const FIXED: usize = 10;

/// Each place of a sentence, and the words in it.
type Filled<'a> = Vec<(&'a str, &'a str)>;

/// What fills a sentence so that it is this text: how much of it is fixed, and each place with its words.
fn filled_in<'a>(sentence: &'a str, text: &'a str) -> Option<(usize, Filled<'a>)> {
    let (mut fixed, mut values) = (0, Vec::new());
    let (head, mut rest) = sentence.split_once('{')?;
    let mut left = text.strip_prefix(head)?;
    fixed += head.len();
    loop {
        let (name, tail) = rest.split_once('}')?;
        let (literal, more) = tail.split_once('{').map_or((tail, None), |(l, m)| (l, Some(m)));
        let at = match (literal.is_empty(), more) {
            (true, None) => left.len(),
            (true, Some(_)) => return None,
            (false, None) => left.strip_suffix(literal)?.len(),
            (false, Some(_)) => left.find(literal)?,
        };
        values.push((name, left.get(..at)?));
        left = left.get(at + literal.len()..)?;
        fixed += literal.len();
        match more {
            Some(more) => rest = more,
            None => return left.is_empty().then_some((fixed, values)),
        }
    }
}

/// A choice of a field of set, site or job as people read it: signs of standards as they write them, in every language.
pub fn choice(id: &str) -> String {
    match id {
        "en_12021_2014" => "EN 12021:2014".into(),
        "cfr_1910_134_grade_d" => "29 CFR 1910.134, Grade D".into(),
        "iia" | "iib" | "iic" | "t1" | "t2" | "t3" | "t4" | "t5" | "t6" => id.to_uppercase(),
        other => {
            let english = other.replace('_', " ");
            translated(&english).map_or(english, str::to_owned)
        }
    }
}

/// Words without a place to fill in.
pub fn word(english: &'static str) -> &'static str {
    translated(english).unwrap_or(english)
}

/// The same of words that stand in a template.
pub fn form_of(forms: &str, n: u64) -> String {
    let (forms, form) = match translated(forms) {
        Some(own) => (own, Tongue::now().form(n)),
        None => (forms, Tongue::English.form(n)),
    };
    forms.split('|').nth(form).or_else(|| forms.split('|').next_back()).unwrap_or(forms).to_owned()
}

/// The form of `one|few|many` for a number.
pub fn plural(forms: &'static str, n: u64) -> &'static str {
    let (forms, form) = match translated(forms) {
        Some(own) => (own, Tongue::now().form(n)),
        None => (forms, Tongue::English.form(n)),
    };
    forms.split('|').nth(form).or_else(|| forms.split('|').next_back()).unwrap_or(forms)
}

/// Fills `{name}` in. A place nobody fills stays as it is.
pub fn fill(text: &str, values: &[(&str, &dyn Display)]) -> String {
    let mut out = String::with_capacity(text.len() + 32);
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let value = after.split_once('}').and_then(|(name, tail)| {
            let (_, value) = values.iter().find(|(n, _)| *n == name)?;
            Some((value, tail))
        });
        match value {
            Some((value, tail)) => {
                out.push_str(&value.to_string());
                rest = tail;
            }
            None => {
                out.push('{');
                rest = after;
            }
        }
    }
    out.push_str(rest);
    out
}

/// Words in the language bound here: `say!("on air")`, `say!("{who} is on air", who, line = l.seq)`. The compiler checks
/// that every place has its value and every value its place.
macro_rules! say {
    ($english:literal) => {
        $crate::tongue::word($english)
    };
    ($english:literal, $($name:ident $(= $value:expr)?),+ $(,)?) => {
        // Never run: the compiler reads it, and names a place without a value or a value without a place.
        if false {
            format!($english, $($name = $crate::tongue::say!(@ $name $(= $value)?)),+)
        } else {
            $crate::tongue::fill(
                $crate::tongue::word($english),
                &[$((stringify!($name), &$crate::tongue::say!(@ $name $(= $value)?) as &dyn std::fmt::Display)),+],
            )
        }
    };
    (@ $name:ident) => { $name };
    (@ $name:ident = $value:expr) => { $value };
}

/// The same with a number in its plural forms: `say_n!(n, "{n} hose", "{n} hoses")`. The number is `n`.
macro_rules! say_n {
    ($n:expr, $one:literal, $many:literal $(, $name:ident $(= $value:expr)?)* $(,)?) => {{
        let n = $n;
        $crate::tongue::fill(
            $crate::tongue::plural(concat!($one, "|", $many), n as u64),
            &[("n", &n as &dyn std::fmt::Display)
                $(, (stringify!($name), &$crate::tongue::say!(@ $name $(= $value)?) as &dyn std::fmt::Display))*],
        )
    }};
}

/// English words in a table that is made before any language is known; whoever shows them gives them to [`word`].
macro_rules! to_say {
    ($english:literal) => {
        $english
    };
}

pub(crate) use {say, say_n, to_say};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_filled_and_foreign_braces_stay() {
        let who = "{line}";
        assert_eq!(
            fill("{who}: line {line}, {other}", &[("who", &who), ("line", &7)]),
            "{line}: line 7, {other}"
        );
        assert_eq!(fill("a { b } {", &[]), "a { b } {");
        assert_eq!(say!("{who} at {line}", who, line = 3 + 4), "{line} at 7");
    }

    #[test]
    fn what_is_bound_is_put_back() {
        assert_eq!(Tongue::now(), Tongue::English);
        let inside = Tongue::Polish.within(|| (Tongue::Ukrainian.within(Tongue::now), Tongue::now()));
        assert_eq!(inside, (Tongue::Ukrainian, Tongue::Polish));
        let asked =
            Tongue::Polish.within_asked(|| (Tongue::asked(), Tongue::Ukrainian.within(Tongue::asked)));
        assert_eq!(asked, (Some(Tongue::Polish), None));
        let thrown =
            std::panic::catch_unwind(|| Tongue::Polish.within(|| std::panic::resume_unwind(Box::new(()))));
        assert!(thrown.is_err());
        assert_eq!(Tongue::now(), Tongue::English);
    }

    #[test]
    fn a_missing_translation_is_english_never_blank() {
        assert_eq!(
            Tongue::Polish.within(|| word("no such words stand anywhere")),
            "no such words stand anywhere"
        );
        assert_eq!(Tongue::of("pl-PL"), Some(Tongue::Polish));
        assert_eq!(Tongue::of("xx"), None);
    }

    #[test]
    fn plural_forms_are_those_of_cldr() {
        // Unicode CLDR 46, plural rules, cardinal, examples given there for each form.
        let polish: [(usize, &[u64]); 3] = [
            (0, &[1]),
            (1, &[2, 3, 4, 22, 23, 24, 32, 102, 1002]),
            (2, &[0, 5, 11, 12, 13, 14, 19, 21, 25, 100, 112, 1000]),
        ];
        let ukrainian: [(usize, &[u64]); 3] = [
            (0, &[1, 21, 31, 101, 1001]),
            (1, &[2, 3, 4, 22, 23, 24, 102, 1002]),
            (2, &[0, 5, 11, 12, 13, 14, 15, 19, 20, 100, 111, 1000]),
        ];
        for (tongue, forms) in [(Tongue::Polish, polish), (Tongue::Ukrainian, ukrainian)] {
            for (form, numbers) in forms {
                for n in numbers {
                    assert_eq!(tongue.form(*n), form, "{tongue:?} {n}");
                }
            }
        }
        assert_eq!(
            (say_n!(1, "{n} hose", "{n} hoses"), say_n!(0, "{n} hose", "{n} hoses")),
            ("1 hose".into(), "0 hoses".into())
        );
    }
}
