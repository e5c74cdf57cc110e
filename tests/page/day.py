"""A whole day in a real browser, from opening to closing. `day.py MODE`:

clicks   by clicks and touch targets; axe-core on every screen, by day, by night and phone-sized; targets measured
keys     by keys alone, every step loaded again before it is answered
two      two tabs, the second one sending every step again; the program killed and started again before every step
calling  everyone called out from every screen, before the program answers, with the program gone, without script

In every mode: no request leaves the machine, no script fails, and the register verifies sound at the end.
"""

import json
import os
import pathlib
import sys
import time

from playwright.sync_api import TimeoutError, sync_playwright

from crew import Crew, PASSPHRASE, ROOT, Server, answers, local, program

MODE = sys.argv[1]
PORT = int(os.environ.get("AIRWRIT_PORT", {"clicks": 7911, "keys": 7912, "two": 7913, "calling": 7914}[MODE]))
SHOTS = pathlib.Path(os.environ["AIRWRIT_SHOTS"]) if os.environ.get("AIRWRIT_SHOTS") else None
AXE = pathlib.Path(os.environ["AIRWRIT_AXE"]).read_text() if os.environ.get("AIRWRIT_AXE") else None
# 15 mm at 96 dots to the inch.
TARGET = 56.6
wrong, left_machine, begun = [], [], time.time()


def watch(context, base):
    def on_request(request):
        if not local(request.url, base):
            left_machine.append(request.url)

    def on_console(message):
        # A killed program is noticed by the browser; that is what is tried here.
        if message.type == "error" and "ERR_" not in message.text and "status of 4" not in message.text:
            wrong.append(f"console: {message.text}")

    context.on("request", on_request)
    context.on("console", on_console)
    context.on("weberror", lambda e: wrong.append(f"script: {e.error}"))


def axe(page, name, colours=False):
    """No violation, and nothing too small for gloves; of colours alone where nothing else can differ."""
    if not AXE:
        return
    if not page.evaluate("typeof axe !== 'undefined'"):
        page.evaluate(AXE + "; 0")
    only = ", runOnly: ['color-contrast', 'link-in-text-block']" if colours else ""
    found = page.evaluate("axe.run(document, { resultTypes: ['violations']" + only + " }).then((found) => found.violations)")
    for v in found:
        wrong.append(f"axe {name}: {v['id']}: {v['help']}: {[n['html'][:120] for n in v['nodes'][:3]]}")
    small = page.evaluate("""t => [...document.querySelectorAll('button, .key, select, summary, .tiles a, nav a, .pick, .tick label, input')]
        .filter(e => e.type !== 'hidden' && !['radio', 'checkbox'].includes(e.type) && e.checkVisibility())
        .map(e => [e, e.getBoundingClientRect()])
        .filter(([e, r]) => r.width > 0 && (r.height < t || r.width < t))
        .map(([e, r]) => `${e.tagName} ${(e.textContent || e.name).trim().slice(0, 30)} ${Math.round(r.width)}x${Math.round(r.height)}`)""", TARGET)
    wrong.extend(f"too small on {name}: {s}" for s in small)
    # In two lines of keys at most, also where words are longer: people come first.
    tall = page.evaluate("innerWidth < 500 && document.querySelector('header') ? document.querySelector('header').offsetHeight : 0")
    if tall > 120:
        wrong.append(f"the header of {name} is {tall} px high")
    tall = page.evaluate("innerWidth > 760 && document.querySelector('header') ? document.querySelector('header').offsetHeight : 0")
    if tall > 76:
        wrong.append(f"the header of {name} takes more than one line: {tall} px")
    # A figure without its unit may be any other.
    covered = page.evaluate("""() => [...document.querySelectorAll('.typed .unit')].filter(e => e.checkVisibility() && e.textContent.trim())
        .map(e => [e, e.getBoundingClientRect(), e.closest('form').querySelector('.typed > button, .typed ~ button')?.getBoundingClientRect(),
                   e.previousElementSibling.getBoundingClientRect()])
        .filter(([e, u, k, i]) => e.scrollWidth > u.width + 1 || u.top > i.bottom || (k && k.top < u.bottom && k.bottom > u.top && k.left < u.right - 1))
        .map(([e]) => e.textContent)""")
    wrong.extend(f"the unit {u} on {name} is covered, or not beside its field" for u in covered)
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if wide > 0:
        wrong.append(f"{name} is {wide} px wider than the window")


def looks(crew, name):
    """A screen by day, by night, on a phone."""
    page = crew.page
    for size, width, height, scheme in [("day", 1024, 600, "light"), ("night", 1024, 600, "dark"), ("phone", 390, 800, "light")]:
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme=scheme)
        # By night the same stands in the same places.
        axe(page, f"{name}, {size}", colours=size == "night")
        if SHOTS:
            page.screenshot(path=str(SHOTS / f"{name}-{size}.png"))
    page.set_viewport_size({"width": 1024, "height": 600})
    page.emulate_media(color_scheme="light")


def at_one_look(crew, name, selector):
    """On a small laptop nobody scrolls for any of these: they end above the key that calls everyone out."""
    hidden = crew.page.evaluate("""s => {
        const end = document.querySelector('.callout').getBoundingClientRect().top;
        return [...document.querySelectorAll(s)].filter(e => e.checkVisibility() && e.getBoundingClientRect().bottom > end + 1)
            .map(e => e.textContent.trim().slice(0, 40));
    }""", selector)
    wrong.extend(f"not at one look on {name}: {h}" for h in hidden)


def six_on_air(crew, name):
    """The board as it is with six people on air, long names among them: each by name in two lines at most, each key at one look."""
    crew.page.evaluate("""() => {
        const tally = document.querySelector('#board .tally'), all = [...tally.querySelectorAll('.who')];
        for (let n = all.length; n < 6; n++) {
            const one = all[n % all.length].cloneNode(true);
            one.querySelector('.name b').textContent = n % 2 ? 'Bartłomiej Wierzbicki-Krzyżanowski' : 'Ida Brandt';
            tally.append(one);
        }
    }""")
    tall = crew.page.evaluate("[...document.querySelectorAll('#board .who')].map(e => [e.querySelector('.name').offsetHeight, e.offsetHeight])")
    wrong.extend(f"{who} px tall on {name}: a name of {of_name}" for of_name, who in tall if of_name > 52 or who > 190)
    at_one_look(crew, f"{name}, six on air", "#board .tally button[value=out]")
    if SHOTS:
        crew.page.screenshot(path=str(SHOTS / f"{name}-six.png"))


def in_tongues(crew, screens):
    """The same screens in the other languages, whose words are longer: by day and on a phone."""
    page, base = crew.page, crew.server.base
    cookie = f"airwrit-{PORT}-language"
    for tongue, key in [("pl", "WZYWAM WSZYSTKICH DO WYJŚCIA"), ("uk", "ВИКЛИКАЮ ВСІХ НАЗОВНІ")]:
        crew.context.add_cookies([{"name": cookie, "value": tongue, "url": base, "httpOnly": True, "sameSite": "Strict"}])
        for path, name in screens:
            crew.go(path)
            assert page.get_attribute("html", "lang") == tongue, f"{name} is not in {tongue}"
            assert key in page.inner_text("#callout-key"), f"{name}, {tongue}: {page.inner_text('#callout-key')}"
            for size, width, height in [("day", 1024, 600), ("phone", 390, 800)]:
                page.set_viewport_size({"width": width, "height": height})
                axe(page, f"{name}, {tongue}, {size}", colours=True)
                if size == "day":
                    at_one_look(crew, f"{name}, {tongue}", ".events button, .urgent ~ .tally button[value=out], .step:has(.again) .take :is(.pick, .big button, .pad button, .go)")
                if SHOTS:
                    page.screenshot(path=str(SHOTS / f"{name}-{tongue}-{size}.png"))
        page.set_viewport_size({"width": 1024, "height": 600})
    crew.context.clear_cookies(name=cookie)


def on_air(crew, table):
    for what, value in [("supply", "6"), ("reserve", "207"), ("co", "1")]:
        crew.read(what, value)
    for person in ["zaneta", "nikos"]:
        crew.move(person, "on")
        crew.move(person, "in")


def off_air(crew):
    for person in ["nikos", "zaneta"]:
        crew.move(person, "out")
        crew.move(person, "off")


def ends_sound(server, number, crew):
    state = crew.state(number)
    assert state == "CLOSED", state
    answer = crew.context.request.get(f"{server.base}/p/{number}/permit.pdf")
    assert answer.ok and answer.body().startswith(b"%PDF-"), answer.status
    code, said = server.verify()
    assert code == 0, said
    print(f"{MODE}: {crew.answered} answers, {server.lines()} lines, sound, {time.time() - begun:.0f} s")


def slow_answer(crew, path):
    """What came of a form is slow to come, longer than from one sign of life to the next."""
    def held(route):
        if route.request.method != "POST":
            route.continue_()
            return
        answer = route.fetch(max_redirects=0)
        time.sleep(3)
        route.fulfill(response=answer)

    crew.page.route(f"**{path}", held)


def whole_day(crew, server, issued=None, working=None):
    table = answers("answers-pre-start.yaml")
    number = crew.open()
    crew.walk(number, table)
    slow_answer(crew, f"/p/{number}/sign/declare")
    crew.sign(number, "declare", "lukasz")
    crew.page.unroute("**/sign/declare")
    crew.read_again(number, table)
    assert crew.state(number) == "LIVE", crew.page.inner_text("main")[:1500]
    crew.walk(number, table)
    if issued:
        issued(number)
    on_air(crew, table)
    if working:
        working(number)
    off_air(crew)
    crew.walk(number, answers("answers-shutdown.yaml"), shutdown=True)
    crew.sign(number, "hand-back", "lukasz")
    crew.sign(number, "close", "eleni")
    return number


def by_clicks(browser, server):
    context = browser.new_context(viewport={"width": 1024, "height": 600})
    watch(context, server.base)
    seen = set()

    def each(crew, s):
        held = "holds-" if crew.asks("!!e", ".hold") else ""
        if held + s["kind"] not in seen:
            seen.add(held + s["kind"])
            looks(crew, f"step-{held}{s['kind']}")
            if held:
                # What was done since and what is answered again stand at one look, in every language.
                path = crew.page.url[len(server.base):]
                at_one_look(crew, f"step-{held}{s['kind']}", ".take :is(.pick, .big button, .pad button, .go)")
                in_tongues(crew, [(path, f"step-{held}{s['kind']}")])
                crew.go(path)

    crew = Crew(context, server, each=each)
    crew.enter(server.start())
    looks(crew, "site-empty")
    crew.job()
    crew.page.wait_for_selector("#plan h2.yes")
    looks(crew, "open")

    def issued(number):
        for path, name in [(f"/p/{number}", "permit-live"), ("/board", "board-nobody"), ("/set/heron", "set"), ("/", "site"),
                           ("/set/heron/witness", "witness"), (f"/take-in?permit={number}", "elsewhere"), ("/clock", "clock")]:
            crew.go(path)
            looks(crew, name)

    def working(number):
        crew.go("/board")
        looks(crew, "board")
        six_on_air(crew, "board")
        crew.go("/alarm")
        looks(crew, "alarm")
        at_one_look(crew, "alarm", ".events button, .alarm .field")
        in_tongues(crew, [("/", "site"), ("/board", "board"), ("/alarm", "alarm"), ("/roll-call", "roll-call"),
                          (f"/p/{number}", "permit"), (f"/p/{number}/walk", "step"), (f"/p/{number}/sign/hand-over", "sign"),
                          ("/open", "open"), ("/set/heron", "set"), ("/set/heron/air-test", "air-test"), ("/audit", "audit")])
        # Overdue readings are said on every screen.
        crew.wait_out(960)
        crew.wait_out(960)
        crew.go("/board")
        crew.page.wait_for_selector("#overdue:not([hidden])")
        looks(crew, "board-overdue")
        at_one_look(crew, "board-overdue", ".tally button[value=out], .due button")
        six_on_air(crew, "board-overdue")
        crew.press("form[action='/demo/clock'] button[value='60']")
        for what, value in [("supply", "6"), ("reserve", "207"), ("co", "1")]:
            crew.read(what, value)
        # What was refused stands in its field again, and stays when the board is renewed.
        crew.go("/board")
        crew.type("form.read:has([name=what][value=reserve]) [name=value]", "2o7")
        crew.press("form.read:has([name=what][value=reserve]) button")
        said = "form.read:has([name=what][value=reserve]) .why"
        assert crew.page.query_selector(said) and not crew.page.query_selector(".came"), crew.page.inner_text("main")[:500]
        looks(crew, "board-slip")
        with crew.page.expect_response("**/board/live*", timeout=30000):
            pass
        crew.page.wait_for_timeout(500)
        typed = crew.asks("e.value", "form.read:has([name=what][value=reserve]) [name=value]")
        assert typed == "2o7" and crew.page.query_selector(said), repr(typed)
        crew.go("/alarm")
        crew.press("button[value=change_over]")
        assert "OUT NOW" in crew.page.inner_text(".order"), crew.page.inner_text("main")
        assert crew.asks("e.compareDocumentPosition(document.querySelector('.orders ol')) & 4", ".orders .gone")
        looks(crew, "alarm-order")
        # Loaded again, or come back to, it is a screen of the page and nothing is sent again.
        lines = server.lines()
        crew.page.reload()
        assert crew.page.url == f"{server.base}/board", crew.page.url
        crew.page.go_back()
        crew.page.go_forward()
        assert crew.page.query_selector(".urgent") and server.lines() == lines, crew.page.url
        looks(crew, "board-alarm")
        at_one_look(crew, "board-alarm", ".tally button[value=out]")
        six_on_air(crew, "board-alarm")
        crew.go("/roll-call")
        looks(crew, "roll-call")
        crew.page.evaluate("document.querySelector('.abreast').closest('form').scrollIntoView()")
        at_one_look(crew, "roll-call", ".abreast fieldset")
        crew.go(f"/p/{number}")
        looks(crew, "permit-suspended")
        crew.go(f"/p/{number}/sign/reinstate")
        looks(crew, "sign-reinstate")

    table = answers("answers-pre-start.yaml")
    number = None

    def signing(act):
        crew.go(f"/p/{number}/sign/{act}")
        looks(crew, f"sign-{act}")

    number = crew.open()
    looks(crew, "permit-draft")
    crew.walk(number, table)
    looks(crew, "walk-over")
    signing("declare")
    crew.sign(number, "declare", "lukasz")
    signing("countersign")
    crew.read_again(number, table)
    assert crew.state(number) == "LIVE", crew.page.inner_text("main")[:1500]
    crew.walk(number, table)
    issued(number)
    on_air(crew, table)
    working(number)
    off_air(crew)
    crew.roll_call()
    crew.walk(number, answers("answers-shutdown.yaml"), shutdown=True)
    for act in ["extend", "hand-over", "refuse", "cancel"]:
        signing(act)
    crew.sign(number, "hand-back", "lukasz")
    crew.sign(number, "close", "eleni")
    for path, name in [(f"/p/{number}", "permit-closed"), (f"/p/{number}/record", "record"), ("/audit", "audit")]:
        crew.go(path)
        looks(crew, name)
    crew.press("form[action='/audit'] button")
    crew.page.wait_for_selector(".verdict")
    assert "SOUND" in crew.page.inner_text(".verdict")
    looks(crew, "audit-sound")
    crew.type("#find", "countersign")
    crew.press("form[action='/audit'][method=get] button")
    assert crew.page.query_selector(".chain li details"), "the search finds nothing"
    looks(crew, "audit-search")
    # A file that is no act, and a test of the air by its form.
    crew.go(f"/take-in?permit={number}")
    crew.page.set_input_files("#file", {"name": "a.act", "mimeType": "text/plain", "buffer": b"no act\n"})
    crew.press("form[action='/take-in'] button.go")
    assert "it is no signed act" in crew.page.inner_text(".came.no"), crew.page.inner_text("main")
    looks(crew, "elsewhere-refused")
    crew.go("/set/heron/air-test")
    looks(crew, "air-test")
    for name, value in [("place", "quay3"), ("sampler", "Łukasz"), ("instrument", "tubes"), ("sample_point", "mask_end"),
                        ("o2", "20.9"), ("co", "< 2"), ("co2", "430"), ("oil", "< 0.1"), ("smell", "none")]:
        crew.put(name, value)
    crew.press("form[action='/set/heron/air-test'] button.go")
    # Nobody said how far the readings may be off: kept, and not told as good.
    assert "Heron air test; line" in crew.page.inner_text(".came.doubt"), crew.page.inner_text("main")
    looks(crew, "air-test-kept")
    # An address that leads nowhere, and a job that is refused.
    crew.go("/p/KM3-000000-00")
    looks(crew, "trouble")
    crew.job(until="99:99")
    crew.press("button[value='open']")
    assert crew.page.query_selector(".came.no"), crew.page.inner_text("main")[:500]
    looks(crew, "open-refused")
    # It is come back to as it was, from another screen, by the browser's own key and by the address alone.
    crew.press("nav a[href='/board']")
    crew.page.go_back()
    for again in [lambda: None, crew.page.reload, lambda: crew.go("/open")]:
        again()
        assert crew.asks("e.value", "[name=until]") == "99:99", crew.page.url
        assert crew.page.query_selector("#callout-key"), crew.page.url
    crew.press("button[value=afresh]")
    assert crew.asks("e.value", "[name=until]") == "", crew.page.url
    ends_sound(server, number, crew)


def by_keys(browser, server):
    context = browser.new_context(viewport={"width": 1024, "height": 600})
    watch(context, server.base)
    crew = Crew(context, server, keys=True, each=lambda crew, s: crew.page.reload())
    crew.enter(server.start())
    number = whole_day(crew, server)
    ends_sound(server, number, crew)


def by_two(browser, server):
    context = browser.new_context(viewport={"width": 1024, "height": 600})
    watch(context, server.base)
    address = server.start()
    crew, other = Crew(context, server), None
    crew.enter(address)
    other = Crew(context, server)
    # A tab behind another is drawn once a second only.
    crew.page.bring_to_front()
    restarts, loaded = [0], [0]

    def each(crew, s):
        # The second tab stands at the same step, where what it sent last has left it; the program dies and comes back, and
        # is answered from the screen of before.
        if other.step() != s:
            other.page.goto(crew.page.url)
            loaded[0] += 1
        server.again()
        restarts[0] += 1

    def pressed_again(other):
        # It may have just come up, or have heard nothing of a program that was just started: then it says so and is pressed again.
        for _ in range(6):
            other.awake()
            try:
                with other.page.expect_navigation(timeout=10000):
                    other.page.evaluate("() => { const f = document.querySelector('form.step'); f.requestSubmit(f.querySelector('button.go, button[name=value]')) }")
                return
            except TimeoutError:
                assert other.page.query_selector("#not-done:visible"), "held back without a word"
        raise AssertionError("the second tab never sent: " + other.page.inner_text("#not-done"))

    def twice(crew, s, table):
        stale = other.page.evaluate("() => !!document.querySelector('form.step')")
        before = server.lines()
        given(crew, s, table)
        after = server.lines()
        # Figures that are worked out one after the other are taken with one press, each in its own line.
        assert after == before + s["lines"], f"{s}: {after - before} lines"
        if stale:
            kind = s["kind"]
            other.page.evaluate("""() => { const f = document.querySelector('form.step');
                for (const g of new Set([...f.querySelectorAll('[name=again]')].map(r => r.name))) f.querySelector('[name=again]').checked = true;
                const v = f.querySelector('#value'); if (v) v.value = f.dataset.kind === 'date' ? '2027-01-01' : '5'; }""")
            pressed_again(other)
            now = server.lines()
            assert now == after, f"{s}: the second tab wrote {now - after} lines ({kind})"

    given = Crew.answer
    crew.each = each
    crew.answer = lambda s, table: twice(crew, s, table)

    def working(number):
        # Killed with people on air: roll call first, whatever is opened.
        server.again()
        crew.go("/")
        assert crew.page.url.endswith("/roll-call"), crew.page.url
        assert "Roll call first" in crew.page.inner_text(".bar.warn[role=alert]:not([hidden])")
        crew.go("/board")
        assert "Roll call first" in crew.page.inner_text(".bar.warn[role=alert]:not([hidden])")
        # With readings overdue too, every key of the alarm stands at one look all the same.
        crew.wait_out(960)
        crew.wait_out(960)
        crew.go("/alarm")
        crew.page.wait_for_selector("#overdue:not([hidden])")
        assert crew.page.query_selector("#roll-first"), crew.page.inner_text("body")[:400]
        at_one_look(crew, "alarm, roll call first", ".events button")
        in_tongues(crew, [("/alarm", "alarm, roll call first")])
        for what, value in [("supply", "6"), ("reserve", "207"), ("co", "1")]:
            crew.read(what, value)
        crew.roll_call()
        crew.go("/board")
        assert not crew.page.query_selector(".bar.warn[role=alert]:not([hidden])"), crew.page.inner_text("body")[:400]
        # A language that is chosen in one tab is spoken by the other one too.
        other.go("/board")
        for tongue in ["pl", "en"]:
            crew.go("/set/heron")
            crew.press(f"button[name=language][value={tongue}]")
            other.page.wait_for_selector(f"html[lang={tongue}]", state="attached", timeout=15000)
        # While something is typed there it does not: then all of it goes on in its own language.
        other.go("/board")
        other.page.fill(".due input[name=value]", "20")
        crew.go("/set/heron")
        crew.press("button[name=language][value=pl]")
        with other.page.expect_response("**/board/live*", timeout=30000):
            pass
        other.page.wait_for_timeout(2500)
        words = other.page.inner_text("header") + other.page.inner_text("#board")
        assert other.page.get_attribute("html", "lang") == "en" and "as of " in words and " lis " not in words.replace("\u00a0", " "), words
        other.page.fill(".due input[name=value]", "")
        crew.go("/set/heron")
        crew.press("button[name=language][value=en]")
        # The board of one tab shows what the other one tells, and keeps what is being typed in it.
        other.go("/board")
        other.page.focus(".due input[name=value]")
        other.page.keyboard.type("20")
        crew.move("zaneta", "out")
        other.page.wait_for_selector("section.who.out", timeout=15000)
        assert other.page.evaluate("[document.activeElement.name, document.activeElement.value].join()") == "value,20"
        # One that cannot be renewed says so at once, though the program is heard.
        other.page.route("**/board/live", lambda route: route.fulfill(status=429, body=""))
        crew.move("zaneta", "in")
        other.page.wait_for_selector("#stale-old:visible", timeout=6000)
        assert other.page.query_selector("section.who.out"), "renewed all the same"
        other.page.unroute("**/board/live")
        other.page.wait_for_selector("#stale", state="hidden", timeout=6000)
        assert not other.page.query_selector("section.who.out")
        # Stale: the program gone, the board says so.
        server.kill()
        other.page.wait_for_selector("#stale:not([hidden])", timeout=20000)
        server.start()
        crew.go("/roll-call")
        crew.roll_call()

    number = whole_day(crew, server, working=working)
    print(f"two: killed and started again {restarts[0] + 2} times, the second tab led to the step {loaded[0]} times")
    ends_sound(server, number, crew)


def by_calling(browser, server):
    context = browser.new_context(viewport={"width": 1024, "height": 600})
    watch(context, server.base)
    crew = Crew(context, server)
    crew.enter(server.start())
    number = crew.open()
    # Rescuers plug in under no permit at all: a report is always written.
    crew.go("/board")
    crew.page.click("details.report summary")
    crew.page.fill("#up", "rasa")
    crew.choose("#us", "heron")
    crew.press("details.report button[value=in]")
    screens = ["/", "/open", "/board", "/alarm", "/roll-call", "/set/heron", "/set/heron/air-test", "/set/heron/witness", "/clock",
               "/take-in", f"/take-in?permit={number}", "/audit", "/call-out", f"/p/{number}",
               f"/p/{number}/walk", f"/p/{number}/record", f"/p/{number}/carry", "/p/KM3-000000-00", "/nothing"]
    screens += [f"/p/{number}/sign/{a}" for a in ["declare", "countersign", "refuse", "hand-back", "close", "reinstate", "cancel",
                                                  "extend", "give", "hand-over", "take-over"]]
    calls = 0
    # One route for the whole loop: setting and unsetting one for every screen lets a call slip through between the two.
    held = []
    crew.page.route("**/call-out", lambda route: held.append(route) if route.request.method == "POST" else route.continue_())
    for path in screens:
        crew.go(path)
        # The program does not answer yet: the signal stands there all the same.
        with crew.page.expect_request(lambda r: r.url.endswith("/call-out") and r.method == "POST", timeout=15000):
            crew.page.keyboard.press("F9")
        crew.page.wait_for_selector("#signal:not([hidden])", timeout=2000)
        said = crew.page.inner_text("#signal-rows")
        assert "Rasa" in said, f"{path}: {said}"
        kept = crew.page.inner_text("#signal-kept")
        assert "Recorded." not in kept, f"{path}: said before it was: {kept}"
        for _ in range(750):
            if held:
                break
            crew.page.wait_for_timeout(20)
        assert held, f"{path}: the call was not held"
        before = server.kinds().count("call_out")
        held.pop().continue_()
        crew.page.wait_for_selector("#signal-kept:has-text('✓ Recorded.')")
        assert server.kinds().count("call_out") > before, path
        calls += 1
    crew.page.unroute("**/call-out")
    # What came of it and every key stand at one look with six people on air, whom to call too; on a phone as well.
    crew.page.evaluate("""() => { const all = [...document.querySelectorAll('#signal-rows div')].find(d => d.textContent.includes('Rasa'));
        for (let n = 1; n < 6; n++) all.append(all.firstElementChild.cloneNode(true)); }""")
    for width, height in [(1024, 600), (390, 844)]:
        crew.page.set_viewport_size({"width": width, "height": height})
        low = crew.page.evaluate("""() => { const end = document.querySelector('#signal .after').getBoundingClientRect();
            return [...document.querySelectorAll('#signal-kept, #signal-rows li')].filter(e => e.getBoundingClientRect().bottom > end.top + 1)
                .map(e => e.textContent).concat(end.bottom > innerHeight + 1 ? ['keys'] : []); }""")
        wrong.extend(f"not at one look when everyone is called out, {width}: {l}" for l in low)
    crew.page.set_viewport_size({"width": 1024, "height": 600})
    # In a field, with the mouse, and twice.
    crew.go(f"/p/{number}")
    crew.page.focus("#hangs")
    crew.page.keyboard.type("abc")
    crew.page.keyboard.press("F9")
    crew.page.wait_for_selector("#signal-kept:has-text('✓ Recorded.')")
    crew.go("/board")
    crew.page.click("#callout-key")
    crew.page.wait_for_selector("#signal-kept:has-text('✓ Recorded.')")
    before = server.kinds().count("call_out")
    crew.page.keyboard.press("F9")
    for _ in range(100):
        if server.kinds().count("call_out") > before:
            break
        crew.page.wait_for_timeout(50)
    assert server.kinds().count("call_out") > before
    # The program is gone: signal first, recorded once it is back.
    crew.go("/board")
    server.kill()
    before = server.kinds().count("call_out")
    crew.page.keyboard.press("F9")
    crew.page.wait_for_selector("#signal:not([hidden])", timeout=2000)
    assert "Rasa" in crew.page.inner_text("#signal-rows")
    crew.page.wait_for_selector("#signal-kept:has-text('NOT RECORDED YET')")
    # No other key leads away from it to a screen that nobody shows.
    crew.page.click("#signal a[href='/board']")
    crew.page.wait_for_timeout(400)
    assert crew.page.url == server.base + "/board" and "Rasa" in crew.page.inner_text("#signal-rows")
    server.start()
    crew.page.wait_for_selector("#signal-kept:has-text('✓ Recorded.')", timeout=30000)
    assert server.kinds().count("call_out") == before + 1
    # The roll is to be called now, and the signal stands until somebody leaves it.
    crew.page.wait_for_timeout(4500)
    assert not crew.page.is_hidden("#signal") and crew.page.url == server.base + "/board"
    # Gone while a screen stands open: what is pressed there leads nowhere, and the signal is there still.
    crew.go("/board")
    server.kill()
    crew.page.wait_for_selector("#stale:not([hidden])")
    crew.page.click("nav a[href='/alarm']")
    crew.page.wait_for_selector("#not-done:not([hidden])")
    assert crew.page.url == server.base + "/board"
    server.start()
    # It answers again: nothing says any more that it does not.
    crew.page.wait_for_selector("#not-done", state="hidden", timeout=20000)
    # A call that is not kept yet outlives its page.
    crew.go("/board")
    before = server.kinds().count("call_out")
    crew.page.route("**/call-out", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    crew.page.keyboard.press("F9")
    crew.page.wait_for_selector("#signal-kept:has-text('NOT RECORDED YET')")
    crew.go("/")
    crew.page.wait_for_selector("#signal:not([hidden])", timeout=2000)
    crew.page.wait_for_selector("#signal-kept:has-text('NOT RECORDED YET')")
    assert server.kinds().count("call_out") == before
    crew.page.unroute("**/call-out")
    crew.page.wait_for_selector("#signal-kept:has-text('✓ Recorded.')", timeout=20000)
    assert server.kinds().count("call_out") == before + 1
    crew.go("/")
    crew.page.wait_for_timeout(300)
    assert crew.page.is_hidden("#signal")
    # What is pressed before a screen can have been seen is not taken, and said.
    crew.go(f"/p/{number}/walk")
    lines = len(server.kinds())
    crew.page.evaluate("() => { dispatchEvent(new Event('pageshow')); document.querySelector('form.step button').click();"
                       " [...document.querySelectorAll('form.step button[name=value]')].forEach((b) => b.click()); }")
    crew.page.wait_for_selector("#not-done:not([hidden])")
    assert len(server.kinds()) == lines
    # Enter in a field beside many keys presses none of them.
    crew.go("/alarm")
    crew.awake()
    crew.page.fill("form[action='/alarm'] #words", "told to all")
    crew.page.keyboard.press("Enter")
    crew.page.wait_for_timeout(300)
    assert crew.page.url == server.base + "/alarm" and len(server.kinds()) == lines
    # Nowhere to keep it: said, names and all, and tried again until it is kept.
    crew.go("/board")
    site, away = server.folder / "site", server.folder / "away"
    site.rename(away)
    crew.page.keyboard.press("F9")
    crew.page.wait_for_selector("#signal-kept:has-text('It is tried again')")
    said = crew.page.inner_text("#signal-rows")
    assert "Rasa" in said, said
    away.rename(site)
    crew.page.wait_for_selector("#signal-kept:has-text('✓ Recorded.')", timeout=20000)
    # More windows than the browser opens connections: one of them hears the program for all.
    windows = [context.new_page() for _ in range(7)]
    for window in windows:
        window.goto(server.base + "/board")
    windows[4].keyboard.press("F9")
    windows[4].wait_for_selector("#signal-kept:has-text('✓ Recorded.')", timeout=5000)
    for window in windows:
        window.close()
    crew.page.bring_to_front()
    # Without script.
    bare = browser.new_context(java_script_enabled=False, storage_state=context.storage_state())
    watch(bare, server.base)
    page = bare.new_page()
    page.goto(server.base + "/board")
    assert "F9" not in page.inner_text("#callout-key"), "a key that works by script alone"
    page.click("#callout-key")
    page.wait_for_selector(".kept-now")
    text = page.inner_text("main")
    assert "EVERYONE OUT" in text and "Rasa" in text and "Recorded." in text, text
    # Broken: nothing is written to it any more, the signal is shown, the call is written aside.
    register = server.folder / "site" / "register" / "0001.jsonl"
    whole = register.read_bytes()
    third = whole.index(b"\n", whole.index(b"\n") + 1) + 500
    crew.go("/board")
    register.write_bytes(whole[:third] + bytes([whole[third] ^ 1]) + whole[third + 1:])
    crew.page.keyboard.press("F9")
    crew.page.wait_for_selector("#signal:not([hidden])", timeout=2000)
    crew.page.wait_for_selector("#signal-kept:has-text('Not recorded in the register')")
    assert any("aside" in p.name for p in register.parent.iterdir()), list(register.parent.iterdir())
    # The board that stood open says that nobody knows, and who it may be.
    crew.page.wait_for_selector("#damaged:not([hidden])", state="attached", timeout=6000)
    crew.page.wait_for_selector("#board [data-part=not-known]:has-text('rasa')", state="attached", timeout=6000)
    print(f"calling: from {calls} screens, with the program gone, without script, of a broken register, {time.time() - begun:.0f} s")


def main():
    server = Server(program(), PORT)
    with sync_playwright() as p:
        browser = p.chromium.launch(executable_path=os.environ.get("CHROMIUM", "/usr/bin/chromium"),
                                    args=["--no-sandbox", "--disable-gpu", "--in-process-gpu"])
        try:
            {"clicks": by_clicks, "keys": by_keys, "two": by_two, "calling": by_calling}[MODE](browser, server)
        except BaseException:
            for context in browser.contexts:
                for page in context.pages:
                    print(page.url, page.inner_text("body")[:1200], sep="\n", file=sys.stderr)
            raise
        finally:
            server.end()
            browser.close()
    assert not left_machine, f"requests left the machine: {left_machine}"
    assert not wrong, json.dumps(wrong, indent=1, ensure_ascii=False)


main()
