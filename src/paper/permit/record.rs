//! The sheets after page one: holds, every step by stage, the day, the signatures, and where to
//! check all that.
//!
//! Always holds: every step, answer, line of the day and signature of the view is here, in order,
//! with the number of its line in the register.

use super::{BODY, HEAD, LABEL, PLAIN, Page, RULED, SMALL, STRONG};
use crate::paper::cell::{Cell, Col, Dress, Part, Row, Style, columns, level};
use crate::paper::flow::Flow;
use crate::paper::labels;
use crate::paper::shape::Sign;
use crate::paper::sheet::{Ink, Weight};
use crate::tongue::say;
use crate::view::{AnswerView, DayView, SignOff, Standing, StepView};

const FINDING: Style = Style::new(8.5, Weight::Bold, Ink::Black);
const SIGN: f32 = 8.0;

/// Everything after page one.
pub fn record(page: &Page<'_>, flow: &mut Flow<'_>) {
    // Page one is hung up by itself.
    if flow.number() == 1 {
        flow.turn();
    }
    flow.gap(12.0);
    sign_offs(page, flow);
    holds(page, flow);
    super::pictures::pictures(page, flow);
    stages(page, flow);
    day(page, flow);
    check(page, flow);
}

/// The titles of what follows page one, in order.
pub fn titles(page: &Page<'_>) -> Vec<String> {
    let view = page.view;
    let mut out = vec![signed_title().to_owned(), held_title().to_owned()];
    if !view.flags.is_empty() {
        out.push(flags_title().to_owned());
    }
    let steps = || view.stages.iter().flat_map(|s| &s.steps);
    if steps().any(|s| s.standing == Standing::OutOfService) {
        out.push(out_title().to_owned());
    }
    if !view.pictures.is_empty() {
        out.push(super::pictures::title().to_owned());
    }
    for stage in &view.stages {
        if !out.contains(&stage.form) {
            out.push(stage.form.clone());
        }
    }
    if !view.day.is_empty() {
        out.push(day_title().to_owned());
    }
    out.push(verify_title().to_owned());
    out
}

fn signed_title() -> &'static str {
    say!("Signed")
}

fn held_title() -> &'static str {
    say!("What was held, and how it was cleared")
}

fn flags_title() -> &'static str {
    say!("To look at: nothing was refused for it")
}

fn out_title() -> &'static str {
    say!("Taken out of service")
}

fn day_title() -> &'static str {
    say!("The day")
}

fn verify_title() -> &'static str {
    say!("To verify this paper against the register")
}

/// Over numbers of lines.
fn line_head() -> &'static str {
    say!("Line")
}

/// The number of a line.
fn line_no(line: crate::view::LineNo) -> String {
    say!("line {line}", line)
}

fn holds(page: &Page<'_>, flow: &mut Flow<'_>) {
    let all = Page::whole(flow);
    let steps = || page.view.stages.iter().flat_map(|s| &s.steps);
    let held = |s: &&StepView| {
        s.standing == Standing::Hold || s.answers.iter().any(|a| a.standing == Standing::Hold)
    };
    let out = |s: &&StepView| s.standing == Standing::OutOfService;
    let cols = columns(all.x, 8.0, &[12.0, 170.0, 150.0, all.w - 356.0]);
    let title = vec![page.title(all, held_title())];
    let rows: Vec<Row> = steps().filter(held).map(|s| hold(page, &cols, s)).collect();
    if rows.is_empty() {
        let row = Row::new(vec![page.cell(all, say!("No step was held."), BODY)], RULED);
        flow.table(&[all], &title, &[], &[], &[row]);
    } else {
        let heads = ["", say!("Step"), say!("What held it"), say!("What was done; what cleared it")];
        let head = page.head(&cols, &heads);
        flow.table(&cols, &title, &[page.again(all, held_title())], &[head], &rows);
    }
    flow.gap(10.0);
    if !page.view.flags.is_empty() {
        let row = |f: &String| Row::new(vec![page.cell(all, f, BODY)], RULED);
        let rows: Vec<Row> = page.view.flags.iter().map(row).collect();
        let title = flags_title();
        flow.table(&[all], &[page.title(all, title)], &[page.again(all, title)], &[], &rows);
        flow.gap(10.0);
    }
    let cols = columns(all.x, 8.0, &[12.0, 240.0, all.w - 268.0]);
    let rows: Vec<Row> = steps()
        .filter(out)
        .map(|s| {
            let why = page.cell(cols[2], &s.why, BODY);
            Row::new(vec![sign(cols[0], s.standing), named(page, cols[1], s), why], RULED)
        })
        .collect();
    if !rows.is_empty() {
        let head = page.head(&cols, &["", say!("Step"), say!("Why")]);
        flow.table(&cols, &[page.title(all, out_title())], &[page.again(all, out_title())], &[head], &rows);
        flow.gap(10.0);
    }
}

fn sign(col: Col, standing: Standing) -> Cell {
    Cell::of(col).sign(Sign::Standing(standing), SIGN, BODY.lead, Ink::Black, Ink::White)
}

fn named(page: &Page<'_>, col: Col, step: &StepView) -> Cell {
    page.cell(col, &step.ask, BODY).say(page.faces, &subject(step), LABEL)
}

/// Step id and item on one line.
fn subject(step: &StepView) -> String {
    if step.item.is_empty() { step.step.clone() } else { format!("{} · {}", step.step, step.item) }
}

fn hold(page: &Page<'_>, cols: &[Col], step: &StepView) -> Row {
    let mut what = Cell::of(cols[2]);
    let mut then = Cell::of(cols[3]);
    let mut was_held = false;
    for a in &step.answers {
        if was_held && !a.again.is_empty() {
            then = then.say(page.faces, &a.again, BODY);
        }
        match a.standing {
            Standing::Hold => {
                level(&mut [&mut what, &mut then]);
                what = what.say(page.faces, &a.value, FINDING);
                for b in &a.because {
                    what = what.say(page.faces, b, SMALL);
                }
                what = what.say(page.faces, &given(a), LABEL);
            }
            Standing::Open
            | Standing::Waiting
            | Standing::NotApplicable
            | Standing::OutOfService
            | Standing::Deviation => {
                if was_held {
                    then = then.say(page.faces, &a.value, FINDING).say(page.faces, &given(a), LABEL);
                }
            }
        }
        was_held |= a.standing == Standing::Hold;
        if !a.deviation.is_empty() {
            then = then.say(page.faces, labels::standing(Standing::Deviation), FINDING);
            then = then.say(page.faces, &a.deviation, SMALL);
        }
    }
    if step.standing == Standing::Hold {
        then = then.say(page.faces, say!("NOT CLEARED"), FINDING).say(page.faces, &step.why, SMALL);
    }
    Row::new(vec![sign(cols[0], step.standing), named(page, cols[1], step), what, then], RULED)
}

/// What the signs at the left of the steps mean, and how many steps stand so.
fn legend(page: &Page<'_>, flow: &mut Flow<'_>) {
    let all = Page::whole(flow);
    let known = [
        Standing::Open,
        Standing::Hold,
        Standing::Waiting,
        Standing::NotApplicable,
        Standing::OutOfService,
        Standing::Deviation,
    ];
    let cols = columns(all.x, 4.0, &[SIGN, 68.0].repeat(known.len()));
    let count = |s: Standing| {
        let steps = page.view.stages.iter().flat_map(|stage| &stage.steps);
        steps.filter(|step| step.standing == s).count()
    };
    let cells = known.iter().zip(cols.chunks(2)).flat_map(|(standing, pair)| {
        [
            sign(pair[0], *standing),
            page.cell(pair[1], &format!("{} {}", labels::standing(*standing), count(*standing)), BODY),
        ]
    });
    let row = Row::new(cells.collect(), PLAIN);
    // Keeps with the first stage.
    flow.keep(120.0);
    flow.row(&cols, &row, &[]);
    flow.gap(8.0);
}

/// When, by whom and on which line an answer was given.
fn given(a: &AnswerView) -> String {
    format!("{} · {} · {}", a.time, a.by, line_no(a.line))
}

fn stages(page: &Page<'_>, flow: &mut Flow<'_>) {
    if page.view.stages.is_empty() {
        return;
    }
    legend(page, flow);
    let all = Page::whole(flow);
    let widths = [12.0, 208.0, 10.0, all.w - 12.0 - 208.0 - 10.0 - 92.0 - 32.0 - 40.0, 92.0, 32.0];
    let cols = columns(all.x, 8.0, &widths);
    let mut form = None;
    for stage in &page.view.stages {
        let mut title = Vec::new();
        if form != Some(&stage.form) {
            title.push(page.title(all, &stage.form));
            form = Some(&stage.form);
        }
        let stage_title = page.cell(all, &stage.title, Style::new(10.0, Weight::Bold, Ink::Black));
        title.push(Row::new(vec![stage_title], Dress { pad: 3.0, ..PLAIN }).part(Part::Heading(3)));
        let mut head = page.head(&cols, &["", say!("Asked"), "", say!("Found"), say!("When, by whom")]);
        head.cells.push(page.cell(cols[5], line_head(), HEAD.right()));
        let rows: Vec<Row> = stage.steps.iter().map(|s| step(page, &cols, s)).collect();
        let again = page.again(all, &format!("{} · {}", stage.form, stage.title));
        flow.table(&cols, &title, &[again], &[head], &rows);
        flow.gap(8.0);
    }
}

fn step(page: &Page<'_>, cols: &[Col], step: &StepView) -> Row {
    let style = if step.critical { STRONG } else { BODY };
    let mut asked = page.cell(cols[1], &step.ask, style);
    let what =
        if step.critical { format!("{} · {}", subject(step), say!("life-critical")) } else { subject(step) };
    asked = asked.say(page.faces, &what, LABEL);
    if !step.wanted.is_empty() {
        asked = asked.say(page.faces, &say!("wanted: {condition}", condition = step.wanted), LABEL);
    }
    let (mut mark, mut found, mut when, mut line) =
        (Cell::of(cols[2]), Cell::of(cols[3]), Cell::of(cols[4]), Cell::of(cols[5]));
    let several = step.answers.len() > 1;
    for (n, a) in step.answers.iter().enumerate() {
        if n > 0 {
            found = found.space(3.0);
            level(&mut [&mut mark, &mut found, &mut when, &mut line]);
        }
        if several || a.standing != step.standing {
            mark = mark.sign(Sign::Standing(a.standing), SIGN, BODY.lead, Ink::Black, Ink::White);
        }
        (found, when, line) = answer(page, a, found, when, line);
        level(&mut [&mut mark, &mut found, &mut when, &mut line]);
    }
    let last = step.answers.last().map(|a| a.standing);
    let word = labels::standing(step.standing);
    // "not applicable because ..." says it already.
    if last != Some(step.standing) && !step.why.starts_with(word) {
        found = found.say(page.faces, word, STRONG);
    }
    found = found.say(page.faces, &step.why, SMALL);
    Row::new(vec![sign(cols[0], step.standing), asked, mark, found, when, line], RULED)
}

fn answer(page: &Page<'_>, a: &AnswerView, mut found: Cell, when: Cell, line: Cell) -> (Cell, Cell, Cell) {
    if !a.carried.is_empty() {
        found = found.say(page.faces, &a.carried, SMALL);
    }
    if !a.again.is_empty() {
        found = found.say(page.faces, &a.again, SMALL);
    }
    found = found.say(page.faces, &a.value, FINDING);
    for b in a.because.iter().chain(&a.flags) {
        found = found.say(page.faces, b, SMALL);
    }
    found = found.say(page.faces, &a.words, SMALL);
    found = found.say(page.faces, &a.told, SMALL);
    found = found.say(page.faces, &a.deviation, SMALL);
    let when = when.say(page.faces, &a.time, BODY).say(page.faces, &a.by, LABEL);
    let line = line.say(page.faces, &a.line.to_string(), BODY.right());
    (found, when, line)
}

fn day(page: &Page<'_>, flow: &mut Flow<'_>) {
    if page.view.day.is_empty() {
        return;
    }
    let all = Page::whole(flow);
    let cols = columns(all.x, 8.0, &[92.0, 10.0, all.w - 92.0 - 10.0 - 32.0 - 24.0, 32.0]);
    let mut head = page.head(&cols, &[say!("When, by whom"), "", say!("What")]);
    head.cells.push(page.cell(cols[3], line_head(), HEAD.right()));
    let rows: Vec<Row> = page.view.day.iter().map(|d| event(page, &cols, d)).collect();
    flow.table(&cols, &[page.title(all, day_title())], &[page.again(all, day_title())], &[head], &rows);
    flow.gap(10.0);
}

fn event(page: &Page<'_>, cols: &[Col], d: &DayView) -> Row {
    let mut mark = Cell::of(cols[1]);
    let mut words = page.cell(cols[2], &d.words, BODY);
    if !d.breach.is_empty() {
        mark = mark.sign(Sign::Warning, 9.0, BODY.lead, Ink::Black, Ink::White);
        words = words.say(page.faces, &d.breach, STRONG);
    }
    let line = page.cell(cols[3], &d.line.to_string(), BODY.right());
    let dress = Dress { pad: 1.5, ..RULED };
    let when = page.cell(cols[0], &d.time, BODY).say(page.faces, &d.by, LABEL);
    Row::new(vec![when, mark, words, line], dress)
}

fn sign_offs(page: &Page<'_>, flow: &mut Flow<'_>) {
    let all = Page::whole(flow);
    let title = page.title(all, signed_title());
    if page.view.sign_offs.is_empty() {
        let row = Row::new(vec![page.cell(all, say!("Nobody has signed."), STRONG)], RULED);
        flow.table(&[all], &[title], &[], &[], &[row]);
    } else {
        flow.keep(title.height() + 60.0);
        flow.row(&[all], &title, &[]);
    }
    for s in &page.view.sign_offs {
        signed(page, flow, s);
    }
    flow.gap(10.0);
}

fn signed(page: &Page<'_>, flow: &mut Flow<'_>, s: &SignOff) {
    let all = Page::whole(flow);
    let cols = columns(all.x, 10.0, &[96.0, 150.0, 130.0, all.w - 96.0 - 150.0 - 130.0 - 30.0]);
    let row = Row::new(
        vec![
            page.cell(cols[0], &s.what, Style::new(11.0, Weight::Bold, Ink::Black)),
            page.cell(cols[1], &s.name, STRONG).say(page.faces, &s.person, LABEL),
            page.cell(cols[2], &s.role, BODY).say(page.faces, &s.time, BODY),
            page.cell(cols[3], &line_no(s.line), BODY.right()),
        ],
        Dress { pad: 3.0, ..PLAIN },
    );
    flow.keep(row.height() + 30.0);
    flow.row(&cols, &row, &[]);
    let said = Col { x: all.x + 10.0, w: all.w - 14.0 };
    let dress = Dress { bar: Some(Ink::Black), side: 10.0, pad: 1.5, ..PLAIN };
    let said_cell = Cell::of(said).exactly(page.faces, &s.said, Style::new(9.0, Weight::Regular, Ink::Black));
    flow.row(&[said], &Row::new(vec![said_cell], dress), &[]);
    let cols = columns(all.x, 8.0, &[34.0, all.w - 42.0]);
    for (label, value) in [(say!("key"), &s.key), (say!("line hash"), &s.hash)] {
        let cells = vec![page.cell(cols[0], label, LABEL), page.cell(cols[1], value, LABEL.ink(Ink::Black))];
        flow.row(&cols, &Row::new(cells, Dress { pad: 0.5, ..PLAIN }), &[]);
    }
    let end = Dress { under: Some((0.4, Ink::Line)), pad: 1.5, ..PLAIN };
    flow.row(&[all], &Row::new(vec![Cell::of(all)], end), &[]);
}

fn check(page: &Page<'_>, flow: &mut Flow<'_>) {
    let view = page.view;
    let all = Page::whole(flow);
    let cols = columns(all.x, 8.0, &[70.0, all.w - 78.0]);
    let mut lines = vec![
        (say!("log"), view.log.clone()),
        (say!("as of line"), view.as_of.to_string()),
        (say!("its hash"), view.as_of_hash.clone()),
        (say!("its time (UTC)"), view.as_of_utc.clone()),
    ];
    if page.live && !view.token.is_empty() {
        lines.push((say!("token"), view.token.clone()));
    }
    lines.push((say!("drawn with"), view.drawn_with.clone()));
    let rows: Vec<Row> = lines
        .iter()
        .map(|(label, value)| {
            let value = Cell::of(cols[1]).exactly(page.faces, value, BODY);
            let cells = vec![page.cell(cols[0], label, LABEL), value];
            Row::new(cells, RULED)
        })
        .collect();
    let deep: f32 = rows.iter().map(Row::height).sum();
    flow.keep(deep.min(200.0) + 30.0);
    flow.table(&cols, &[page.title(all, verify_title())], &[], &[], &rows);
}
