//! A file to a [`Checklist`]: head, stages, and the checks that need the whole.

use super::scope::{Before, Here, StepName, Tables};
use super::{Checklist, Purpose, Reading, Stage, Step, languages, rules, step, wire};
use crate::gate::Gate;
use crate::source::{Findings, Node, Source, Tree, typed};
use crate::text::{nearest, quoted};
use crate::tongue::say;
use crate::words::{DEFAULT_LANGUAGE, Words, is_language};
use foldhash::HashMap;

/// Keys of the head.
const HEAD: [&str; 7] = ["checklist", "revision", "title", "language", "for", "must", "stages"];
/// Keys of a stage.
const STAGE: [&str; 6] = ["stage", "title", "when", "needs", "any_order", "steps"];
/// The highest revision.
const MOST_REVISION: u32 = 999_999;

/// What reading needs everywhere.
pub(super) struct Reader<'a> {
    pub source: &'a Source,
    pub tables: &'a Tables,
    pub language: String,
    /// What the form is for; `None` where the file does not say it well.
    pub purpose: Option<Purpose>,
    /// Every step id of the file with its line.
    pub all: Vec<(String, u32)>,
    /// The steps read so far.
    pub before: Before,
    pub out: Findings,
}

impl Reader<'_> {
    /// What is in sight of an expression.
    pub fn here<'b>(
        &'b self,
        own: Option<&'b StepName>,
        each: Option<&'b super::Each>,
        whens: &'b [Option<Gate>],
    ) -> Here<'b> {
        Here { tables: self.tables, before: &self.before, all: &self.all, own, each, whens }
    }

    /// Reads a condition; problems are placed in the file's own lines and columns.
    pub fn gate(
        &mut self,
        node: &Node,
        own: Option<&StepName>,
        each: Option<&super::Each>,
        whens: &[Option<Gate>],
    ) -> Option<Gate> {
        let text = crate::words::one_text(node, &mut self.out)?;
        match Gate::parse(&text, &self.here(own, each, whens)) {
            Ok(g) => Some(g),
            Err(problems) => {
                self.problems(node, problems);
                None
            }
        }
    }

    /// Adds the problems of an expression, each at its own place.
    pub fn problems(&mut self, node: &Node, problems: Vec<crate::gate::Problem>) {
        for p in problems {
            let place = self.source.place_in(node, p.at);
            self.out.error(p.code, place, p.message).hint = p.hint;
        }
    }
}

/// Reads a checklist.
pub(super) fn read(file: &str, bytes: &[u8], tables: &Tables) -> Reading {
    let (source, findings) = Source::read(file, bytes);
    let Some(source) = source else {
        return Reading { checklist: None, findings };
    };
    let mut out = Findings::new(file);
    findings.into_iter().for_each(|f| {
        out.push(f);
    });
    let mut r = Reader {
        source: &source,
        tables,
        language: DEFAULT_LANGUAGE.to_owned(),
        purpose: None,
        all: Vec::new(),
        before: Before::default(),
        out,
    };
    let checklist = head(&mut r);
    if let Some(c) = &checklist {
        rules::whole(c, source.root(), &mut r.out);
        languages::tell(source.root(), &c.language, &mut r.out);
        if !r.out.any_error()
            && let Some((at, message)) = wire::differs(&source, &c.stages)
        {
            r.out.error("parsers-disagree", at, crate::text::safe_line(&message).into_owned());
        }
    }
    let good = checklist.filter(|_| !r.out.any_error());
    Reading { checklist: good, findings: r.out.into_vec() }
}

fn head(r: &mut Reader) -> Option<Checklist> {
    let source = r.source;
    let root = typed::known_keys(source.root(), say!("a checklist"), &HEAD, &mut r.out)?;
    let what = say!("the checklist");
    let id = typed::wanted(root, "checklist", what, &mut r.out)
        .and_then(|n| typed::id(n, say!("checklist id"), &mut r.out));
    let revision = typed::wanted(root, "revision", what, &mut r.out)
        .and_then(|n| typed::whole(n, 1, MOST_REVISION, &mut r.out));
    if let Some(n) = root.get("language")
        && let Some(t) = typed::scalar(n, say!("a language tag"), &mut r.out)
    {
        if is_language(t) {
            r.language = t.to_owned();
        } else {
            r.out.hinted(
                "bad-language",
                n,
                say!("{got} is not a language tag", got = quoted(t, 20)),
                say!("write `en`, `pl`, `pt-BR`"),
            );
        }
    }
    let language = r.language.clone();
    let title =
        typed::wanted(root, "title", what, &mut r.out).and_then(|n| Words::read(n, &language, &mut r.out));
    let purpose = typed::wanted(root, "for", what, &mut r.out).and_then(|n| purpose(n, &mut r.out));
    r.purpose = purpose;
    let stages = typed::wanted(root, "stages", what, &mut r.out).and_then(|n| stages(n, r));
    let must = root.get("must").map_or(Some(Vec::new()), |n| must(n, r));
    let stages = stages?;
    let mut places = HashMap::default();
    for (at, stage) in stages.iter().enumerate() {
        for (place, step) in stage.steps.iter().enumerate() {
            // Of two with one id, which is an error, the first counts.
            places.entry(step.id.clone()).or_insert((at, place));
        }
    }
    Some(Checklist {
        id: id?,
        revision: revision?,
        title: title?,
        language,
        purpose: purpose?,
        must: must?,
        stages,
        places,
        text: source.text().to_owned(),
        sha256: source.sha256().to_owned(),
    })
}

fn purpose(n: &Node, out: &mut Findings) -> Option<Purpose> {
    match typed::scalar(n, say!("work or shutdown"), out)? {
        "work" => Some(Purpose::Work),
        "shutdown" => Some(Purpose::Shutdown),
        other => {
            out.hinted(
                "unknown-choice",
                n,
                say!("{got}; a form is for work or for shutdown", got = quoted(other, 40)),
                say!("write `for: work` or `for: shutdown`"),
            );
            None
        }
    }
}

fn must(n: &Node, r: &mut Reader) -> Option<Vec<String>> {
    let mut ids = Vec::new();
    for item in typed::list(n, say!("a list of step ids"), &mut r.out)? {
        let Some(id) = typed::name(item, say!("step id"), &mut r.out) else {
            continue;
        };
        if !r.all.iter().any(|(a, _)| *a == id) {
            let hint = nearest(&id, r.all.iter().map(|(a, _)| a.as_str()))
                .map(|m| say!("did you mean `{near}`?", near = m));
            r.out.error("must-missing", item, say!("the step `{id}` must be there, and is not", id)).hint =
                hint;
        }
        ids.push(id);
    }
    Some(ids)
}

/// The ids of all steps, before anything else is looked at, for forward references.
fn all_ids(nodes: &[Node]) -> Vec<(String, u32)> {
    let text = |n: Option<&Node>| match n.map(|n| (&n.tree, n.line)) {
        Some((Tree::Scalar(t, _), line)) => Some((t.clone(), line)),
        Some((Tree::Map(_) | Tree::Seq(_), _)) | None => None,
    };
    let steps = nodes.iter().filter_map(|s| match &s.get("steps")?.tree {
        Tree::Seq(steps) => Some(steps),
        Tree::Map(_) | Tree::Scalar(..) => None,
    });
    steps.flatten().filter_map(|s| text(s.get("step"))).collect()
}

fn stages(node: &Node, r: &mut Reader) -> Option<Vec<Stage>> {
    let nodes = typed::list(node, say!("a list of stages"), &mut r.out)?;
    if nodes.is_empty() {
        r.out.error("nothing-asked", node, say!("there is no stage"));
        return None;
    }
    r.all = all_ids(nodes);
    super::cycles::tell(nodes, &mut r.out);
    let later: Vec<(String, u32)> = nodes.iter().filter_map(stage_id).collect();
    let mut ids: Vec<(String, u32)> = Vec::new();
    let mut stages = Vec::new();
    let mut good = true;
    for n in nodes {
        match stage(n, &mut ids, &later, r) {
            Some(s) => stages.push(s),
            None => good = false,
        }
    }
    good.then_some(stages)
}

/// Id and line of a stage.
fn stage_id(n: &Node) -> Option<(String, u32)> {
    let n = n.get("stage")?;
    match &n.tree {
        Tree::Scalar(t, _) => Some((t.clone(), n.line)),
        Tree::Map(_) | Tree::Seq(_) => None,
    }
}

fn stage(node: &Node, ids: &mut Vec<(String, u32)>, all: &[(String, u32)], r: &mut Reader) -> Option<Stage> {
    let node = typed::known_keys(node, say!("a stage"), &STAGE, &mut r.out)?;
    let id_node = typed::wanted(node, "stage", say!("the stage"), &mut r.out);
    let id = id_node.and_then(|n| typed::name(n, say!("stage id"), &mut r.out));
    let what = id.as_ref().map_or_else(|| say!("the stage").to_owned(), |i| say!("the stage `{i}`", i));
    let language = r.language.clone();
    let title =
        typed::wanted(node, "title", &what, &mut r.out).and_then(|n| Words::read(n, &language, &mut r.out));
    let needs = match node.get("needs") {
        Some(n) => needs(n, id.as_deref(), ids, all, &mut r.out).map(Some),
        None => Some(None),
    };
    let any_order = node.get("any_order").map_or(Some(false), |n| typed::truth(n, &mut r.out));
    let when = match node.get("when") {
        Some(n) => r.gate(n, None, None, &[]).map(Some),
        None => Some(None),
    };
    if let (Some(id), Some(n)) = (&id, id_node) {
        if let Some((_, line)) = ids.iter().find(|(i, _)| i == id) {
            r.out.error(
                "duplicate-id",
                n,
                say!("the stage `{id}` stands twice; first in line {line}", id, line),
            );
        }
        ids.push((id.clone(), n.line));
    }
    let whens: Vec<Option<Gate>> = match &when {
        Some(None) => Vec::new(),
        Some(Some(g)) => vec![Some(g.clone())],
        None => vec![None],
    };
    let mut steps: Vec<Step> = Vec::new();
    let mut good = true;
    let list = typed::wanted(node, "steps", &what, &mut r.out).and_then(|n| {
        let l = typed::list(n, say!("a list of steps"), &mut r.out)?;
        if l.is_empty() {
            r.out.error("nothing-asked", n, say!("{what} has no step", what));
        }
        Some(l)
    });
    for n in list? {
        match step::read(n, &whens, r) {
            Some(s) => steps.push(s),
            None => good = false,
        }
    }
    let stage = Stage {
        id: id?,
        title: title?,
        when: when?,
        needs: needs?,
        any_order: any_order?,
        steps,
        place: r.source.place(node),
    };
    good.then_some(stage)
}

fn needs(
    n: &Node,
    own: Option<&str>,
    earlier: &[(String, u32)],
    all: &[(String, u32)],
    out: &mut Findings,
) -> Option<Vec<String>> {
    let mut ids = Vec::new();
    let mut good = true;
    for item in typed::list(n, say!("a list of stage ids"), out)? {
        let Some(id) = typed::name(item, say!("stage id"), out) else {
            good = false;
            continue;
        };
        if !earlier.iter().any(|(e, _)| *e == id) {
            let message = if own == Some(id.as_str()) {
                say!("the stage `{id}` cannot need itself", id)
            } else if let Some((_, line)) = all.iter().find(|(a, _)| *a == id) {
                say!(
                    "the stage `{id}` (line {line}) stands after this one; only stages before it can be needed",
                    id,
                    line
                )
            } else {
                say!("no stage before this one is called `{id}`", id)
            };
            let hint = nearest(&id, earlier.iter().map(|(e, _)| e.as_str()))
                .map(|m| say!("did you mean `{near}`?", near = m));
            out.error("unknown-stage", item, message).hint = hint;
            good = false;
        }
        ids.push(id);
    }
    good.then_some(ids)
}
