//! The attendant's card, and copies that must come down.

use crate::support::shell::{Morning, Ran, Shell};
use airwrit::actions::look;
use airwrit::disk::Folder;
use airwrit::record::volumes;
use airwrit::show::card;
use airwrit::view::{CardView, StateWord};

const SHUTDOWN: &str = include_str!("../../examples/answers-shutdown.yaml");
/// Two wearers, two rescuers, attendant and entry watch.
const EVERYONE: &str = "yes\nyes\nyes\nyes\nyes\nyes\n";
const FOUL: &str = "OUT NOW, ON ESCAPE SETS WHERE WORN, NOT THE RESERVE";

fn view(s: &Shell, n: &str) -> CardView {
    let volumes = volumes::read(&Folder::at(&s.path("register"))).unwrap();
    let looked = look(&volumes, s.second.get()).unwrap();
    card::card(&looked.known(), &looked.lines, n, None, None).unwrap()
}

/// A live permit with copy 1, the permit at the manhole, and copy 2, the card on the set.
fn hung() -> (Shell, String) {
    let (mut s, n) = Shell::live();
    let (permit, card) = (s.at("permit.pdf"), s.at("card.pdf"));
    s.run(&["print", &n, "--to", &permit, "--hangs", "at the manhole"], "")
        .code(0)
        .says("copy 1, at the manhole");
    s.run(&["card", &n, "--to", &card, "--hangs", "on the set"], "").code(0).says("copy 2, on the set");
    (s, n)
}

impl Ran {
    /// Both copies are to come down, and that is the last that is said.
    #[track_caller]
    fn both_down(self, n: &str) -> Ran {
        let last: Vec<&str> = self.err.lines().rev().take(2).collect();
        let wanted = |copy: u8, sheet: &str, hangs: &str| {
            format!(
                "take down copy {copy} ({sheet}), which hangs {hangs}: then `airwrit taken-down {n} --copy {copy}"
            )
        };
        let both = [wanted(2, "card", "on the set"), wanted(1, "permit", "at the manhole")];
        assert!(last.len() == 2 && last.iter().zip(&both).all(|(l, w)| l.starts_with(w)), "{}", self.err);
        self
    }
}

#[test]
fn a_card_is_numbered_together_with_the_permit_s_copies() {
    let (mut s, n) = hung();
    assert!(s.read("card.pdf").starts_with(b"%PDF-"));
    let to = s.at("card.pdf");
    s.run(&["print", &n, "--to", &to, "--hangs", "in the office"], "").code(0).says("copy 3, in the office");
    s.run(&["taken-down", &n, "--copy", "2"], "").code(0).says("copy 2 taken down");
    let register = String::from_utf8(s.read("register/0001.jsonl")).unwrap();
    let card = |l: &&str| l.contains("\"kind\":\"copy\"") && l.contains("\"sheet\":\"card\"");
    let cards: Vec<&str> = register.lines().filter(card).collect();
    assert_eq!(cards.len(), 2, "{cards:?}");
    assert!(
        cards[1].contains("\"taken_down\":true") && cards[1].contains("\"hangs\":\"on the set\""),
        "{cards:?}"
    );
    s.run(&["show", &n], "").code(0).says("attendant's card, hangs: on the set");
    s.run(&["card", "KW7-261125-77", "--to", &to], "").code(1).says("there is no permit");
    let at = s.at("register");
    s.bare(&["verify", &at], "").code(5);
}

#[test]
fn a_blank_card_needs_no_register() {
    let mut s = Shell::new();
    let (to, none) = (s.at("blank.pdf"), s.at("none"));
    s.bare(&["card", "--blank", "--to", &to, "--register", &none], "").code(0).says("written");
    let first = s.read("blank.pdf");
    assert!(first.starts_with(b"%PDF-") && !s.path("none").exists());
    s.bare(&["card", "--blank", "--to", &to, "--letter"], "").code(0);
    assert_ne!(first, s.read("blank.pdf"));
    s.bare(&["card", "--to", &to], "").code(2);
    s.bare(&["card", "KW7-261125-01", "--blank", "--to", &to], "").code(2);
    s.bare(&["card", "--blank", "--to", &to, "--hangs", "on the set"], "").code(2);
    s.bare(&["card", "KW7-261125-01", "--to", &to, "--register", &none], "").code(3).says("no register");
}

#[test]
fn a_card_never_replaces_a_key_or_the_register() {
    let (mut s, n) = Shell::live();
    for name in ["register/0001.jsonl", "lukasz.pem", "roster.yaml"] {
        let (to, before) = (s.at(name), s.read(name));
        s.run(&["card", &n, "--to", &to], "").code(3);
        s.run(&["card", "--blank", "--to", &to], "").code(3);
        assert_eq!(s.read(name), before, "{name}");
    }
}

/// The lines alone make it: neither the clock nor who asks.
#[test]
fn the_same_lines_make_the_same_card() {
    let (mut s, n) = Shell::live();
    let (a, b) = (s.at("a.pdf"), s.at("b.pdf"));
    s.run(&["card", &n, "--to", &a], "").code(0);
    s.wait(10 * 60);
    s.run(&["card", &n, "--to", &b], "").code(0);
    assert_eq!(s.read("a.pdf"), s.read("b.pdf"));
    // Gauges are overdue, and no line says so yet: neither sheet is printed that would read live.
    s.wait(26 * 60);
    for sheet in ["card", "print"] {
        s.run(&[sheet, &n, "--to", &b], "").code(1).says("is HELD now").says("print it with --hangs");
    }
    s.run(&["print", &n, "--to", &b, "--hangs", &"at the manhole ".repeat(6)], "").code(1).says("at most 80");
    s.run(&["print", &n, "--to", &b, "--hangs", "at the manhole"], "").code(0);
    let held = s.bare(&["verify", &b], "").code(5).says("page one: HELD: Nobody goes on this air until");
    assert!(held.out.contains("As of line ") && held.out.contains("what came after it is not in this file"));
    // Who asks by radio hears no word, and who scans the code of an older sheet hears no.
    let board = s.run(&["board"], "").code(0).out;
    assert!(board.contains("  HELD  ") && !board.contains("check word"), "{board}");
    assert!(
        board.contains("Copy 1 (permit) hangs: “at the manhole”. Nobody goes on air by it now"),
        "{board}"
    );
    let view = s.run(&["show", &n, "--json"], "").code(0).out;
    let view: serde_json::Value = serde_json::from_str(&view).unwrap();
    assert_eq!((view["held"].as_bool(), view["check_word"].as_str()), (Some(true), Some("")));
    let token = view["token"].as_str().unwrap();
    s.run(&["check-token", token], "").code(1).says("HELD: Nobody goes on this air until");
}

#[test]
fn a_card_holds_what_an_alarm_needs() {
    let (mut s, n) = Shell::live();
    let c = view(&s, &n);
    assert_eq!((c.number.as_str(), c.state), (n.as_str(), Some(StateWord::Live)));
    let shown = s.run(&["show", &n], "").code(0).out;
    assert!(shown.contains(&format!("check word {}", c.check_word)) && !c.check_word.is_empty());
    assert!(c.signal.value.starts_with("Three long blasts"), "{:?}", c.signal);
    let calls: Vec<&str> = c.calls.iter().map(|s| s.value.as_str()).collect();
    assert_eq!(
        calls,
        [
            "555 0142, yard rescue desk",
            "Bollard 31, upwind",
            "Radio channel 7, call word Mewa",
            "Marit Sjøgård"
        ]
    );
    assert_eq!(c.gauges.len(), 2, "{:?}", c.gauges);
    assert!(
        c.gauges[0].label.starts_with("Leave by") && c.gauges[0].value.ends_with(" bar"),
        "{:?}",
        c.gauges
    );
    assert_eq!(c.gauges[1].value, "5.2 bar to 7 bar");
    assert_eq!(
        (c.orders[0].alarm.as_str(), c.orders[0].order.as_str()),
        ("Carbon monoxide", "CHANGE TO RESERVE, OUT")
    );
    assert_eq!(c.rescuers, ["Παύλος Ανεμώνης", "Inês Valongueiro"]);
    let wearers: Vec<&str> = c.wearers.iter().map(|w| w.name.as_str()).collect();
    assert_eq!(wearers, ["Żaneta Brzęczyk", "Νίκος Θαλασσινός"]);
    // Pressures only: no time to be waited for, no margin.
    for s in c.gauges.iter().chain(&c.calls) {
        assert!(!s.value.contains(" min") && !s.note.contains(" min"), "{s:?}");
    }
    // Whoever breathes from the set is counted out by it, on whatever they went on.
    s.run(&["on", "zaneta"], "").code(0);
    s.run(&["on", "A fitter", "--report", "--set", "heron"], "").code(0);
    let c = view(&s, &n);
    let on: Vec<(&str, bool)> = c.wearers.iter().map(|w| (w.name.as_str(), w.since.is_empty())).collect();
    assert_eq!(on, [("Żaneta Brzęczyk", false), ("Νίκος Θαλασσινός", true), ("A fitter", false)]);
    s.run(&["reading", &n, "--what", "supply", "--value", "4.8 bar"], "").code(0);
    let c = view(&s, &n);
    assert!(c.warnings.iter().any(|w| w.starts_with("OUT OF LIMITS: ")), "{:?}", c.warnings);
    s.run(&["suspend", &n], "").code(0);
    let c = view(&s, &n);
    assert_eq!((c.state, c.check_word.as_str()), (Some(StateWord::Suspended), ""));
}

/// What the supervisor narrowed stands on the card too: it is what is left when the laptop is gone.
#[test]
fn a_card_holds_what_the_supervisor_narrowed() {
    let (mut s, n) = Shell::declared();
    s.signed(&["countersign", &n, "--wearers", "1", "--limits", "no spraying at the manhole"], "eleni")
        .code(0);
    let c = view(&s, &n);
    let most = c.limits.iter().find(|l| l.label.starts_with("Most on air")).map(|l| l.value.as_str());
    assert_eq!(most, Some("1"), "{:?}", c.limits);
    for words in ["at most 1 on air at once", "no spraying at the manhole"] {
        assert!(
            c.warnings.iter().any(|w| w == &format!("Limited by the supervisor: {words}")),
            "{:?}",
            c.warnings
        );
    }
}

/// What was decided of the reserve's air counts while it is that air.
#[test]
fn filled_again_the_order_at_carbon_monoxide_is_the_safe_one() {
    let (mut s, n) = Shell::live();
    s.run(&["set", "filled", "heron", "--from", "this_set"], "").code(0);
    assert_eq!(view(&s, &n).orders[0].order, FOUL);
    s.run(&["show", &n], "")
        .code(0)
        .says(&format!("On a carbon monoxide alarm: {FOUL} (until it is decided again"));
    let event = s.run(&["event", &n, "--what", "co"], "").code(0);
    assert!(event.err.starts_with(FOUL), "{}", event.err);
}

/// Orders and signals first; what hangs and is not true any more last of all, until it is said to be down.
#[test]
fn what_stops_the_work_says_last_which_copies_come_down() {
    let (mut s, n) = hung();
    s.run(&["show", &n], "").code(0);
    s.run(&["relieve", &n, "--role", "attendant", "--to", "bohdan"], "").code(0).both_down(&n);
    s.run(&["on", "zaneta"], "").code(0);
    let event = s.run(&["event", &n, "--what", "change_over"], "").code(0).both_down(&n);
    assert!(event.err.starts_with("OUT NOW, ON THE RESERVE\n  SIGNAL: "), "{}", event.err);
    s.run(&["suspend"], "").code(0).both_down(&n);
    s.run(&["suspend", "--set", "heron"], "").code(0).both_down(&n);
    let call = s.run(&["call-out", &n], "").code(0).both_down(&n);
    assert!(call.err.starts_with("I AM CALLING EVERYONE OUT\n  SIGNAL: "), "{}", call.err);
    s.run(&["show", &n], "").code(0).says("!! Take down copy 2 (card), which hangs on the set");
    s.run(&["taken-down", &n, "--copy", "1"], "").code(0);
    let one = s.run(&["call-out", &n], "").code(0);
    assert!(one.err.contains("take down copy 2") && !one.err.contains("take down copy 1"), "{}", one.err);
    s.run(&["taken-down", &n, "--copy", "2"], "").code(0);
    assert!(!s.run(&["call-out", &n], "").code(0).err.contains("take down"));
}

/// What cannot be read for a reminder stops no report.
#[test]
fn nothing_is_owed_to_a_reminder() {
    let (mut s, n) = hung();
    let register = s.at("register/0001.jsonl");
    let mut bytes = s.read("register/0001.jsonl");
    let at = bytes.len() / 2;
    bytes[at] ^= 1;
    std::fs::write(register, bytes).unwrap();
    let ran = s.run(&["call-out", &n], "").code(4);
    assert!(
        ran.err.starts_with("I AM CALLING EVERYONE OUT") && ran.err.contains("NOT KEPT IN THE REGISTER"),
        "{}",
        ran.err
    );
}

#[test]
fn what_is_signed_says_which_copies_come_down() {
    let (mut s, n) = hung();
    s.run(&["event", &n, "--what", "false_alarm"], "").code(0).both_down(&n);
    s.run(&["roll-call", &n], EVERYONE).code(0);
    s.read_gauges(&n);
    s.signed(&["reinstate", &n, "--cause", "The horn was leant on"], "lukasz")
        .code(0)
        .says("is live")
        .both_down(&n);
    for copy in ["1", "2"] {
        s.run(&["taken-down", &n, "--copy", copy], "").code(0);
    }
    let to = s.at("card.pdf");
    s.run(&["card", &n, "--to", &to, "--hangs", "on the set"], "").code(0).says("copy 3");
    Morning::new(SHUTDOWN, true).walk(&mut s, &n).code(0).says("every step is done");
    s.signed(&["hand-back", &n], "lukasz").code(0).says("take down copy 3 (card)");
    s.signed(&["close", &n], "eleni").code(0).says("take down copy 3 (card)");
}

#[test]
fn a_permit_that_is_withdrawn_comes_down() {
    let (mut s, n) = hung();
    let reason = ["--reason", "The ferry sails early"];
    s.signed(&[&["cancel", &n][..], &reason].concat(), "eleni").code(0).says("is cancelled").both_down(&n);
}

/// What was asked for changes nothing yet: a copy that is true stays. What is given makes it untrue.
#[test]
fn a_later_end_that_is_given_brings_down_what_hangs() {
    let (mut s, n) = Shell::declared();
    s.signed(&["countersign", &n, "--until", "12:00"], "eleni").code(0).says("is live");
    let mut morning = Morning::new(include_str!("../../examples/answers-pre-start.yaml"), false);
    morning.own();
    morning.walk(&mut s, &n).code(0);
    s.read_gauges(&n);
    let to = s.at("card.pdf");
    s.run(&["card", &n, "--to", &to, "--hangs", "on the set"], "").code(0);
    let asked =
        s.signed(&["extend", &n, "--until", "13:00", "--reason", "The coat dries slowly"], "lukasz").code(0);
    assert!(!asked.err.contains("take down"), "{}", asked.err);
    s.signed(&["extend", &n, "--give"], "eleni").code(0).says("take down copy 1 (card)");
}
