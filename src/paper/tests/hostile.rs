//! Texts nobody should write, put into every text of a view.

use crate::view::Shows;
use crate::view::{CardView, PermitView};
use proptest::prelude::*;

/// Any character, with those that hurt layout more often.
pub fn character() -> impl Strategy<Value = char> {
    prop_oneof![
        any::<char>(),
        prop::sample::select(vec![
            ' ',
            ' ',
            '\n',
            '\t',
            '\r',
            '-',
            '/',
            '\u{0}',
            '\u{301}',
            '\u{202E}',
            '\u{200B}',
            '\u{A0}',
            '\u{FEFF}',
            '(',
            ')',
            '\\',
            '<',
            '&',
            'W',
            'i',
            'Ж',
            'Ω',
            '李',
            '\u{1F6D1}',
        ]),
        proptest::char::range('a', 'z'),
    ]
}

/// A few texts.
pub fn words() -> impl Strategy<Value = Vec<String>> {
    let text = proptest::collection::vec(character(), 0..100)
        .prop_map(|chars| chars.into_iter().collect::<String>());
    proptest::collection::vec(text, 1..12)
}

/// One very long word, and which text of the view it becomes.
pub fn long_word() -> impl Strategy<Value = (String, usize)> {
    (character(), 1_usize..10_000, 0_usize..120).prop_map(|(c, n, at)| (c.to_string().repeat(n), at))
}

/// Puts the words, in turn, into every text of the view but the token; the long one into one.
pub fn replace(view: &mut PermitView, words: &[String], long: &(String, usize)) {
    let mut n = 0;
    let mut next = |text: &mut String| {
        *text = if n == long.1 { long.0.clone() } else { words[n % words.len()].clone() };
        n += 1;
    };
    for text in [
        &mut view.language,
        &mut view.number,
        &mut view.state_words,
        &mut view.state_means,
        &mut view.site,
        &mut view.set,
        &mut view.place,
        &mut view.job,
        &mut view.valid_to,
        &mut view.valid_because,
        &mut view.not_an_entry_permit,
        &mut view.check_word,
        &mut view.copy,
        &mut view.log,
        &mut view.as_of_hash,
        &mut view.as_of_utc,
    ] {
        next(text);
    }
    for s in &mut view.page_one {
        [&mut s.label, &mut s.value, &mut s.note].into_iter().for_each(&mut next);
    }
    for w in &mut view.wearers {
        [&mut w.name, &mut w.person, &mut w.respirator, &mut w.escape_set].into_iter().for_each(&mut next);
        [&mut w.hose, &mut w.outlet, &mut w.tally, &mut w.since].into_iter().for_each(&mut next);
    }
    view.warnings.iter_mut().chain(&mut view.cautions).for_each(&mut next);
    for stage in &mut view.stages {
        [&mut stage.form, &mut stage.title].into_iter().for_each(&mut next);
        for step in &mut stage.steps {
            [&mut step.step, &mut step.item, &mut step.ask, &mut step.wanted, &mut step.why]
                .into_iter()
                .for_each(&mut next);
            for a in &mut step.answers {
                [&mut a.value, &mut a.time, &mut a.by, &mut a.again].into_iter().for_each(&mut next);
                a.because.iter_mut().for_each(&mut next);
            }
        }
    }
    for d in &mut view.day {
        [&mut d.time, &mut d.words, &mut d.breach].into_iter().for_each(&mut next);
    }
    for p in &mut view.pictures {
        [&mut p.title, &mut p.alt].into_iter().for_each(&mut next);
        match &mut p.shows {
            Shows::Bars(bars) => {
                for b in bars {
                    [&mut b.label, &mut b.value, &mut b.wanted].into_iter().for_each(&mut next);
                }
            }
            Shows::Columns { each, there, .. } => {
                each.iter_mut().map(|e| &mut e.1).chain([&mut there.1]).for_each(&mut next);
            }
            Shows::Times { ticks, lanes, moments, .. } => {
                ticks.iter_mut().map(|t| &mut t.1).for_each(&mut next);
                lanes.iter_mut().map(|l| &mut l.label).for_each(&mut next);
                moments.iter_mut().map(|m| &mut m.words).for_each(&mut next);
            }
            Shows::Around { wind_words, exhaust_words, words, .. } => {
                [wind_words, exhaust_words].into_iter().chain(words).for_each(&mut next);
            }
            Shows::Falls(falls) => {
                for f in falls {
                    [&mut f.label, &mut f.set.1, &mut f.mask.1, &mut f.least.1]
                        .into_iter()
                        .for_each(&mut next);
                }
            }
        }
    }
    for s in &mut view.sign_offs {
        [&mut s.what, &mut s.name, &mut s.person, &mut s.role].into_iter().for_each(&mut next);
        [&mut s.key, &mut s.time, &mut s.said, &mut s.hash].into_iter().for_each(&mut next);
    }
}

/// Puts these numbers, in turn, into every figure of the pictures.
pub fn renumber(view: &mut PermitView, numbers: &[(f32, i64)]) {
    let mut n = 0;
    let mut next = || {
        n += 1;
        numbers[n % numbers.len()]
    };
    for p in &mut view.pictures {
        match &mut p.shows {
            Shows::Bars(bars) => bars.iter_mut().for_each(|b| b.share = next().0),
            Shows::Columns { each, there, planned } => {
                each.iter_mut().for_each(|e| e.0 = next().0);
                there.0 = next().0;
                *planned = next().1 as usize;
            }
            Shows::Times { from, to, ticks, lanes, moments } => {
                (*from, *to) = (next().1, next().1);
                ticks.iter_mut().for_each(|t| t.0 = next().1);
                lanes
                    .iter_mut()
                    .flat_map(|l| &mut l.spans)
                    .for_each(|s| (s.from, s.to) = (next().1, next().1));
                moments.iter_mut().for_each(|m| m.at = next().1);
            }
            Shows::Around { wind, exhaust, .. } => (*wind, *exhaust) = (next().0, next().0),
            Shows::Falls(falls) => {
                falls
                    .iter_mut()
                    .for_each(|f| (f.set.0, f.mask.0, f.least.0) = (next().0, next().0, next().0));
            }
        }
    }
}

/// Any numbers, also those that are none.
pub fn numbers() -> impl Strategy<Value = Vec<(f32, i64)>> {
    let float = prop_oneof![any::<f32>(), Just(f32::NAN), Just(f32::INFINITY), -1.0_f32..400.0];
    let whole = prop_oneof![any::<i64>(), 1_700_000_000_i64..1_900_000_000];
    proptest::collection::vec((float, whole), 1..40)
}

/// The same into every text of a card.
pub fn replace_card(view: &mut CardView, words: &[String], long: &(String, usize)) {
    let mut n = 0;
    let mut next = |text: &mut String| {
        *text = if n == long.1 { long.0.clone() } else { words[n % words.len()].clone() };
        n += 1;
    };
    for text in [
        &mut view.language,
        &mut view.number,
        &mut view.state_words,
        &mut view.state_means,
        &mut view.site,
        &mut view.set,
        &mut view.place,
        &mut view.valid_to,
        &mut view.valid_because,
        &mut view.check_word,
        &mut view.as_of_hash,
        &mut view.as_of_utc,
        &mut view.copy,
        &mut view.not_an_entry_permit,
    ] {
        next(text);
    }
    view.rules.iter_mut().chain(&mut view.warnings).chain(&mut view.rescuers).for_each(&mut next);
    for s in
        [&mut view.signal].into_iter().chain(&mut view.calls).chain(&mut view.gauges).chain(&mut view.limits)
    {
        [&mut s.label, &mut s.value, &mut s.note].into_iter().for_each(&mut next);
    }
    for o in &mut view.orders {
        [&mut o.alarm, &mut o.order, &mut o.set].into_iter().for_each(&mut next);
    }
    for w in &mut view.wearers {
        [&mut w.name, &mut w.person, &mut w.respirator, &mut w.escape_set].into_iter().for_each(&mut next);
        [&mut w.hose, &mut w.outlet, &mut w.tally, &mut w.since].into_iter().for_each(&mut next);
    }
}
