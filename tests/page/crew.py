"""The crew in a real browser: starts the page on an invented site, answers what it asks, by clicks or by keys alone.

Answers are those of examples/answers-*.yaml; what the program works out is kept as it is, waits are waited out on the
invented site's clock. Nothing here knows a rule.
"""

import os
import pathlib
import re
import shutil
import signal
import subprocess
import tempfile
import urllib.parse

import yaml

ROOT = pathlib.Path(__file__).resolve().parents[2]
PASSPHRASE = "demo"
# Answered only where the air is tested on the permit itself; here the test is carried.
TODAY = {
    "air_test_date", "air_sampler", "air_instrument_good", "air_sample_point", "air_off", "air_co2_off", "air_o2_off",
    "air_o2", "air_co", "air_co2", "air_oil", "water_method", "air_water", "air_dew_point",
}


class Server:
    """`airwrit serve --demo` in a folder of its own."""

    def __init__(self, program, port):
        self.program, self.port = program, port
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="airwrit-page-"))
        self.process = None
        self.base = f"http://127.0.0.1:{port}"

    def start(self):
        args = [self.program, "serve", "--demo", "--into", str(self.folder / "site"), "--port", str(self.port)]
        self.process = subprocess.Popen(args, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=self.folder)
        line = self.process.stdout.readline().strip()
        assert line.startswith(self.base + "/enter?k="), f"the page did not open: {line!r}"
        return line

    def kill(self):
        """As a flat battery does it."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()

    def again(self):
        self.kill()
        return self.start()

    def lines(self):
        text = (self.folder / "site" / "register" / "0001.jsonl").read_bytes()
        return text.count(b"\n")

    def kinds(self):
        text = (self.folder / "site" / "register" / "0001.jsonl").read_text()
        return re.findall(r'"kind":"([a-z_]+)"', text)

    def verify(self):
        """The verdict from the bytes, by a program of its own."""
        site = self.folder / "site"
        ran = subprocess.run(
            [self.program, "verify", str(site / "register"), "--trust", str(site / "trust.yaml")],
            capture_output=True, text=True)
        return ran.returncode, ran.stdout

    def end(self):
        if self.process and self.process.poll() is None:
            self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)


def answers(name):
    """What is answered, in order, by step and item."""
    out = {}
    for a in yaml.safe_load((ROOT / "examples" / name).read_text())["answers"]:
        if a["step"] in TODAY:
            continue
        value = "carried" if a["step"] == "air_test_basis" else a.get("value")
        out.setdefault((a["step"], a.get("item")), []).append((value, a.get("again")))
    out[("carried_test", None)] = [("yes", None)]
    return out


class Crew:
    """One browser window and whoever stands before it."""

    def __init__(self, context, server, keys=False, each=None):
        self.server, self.keys, self.each = server, keys, each
        self.context = context
        self.page = context.new_page()
        self.page.set_default_timeout(20000)
        self.given = {}
        self.answered = 0

    def enter(self, address):
        self.page.goto(address)

    def go(self, path):
        self.page.goto(self.server.base + path)

    # By keys alone: Tab to it, then press it.
    def tab_to(self, selector, most=400):
        for _ in range(most):
            if self.page.evaluate("s => { const a = document.activeElement; return !!a && a.matches(s) }", selector):
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"no way by keys to {selector} on {self.page.url}")

    def click(self, selector):
        """The mouse, in the middle of what is seen there. Nothing on these screens moves, so no frame is waited for."""
        at = self.page.evaluate("""s => {
            const e = [...document.querySelectorAll(s)].find(e => e.checkVisibility());
            if (!e) return 'not to be seen';
            if (e.disabled) return 'not to be pressed';
            e.scrollIntoView({ block: 'center', behavior: 'instant' });
            const r = e.getBoundingClientRect(), x = r.x + r.width / 2, y = r.y + r.height / 2;
            const hit = document.elementFromPoint(x, y);
            return e.contains(hit) || (hit && hit.closest('label') && hit.closest('label').control === e) ? [x, y]
                : `under ${hit ? hit.outerHTML.slice(0, 80) : 'nothing'}`;
        }""", selector)
        assert isinstance(at, list), f"{selector} on {self.page.url} is {at}"
        self.awake()
        self.page.mouse.click(*at)

    def awake(self):
        """A screen that has just come up takes no answer."""
        self.page.wait_for_selector("body[data-awake], html:not(:has(#callout))", state="attached")

    def asks(self, words, selector):
        """Of the first there, by script of the page itself: Playwright's own ways bring their script to every page anew."""
        return self.page.evaluate(f"s => {{ const e = document.querySelector(s); return {words}; }}", selector)

    def press(self, selector):
        """Presses a key or follows a link of the screen."""
        before = self.page.url
        with self.page.expect_navigation():
            if self.keys:
                self.tab_to(selector)
                self.awake()
                self.page.keyboard.press("Enter")
            else:
                self.click(selector)
        return before

    def type(self, selector, text):
        if self.keys:
            self.tab_to(selector)
            self.page.keyboard.press("Control+a")
            self.page.keyboard.type(text)
        else:
            self.page.fill(selector, text)

    def choose(self, selector, value):
        """A choice of a list."""
        self.page.select_option(selector, value)

    def tick(self, selector):
        if self.keys:
            self.tab_to(selector)
            self.page.keyboard.press("Space")
        else:
            self.click(selector)
        assert self.asks("e.checked", selector), f"{selector} is not ticked"

    def wait_out(self, seconds=960):
        """The invented site's clock moves on."""
        with self.page.expect_navigation():
            self.click(f"form[action='/demo/clock'] button[value='{seconds}']")

    def job(self, **more):
        """Opens a permit: the example job, typed into the form."""
        job = yaml.safe_load((ROOT / "examples" / "job.yaml").read_text())
        job["what"] = job.pop("job")
        job.update(more)
        self.go("/open")
        lists = ["wearers", "rescuers", "entry_permits"]
        for name, value in job.items():
            if name in lists:
                for i, item in enumerate(value):
                    for field, text in item.items():
                        if field != "id":
                            self.put(f"{name}.{i}.{field}", str(text))
            else:
                self.put(name, str(value))
        return job

    def put(self, name, value):
        selector = f"[name='{name}']"
        # An item that may stay empty is folded away.
        self.page.evaluate("s => { const d = document.querySelector(s).closest('details'); if (d) d.open = true; }", selector)
        if self.page.evaluate("s => document.querySelector(s).tagName", selector) == "SELECT":
            self.choose(selector, value)
        else:
            self.page.fill(selector, value)

    def open(self):
        self.job()
        self.page.wait_for_selector("#plan h2.yes")
        self.press("button[value='open']")
        number = self.page.url.split("/p/")[1].split("?")[0]
        assert re.fullmatch(r"[A-Z0-9]{2,8}-[0-9]{6}-[0-9]{2,3}", number), self.page.url
        return number

    # The walk.
    def step(self):
        """What is asked now; None if nothing is."""
        return self.page.evaluate("""() => {
            const f = document.querySelector('form.step'); if (!f) return null;
            const v = n => { const i = f.querySelector(`[name=${n}][type=hidden]`); return i ? i.value : null };
            const figures = f.querySelectorAll('[name=figure]').length;
            return { lines: Math.max(1, figures), kind: f.dataset.kind, step: v('step'), item: v('item'), again: !!f.querySelector('[name=again]'),
                     options: [...f.querySelectorAll('button[name=value]')].map(b => b.value) }
        }""")

    def answer(self, s, table):
        """Gives the next answer of the table for this step."""
        page, kind = self.page, s["kind"]
        key = (s["step"], s["item"])
        value, again = None, None
        if kind in ("yes_no", "choice", "number", "date", "words"):
            queue = table.get(key)
            assert queue, f"no answer for {key}, a {kind}"
            value, again = queue.pop(0) if len(queue) > 1 else queue[0]
        if s["again"]:
            word = again or "asked_again"
            if self.keys:
                self.tab_to("[name=again]")
                for _ in range(12):
                    if page.evaluate("document.activeElement.value") == word:
                        break
                    page.keyboard.press("ArrowDown")
                page.keyboard.press("Space")
            else:
                self.tick(f"[name=again][value={word}]")
        if self.keys:
            self.by_keys(kind, s, value)
        else:
            self.by_clicks(kind, value)
        self.answered += 1

    def by_clicks(self, kind, value):
        page = self.page
        with page.expect_navigation():
            if kind in ("yes_no", "choice"):
                self.click(f"form.step button[name=value][value='{value}']")
                return
            if kind == "number":
                for c in value:
                    self.click(f".pad [data-pad='{c}']")
                typed = self.asks("e.value", "#value")
                assert typed == value, typed
            elif kind == "date":
                page.fill("#value", value)
            elif kind == "words":
                self.click("#value")
                page.keyboard.press("Control+a")
                page.keyboard.insert_text(value)
            self.click("form.step button.go")

    def by_keys(self, kind, s, value):
        page = self.page
        if kind in ("number", "date", "words"):
            self.tab_to("#value")
            page.keyboard.type(value)
            if kind == "words":
                self.tab_to("form.step button.go")
            self.awake()
            with page.expect_navigation():
                page.keyboard.press("Enter")
            return
        self.awake()
        with page.expect_navigation():
            if kind == "yes_no":
                page.keyboard.press("y" if value == "yes" else "n")
            elif kind == "choice":
                page.keyboard.press(str(s["options"].index(value) + 1))
            elif kind == "begin":
                page.keyboard.press("b")
            elif kind == "done":
                page.keyboard.press("d")
            elif kind in ("start", "stop"):
                page.keyboard.press("s")
            else:
                self.tab_to("form.step button.go")
                page.keyboard.press("Enter")

    def walk(self, number, table, shutdown=False, most=400):
        """Answers until nothing is asked any more; `each` looks at every step before it is answered."""
        self.go(f"/p/{number}/walk" + ("?shutdown=1" if shutdown else ""))
        for _ in range(most):
            s = self.step()
            if s is None:
                assert self.page.query_selector("#next"), self.page.inner_text("main")
                return
            if self.each:
                self.each(self, s)
                s = self.step()
            # Waited out last: a program that was started again goes on from its last line, not from where the clock stood.
            if s["kind"] == "done":
                self.wait_out()
                s = self.step()
            self.answer(s, table)
        raise AssertionError(f"the walk comes to no end: {self.page.inner_text('main')[:600]}")

    # Signatures.
    def sign(self, number, act, by, **fields):
        self.go(f"/p/{number}/sign/{act}")
        for name, value in fields.items():
            self.type(f"#{name}", value)
        if not self.page.query_selector("#passphrase"):
            self.press("button.go")
        assert self.page.query_selector("#passphrase"), self.page.inner_text("main")[:1500]
        if not self.page.is_checked(f"[name=by][value={by}]"):
            self.tick_signer(by)
        self.type("#passphrase", PASSPHRASE)
        self.press("button.go")
        assert f"/p/{number}" in self.page.url and "/sign/" not in self.page.url or self.page.query_selector(".came.good"), \
            self.page.inner_text("main")[:1500]

    def tick_signer(self, by):
        if self.keys:
            self.tab_to("[name=by]")
            for _ in range(6):
                if self.page.evaluate("document.activeElement.value") == by:
                    break
                self.page.keyboard.press("ArrowDown")
            self.page.keyboard.press("Space")
        else:
            self.click(f"[name=by][value={by}]")

    def read_again(self, number, table):
        """The supervisor reads the gauges that are drawn: what the operator found."""
        self.go(f"/p/{number}/sign/countersign")
        for n, name in enumerate(self.page.evaluate("[...document.querySelectorAll('[name^=\"seen.\"]')].map(i => i.name)")):
            step, _, item = name[len("seen."):].partition("/")
            self.type(f"#ra{n + 1}", table[(step, item or None)][-1][0])
        self.press("button.go")
        assert self.page.query_selector("#passphrase"), self.page.inner_text("main")[:1500]
        if not self.page.is_checked("[name=by][value=eleni]"):
            self.tick_signer("eleni")
        self.type("#passphrase", PASSPHRASE)
        self.press("button.go")

    # The board.
    def read(self, what, value):
        self.go("/board")
        form = f"form.read:has([name=what][value={what}])"
        self.type(f"{form} [name=value]", value)
        self.press(f"{form} button")
        assert not self.page.query_selector(".came.bad, .came.no, .read .why"), self.page.inner_text("main")[:900]

    def move(self, person, to):
        self.go("/board")
        self.press(f"form[action='/tally']:has([name=person][value={person}]) button[value={to}]")
        assert not self.page.query_selector(".came.bad, .came.no, .read .why"), self.page.inner_text("main")[:900]

    def roll_call(self):
        self.go("/roll-call")
        for name in self.page.evaluate("[...document.querySelectorAll('[type=radio][value=yes]')].map(i => i.name)"):
            self.tick(f"[name='{name}'][value=yes]")
        self.press("form[action='/roll-call'] button.go")

    def state(self, number):
        self.go(f"/p/{number}")
        return self.page.inner_text("h1 .state")


def local(url, base):
    return url.startswith(base) or url.startswith("data:") or url.startswith("about:") \
        or urllib.parse.urlparse(url).scheme in ("chrome", "devtools")


def program():
    return os.environ.get("AIRWRIT", str(ROOT / "target" / "release" / "airwrit"))
