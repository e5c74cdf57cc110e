//! What a screen shows and holds back: what is read blind, who is still to be looked for, what one signs for, what was typed.

use super::standing::{NUMBER, page_at, played, time};
use super::telling::read_by_the_operator;
use super::*;
use crate::tongue::Tongue;

/// The played day up to its first line of a kind, without it; and the clock a second after the last of these.
fn upto(kind: &str) -> (TempDir, i64) {
    let day = played();
    let is = |l: &&Vec<u8>| {
        let line: serde_json::Value = serde_json::from_slice(l).unwrap();
        line["body"]["kind"] == kind
    };
    let at = day.iter().position(|l| is(&l)).unwrap();
    let register = tempfile::tempdir().unwrap();
    std::fs::write(register.path().join("0001.jsonl"), day[..at].concat()).unwrap();
    (register, time(&day[at - 1]) + 1)
}

fn main_of(text: &str) -> &str {
    between(text, "<main", "</main>")
}

#[test]
fn what_a_supervisor_is_to_read_blind_stands_on_no_screen_of_the_permit_and_on_no_paper() {
    let (site, number) = Site::declared();
    let path = format!("/p/{number}/sign/countersign");
    let right = read_by_the_operator(&site, &path);
    let at = |part: &str| format!("/p/{number}{part}");
    let screens =
        [at(""), at("/record"), at("/walk"), at("/sign/countersign"), at("/sign/refuse"), "/board".into()];
    let tells = |text: &str| {
        right.iter().any(|(name, value)| {
            let unit = if name.starts_with("seen.co") { "ppm" } else { "bar" };
            let reading = format!("{value} {unit}");
            let whole = |at: usize| !text[..at].ends_with(|c: char| c.is_ascii_digit() || c == '.');
            text.match_indices(&reading).any(|(at, _)| whole(at))
        })
    };
    for tongue in Tongue::ALL {
        let cookie = format!("{}; airwrit-{PORT}-language={}", Site::cookie(), tongue.tag());
        for path in &screens {
            let text = site.get_with(path, &cookie).text;
            assert!(!tells(main_of(&text)), "{path} in {} tells it: {text}", tongue.tag());
        }
    }
    for path in &screens[..2] {
        let text = site.get(path).text;
        assert!(text.contains("Held back on this screen until the supervisor has read them again"), "{path}");
    }
    assert!(site.get(&screens[1]).text.contains("(held back)"));
    for paper in ["/permit.pdf", "/card.pdf"] {
        let came = site.get(&at(paper));
        assert_eq!(came.status, StatusCode::CONFLICT, "{paper}");
        assert!(came.text.contains("it is drawn once the supervisor has read them again"), "{}", came.text);
    }
    let before = site.lines();
    let came = site.post(&at("/hang"), &[("hangs", "at the manhole"), ("sheet", "permit")]);
    assert_eq!((came.status, site.lines()), (StatusCode::CONFLICT, before));
    // Read, and not the same: known from now on, with a key that leads to where it is read again.
    let mut wrong: Vec<(&str, &str)> = right.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    let other = (right[1].1.parse::<f64>().unwrap() + 40.0).to_string();
    wrong[1].1 = &other;
    site.post(&path, &[&wrong[..], &[("stage", "look"), ("by", "eleni")]].concat());
    let text = site.get(&screens[1]).text;
    assert!(!text.contains("(held back)") && tells(&text), "{text}");
    assert_eq!(site.get(&at("/permit.pdf")).status, StatusCode::OK);
}

#[test]
fn an_issued_permit_holds_nothing_back() {
    let (site, number) = Site::live();
    for at in ["", "/record"] {
        let text = site.get(&format!("/p/{number}{at}")).text;
        assert!(!text.contains("held back") && !text.contains("Held back"), "{text}");
    }
    assert_eq!(site.get(&format!("/p/{number}/permit.pdf")).status, StatusCode::OK);
}

#[test]
fn a_finished_shutdown_leads_to_hand_back_and_what_lapsed_ended_at_its_end() {
    static SECOND: AtomicI64 = AtomicI64::new(0);
    let (register, second) = upto("hand_back");
    SECOND.store(second, Ordering::Relaxed);
    let site = page_at(register.path(), || SECOND.load(Ordering::Relaxed));
    let key = format!("<a class=\"key go\" href=\"/p/{NUMBER}/sign/hand-back\">Hand back</a>");
    for path in ["/?later=1".to_owned(), format!("/p/{NUMBER}")] {
        let text = site.get(&path).text.replace("&#x2f;", "/");
        assert!(text.contains(&key), "{path}: {text}");
    }
    // One step of it left: the shutdown goes on.
    let (register, second) = upto("stopped");
    SECOND.store(second, Ordering::Relaxed);
    let site = page_at(register.path(), || SECOND.load(Ordering::Relaxed));
    let text = site.get("/?later=1").text.replace("&#x2f;", "/");
    assert!(!text.contains(&key) && text.contains("Go on with the shutdown"), "{text}");
    // Hours after its end, nobody having written a line of it: since then.
    let (register, second) = upto("on_air");
    SECOND.store(second, Ordering::Relaxed);
    let site = page_at(register.path(), || SECOND.load(Ordering::Relaxed));
    let known = crate::record::volumes::read(&crate::disk::Folder::at(register.path())).unwrap();
    let looked = crate::actions::look(&known, second).unwrap();
    let end = looked.state.permits.get(NUMBER).unwrap().valid_to.clone().unwrap();
    SECOND.store(crate::time::seconds(&end) + 3 * 3600, Ordering::Relaxed);
    let text = site.get("/?later=1").text;
    let since = crate::time::for_people(&end, "+01:00");
    let row = between(text.split_once("id=\"h-ended\"").unwrap().1, NUMBER, "</li>");
    assert!(row.to_lowercase().contains("lapsed") && row.contains(&format!("since {since}")), "{row}");
}

#[test]
fn a_key_of_the_tally_on_a_screen_older_than_what_it_shows_asks_again() {
    let site = Site::new();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    let pressed = |shown: &str, to: &str| {
        site.follow(&site.post("/tally", &[("person", "rasa"), ("shown", shown), ("to", to)])).text
    };
    let before = site.lines();
    // Somebody else has told meanwhile that she went in: nobody takes her off air from a screen that shows her outside.
    for shown in ["outside", "out"] {
        let told = pressed(shown, "off");
        assert!(told.contains("the screen that was pressed showed rasa elsewhere; now it is: IN"), "{told}");
        assert!(told.contains("class=\"came doubt"), "told in green: {told}");
    }
    assert_eq!(site.lines(), before);
    // That she is out is taken from any screen; so is what the screen shows.
    pressed("outside", "out");
    assert_eq!(site.lines(), before + 1);
    pressed("out", "off");
    assert_eq!(site.lines(), before + 2);
    let board = site.get("/board").text;
    assert!(!board.contains("name=\"shown\"") || board.contains("name=\"shown\" value=\"off\""), "{board}");
}
