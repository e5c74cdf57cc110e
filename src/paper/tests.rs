//! Tests of paper: the same bytes, nothing lost, nothing outside the sheet, no state mistaken.
#![allow(clippy::unwrap_used, clippy::panic)]

mod card;
mod code;
mod hostile;
mod sample;

use super::face::{Cut, Faces};
use super::permit::compose;
use super::shape::{Sign, draw};
use super::sheet::{Ink, Mark, Sheet, Weight};
use super::*;
use crate::view::{Standing, StateWord};
use proptest::prelude::*;

const STATES: [StateWord; 9] = [
    StateWord::Draft,
    StateWord::Declared,
    StateWord::Live,
    StateWord::Suspended,
    StateWord::HandedBack,
    StateWord::Closed,
    StateWord::Refused,
    StateWord::Cancelled,
    StateWord::Lapsed,
];
const CUT: Cut = Cut { size: 8.5, weight: Weight::Regular };

fn sheets(view: &PermitView, size: PaperSize) -> Vec<Sheet> {
    compose(view, size, Faces::built_in().unwrap()).unwrap().0
}

/// The texts of a sheet in the order drawn, with spaces between.
fn texts(sheet: &Sheet) -> String {
    let mut all = String::new();
    for mark in &sheet.marks {
        if let Mark::Text { text, .. } = mark {
            all.push_str(text);
            all.push(' ');
        }
    }
    all
}

fn whole(sheets: &[Sheet]) -> String {
    sheets.iter().map(texts).collect()
}

/// The four corners of a text, its tallest letter above and its deepest below the baseline.
fn corners(mark: &Mark) -> Vec<(f32, f32)> {
    let Mark::Text { at, size, width, turn: (c, s), .. } = mark else {
        return Vec::new();
    };
    let spot = |along: f32, up: f32| (at.0 + along * c - up * s, at.1 - along * s - up * c);
    [0.0, *width].into_iter().flat_map(|along| [spot(along, 0.8 * size), spot(along, -0.25 * size)]).collect()
}

fn all_inside(sheets: &[Sheet], size: PaperSize) -> Result<(), String> {
    let (w, h) = size.points();
    for (n, sheet) in sheets.iter().enumerate() {
        for mark in &sheet.marks {
            for (x, y) in corners(mark) {
                if !(0.0..=w).contains(&x) || !(0.0..=h).contains(&y) {
                    return Err(format!("sheet {}: {x} {y} is outside: {mark:?}", n + 1));
                }
                let level = matches!(mark, Mark::Text { turn: (_, s), .. } if *s == 0.0);
                if level && !(35.9..=w - 35.9).contains(&x) {
                    return Err(format!("sheet {}: {x} is in the margin: {mark:?}", n + 1));
                }
            }
        }
    }
    Ok(())
}

/// Left, top, right, bottom of level texts: from the height of capitals to the baseline.
fn boxes(sheet: &Sheet) -> Vec<(f32, f32, f32, f32, &str)> {
    let level = |mark| match mark {
        &Mark::Text { at, size, width, turn: (_, turned), ref text, .. } if turned.abs() == 0.0 => {
            Some((at.0, at.1 - 0.714 * size, at.0 + width, at.1, text.as_str()))
        }
        &Mark::Text { .. } | &Mark::Fill { .. } | &Mark::Stroke { .. } | &Mark::Begin { .. } | &Mark::End => {
            None
        }
    };
    sheet.marks.iter().filter_map(level).collect()
}

fn none_overlap(sheets: &[Sheet]) -> Result<(), String> {
    for (n, sheet) in sheets.iter().enumerate() {
        let boxes = boxes(sheet);
        for (i, a) in boxes.iter().enumerate() {
            for b in &boxes[i + 1..] {
                let apart = a.2 <= b.0 + 0.1 || b.2 <= a.0 + 0.1 || a.3 <= b.1 || b.3 <= a.1;
                if !apart {
                    return Err(format!("sheet {}: {a:?} and {b:?}", n + 1));
                }
            }
        }
    }
    Ok(())
}

#[test]
fn no_text_stands_on_another() {
    let mut views: Vec<PermitView> = STATES.into_iter().map(sample::in_state).collect();
    views.extend([sample::long(), sample::draft()]);
    for view in views {
        for size in [PaperSize::A4, PaperSize::Letter] {
            let sheets = sheets(&view, size);
            assert!(boxes(&sheets[0]).len() > 40);
            none_overlap(&sheets).unwrap();
        }
    }
}

#[test]
fn same_input_same_bytes() {
    for size in [PaperSize::A4, PaperSize::Letter] {
        for view in [sample::live(), sample::long(), sample::draft()] {
            let once = render_with_record(&view, size, Some((b"{}\n", ""))).unwrap();
            assert_eq!(once, render_with_record(&view, size, Some((b"{}\n", ""))).unwrap());
        }
    }
}

#[test]
fn id_follows_the_content() {
    let id = |view: &PermitView, size| {
        let doc = lopdf::Document::load_mem(&render(view, size).unwrap()).unwrap();
        doc.trailer.get(b"ID").unwrap().clone()
    };
    let view = sample::live();
    let mut other = view.clone();
    other.cautions.push("one more".into());
    assert_ne!(id(&view, PaperSize::A4), id(&other, PaperSize::A4));
    assert_ne!(id(&view, PaperSize::A4), id(&view, PaperSize::Letter));
}

#[test]
fn a_character_without_a_glyph_shows_its_code() {
    let faces = Faces::built_in().unwrap();
    assert_eq!(faces.safe("李"), "‹U+674E›");
    assert_eq!(faces.safe("a\tb\u{7}\u{202E}c\u{200B}"), "a‹U+0009›b‹U+0007›‹U+202E›c‹U+200B›");
    assert_eq!(faces.safe("\u{1F6D1}"), "‹U+1F6D1›");
    assert_eq!(faces.safe("e\u{301}"), "é", "composed, so that its own glyph is used");
    let scripts = "Łukasz Żółć, Σοφία Παπαδοπούλου, Олег Ковальчук Їжакевич – ≥ ≤ ± ° µ × ½ €";
    assert_eq!(faces.safe(scripts), scripts);
}

#[test]
fn a_name_without_glyphs_reaches_the_sheet() {
    let mut view = sample::live();
    view.wearers[0].name = "李\t明".into();
    let text = whole(&sheets(&view, PaperSize::A4));
    // The column is narrow: the codes stand on two lines.
    assert!(text.replace(' ', "").contains("‹U+674E›‹U+0009›‹U+660E›"), "{text}");
}

#[test]
fn long_words_break_and_lose_nothing() {
    let faces = Faces::built_in().unwrap();
    let word = "Wq".repeat(5_000);
    let lines = faces.wrap(&word, CUT, 100.0);
    assert!(lines.len() > 100);
    assert!(lines.iter().all(|l| faces.width(l, CUT) <= 100.0));
    assert_eq!(lines.concat(), word);
    let name = faces.wrap("Παπαθανασίου-Οικονόμου", CUT, 70.0);
    assert_eq!(name, ["Παπαθανασίου-", "Οικονόμου"]);
}

#[test]
fn a_number_keeps_its_unit() {
    let faces = Faces::built_in().unwrap();
    let room = faces.width("at the gauge 205", CUT) + 0.1;
    assert_eq!(faces.wrap("at the gauge 205 bar", CUT, room), ["at the gauge", "205 bar"]);
    assert_eq!(faces.wrap("1 2  3", CUT, 400.0), ["1 2  3"], "spaces are kept");
}

#[test]
fn signed_words_are_whole() {
    let mut view = sample::live();
    let said = "I have placed and proved Set 3. ".repeat(400);
    view.sign_offs[0].said = said.trim_end().to_string();
    let sheets = sheets(&view, PaperSize::A4);
    let text = whole(&sheets);
    // Heads and feet stand between the lines of different sheets; the sentence is counted instead.
    let found = text.matches("placed").count();
    assert!(found >= 400, "{found}");
    assert!(sheets.len() > 3);
}

#[test]
fn a_row_over_many_sheets_keeps_every_line_once() {
    let mut view = sample::live();
    let words: Vec<String> = (0..3_000).map(|n| format!("n{n:04}")).collect();
    let answers = &mut view.stages[0].steps[0].answers;
    answers.push(sample::answer("again", "06:35", Standing::Open, 43));
    answers[0].value = words.join(" ");
    let sheets = sheets(&view, PaperSize::A4);
    let text = whole(&sheets);
    for word in &words {
        assert_eq!(text.matches(word.as_str()).count(), 1, "{word}");
    }
    let (first, last) = (text.find("n0000").unwrap(), text.find("n2999").unwrap());
    assert!(first < last && sheets.len() > 5);
}

#[test]
fn every_sheet_says_which_it_is() {
    let view = sample::long();
    let sheets = sheets(&view, PaperSize::A4);
    assert!((10..=21).contains(&sheets.len()), "{} sheets", sheets.len());
    for (n, sheet) in sheets.iter().enumerate() {
        let text = texts(sheet);
        for wanted in [
            format!("page {} of {}", n + 1, sheets.len()),
            format!("{} · LIVE", view.number),
            "as of line 122".to_string(),
            view.not_an_entry_permit.clone(),
        ] {
            assert!(text.contains(&wanted), "sheet {} lacks {wanted}", n + 1);
        }
    }
}

#[test]
fn everything_of_the_long_permit_is_there() {
    let view = sample::long();
    let text = whole(&sheets(&view, PaperSize::A4));
    for step in view.stages.iter().flat_map(|s| &s.steps) {
        assert!(text.contains(&format!("{} ", step.step)), "{}", step.step);
        for answer in &step.answers {
            assert!(text.contains(&answer.value));
            assert!(text.contains(&format!(" {} ", answer.line)), "line {}", answer.line);
        }
    }
    for line in &view.day {
        assert!(text.contains(&format!(" {} ", line.line)), "line {}", line.line);
    }
    for wanted in [&view.log, &view.as_of_hash, &view.as_of_utc, &view.sign_offs[1].key] {
        assert!(text.contains(wanted.as_str()), "{wanted}");
    }
    assert!(text.contains("The day (continued)"));
    assert!(
        text.contains("Pre-use checks, revision 1 · Stage 3: invented for length (continued)")
            || text.contains("Pre-use checks, revision 1 · Stage 2: invented for length (continued)")
    );
}

#[test]
fn page_one_holds_twelve_wearers() {
    let view = sample::long();
    let first = texts(&sheets(&view, PaperSize::A4)[0]);
    for n in 1..12 {
        assert!(first.contains(&format!(" w-{n} ")), "wearer {n} is not on page one");
    }
}

#[test]
fn no_title_is_left_alone_at_the_foot() {
    for cut_at in 0..40 {
        let mut view = sample::long();
        view.day.truncate(cut_at);
        for (n, sheet) in sheets(&view, PaperSize::A4).iter().enumerate() {
            let (_, h) = PaperSize::A4.points();
            let lowest = sheet.marks.iter().rev().find(|m| match m {
                Mark::Text { at, .. } => at.1 < h - 56.0,
                Mark::Fill { .. } | Mark::Stroke { .. } | Mark::Begin { .. } | Mark::End => false,
            });
            if let Some(Mark::Text { size, weight, text, .. }) = lowest {
                let title = *weight == Weight::Bold && *size >= 10.0;
                assert!(!title, "sheet {} ends with {text:?} (day of {cut_at})", n + 1);
            }
        }
    }
}

#[test]
fn only_a_live_permit_looks_live() {
    for state in STATES {
        // Check word and token are left in the view on purpose: a sheet must not trust them.
        let view = sample::in_state(state);
        for size in [PaperSize::A4, PaperSize::Letter] {
            let sheets = sheets(&view, size);
            all_inside(&sheets, size).unwrap();
            let live = state == StateWord::Live;
            for sheet in &sheets {
                let striped = sheet.marks.iter().any(
                    |m| matches!(m, Mark::Fill { rings, .. } if rings.len() > 100 && rings[0][0].1 < 30.0),
                );
                let across = sheet.marks.iter().any(
                    |m| matches!(m, Mark::Text { ink: Ink::Ghost, text, .. } if text == labels::state(state)),
                );
                assert_eq!(striped, !live, "{state:?}");
                assert_eq!(across, !live, "{state:?}");
            }
            let text = whole(&sheets);
            assert!(text.contains(&view.state_words), "{state:?}");
            assert_eq!(text.contains(&view.check_word), live, "{state:?}");
            assert_eq!(text.contains("AW1."), live, "{state:?}");
            assert_eq!(text.contains("Who may be put on this air"), live, "{state:?}");
        }
        assert!(render(&view, PaperSize::A4).unwrap().starts_with(b"%PDF-1.7"));
    }
}

/// What does not hold on one sheet says so on the first: nobody takes half of it for all.
#[test]
fn a_page_one_that_goes_on_says_so() {
    let first = |view: &PermitView, size| texts(&sheets(view, size)[0]);
    let mut view = sample::live();
    for size in [PaperSize::A4, PaperSize::Letter] {
        assert!(!first(&view, size).contains("THIS PAGE GOES ON"));
    }
    view.page_one[3].value = "three long blasts, then two short ones ".repeat(60);
    for size in [PaperSize::A4, PaperSize::Letter] {
        assert!(first(&view, size).contains("THIS PAGE GOES ON ON THE NEXT"));
        none_overlap(&sheets(&view, size)).unwrap();
    }
}

/// Nobody is put on its air for now: no sheet of it looks live, though its end still counts.
#[test]
fn what_is_held_does_not_look_live() {
    let view = sample::held();
    for size in [PaperSize::A4, PaperSize::Letter] {
        let sheets = sheets(&view, size);
        all_inside(&sheets, size).unwrap();
        none_overlap(&sheets).unwrap();
        for sheet in &sheets {
            let across = |m: &Mark| matches!(m, Mark::Text { ink: Ink::Ghost, text, .. } if text == "HELD");
            let green = |m: &Mark| {
                matches!(
                    m,
                    Mark::Fill { ink: Ink::Green, .. }
                        | Mark::Text { ink: Ink::Green, .. }
                        | Mark::Stroke { ink: Ink::Green, .. }
                )
            };
            assert!(sheet.marks.iter().any(across) && !sheet.marks.iter().any(green));
        }
        let text = whole(&sheets);
        for not in ["LIVE", view.check_word.as_str(), "AW1.", "Who may be put on this air"] {
            assert!(!text.contains(not), "{not}");
        }
        assert!(text.contains(&view.valid_to) && !text.contains("this permit is not live"));
    }
}

#[test]
fn half_a_sheet_never_reads_live() {
    for tongue in Tongue::ALL {
        let words = STATES.map(|state| tongue.within(|| labels::state(state).to_lowercase()));
        let live = tongue.within(|| labels::state(StateWord::Live).to_lowercase());
        let held = tongue.within(|| labels::held().to_lowercase());
        assert!(!held.contains(&live) && !words.contains(&held), "{tongue:?}");
        for (word, state) in words.iter().zip(STATES) {
            assert_eq!(word.contains(&live), state == StateWord::Live, "{tongue:?} {state:?}");
            assert_eq!(words.iter().filter(|w| *w == word).count(), 1, "{tongue:?} {state:?}");
        }
    }
}

/// Words of other languages are longer than the English ones: nothing leaves the sheet or covers anything, and what the
/// permit is not stands whole on every sheet.
#[test]
fn every_language_has_room() {
    for tongue in Tongue::ALL {
        for state in STATES {
            let (state_words, state_means) = tongue.within(|| crate::show::state_words(state));
            let view = PermitView {
                language: tongue.tag().into(),
                state,
                state_words: state_words.into(),
                state_means: state_means.into(),
                not_an_entry_permit: tongue.within(crate::permit::said::not_an_entry_permit),
                cautions: tongue.within(crate::permit::said::cautions),
                ..sample::live()
            };
            for size in [PaperSize::A4, PaperSize::Letter] {
                let sheets = tongue.within(|| sheets(&view, size));
                all_inside(&sheets, size).unwrap();
                none_overlap(&sheets).unwrap();
                for sheet in &sheets {
                    let text = texts(sheet);
                    assert!(text.contains(&view.not_an_entry_permit), "{tongue:?} {state:?}: {text}");
                    assert!(!text.contains('‹'), "{tongue:?} {state:?}: {text}");
                }
            }
        }
    }
}

#[test]
fn standings_are_counted() {
    let text = whole(&sheets(&sample::live(), PaperSize::A4));
    assert!(text.contains("met 4 HOLD 0 waiting 0 not applicable 1 out of service 1 deviation 0"), "{text}");
}

#[test]
fn no_two_signs_are_alike() {
    let standings = [
        Standing::Open,
        Standing::Hold,
        Standing::Waiting,
        Standing::NotApplicable,
        Standing::OutOfService,
        Standing::Deviation,
    ];
    let signs: Vec<Sign> = STATES
        .into_iter()
        .map(Sign::State)
        .chain(standings.into_iter().map(Sign::Standing))
        .chain([Sign::Warning, Sign::Held])
        .collect();
    let drawn = |s: Sign| draw(s, 0.0, 0.0, 10.0, Ink::Black, Ink::White);
    for (n, a) in signs.iter().enumerate() {
        for b in &signs[n + 1..] {
            assert_ne!(drawn(*a), drawn(*b), "{a:?} {b:?}");
        }
    }
}

#[test]
fn faces_are_subsets_and_dates_are_the_line_s() {
    let bytes = render(&sample::live(), PaperSize::A4).unwrap();
    assert!(bytes.len() < 60_000, "{} bytes", bytes.len());
    let doc = lopdf::Document::load_mem(&bytes).unwrap();
    let info = doc.trailer.get(b"Info").unwrap().as_reference().unwrap();
    let info = doc.get_dictionary(info).unwrap();
    assert_eq!(info.get(b"CreationDate").unwrap().as_str().unwrap(), b"D:20261125065512Z");
    let catalog = doc.catalog().unwrap();
    assert_eq!(catalog.get(b"Lang").unwrap().as_str().unwrap(), b"en");
    let xmp = catalog.get(b"Metadata").unwrap().as_reference().unwrap();
    let xmp = &doc.get_object(xmp).unwrap().as_stream().unwrap().content;
    let xmp = String::from_utf8(xmp.clone()).unwrap();
    assert!(xmp.contains("<xmp:CreateDate>2026-11-25T06:55:12Z</xmp:CreateDate>"));
    let mut bases: Vec<String> = doc
        .objects
        .values()
        .filter_map(|o| o.as_dict().ok()?.get(b"FontName").ok()?.as_name().ok())
        .map(|n| String::from_utf8_lossy(n).into_owned())
        .collect();
    bases.sort();
    assert_eq!(bases, ["AIRWRT+NotoSans-Bold", "AIRWRT+NotoSans-Regular"]);
}

#[test]
fn a_date_is_never_made_up() {
    let mut view = sample::live();
    view.as_of_utc = "yesterday".into();
    view.state_words = "<LIVE> & \"well\"".into();
    let doc = lopdf::Document::load_mem(&render(&view, PaperSize::A4).unwrap()).unwrap();
    let info = doc.trailer.get(b"Info").unwrap().as_reference().unwrap();
    assert!(!doc.get_dictionary(info).unwrap().has(b"CreationDate"));
    let xmp = doc.catalog().unwrap().get(b"Metadata").unwrap().as_reference().unwrap();
    let xmp = &doc.get_object(xmp).unwrap().as_stream().unwrap().content;
    let xmp = String::from_utf8(xmp.clone()).unwrap();
    assert!(xmp.contains("&lt;LIVE&gt; &amp; &quot;well&quot;"), "{xmp}");
    assert!(!xmp.contains("CreateDate"));
}

#[test]
fn the_record_is_attached_byte_for_byte() {
    let record = b"{\"body\":{}}\n\x00\xff{\"body\":{}}\n".as_slice();
    let bytes = render_with_record(&sample::live(), PaperSize::A4, Some((record, ""))).unwrap();
    let doc = lopdf::Document::load_mem(&bytes).unwrap();
    let file = doc.catalog().unwrap().get(b"AF").unwrap().as_array().unwrap()[0].as_reference().unwrap();
    let file = doc.get_dictionary(file).unwrap();
    assert_eq!(file.get(b"AFRelationship").unwrap().as_name().unwrap(), b"Source");
    let stream = file.get(b"EF").unwrap().as_dict().unwrap().get(b"F").unwrap();
    let stream = doc.get_object(stream.as_reference().unwrap()).unwrap().as_stream().unwrap();
    assert_eq!(stream.content, record);
}

/// How many views are drawn; `.ci/run` draws a thousand.
fn cases() -> u32 {
    match ProptestConfig::default().cases {
        // What proptest takes where `PROPTEST_CASES` says nothing.
        256 => 48,
        told => told,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn wrapping_loses_nothing(chars in proptest::collection::vec(hostile::character(), 0..400), width in 20.0_f32..400.0) {
        let text: String = chars.into_iter().collect();
        let faces = Faces::built_in().unwrap();
        let lines = faces.wrap(&text, CUT, width);
        for line in &lines {
            prop_assert!(faces.width(line, CUT) <= width + 0.01, "{line:?}");
        }
        let bare = |s: &str| s.replace([' ', '\n'], "");
        prop_assert_eq!(bare(&lines.concat()), bare(&faces.safe(&text)));
    }

    #[test]
    fn hostile_views_stay_inside(words in hostile::words(), long in hostile::long_word(), numbers in hostile::numbers(), state in 0_usize..9, letter in any::<bool>()) {
        let mut view = sample::in_state(STATES[state]);
        hostile::replace(&mut view, &words, &long);
        hostile::renumber(&mut view, &numbers);
        let size = if letter { PaperSize::Letter } else { PaperSize::A4 };
        let sheets = sheets(&view, size);
        prop_assert_eq!(all_inside(&sheets, size), Ok(()));
        prop_assert_eq!(none_overlap(&sheets), Ok(()));
        let bytes = render(&view, size).unwrap();
        let doc = lopdf::Document::load_mem(&bytes).unwrap();
        prop_assert_eq!(doc.get_pages().len(), sheets.len());
    }
}
