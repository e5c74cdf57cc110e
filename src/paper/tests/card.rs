//! The attendant's card: all of it on one sheet, room to write, no state mistaken.

use super::{STATES, all_inside, hostile, none_overlap, sample, texts, whole};
use crate::paper::card::compose;
use crate::paper::face::Faces;
use crate::paper::sheet::{Ink, Mark, Sheet};
use crate::paper::{PaperSize, labels, render_card};
use crate::show::card::blank;
use crate::tongue::Tongue;
use crate::view::{CardView, StateWord, Statement};
use proptest::prelude::*;

const SIZES: [PaperSize; 2] = [PaperSize::A4, PaperSize::Letter];

fn sheets(view: &CardView, size: PaperSize) -> Vec<Sheet> {
    compose(view, size, Faces::built_in().unwrap()).0
}

/// Every text of a card that must reach the sheet, as long as nothing in it is empty.
fn said(view: &CardView) -> Vec<&str> {
    let mut all: Vec<&str> = vec![
        &view.number,
        &view.state_words,
        &view.state_means,
        &view.site,
        &view.set,
        &view.place,
        &view.valid_to,
        &view.valid_because,
        &view.copy,
        &view.not_an_entry_permit,
    ];
    if view.state == Some(StateWord::Live) {
        all.push(&view.check_word);
    }
    all.extend(view.rules.iter().chain(&view.warnings).chain(&view.rescuers).map(String::as_str));
    for s in [&view.signal].into_iter().chain(&view.calls).chain(&view.gauges).chain(&view.limits) {
        all.extend([s.label.as_str(), &s.value, &s.note]);
    }
    for o in &view.orders {
        all.extend([o.alarm.as_str(), &o.order, &o.set]);
    }
    for w in &view.wearers {
        all.extend([w.name.as_str(), &w.person, &w.outlet, &w.hose, &w.respirator, &w.escape_set]);
        if !w.since.is_empty() {
            all.extend([w.tally.as_str(), &w.since]);
        }
    }
    all
}

/// Texts break over lines: spaces do not count.
fn bare(text: &str) -> String {
    text.split_whitespace().collect()
}

/// Top, bottom of the frames around rows of the grids and orders.
fn framed(sheet: &Sheet) -> Vec<(f32, f32)> {
    let one = |mark: &Mark| match mark {
        Mark::Stroke { points, closed: true, ink: Ink::Grey, .. } => Some((points[0].1, points[2].1)),
        Mark::Stroke { .. } | Mark::Fill { .. } | Mark::Text { .. } | Mark::Begin { .. } | Mark::End => None,
    };
    sheet.marks.iter().filter_map(one).collect()
}

fn size_of(sheet: &Sheet, words: &str) -> f32 {
    let one = |mark: &Mark| match mark {
        Mark::Text { text, size, turn: (c, _), .. } if text == words && *c > 0.99 => Some(*size),
        Mark::Text { .. } | Mark::Stroke { .. } | Mark::Fill { .. } | Mark::Begin { .. } | Mark::End => None,
    };
    sheet.marks.iter().filter_map(one).fold(0.0, f32::max)
}

#[test]
fn all_of_it_stands_on_one_sheet() {
    for state in STATES {
        for n in 1..=8 {
            let view = sample::card(state, n);
            for size in SIZES {
                let sheets = sheets(&view, size);
                assert_eq!(sheets.len(), 1, "{state:?}, {n} wearers, {}", size.name());
                all_inside(&sheets, size).unwrap();
                none_overlap(&sheets).unwrap();
                let text = bare(&whole(&sheets));
                for words in said(&view) {
                    assert!(text.contains(&bare(words)), "{words}: {text}");
                }
                for words in [
                    "asofline122",
                    "onairinoutoffair",
                    "TimeSupplyReserveAReserveBCOBy",
                    "AIRGONEAT",
                    "page1of1",
                ] {
                    assert!(text.contains(words), "{words}: {text}");
                }
            }
        }
    }
}

/// Nobody is put on air for now: it shows as large as a stop, in stripes, and its end still counts.
#[test]
fn a_held_card_does_not_look_live() {
    let of = sample::held();
    let card = CardView {
        held: true,
        state_words: of.state_words,
        state_means: of.state_means,
        ..sample::card(StateWord::Live, 4)
    };
    for size in SIZES {
        let sheets = sheets(&card, size);
        assert_eq!(sheets.len(), 1);
        all_inside(&sheets, size).unwrap();
        none_overlap(&sheets).unwrap();
        let text = texts(&sheets[0]);
        assert!(
            text.contains("HELD") && !text.contains("LIVE") && !text.contains(&card.check_word),
            "{text}"
        );
        assert!(!text.contains("this permit is not live"), "{text}");
        assert!(sheets[0].marks.iter().any(|m| matches!(m, Mark::Text { ink: Ink::Ghost, .. })));
    }
}

/// The same in every language, with its own words: they are longer than the English ones.
#[test]
fn all_of_it_stands_on_one_sheet_in_every_language() {
    for tongue in Tongue::ALL {
        let own = blank(tongue);
        let labelled = |all: &[Statement], own: &[Statement]| -> Vec<Statement> {
            all.iter().zip(own).map(|(s, o)| Statement { label: o.label.clone(), ..s.clone() }).collect()
        };
        for state in STATES {
            for n in 1..=4 {
                let card = sample::card(state, n);
                let (state_words, state_means) = tongue.within(|| crate::show::state_words(state));
                let view = CardView {
                    language: tongue.tag().into(),
                    state_words: state_words.into(),
                    state_means: state_means.into(),
                    rules: own.rules.clone(),
                    orders: own.orders.clone(),
                    not_an_entry_permit: own.not_an_entry_permit.clone(),
                    signal: Statement { label: own.signal.label.clone(), ..card.signal.clone() },
                    calls: labelled(&card.calls, &own.calls),
                    gauges: labelled(&card.gauges, &own.gauges),
                    limits: labelled(&card.limits, &own.limits),
                    ..card
                };
                on_one_sheet(tongue, &view);
            }
        }
        on_one_sheet(tongue, &own);
    }
}

fn on_one_sheet(tongue: Tongue, view: &CardView) {
    for size in SIZES {
        let sheets = tongue.within(|| sheets(view, size));
        let which = format!("{tongue:?}, {:?}, {} wearers, {}", view.state, view.wearers.len(), size.name());
        assert_eq!(sheets.len(), 1, "{which}");
        all_inside(&sheets, size).unwrap();
        none_overlap(&sheets).unwrap();
        let text = bare(&whole(&sheets));
        for words in said(view) {
            assert!(text.contains(&bare(words)), "{which}: {words}: {text}");
        }
    }
}

/// The most important stands highest: which permit, how to call them, whom to call, what sends them out, the orders.
#[test]
fn what_is_needed_first_stands_first() {
    let view = sample::card(StateWord::Live, 3);
    let text = bare(&whole(&sheets(&view, PaperSize::A4)));
    let order = [
        &view.number,
        &view.place,
        &view.signal.value,
        &view.calls[0].value,
        &view.gauges[0].value,
        &view.rules[1],
        &view.orders[0].order,
        &view.orders[7].order,
        &view.wearers[0].name,
    ];
    let at: Vec<usize> = order.iter().map(|w| text.find(&bare(w)).unwrap()).collect();
    assert!(at.windows(2).all(|w| w[0] < w[1]), "{at:?}");
}

#[test]
fn every_row_by_hand_can_be_written_in() {
    for (view, wearers) in [
        (sample::card(StateWord::Live, 8), 8),
        (sample::card(StateWord::Live, 1), 1),
        (blank(Tongue::English), 6),
    ] {
        for size in SIZES {
            let sheet = &sheets(&view, size)[0];
            let rows = framed(sheet);
            // Four rows of orders; wearers, two others, two rescuers; readings at least.
            assert!(rows.len() > 4 + wearers + 2 + 2, "{} {}", size.name(), rows.len());
            let (_, h) = size.points();
            for (top, bottom) in rows {
                assert!(bottom - top >= 17.4, "{top} {bottom}");
                assert!(bottom <= h - 55.9, "{bottom}");
            }
        }
    }
}

#[test]
fn only_a_card_of_a_live_permit_looks_live() {
    for state in STATES {
        // The check word is left in the view on purpose: a sheet must not trust it.
        let view = sample::card(state, 2);
        let live = state == StateWord::Live;
        for size in SIZES {
            let sheets = sheets(&view, size);
            let striped =
                sheets[0].marks.iter().any(|m| matches!(m, Mark::Fill { rings, .. } if rings.len() > 100));
            let word = labels::state(state);
            let across = sheets[0]
                .marks
                .iter()
                .any(|m| matches!(m, Mark::Text { ink: Ink::Ghost, text, .. } if text == word));
            assert_eq!((striped, across), (!live, !live), "{state:?}");
            let text = whole(&sheets);
            assert_eq!(text.contains(&view.check_word), live, "{state:?}");
            // Larger than everything that people act on.
            let large = size_of(&sheets[0], &view.state_words);
            assert!(live || large == 0.0 || large > size_of(&sheets[0], &view.number), "{state:?} {large}");
        }
        assert!(render_card(&view, PaperSize::A4).unwrap().starts_with(b"%PDF-1.7"));
    }
}

#[test]
fn a_blank_card_names_no_permit_and_asks_for_everything() {
    for size in SIZES {
        let view = blank(Tongue::English);
        let sheets = sheets(&view, size);
        assert_eq!(sheets.len(), 1);
        all_inside(&sheets, size).unwrap();
        none_overlap(&sheets).unwrap();
        let text = texts(&sheets[0]);
        assert!(!text.contains("LIVE") && !text.contains("as of line") && !text.contains('–'), "{text}");
        for words in said(&view).into_iter().chain(["BLANK CARD", "Check word", "Valid to", "Set", "Place"]) {
            assert!(bare(&text).contains(&bare(words)), "{words}: {text}");
        }
    }
}

#[test]
fn same_card_same_bytes() {
    for view in
        [sample::card(StateWord::Live, 8), sample::card(StateWord::Suspended, 1), blank(Tongue::English)]
    {
        let drawn = |size| render_card(&view, size).unwrap();
        assert_eq!(drawn(PaperSize::A4), drawn(PaperSize::A4));
        let id =
            |bytes: Vec<u8>| lopdf::Document::load_mem(&bytes).unwrap().trailer.get(b"ID").unwrap().clone();
        assert_ne!(id(drawn(PaperSize::A4)), id(drawn(PaperSize::Letter)));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn hostile_cards_stay_inside(words in hostile::words(), long in hostile::long_word(), state in 0_usize..10, letter in any::<bool>()) {
        let mut view = match STATES.get(state) {
            Some(state) => sample::card(*state, 3),
            None => blank(Tongue::English),
        };
        hostile::replace_card(&mut view, &words, &long);
        let size = if letter { PaperSize::Letter } else { PaperSize::A4 };
        let sheets = sheets(&view, size);
        prop_assert_eq!(all_inside(&sheets, size), Ok(()));
        prop_assert_eq!(none_overlap(&sheets), Ok(()));
        let bytes = render_card(&view, size).unwrap();
        let doc = lopdf::Document::load_mem(&bytes).unwrap();
        prop_assert_eq!(doc.get_pages().len(), sheets.len());
        // Nothing is left out for want of room; on more sheets heads and feet stand between the lines.
        let faces = Faces::built_in().unwrap();
        let text = bare(&whole(&sheets));
        for o in view.orders.iter().filter(|_| sheets.len() == 1) {
            prop_assert!(text.contains(&bare(&faces.safe(&o.order))), "{}", o.order);
        }
    }
}
