//! Words with values in them: `Gauge of {{ item.name }}`.
//!
//! A narrow use of `minijinja`: names only. Filters, calls, subscripts, conditions and loops are refused
//! when the file is read, because they coerce silently or hide what is shown. A name that is undefined
//! when the text is shown is an error, never an empty place.

use super::Words;
use crate::finding::Place;
use crate::source::{Findings, Node, Source, Tree};
use crate::text::{nearest, quoted};
use crate::tongue::say;
use minijinja::{Environment, UndefinedBehavior, Value};
use std::collections::BTreeMap;

/// Steps the engine may take for one text.
const FUEL: u64 = 20_000;

/// A text in one or several languages, with names to be filled in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Template {
    words: Words,
    names: Vec<String>,
}

/// The names a template may use where it stands.
pub trait Names {
    /// Nothing, if this dotted name always has a value here that can be shown; else why not, in words,
    /// with a name that was perhaps meant.
    fn can_show(&self, name: &str) -> Result<(), (String, Option<String>)>;
}

/// Why a text could not be shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotShown(pub String);

impl std::fmt::Display for NotShown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for NotShown {}

/// Values for a template, by dotted name. Texts only.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Context {
    values: BTreeMap<String, String>,
}

impl Context {
    /// No values.
    pub fn new() -> Self {
        Context::default()
    }

    /// Sets the text of a dotted name: `item.name`.
    pub fn set(&mut self, name: &str, shown: &str) -> &mut Self {
        self.values.insert(name.to_owned(), shown.to_owned());
        self
    }

    /// The text of a dotted name.
    pub fn get(&self, name: &str) -> Option<&str> {
        self.values.get(name).map(String::as_str)
    }

    fn to_value(&self) -> Value {
        #[derive(Default)]
        struct Level(BTreeMap<String, Level>, Option<String>);
        fn build(l: Level) -> Value {
            match l.1 {
                Some(t) => Value::from(t),
                None => l.0.into_iter().map(|(k, v)| (k, build(v))).collect::<BTreeMap<_, _>>().into(),
            }
        }
        let mut root = Level::default();
        for (name, text) in &self.values {
            let mut at = &mut root;
            for part in name.split('.') {
                at = at.0.entry(part.to_owned()).or_default();
            }
            at.1 = Some(text.clone());
        }
        build(root)
    }
}

impl Template {
    /// Reads a text or a map of languages and checks every name in it.
    pub fn read(
        node: &Node,
        language: &str,
        source: &Source,
        known: &dyn Names,
        out: &mut Findings,
    ) -> Option<Template> {
        let before = out.error_count();
        let words = Words::read(node, language, out)?;
        let mut names: Vec<String> = Vec::new();
        for (lang, text) in words.texts() {
            let holder = match &node.tree {
                Tree::Map(_) => node.get(lang).unwrap_or(node),
                Tree::Scalar(..) | Tree::Seq(_) => node,
            };
            for found in check(text, known) {
                match found {
                    Ok(name) => {
                        if !names.contains(&name) {
                            names.push(name);
                        }
                    }
                    Err(bad) => bad.tell(source.place_in(holder, bad.at), out),
                }
            }
        }
        (out.error_count() == before).then_some(Template { words, names })
    }

    /// A text without names, from words of the program's own.
    pub fn fixed(words: Words) -> Template {
        Template { words, names: Vec::new() }
    }

    /// The names it fills in, each once.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// The words as written, names not filled in.
    pub fn words(&self) -> &Words {
        &self.words
    }

    /// The text in a language with every name filled in.
    ///
    /// # Errors
    /// If a name has no value.
    pub fn render(&self, language: &str, context: &Context) -> Result<String, NotShown> {
        let text = self.words.get(language);
        if !text.contains('{') {
            return Ok(text.to_owned());
        }
        if let Some(missing) = self.names.iter().find(|n| context.get(n).is_none()) {
            return Err(NotShown(say!(
                "nothing is known of `{missing}`, which the text {text} names",
                missing,
                text = quoted(text, 60)
            )));
        }
        let env = environment();
        env.render_str(text, context.to_value()).map_err(|e| NotShown(e.to_string()))
    }
}

fn environment() -> Environment<'static> {
    let mut env = Environment::empty();
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.set_fuel(Some(FUEL));
    env.set_debug(true);
    // Plain text goes out: escaping belongs to whoever writes a page.
    env.set_auto_escape_callback(|_| minijinja::AutoEscape::None);
    env
}

struct Bad {
    code: &'static str,
    at: usize,
    message: String,
    hint: Option<String>,
}

impl Bad {
    fn tell(&self, place: Place, out: &mut Findings) {
        out.error(self.code, place, self.message.clone()).hint.clone_from(&self.hint);
    }
}

/// Every name of a text, or what is wrong with it.
fn check(text: &str, known: &dyn Names) -> Vec<Result<String, Bad>> {
    let mut found = Vec::new();
    let bad = |code, at, message: &str, hint: &str| {
        Err(Bad { code, at, message: message.to_owned(), hint: (!hint.is_empty()).then(|| hint.to_owned()) })
    };
    let mut at = 0;
    while let Some(i) = text.get(at..).and_then(|t| t.find(['{', '}'])).map(|i| at + i) {
        let rest = &text[i..];
        if rest.starts_with("{%") || rest.starts_with("{#") {
            found.push(bad(
                "template-not-plain",
                i,
                say!("words only fill in names; conditions, loops and comments are refused"),
                say!("use `when`, or another step"),
            ));
            return found;
        }
        if let Some(inside) = rest.strip_prefix("{{") {
            let Some(end) = inside.find("}}") else {
                found.push(bad(
                    "template-syntax",
                    i,
                    &unpaired("`{{`", "`}}`"),
                    say!("write {{ item.name }}"),
                ));
                return found;
            };
            let name = inside[..end].trim();
            let name_at = i + 2 + (inside[..end].len() - inside[..end].trim_start().len());
            if !is_dotted(name) {
                let message = say!(
                    "{got} is not a plain name; filters, calls and arithmetic are refused in words",
                    got = quoted(name, 40)
                );
                found.push(bad("template-not-plain", name_at, &message, say!("write {{ item.name }}")));
            } else if let Err((message, meant)) = known.can_show(name) {
                let hint = meant.map(|m| say!("did you mean `{near}`?", near = m));
                found.push(Err(Bad { code: "template-name", at: name_at, message, hint }));
            } else {
                found.push(Ok(name.to_owned()));
            }
            at = i + 2 + end + 2;
            continue;
        }
        if rest.starts_with("}}") {
            found.push(bad("template-syntax", i, &unpaired("`}}`", "`{{`"), say!("write {{ item.name }}")));
            at = i + 2;
            continue;
        }
        at = i + 1;
    }
    if found.iter().all(Result::is_ok)
        && let Some(e) = engine_disagrees(text, &found)
    {
        found.push(e);
    }
    found
}

/// The template engine must see the same names as we do: two readings of one text.
fn engine_disagrees(text: &str, found: &[Result<String, Bad>]) -> Option<Result<String, Bad>> {
    if !text.contains('{') {
        return None;
    }
    let message = match environment().template_from_str(text) {
        Err(e) => quoted(&e.to_string(), 120),
        Ok(t) => {
            let theirs = t.undeclared_variables(true);
            let ours: Vec<&str> = found.iter().filter_map(|r| r.as_ref().ok()).map(String::as_str).collect();
            if theirs.len() <= ours.len() && theirs.iter().all(|n| ours.contains(&n.as_str())) {
                return None;
            }
            say!("the template engine reads other names than stand here").to_owned()
        }
    };
    Some(Err(Bad { code: "template-syntax", at: 0, message, hint: None }))
}

fn unpaired(opened: &str, closed: &str) -> String {
    say!("{opened} without {closed}", opened, closed)
}

fn is_dotted(name: &str) -> bool {
    !name.is_empty()
        && name.split('.').all(|p| {
            p.bytes().next().is_some_and(|b| b.is_ascii_lowercase())
                && p.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
                && !matches!(
                    p,
                    "true"
                        | "false"
                        | "none"
                        | "not"
                        | "and"
                        | "or"
                        | "in"
                        | "is"
                        | "if"
                        | "else"
                        | "loop"
                        | "self"
                )
        })
}

/// Names given as a plain list: for tests and for texts of the program's own.
impl Names for &[&str] {
    fn can_show(&self, name: &str) -> Result<(), (String, Option<String>)> {
        if self.contains(&name) {
            return Ok(());
        }
        Err((
            say!("nothing is called `{name}` here", name),
            nearest(name, self.iter().copied()).map(str::to_owned),
        ))
    }
}
