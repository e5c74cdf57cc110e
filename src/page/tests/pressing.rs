//! Keys that are pressed twice, in the dark or with Enter: nothing is done that its screen did not show.

use super::*;

#[test]
fn a_second_press_takes_nobody_off_air_who_was_brought_out_a_moment_ago() {
    let site = Site::new();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    moment(&site);
    let before = site.lines();
    assert_eq!(site.follow(&pressed(&site, "in", "out")).status, StatusCode::OK);
    assert_eq!(site.lines(), before + 1);
    // What the second press of two hits on the next screen.
    for to in ["off", "in"] {
        let told = site.follow(&pressed(&site, "out", to));
        assert!(told.text.contains("Not taken: rasa was moved only a moment ago"), "{}", told.text);
        assert!(told.text.contains("came slim doubt") || told.text.contains("came doubt"), "told in green");
    }
    assert_eq!(site.lines(), before + 1);
    moment(&site);
    // From a screen that showed them in still: only that they are out is taken.
    let told = site.follow(&pressed(&site, "outside", "off"));
    assert!(told.text.contains("showed rasa elsewhere"), "{}", told.text);
    assert_eq!(site.lines(), before + 1);
    site.follow(&pressed(&site, "out", "off"));
    assert_eq!(site.lines(), before + 2);
}

fn moment(site: &Site) {
    site.runtime.block_on(async { tokio::time::sleep(crate::page::notices::LATELY * 2).await });
}

fn pressed(site: &Site, shown: &str, to: &str) -> Came {
    site.post("/tally", &[("person", "rasa"), ("shown", shown), ("to", to)])
}

/// The first key of a form is the one that Enter presses in any of its fields.
#[test]
fn enter_in_a_field_presses_none_of_several_keys() {
    let (site, number) = Site::declared();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    let mut several = 0;
    for path in super::guarding::screens(&number) {
        let text = site.get(&path).text;
        for form in text.split("<form ").skip(1).map(|f| f.split_once("</form>").unwrap().0) {
            let keys: Vec<&str> =
                form.split("<button").skip(1).filter(|b| !b.contains("type=\"button\"")).collect();
            let fields = form.split("<input").skip(1).any(|i| !i.contains("type=\"hidden\""));
            if keys.len() < 2 || !fields {
                continue;
            }
            several += 1;
            let first = keys[0];
            let harmless =
                first.starts_with(" class=\"none\" disabled hidden>") || first.contains("value=\"plan\"");
            assert!(harmless, "{path}: Enter presses <button{first}");
        }
    }
    assert!(several > 3, "{several}");
    let walk = site.get(&format!("/p/{}/walk", site.open())).text;
    let step = between(&walk, "<form method=\"post\" action=\"/p/", "</form>");
    assert!(step.contains("data-kind=\"yes_no\"") && step.contains("<button class=\"none\""), "{step}");
}

#[test]
fn off_air_stands_apart_from_every_other_key() {
    let style = super::super::STYLE;
    assert!(style.contains(".who form button { grid-column: 1;"), "{style}");
    assert!(style.contains(".who form button[value=\"off\"] { grid-column: 2; }"), "{style}");
}
