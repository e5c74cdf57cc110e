//! Figures that are worked out one after the other: shown together, taken with one press, each in its own line.

use super::*;
use std::collections::BTreeMap;

type Given = BTreeMap<(String, String), Vec<(String, String)>>;

/// What is answered on the example's day, by step and item, in order: the value, and what was done since.
fn given() -> Given {
    let day: serde_json::Value =
        serde_yaml::from_str(include_str!("../../../examples/answers-pre-start.yaml")).unwrap();
    let mut out = Given::new();
    for a in day["answers"].as_array().unwrap() {
        let text = |name: &str| a[name].as_str().unwrap_or_default().to_owned();
        out.entry((text("step"), text("item"))).or_default().push((text("value"), text("again")));
    }
    out
}

/// What stands in the step that is asked.
struct Asked {
    kind: String,
    fields: Vec<(String, String)>,
    figures: Vec<String>,
    answered: bool,
}

fn plain(html: &str) -> String {
    html.replace("&#x2f;", "/").replace("&lt;", "<").replace("&quot;", "\"").replace("&amp;", "&")
}

fn asked(text: &str) -> Option<Asked> {
    let form = text.split_once("class=\"step")?.1.split_once("</form>").unwrap().0;
    let hidden = |name: &str| -> Vec<String> {
        let head = format!("<input type=\"hidden\" name=\"{name}\" value=\"");
        let all = form.split(&head).skip(1);
        all.map(|rest| plain(rest.split('"').next().unwrap())).collect()
    };
    let of = |name: &&str| Some(((*name).to_owned(), hidden(name).first()?.clone()));
    Some(Asked {
        kind: between(form, "data-kind=\"", "\"").to_owned(),
        fields: ["step", "item", "position"].iter().filter_map(of).collect(),
        figures: hidden("figure"),
        answered: form.contains("name=\"again\""),
    })
}

impl Asked {
    fn field(&self, name: &str) -> &str {
        self.fields.iter().find(|(n, _)| n == name).map_or("", |(_, v)| v)
    }

    /// All that is sent with this, and what its figures are sent as.
    fn sent<'s>(&'s self, figures: &'s [String], more: &[(&'s str, &'s str)]) -> Vec<(&'s str, &'s str)> {
        let mut all = vec![("kind", self.kind.as_str())];
        all.extend(self.fields.iter().map(|(n, v)| (n.as_str(), v.as_str())));
        all.extend(figures.iter().map(|f| ("figure", f.as_str())));
        all.extend(more);
        all
    }
}

/// Answers a draft up to the first screen with several figures.
fn several(site: &Site, walk: &str) -> Asked {
    let mut given = given();
    for _ in 0..200 {
        let text = site.get(walk).text;
        let asked = asked(&text)
            .unwrap_or_else(|| panic!("nothing is asked: {}", between(&text, "<main", "</main>")));
        if asked.figures.len() > 1 {
            return asked;
        }
        let key = (asked.field("step").to_owned(), asked.field("item").to_owned());
        let (value, again) = match given.get_mut(&key) {
            Some(all) if all.len() > 1 => all.remove(0),
            Some(all) => all[0].clone(),
            None => <(String, String)>::default(),
        };
        let mut more = vec![];
        match asked.kind.as_str() {
            "begin" => more.push(("value", "begun")),
            "done" => {
                site.app.hands.clock.forward(1200);
                more.push(("value", "done"));
            }
            "start" | "worked_out" => {}
            _ => more.push(("value", value.as_str())),
        }
        if asked.answered {
            more.push(("again", if again.is_empty() { "asked_again" } else { again.as_str() }));
        }
        let came = site.post(walk, &asked.sent(&asked.figures, &more));
        assert_eq!(
            came.status,
            StatusCode::SEE_OTHER,
            "{key:?}: {}",
            between(&came.text, "<main", "</main>")
        );
    }
    panic!("no several figures");
}

#[test]
fn figures_worked_out_one_after_the_other_are_all_shown_and_one_press_keeps_each_in_its_line() {
    let site = Site::new();
    let number = site.open();
    let walk = format!("/p/{number}/walk");
    let asked = several(&site, &walk);
    let shown: Vec<&str> = asked.figures.iter().map(|f| f.splitn(4, '|').nth(3).unwrap()).collect();
    let text = site.get(&walk).text;
    let list = between(&text, "<ol class=\"figures\">", "</ol>");
    for figure in &shown {
        assert!(plain(list).contains(&format!("</span> {figure}</b>")), "{figure}: {list}");
    }
    assert_eq!(list.matches("<li>").count(), shown.len());
    // What came out otherwise since it was shown is not kept unseen, nor anything after it.
    let before = site.lines();
    let mut otherwise = asked.figures.clone();
    otherwise[0] = format!("{}9", otherwise[0]);
    let came = site.post(&walk, &asked.sent(&otherwise, &[]));
    assert!(
        came.text.contains("when it was shown, and does not now") && site.lines() == before,
        "{}",
        came.text
    );
    let mut last = asked.figures.clone();
    last.last_mut().unwrap().push('9');
    // Each in its own line, in order, as if each had been pressed; the same press once more keeps nothing.
    let came = site.post(&walk, &asked.sent(&asked.figures, &[]));
    assert!(
        site.follow(&came).text.contains(&format!("{} figures that were worked out are kept", shown.len()))
    );
    assert_eq!(site.lines(), before + shown.len());
    let register = String::from_utf8(site.register()).unwrap();
    let kept: Vec<&str> = register.lines().skip(before).map(|l| between(l, "\"step\":\"", "\"")).collect();
    let steps: Vec<&str> = asked.figures.iter().map(|f| f.split('|').next().unwrap()).collect();
    assert_eq!(kept, steps);
    for again in [&asked.figures, &last] {
        let came = site.post(&walk, &asked.sent(again, &[]));
        assert!(site.follow(&came).text.contains("Answered already"), "{}", came.text);
        assert_eq!(site.lines(), before + shown.len());
    }
}
