//! A permit is shown in its site's language, or in the one asked for: fixed words and the texts of form, site and set
//! together, whatever is bound where it is asked.

use crate::support::day::{Day, Plan, SMALL};
use airwrit::paper::{PaperSize, render, render_card};
use airwrit::permit::decide::sign::Limits;
use airwrit::permit::said;
use airwrit::show;
use airwrit::tongue::Tongue;
use airwrit::view::PermitView;

/// A site whose language is `site`, with a form that is called otherwise in three languages.
fn day(site: &str) -> (Day, String) {
    let small = Plan::small();
    let yard = "name: Kormoran repair yard";
    let yards = "name: { en: Kormoran repair yard, pl: Stocznia Kormoran, uk: Верф Корморан }";
    assert!(small.site.contains(yard) && small.site.contains("\nlanguage: en\n"));
    let site = match site {
        "en" => small.site.replace(yard, yards),
        // Every text of the file stands in the file's own language.
        own => small.site.replace("\nlanguage: en\n", &format!("\nlanguage: {own}\n")),
    };
    let work = SMALL.replace("title: Small", "title: { en: Small, pl: Mała, uk: Мала }").replace(
        "ask: Ready to start?",
        "ask: { en: Ready to start?, pl: Gotowe do startu?, uk: Готово до пуску? }",
    );
    let mut day = Day::opened(Plan { site, work, ..small });
    let n = day.number.clone();
    day.say(&n, "ready", None, "yes").unwrap();
    (day, n)
}

fn view(day: &Day, n: &str, asked: Option<Tongue>) -> PermitView {
    day.ask(|k| show::permit(k, day.lines(), n, Some((1, "at the manhole")), asked)).unwrap()
}

fn not_an_entry_permit(tongue: Tongue) -> String {
    tongue.within(said::not_an_entry_permit)
}

#[test]
fn form_site_and_fixed_words_come_in_the_language_asked_for() {
    let (day, n) = day("en");
    let all = [
        (None, "en", "Kormoran repair yard", "Ready to start?", Tongue::English),
        (Some(Tongue::English), "en", "Kormoran repair yard", "Ready to start?", Tongue::English),
        (Some(Tongue::Polish), "pl", "Stocznia Kormoran", "Gotowe do startu?", Tongue::Polish),
        (Some(Tongue::Ukrainian), "uk", "Верф Корморан", "Готово до пуску?", Tongue::Ukrainian),
    ];
    for (asked, tag, site, ask, tongue) in all {
        let v = view(&day, &n, asked);
        assert_eq!((v.language.as_str(), v.site.as_str()), (tag, site));
        assert_eq!(v.stages[0].steps[0].ask, ask);
        assert_eq!(v.not_an_entry_permit, not_an_entry_permit(tongue));
        assert_eq!(v.cautions, tongue.within(said::cautions));
        let card = day.ask(|k| show::card::card(k, day.lines(), &n, None, asked)).unwrap();
        assert_eq!((card.language.as_str(), card.site.as_str()), (tag, site));
        assert_eq!(card.not_an_entry_permit, v.not_an_entry_permit);
        let rows = day.ask(|k| show::board(k, day.lines(), asked)).unwrap();
        assert!(rows[0].place.starts_with(site), "{}", rows[0].place);
        let found = day.ask(|k| show::before_signing(k, day.lines(), &n, asked)).unwrap();
        assert!(found.iter().flat_map(|f| &f.lines).any(|l| l.contains(site)), "{found:?}");
    }
}

/// What was signed in the site's language is worked out again for who asks in another.
#[test]
fn what_limits_it_is_said_in_the_language_asked_for() {
    let (mut day, n) = day("en");
    let limit = |day: &Day, asked: Tongue| view(day, &n, Some(asked)).valid_because;
    day.ready_again(&n);
    day.declare(&n, "lukasz").unwrap_or_else(|r| panic!("{r:?}"));
    day.countersign(&n, "eleni", &Limits::default()).unwrap_or_else(|r| panic!("{r:?}"));
    assert_eq!(limit(&day, Tongue::English), "the end of the shift (Early shift)");
    for tongue in [Tongue::Polish, Tongue::Ukrainian] {
        let wanted = tongue.within(|| {
            airwrit::tongue::word("the end of the shift ({name})").replace("{name}", "Early shift")
        });
        assert_eq!(limit(&day, tongue), wanted);
    }
}

/// What is bound where somebody asks is the language of the request, not of the sheet.
#[test]
fn what_is_bound_outside_changes_no_view_and_no_paper() {
    let (day, n) = day("en");
    for asked in [None, Some(Tongue::English), Some(Tongue::Polish), Some(Tongue::Ukrainian)] {
        let drawn = |bound: Tongue| {
            bound.within(|| {
                let v = view(&day, &n, asked);
                let card = day.ask(|k| show::card::card(k, day.lines(), &n, None, asked)).unwrap();
                let papers =
                    [render(&v, PaperSize::A4).unwrap(), render_card(&card, PaperSize::Letter).unwrap()];
                (serde_json::to_string(&v).unwrap(), papers)
            })
        };
        let first = drawn(Tongue::English);
        assert!(first == drawn(Tongue::Polish) && first == drawn(Tongue::Ukrainian), "{asked:?}");
        let tag = asked.map_or("en", Tongue::tag);
        for pdf in &first.1 {
            let pdf = lopdf::Document::load_mem(pdf).unwrap();
            let catalog = pdf.catalog().unwrap();
            assert_eq!(catalog.get(b"Lang").unwrap().as_str().unwrap(), tag.as_bytes());
            let xmp = catalog.get(b"Metadata").unwrap().as_reference().unwrap();
            let xmp = pdf.get_object(xmp).unwrap().as_stream().unwrap().content.clone();
            let xmp = String::from_utf8(xmp).unwrap();
            assert!(xmp.contains(&format!("<dc:language><rdf:Bag><rdf:li>{tag}</rdf:li>")), "{xmp}");
        }
    }
}

#[test]
fn a_site_in_another_language_is_shown_in_its_own() {
    let (polish, n) = day("pl");
    let v = view(&polish, &n, None);
    assert_eq!((v.language.as_str(), v.stages[0].steps[0].ask.as_str()), ("pl", "Gotowe do startu?"));
    assert_eq!(v.not_an_entry_permit, not_an_entry_permit(Tongue::Polish));
    // Not spoken here: fixed words are English, texts the file's own.
    let (danish, n) = day("da");
    let v = view(&danish, &n, None);
    assert_eq!((v.language.as_str(), v.site.as_str()), ("da", "Kormoran repair yard"));
    assert_eq!(v.not_an_entry_permit, not_an_entry_permit(Tongue::English));
}
