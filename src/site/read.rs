//! Files, and jobs out of a register, to [`Values`], by the tables of `fields`.
//!
//! Always: every key is in the table and every required field is there; every value is of its kind and
//! within its range; all that is wrong is found at once, each with its path in words.

use super::values::{Entry, Held, Raw, Values, Written};
use super::{Field, File, Holds, Kind, Need, Read, cross, fields, is_worked_out};
use crate::source::{Findings, Node, Source, Style, Tree, typed};
use crate::text::{forbidden_in_line, listed, nearest, quoted};
use crate::tongue::say;
use crate::units::{Decimal, Quantity, Refused, Unit, read_span};
use crate::words::{DEFAULT_LANGUAGE, Words, is_language, one_text};
use jiff::civil::{Date, Time};
use std::sync::Arc;

/// The longest one-line text, in characters.
const MOST_TEXT: usize = 200;
/// The most items of a list.
const MOST_ITEMS: usize = 500;

/// Reads a set file.
pub fn read_set(file: &str, bytes: &[u8]) -> Read {
    read(Kind::Set, fields::SET, file, bytes)
}

/// Reads a site file.
pub fn read_site(file: &str, bytes: &[u8]) -> Read {
    read(Kind::Site, fields::SITE, file, bytes)
}

/// Reads a job file.
pub fn read_job(file: &str, bytes: &[u8]) -> Read {
    read(Kind::Job, fields::JOB, file, bytes)
}

/// Reads a file by any table.
pub(super) fn read(kind: Kind, table: &'static [Field], file: &str, bytes: &[u8]) -> Read {
    let (source, findings) = Source::read(file, bytes);
    let Some(source) = source else {
        return Read { file: None, findings };
    };
    let mut out = Findings::new(file);
    for f in findings {
        out.push(f);
    }
    let mut r = Reader { out: &mut out, language: language(source.root()), from_record: false };
    let first = match &source.root().tree {
        Tree::Map(m) => m.first().map(|(k, _)| k),
        Tree::Scalar(..) | Tree::Seq(_) => None,
    };
    if let Some(k) = first
        && k.text != kind.as_str()
    {
        r.out.hinted(
            "wrong-kind",
            k,
            say!(
                "the first key is {got}; a {kind} file begins with `{first}:`",
                got = quoted(&k.text, 40),
                kind = kind.as_str(),
                first = kind.as_str()
            ),
            say!("put it first"),
        );
    }
    let values = r.values(source.root(), table, "", Some(kind));
    if let Some(v) = &values {
        cross::check(kind, v, source.root(), &mut out);
        if kind == Kind::Job {
            cross::job_file(v, source.root(), &mut out);
        }
    }
    let file = values.filter(|_| !out.any_error()).map(|values| File::new(kind, values, &source));
    Read { file, findings: out.into_vec() }
}

/// The language texts of a file are in: its `language`, if it has a good one.
fn language(root: &Node) -> String {
    match root.get("language").map(|n| &n.tree) {
        Some(Tree::Scalar(t, _)) if is_language(t) => t.clone(),
        Some(Tree::Scalar(..) | Tree::Map(_) | Tree::Seq(_)) | None => DEFAULT_LANGUAGE.to_owned(),
    }
}

impl Values {
    /// Values from a register, checked as a file is. `what` names them in messages.
    ///
    /// # Errors
    /// Every finding; their places have no line.
    pub fn read_map(
        table: &'static [Field],
        what: &str,
        raw: &[(String, Raw)],
    ) -> Result<Values, Vec<crate::finding::Finding>> {
        let mut out = Findings::new(what);
        let node = map_node(raw, &mut out, 0);
        let mut r = Reader { out: &mut out, language: DEFAULT_LANGUAGE.to_owned(), from_record: true };
        let values = r.values(&node, table, "", None);
        if let Some(v) = &values
            && std::ptr::eq(table, fields::JOB)
        {
            cross::check(Kind::Job, v, &node, &mut out);
        }
        match values {
            Some(v) if !out.any_error() => Ok(v),
            Some(_) | None => Err(out.into_vec()),
        }
    }
}

fn map_node(raw: &[(String, Raw)], out: &mut Findings, depth: usize) -> Node {
    let mut entries: Vec<(crate::source::Key, Node)> = Vec::new();
    for (name, value) in raw {
        if entries.iter().any(|(k, _)| k.text == *name) {
            out.error("duplicate-key", (0, 0), say!("{key} stands twice", key = quoted(name, 48)));
            continue;
        }
        entries.push((
            crate::source::Key { text: name.clone(), line: 0, column: 0 },
            raw_node(value, out, depth + 1),
        ));
    }
    Node { tree: Tree::Map(entries), line: 0, column: 0 }
}

fn raw_node(raw: &Raw, out: &mut Findings, depth: usize) -> Node {
    if depth > crate::source::MOST_DEPTH {
        out.error("too-deep", (0, 0), say!("nested too deep"));
        return Node { tree: Tree::Seq(Vec::new()), line: 0, column: 0 };
    }
    let tree = match raw {
        Raw::Text(t) => Tree::Scalar(t.clone(), Style::Quoted),
        Raw::Bool(b) => Tree::Scalar(if *b { "true" } else { "false" }.to_owned(), Style::Plain),
        Raw::Int(n) => Tree::Scalar(n.to_string(), Style::Plain),
        Raw::List(items) => Tree::Seq(items.iter().map(|i| raw_node(i, out, depth + 1)).collect()),
        Raw::Map(m) => return map_node(m, out, depth),
    };
    Node { tree, line: 0, column: 0 }
}

struct Reader<'a> {
    out: &'a mut Findings,
    language: String,
    /// Numbers come as texts there; in files they stand without quotes.
    from_record: bool,
}

impl Reader<'_> {
    /// The values of a map by its table. `path` ends with a dot, or is empty.
    fn values(
        &mut self,
        node: &Node,
        table: &'static [Field],
        path: &str,
        root: Option<Kind>,
    ) -> Option<Values> {
        let Tree::Map(given) = &node.tree else {
            let what = path.trim_end_matches('.');
            self.out.error(
                "wrong-type",
                node,
                say!("`{what}` is {got}; wanted: a map (keys with values)", what, got = node.described()),
            );
            return None;
        };
        // In a job file the words after `job:` are the field `what`.
        let name_of = |key: &str| -> Option<&'static str> {
            let name = if root == Some(Kind::Job) && key == "job" { "what" } else { key };
            table
                .iter()
                .find(|f| f.name == name && !(root == Some(Kind::Job) && key == "what"))
                .map(|f| f.name)
        };
        let mut good = true;
        for (key, _) in given {
            if self.out.full() {
                break;
            }
            if name_of(&key.text).is_none() {
                let names = table.iter().filter(|f| !is_worked_out(f)).map(|f| f.name);
                let hint = nearest(&key.text, names).map(|m| say!("did you mean `{near}`?", near = m));
                self.out
                    .error(
                        "unknown-key",
                        key,
                        say!(
                            "there is no field `{path}{key}`",
                            path,
                            key = crate::text::safe_line(&key.text)
                        ),
                    )
                    .hint = hint;
                good = false;
            }
        }
        let mut entries = Vec::new();
        for field in table {
            let found = given.iter().find(|(k, _)| name_of(&k.text) == Some(field.name));
            match self.entry(found, field, node, path, root) {
                Ok(Some(e)) => entries.push(e),
                Ok(None) => {}
                Err(()) => good = false,
            }
        }
        good.then(|| Values { entries: Arc::new(entries) })
    }

    fn entry(
        &mut self,
        found: Option<&(crate::source::Key, Node)>,
        field: &'static Field,
        parent: &Node,
        path: &str,
        root: Option<Kind>,
    ) -> Result<Option<Entry>, ()> {
        let full = format!("{path}{}", field.name);
        if let Some((key, node)) = found {
            if is_worked_out(field) {
                self.out.hinted(
                    "worked-out",
                    key,
                    say!("`{full}` is worked out, and is not given", full),
                    say!("remove it"),
                );
                return Err(());
            }
            return self
                .held(node, field.holds, &full)
                .map(|held| Some(Entry { field, held, default: false }))
                .ok_or(());
        }
        match field.need {
            Need::Optional => Ok(None),
            Need::Required => {
                let key = if root == Some(Kind::Job) && field.name == "what" { "job" } else { field.name };
                self.out.hinted(
                    "missing-key",
                    parent,
                    say!(
                        "`{path}{key}` is missing: {what}",
                        path,
                        key,
                        what = crate::tongue::word(field.doc)
                    ),
                    say!("add `{key}: ...`", key),
                );
                Err(())
            }
            Need::Default(text) => {
                let before = std::mem::replace(&mut self.from_record, true);
                let plain = matches!(field.holds, Holds::Bool);
                let style = if plain { Style::Plain } else { Style::Quoted };
                let node = Node {
                    tree: Tree::Scalar(text.to_owned(), style),
                    line: parent.line,
                    column: parent.column,
                };
                let held = self.held(&node, field.holds, &full);
                self.from_record = before;
                held.map(|held| Some(Entry { field, held, default: true })).ok_or(())
            }
        }
    }

    fn held(&mut self, node: &Node, holds: Holds, path: &str) -> Option<Held> {
        match holds {
            Holds::Id => typed::id(node, "id", self.out).map(Held::Id),
            // What a register holds was judged when it was written.
            Holds::Words | Holds::Text
                if !self.from_record && !super::unseen::check(node, path, self.out) =>
            {
                None
            }
            Holds::Words => self.words(node).map(Held::Words),
            Holds::Text => self.line(node, path).map(Held::Text),
            Holds::Bool => typed::truth(node, self.out).map(Held::Bool),
            Holds::Choice(offered) => self.choice(node, offered, path).map(Held::Choice),
            Holds::Number(from, to) => self.number(node, from, to, path).map(Held::Number),
            Holds::Quantity(dimension, from, to) => {
                self.quantity(node, dimension, from, to, path).map(Held::Quantity)
            }
            Holds::Date => {
                let t = typed::scalar(node, say!("a date"), self.out)?;
                let shaped = t.len() == 10
                    && t.bytes()
                        .enumerate()
                        .all(|(i, b)| if i == 4 || i == 7 { b == b'-' } else { b.is_ascii_digit() });
                let date = if shaped { t.parse::<Date>().ok() } else { None };
                if date.is_none() {
                    self.out.hinted(
                        "bad-date",
                        node,
                        say!("`{path}` is {got}; wanted: a date", path, got = quoted(t, 40)),
                        say!("write 2026-11-25: year, month, day"),
                    );
                }
                date.map(Held::Date)
            }
            Holds::Span => {
                let t = typed::scalar(node, say!("a span"), self.out)?;
                let (months, days) =
                    read_span(t).map_err(|e| self.refused("bad-span", node, path, e)).ok()?;
                Some(Held::Span { months, days })
            }
            Holds::TimeOfDay => {
                let t = typed::scalar(node, say!("a time of day"), self.out)?;
                let time = time_of_day(t);
                if time.is_none() {
                    self.out.hinted(
                        "bad-time",
                        node,
                        say!("`{path}` is {got}; wanted: a time of day", path, got = quoted(t, 40)),
                        say!("write 18:00, 06:30"),
                    );
                }
                time.map(Held::TimeOfDay)
            }
            Holds::Items(table) => self.items(node, table, path).map(Held::Items),
            Holds::Map(table) => self.values(node, table, &format!("{path}."), None).map(Held::Map),
            Holds::Texts => {
                let nodes = typed::list(node, say!("a list of texts"), self.out)?;
                let texts: Vec<Option<String>> = nodes.iter().map(|n| self.line(n, path)).collect();
                texts.into_iter().collect::<Option<Vec<_>>>().map(Held::Texts)
            }
        }
    }

    fn words(&mut self, node: &Node) -> Option<Words> {
        if self.from_record
            && let Tree::Map(m) = &node.tree
            && let Some((k, _)) = m.first()
        {
            // A register keeps the languages as they were; the first was the file's own.
            return Words::read(node, &k.text.clone(), self.out);
        }
        Words::read(node, &self.language.clone(), self.out)
    }

    fn line(&mut self, node: &Node, path: &str) -> Option<String> {
        let text = one_text(node, self.out)?;
        if text.chars().any(forbidden_in_line) || text.chars().nth(MOST_TEXT).is_some() {
            self.out.error(
                "too-long",
                node,
                say!("`{path}` must be one line of at most {MOST_TEXT} characters", path, MOST_TEXT),
            );
            return None;
        }
        Some(crate::text::nfc(&text).into_owned())
    }

    fn choice(&mut self, node: &Node, offered: &[&str], path: &str) -> Option<String> {
        let t = typed::scalar(node, say!("a word"), self.out)?;
        if offered.contains(&t) {
            return Some(t.to_owned());
        }
        let hint = match nearest(t, offered.iter().copied()) {
            Some(m) => say!("did you mean `{near}`?", near = m),
            None => say!("write {words}", words = listed(offered, say!("or"))),
        };
        self.out.hinted(
            "unknown-choice",
            node,
            say!(
                "`{path}` is {got}; wanted: {wanted}",
                path,
                got = quoted(t, 40),
                wanted = listed(offered, say!("or"))
            ),
            hint,
        );
        None
    }

    fn number(&mut self, node: &Node, from: &str, to: &str, path: &str) -> Option<Decimal> {
        if !self.from_record {
            typed::number(node, self.out)?;
        }
        let t = typed::scalar(node, say!("a number"), self.out)?;
        let d = Decimal::kept(t).map_err(|e| self.refused("bad-number", node, path, e)).ok()?;
        let inside = |l: &str, low: bool| {
            Decimal::kept(l)
                .is_ok_and(|l| if low { d.to_exact() >= l.to_exact() } else { d.to_exact() <= l.to_exact() })
        };
        if !inside(from, true) || !inside(to, false) {
            let hint =
                if inside(from, true) { say!("at most {to}", to) } else { say!("at least {from}", from) };
            let message = say!("`{path}` is {got}; wanted: from {from} to {to}", path, got = d, from, to);
            self.out.hinted("out-of-range", node, message, hint);
            return None;
        }
        Some(d)
    }

    fn quantity(
        &mut self,
        node: &Node,
        dimension: crate::units::Dimension,
        from: &str,
        to: &str,
        path: &str,
    ) -> Option<Written> {
        let t = typed::scalar(node, say!("a quantity with its unit"), self.out)?;
        let (quantity, number, unit) = match Quantity::read_with_unit(t) {
            Ok(read) => read,
            Err(mut e) => {
                // An example of what is wanted here says more than one of anything.
                if e.hint.as_deref() == Some(crate::units::examples()) {
                    e.hint = Some(say!("write the number with its unit, from {from} to {to}", from, to));
                }
                self.refused("bad-quantity", node, path, e);
                return None;
            }
        };
        // The record keeps `150 bar` in one form only: what is written is what is read back.
        let Some(unit) = unit.filter(|u: &Unit| u.dimension() == dimension) else {
            let hint = say!("write the number with its unit, from {from} to {to}", from, to);
            self.out.hinted(
                "wrong-dimension",
                node,
                say!(
                    "`{path}` is {got}; wanted: {wanted}",
                    path,
                    got = quoted(t, 40),
                    wanted = dimension.words()
                ),
                hint,
            );
            return None;
        };
        let at_least = Quantity::read(from)
            .ok()
            .and_then(|l| quantity.compare(&l))
            .is_some_and(std::cmp::Ordering::is_ge);
        let at_most =
            Quantity::read(to).ok().and_then(|l| quantity.compare(&l)).is_some_and(std::cmp::Ordering::is_le);
        if !at_least || !at_most {
            let end = if at_least { say!("at most {to}", to) } else { say!("at least {from}", from) };
            self.out.hinted(
                "out-of-range",
                node,
                say!("`{path}` is {got}; wanted: from {from} to {to}", path, got = quoted(t, 40), from, to),
                say!("{end}; compare figure and unit with where it was read", end),
            );
            return None;
        }
        Some(Written { quantity, number, unit })
    }

    fn items(&mut self, node: &Node, table: &'static [Field], path: &str) -> Option<Vec<Values>> {
        let nodes = typed::list(node, say!("a list of items"), self.out)?;
        if nodes.len() > MOST_ITEMS {
            self.out.hinted(
                "out-of-range",
                node,
                say!(
                    "`{path}` has {n} items; wanted: at most {MOST_ITEMS}",
                    path,
                    n = nodes.len(),
                    MOST_ITEMS
                ),
                say!("list what is used here alone"),
            );
            return None;
        }
        let mut items: Vec<Values> = Vec::new();
        let mut good = true;
        for (n, item) in nodes.iter().enumerate() {
            let Some(v) = self.values(item, table, &format!("{path}[{}].", n + 1), None) else {
                good = false;
                continue;
            };
            if !v.id().is_empty() && items.iter().any(|i| i.id() == v.id()) {
                let at = item.get("id").or_else(|| item.get("person")).unwrap_or(item);
                self.out.hinted(
                    "duplicate-id",
                    at,
                    say!("`{item}` stands twice in `{path}`", item = v.id(), path),
                    say!("give each its own id"),
                );
                good = false;
            }
            items.push(v);
        }
        good.then_some(items)
    }

    fn refused(&mut self, code: &'static str, node: &Node, path: &str, e: Refused) {
        self.out.error(code, node, format!("`{path}`: {}", crate::text::safe_line(&e.message))).hint = e.hint;
    }
}

fn time_of_day(t: &str) -> Option<Time> {
    let (h, m) = t.split_once(':')?;
    let two = |s: &str| {
        (s.len() == 2 && s.bytes().all(|b| b.is_ascii_digit())).then(|| s.parse::<i8>().ok()).flatten()
    };
    Time::new(two(h)?, two(m)?, 0, 0).ok()
}
