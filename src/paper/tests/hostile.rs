//! Texts nobody should write, put into every text of a view.

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
    for s in &mut view.sign_offs {
        [&mut s.what, &mut s.name, &mut s.person, &mut s.role].into_iter().for_each(&mut next);
        [&mut s.key, &mut s.time, &mut s.said, &mut s.hash].into_iter().for_each(&mut next);
    }
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
