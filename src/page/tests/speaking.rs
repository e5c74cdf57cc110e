//! The page in the language that somebody chose: every screen, the key that calls everyone out, the signal.

use super::guarding::screens;
use super::*;
use crate::tongue::Tongue;

fn cookie(tongue: Tongue) -> String {
    format!("{}; airwrit-{PORT}-language={}", Site::cookie(), tongue.tag())
}

/// What is read on a screen: without its markup, and with a mark where one stood.
fn read(text: &str) -> String {
    let body = text.split_once("<body").map_or(text, |(_, body)| body);
    let mut out = String::new();
    let mut inside = text.contains("<body");
    for c in body.chars() {
        match c {
            '<' => {
                inside = true;
                out.push('¦');
            }
            '>' => inside = false,
            c if !inside => out.push(c),
            _ => {}
        }
    }
    out.replace("&#x27;", "'").replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">")
}

#[test]
fn a_language_is_chosen_and_kept_by_the_browser() {
    let site = Site::new();
    assert!(site.get("/").text.contains("<html lang=\"en\">"));
    let came = site.post("/language", &[("language", "uk"), ("to", "/board")]);
    assert_eq!((came.status, came.headers["location"].to_str().unwrap()), (StatusCode::SEE_OTHER, "/board"));
    let set = came.headers["set-cookie"].to_str().unwrap();
    assert!(set.starts_with(&format!("airwrit-{PORT}-language=uk;")) && set.contains("HttpOnly"), "{set}");
    assert!(site.get_with("/board", &cookie(Tongue::Ukrainian)).text.contains("<html lang=\"uk\">"));
    // No language of this program, and nowhere else to go than on this page.
    assert!(!site.post("/language", &[("language", "xx"), ("to", "/")]).headers.contains_key("set-cookie"));
    for to in ["//elsewhere", "https://elsewhere", "/\\elsewhere"] {
        assert_eq!(site.post("/language", &[("language", "pl"), ("to", to)]).headers["location"], "/");
    }
}

/// `airwrit --language pl serve`: the page as any other command; what somebody chose on it goes before.
#[test]
fn a_page_begun_in_a_language_speaks_it() {
    let site = Tongue::Polish.within_asked(Site::new);
    let text = site.get("/board").text;
    assert!(text.contains("<html lang=\"pl\">") && text.contains("WZYWAM WSZYSTKICH DO WYJŚCIA"), "{text}");
    assert!(site.get_with("/board", &cookie(Tongue::Ukrainian)).text.contains("<html lang=\"uk\">"));
}

#[test]
fn every_screen_speaks_the_language_chosen_and_its_key_cannot_be_mistaken() {
    let site = Site::new();
    let number = site.open();
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    for (tongue, key) in
        [(Tongue::Polish, "WZYWAM WSZYSTKICH DO WYJŚCIA"), (Tongue::Ukrainian, "ВИКЛИКАЮ ВСІХ НАЗОВНІ")]
    {
        let mut english = Vec::new();
        for path in screens(&number) {
            let came = site.get_with(&path, &cookie(tongue));
            assert_eq!(came.status, StatusCode::OK, "{path}: {}", came.text);
            let shown = read(&came.text);
            let part = !came.text.contains("<html");
            assert!(part || came.text.contains(&format!("<html lang=\"{}\">", tongue.tag())), "{path}");
            assert!(part || shown.contains(key), "{path}");
            let own = |(e, o): &(&String, &String)| {
                // A stage of the site's checklist bears this name, in the checklist's language.
                let of_site = *e == "Carbon monoxide";
                e != o && e.contains(' ') && !e.contains(['{', '|']) && !of_site
            };
            let left = tongue.table().iter().filter(own).map(|(e, _)| e);
            english
                .extend(left.filter(|e| shown.contains(&format!("¦{e}¦"))).map(|e| format!("{path}: {e}")));
        }
        assert!(english.is_empty(), "{}: still English:\n{}", tongue.tag(), english.join("\n"));
    }
}

#[test]
fn the_signal_stands_in_each_browsers_own_language_whoever_read_the_register() {
    let site = Site::new();
    site.open();
    // Read anew for a Polish browser: the next one is not answered in Polish.
    site.post("/tally", &[("person", "rasa"), ("set", "heron"), ("to", "in"), ("report", "1")]);
    site.get_with("/board", &cookie(Tongue::Polish));
    for (tongue, rescue) in [
        (None, "¦RESCUE¦"),
        (Some(Tongue::Ukrainian), "¦РЯТУВАННЯ¦"),
        (Some(Tongue::Polish), "¦RATUNEK¦"),
        (None, "¦RESCUE¦"),
    ] {
        let cookie = tongue.map_or_else(Site::cookie, cookie);
        let shown = read(&site.get_with("/call-out", &cookie).text);
        assert!(shown.contains(rescue), "{tongue:?}: {shown}");
    }
}

#[test]
fn a_part_of_a_screen_speaks_as_its_screen_does_whatever_was_chosen_since() {
    use crate::page::guard::PART_IN;
    let site = Site::new();
    let mut headers = axum::http::HeaderMap::new();
    headers.insert("cookie", cookie(Tongue::Polish).parse().unwrap());
    let of = |headers: &axum::http::HeaderMap, asked| site.app.guard.language(headers, asked);
    assert_eq!(of(&headers, None), Some(Tongue::Polish));
    assert_eq!(of(&headers, Some("xx")), Some(Tongue::Polish));
    assert_eq!(of(&headers, Some("uk")), Some(Tongue::Ukrainian));
    let request = |language: &str| {
        let request = Request::get("/board/live").header("host", Site::host());
        let request = request.header("cookie", cookie(Tongue::Polish)).header(PART_IN, language);
        read(&site.send(request.body(Body::empty()).unwrap()).text)
    };
    assert!(request("en").contains("as of ") && !request("pl").contains("as of "));
}
