// The little that a page needs beside its forms: everyone out at one key, signs of life, keys for gloves, the plan while it is
// filled in. Nothing is decided here; without it every form still works.
"use strict";
(() => {
  const $ = (id) => document.getElementById(id);
  const body = document.body;
  // Words in the language of the page; numbers are filled in.
  const say = (name, filled = {}) => Object.entries(filled).reduce((t, [n, v]) => t.replace(`{${n}}`, v), $("phrases").dataset[name])
    .replace(/(\d) (?=(?:min|s|h|хв|с|год)(?!\p{L}))/gu, "$1\u00a0");

  const root = document.documentElement;
  root.classList.add("scripted");
  // A part of this screen is asked for in its language, whatever was chosen in another window meanwhile.
  const inOurs = (more = {}) => ({ headers: { "airwrit-language": root.lang }, ...more });

  // Everyone out: the signal stands on the screen before anything is sent.
  const form = $("callout"), signal = $("signal"), kept = $("signal-kept"), more = $("signal-more");
  let calls = 0;
  // A call that is not kept yet outlives its page: the next one that comes up goes on with it.
  const UNSENT = "unsent", OLD = 12 * 3600000;
  const unsent = () => { try { return JSON.parse(localStorage.getItem(UNSENT)); } catch (_) { return null; } };
  const keepUnsent = (data, pressed) => { try { localStorage.setItem(UNSENT, JSON.stringify({ data: data.toString(), pressed })); } catch (_) { /* a browser that keeps nothing */ } };
  const sent = (data) => { const u = unsent(); if (u && new URLSearchParams(u.data).get("once") === data.get("once")) localStorage.removeItem(UNSENT); };
  const rows = (all) => {
    const list = $("signal-rows");
    list.textContent = "";
    let before = null, within = null;
    for (const [label, words] of all) {
      if (label !== before) {
        const li = document.createElement("li"), b = document.createElement("b");
        within = document.createElement("div");
        b.textContent = before = label;
        li.append(b, " ", within); list.append(li);
      }
      const span = document.createElement("span");
      span.textContent = words;
      within.append(span, " ");
    }
  };
  const stood = [...document.querySelectorAll("#signal-rows li")].flatMap((li) => [...li.querySelectorAll("span")].map((s) => [li.firstChild.textContent, s.textContent]));
  const record = async (data, n, pressed) => {
    for (let wait = 500; ; wait = Math.min(wait * 2, 8000)) {
      try {
        // Kept late, it has the time of the key.
        data.set("ago", Math.max(0, Math.round((Date.now() - pressed) / 1000)));
        const stop = new AbortController();
        const late = setTimeout(() => stop.abort(), 15000);
        const answer = await fetch("/call-out", inOurs({ method: "POST", body: data, signal: stop.signal }));
        clearTimeout(late);
        if (answer.ok && (answer.headers.get("content-type") || "").startsWith("application/json")) {
          const came = await answer.json();
          // Where no reading names anybody, who stood here before stands here still.
          if (came.signal.read) rows(came.signal.rows);
          else if (came.signal.rows.length) {
            const more = came.signal.rows.filter(([l, w]) => !stood.some(([label, words]) => label === l && words === w));
            rows(more.concat([["▲", say("before")]], stood));
          }
          // Else it stands neither in the register nor beside it.
          const done = came.told.done || came.told.aside;
          const said = came.told.err.filter((l) => !l.startsWith("  ") && !l.startsWith(say("calling")));
          // Why not is told under the names: it may be long.
          const told = came.told.out.concat(came.told.why, said).join(" · ");
          kept.textContent = say(came.told.done ? "kept" : "notKept") + " " + (done ? "" : say("again") + " ") + (came.told.done ? told : "");
          more.textContent = came.told.done ? "" : told;
          more.hidden = !more.textContent;
          if (done) sent(data);
          if (done || n !== calls) return;
        } else {
          kept.textContent = say("shutOut");
          more.hidden = true;
          if (answer.status === 403 || answer.status === 421) { sent(data); return; }
        }
      } catch (_) {
        if (n !== calls) return;
        kept.textContent = say("noAnswer");
      }
      await new Promise((done) => setTimeout(done, wait));
    }
  };
  const show = () => {
    signal.hidden = false;
    // Nothing under it is reached while it stands.
    for (const n of body.children) if (n !== signal) n.inert = true;
    signal.focus();
    body.classList.add("called");
    kept.textContent = say("being");
    calls += 1;
  };
  const callOut = () => {
    show();
    const data = new URLSearchParams(new FormData(form));
    data.set("once", data.get("once") + "-" + calls);
    data.set("quick", "1");
    // A browser opens few connections at once: where each window holds one of its own, this one makes room.
    if (!shared) hush();
    const pressed = Date.now();
    keepUnsent(data, pressed);
    record(data, calls, pressed).finally(listen);
  };
  if (form) {
    form.addEventListener("submit", (e) => { e.preventDefault(); callOut(); });
    $("signal-again").addEventListener("click", callOut);
    addEventListener("keydown", (e) => {
      if (e.key !== "F9" || e.repeat) return;
      e.preventDefault(); e.stopPropagation();
      callOut();
    }, true);
    const left = unsent();
    if (left && Date.now() - left.pressed < OLD) {
      const data = new URLSearchParams(left.data);
      data.set("t", new FormData(form).get("t"));
      show();
      record(data, calls, left.pressed);
    } else if (left) localStorage.removeItem(UNSENT);
  }

  // What came of a form is shown in answer to it: read again, or come back to, it would be sent again, or be the browser's own
  // screen, without names and without signal. Then it is the screen that it leads on to.
  const onward = $("go-on");
  try { history.replaceState(null, "", onward ? onward.href : location.href); } catch (_) { /* as it was */ }

  // A screen that has just come up takes no answer: what was pressed for the one before it would fall on this one unseen.
  // Calling out waits for nothing.
  const ASLEEP = 500;
  let came = 0, waking = 0;
  const sleep = () => {
    came = performance.now();
    delete body.dataset.awake;
    clearTimeout(waking);
    waking = setTimeout(() => { body.dataset.awake = "1"; }, ASLEEP);
  };
  sleep();
  addEventListener("pageshow", sleep);
  const note = (words) => { const bar = $("not-done"); if (bar) { bar.hidden = !words; $("not-done-words").textContent = words; } };
  // A key that is held down is pressed once.
  addEventListener("keydown", (e) => { if (e.repeat && e.key === "Enter" && e.target.tagName !== "TEXTAREA") e.preventDefault(); }, true);

  // Day and night, as chosen here; else as the machine has it.
  const mode = $("mode");
  const dark = () => root.dataset.mode ? root.dataset.mode === "night" : matchMedia("(prefers-color-scheme: dark)").matches;
  const word = () => { if (mode) mode.textContent = say(dark() ? "day" : "night"); };
  try {
    const saved = localStorage.getItem("mode");
    if (saved) root.dataset.mode = saved;
    if (mode) {
      mode.hidden = false; word();
      mode.addEventListener("click", () => {
        root.dataset.mode = dark() ? "day" : "night";
        localStorage.setItem("mode", root.dataset.mode); word();
      });
    }
  } catch (_) { /* a browser that keeps nothing */ }

  // Another language was chosen in another window of this browser: this one speaks it too, unless something is typed here, an
  // order is read or the signal stands.
  const untouched = (i) => i.type === "hidden" || (["radio", "checkbox"].includes(i.type) ? i.checked === i.defaultChecked : i.value === i.defaultValue);
  try {
    localStorage.setItem("tongue", root.lang);
    addEventListener("storage", (e) => {
      const other = e.key === "tongue" && e.newValue && e.newValue !== root.lang;
      if (other && !onward && !underWay() && signal && signal.hidden && [...document.querySelectorAll("input, textarea")].every(untouched)) location.reload();
    });
  } catch (_) { /* a browser that keeps nothing */ }

  // Keys for the answers of a step: not while something is typed.
  addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.altKey || e.metaKey || e.repeat || !signal || !signal.hidden) return;
    const at = document.activeElement;
    if (at && /^(INPUT|TEXTAREA|SELECT)$/.test(at.tagName) && !["radio", "checkbox"].includes(at.type)) return;
    const key = e.key.toLowerCase();
    const button = [...document.querySelectorAll("[data-key]")].find((b) => b.dataset.key === key);
    if (button) { e.preventDefault(); button.click(); }
  });
  for (const pad of document.querySelectorAll(".pad")) {
    pad.hidden = false;
    const input = $("value");
    pad.addEventListener("click", (e) => {
      const key = e.target.dataset && e.target.dataset.pad;
      if (!key) return;
      input.value = key === "all" ? "" : key === "back" ? input.value.slice(0, -1) : input.value + key;
    });
  }
  // What stands there again after a refusal was typed: the board keeps it.
  for (const i of document.querySelectorAll("[data-typed]")) i.value = i.getAttribute("value");
  // Who enters is said in place: what is typed on the screen stays.
  const who = $("enters");
  const named = (name) => { if (who && name) { $("enters-name").textContent = name; who.classList.toggle("nobody", name === say("nobody")); } };
  const entered = async (f, pressed) => {
    const data = new URLSearchParams(new FormData(f, pressed));
    data.set("quick", "1");
    try {
      const answer = await fetch("/who", inOurs({ method: "POST", body: data, signal: AbortSignal.timeout(5000) }));
      if (!answer.ok) throw new Error(answer.status);
      named((await answer.json()).name);
      who.open = false;
      who.querySelector("summary").focus();
    } catch (_) { note(say("dead")); }
  };
  document.addEventListener("click", (e) => { if (who && !who.contains(e.target)) who.open = false; });
  // What came of a form is under way: this screen goes nowhere else, or nobody would be told. Longest for so long: it may have
  // been stopped.
  let sentAt = -Infinity;
  const underWay = () => performance.now() - sentAt < 30000;
  addEventListener("pageshow", () => { sentAt = -Infinity; });
  // A form is sent once; the program knows a second one too.
  document.addEventListener("submit", (e) => {
    const f = e.target, post = f.method === "post", asked = f.dataset.asked;
    delete f.dataset.asked;
    if (f === form) return;
    if (who && f === who.querySelector("form")) { e.preventDefault(); entered(f, e.submitter); return; }
    if (post && !asked && performance.now() - came < ASLEEP) { e.preventDefault(); note(say("tooSoon")); return; }
    if (post && f.dataset.sent) { e.preventDefault(); return; }
    if (!asked && silent()) {
      e.preventDefault();
      const key = e.submitter;
      alive().then((yes) => { if (yes) { f.dataset.asked = "1"; f.requestSubmit(key); } else note(say("dead")); });
      return;
    }
    if (!post) return;
    sentAt = performance.now();
    f.dataset.sent = "1";
    setTimeout(() => { delete f.dataset.sent; }, 4000);
  });
  addEventListener("pageshow", () => { for (const f of document.forms) delete f.dataset.sent; });
  // The key behind what is to be read first: nothing is scrolled away for it.
  document.querySelector("[data-focus]")?.focus({ preventScroll: true });
  // While nothing is heard of the program no screen is left: the next one would be none, without names and without signal.
  const silent = () => !!body.dataset.version && (failed || Date.now() - heard > 3000);
  const alive = async () => {
    try { return (await fetch("/icon.svg", { cache: "no-store", signal: AbortSignal.timeout(1500) })).ok; } catch (_) { return false; }
  };
  document.addEventListener("click", (e) => {
    const a = e.target.closest && e.target.closest("a[href]");
    if (!a || e.defaultPrevented || e.button || e.ctrlKey || e.metaKey || e.shiftKey || a.origin !== location.origin) return;
    if (a.getAttribute("href").startsWith("#") || !silent()) return;
    e.preventDefault();
    alive().then((yes) => { if (yes) location.assign(a.href); else { note(say("dead")); if (!signal.hidden) kept.textContent = say("dead"); } });
  });

  // A wait that runs, by the page's clock: it tells, it decides nothing.
  const wait = document.querySelector(".wait[data-from]");
  const offset = Number(body.dataset.second) - Date.now() / 1000;
  const waited = () => {
    const gone = Math.floor(Date.now() / 1000 + offset - Number(wait.dataset.from)), left = Number(wait.dataset.lasts) - gone;
    wait.textContent = left > 0 ? say("wait", { minutes: Math.floor(left / 60), seconds: left % 60 }) : say("waited");
  };
  if (wait) { waited(); setInterval(waited, 1000); }

  // The plan while the job is filled in.
  const planned = document.querySelector("form[data-plan]");
  if (planned) {
    let timer = 0, turn = 0;
    planned.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(async () => {
        const mine = ++turn;
        try {
          const answer = await fetch(planned.dataset.plan, inOurs({ method: "POST", body: new URLSearchParams(new FormData(planned)) }));
          if (answer.ok && mine === turn) $("plan").innerHTML = await answer.text();
        } catch (_) { /* the key below works it out too */ }
      }, 250);
    });
  }

  // Signs of life. One stream for all windows of this browser that speak one language, held by one of them, while any is looked at.
  let heard = Date.now(), stream = null, leave = null, version = body.dataset.version, ring = null, overdue = false;
  const seen = () => document.visibilityState === "visible";
  const ringing = () => {
    if (!overdue || !ring || ring.state !== "running") return;
    const tone = ring.createOscillator(), loud = ring.createGain();
    tone.frequency.value = 880; loud.gain.value = 0.25;
    tone.connect(loud); loud.connect(ring.destination);
    tone.start(); tone.stop(ring.currentTime + 0.5);
  };
  const hear = () => {
    if (!ring && window.AudioContext) ring = new AudioContext();
    if (ring && ring.state === "suspended") ring.resume().then(() => { const s = $("sound"); if (s) s.hidden = true; });
  };
  addEventListener("pointerdown", hear); addEventListener("keydown", hear);
  setInterval(ringing, 3000);

  // The board is renewed in place: whatever has not changed stays, so that a field keeps what is typed in it, and the rest of
  // the board need not wait for it. What has another key, or is another button, is never made into what it was not.
  const key = (n) => n.nodeName + (n.nodeType === 1 ? n.dataset.part || (n.nodeName === "BUTTON" ? n.value : "") : "");
  const keyed = (n) => n.nodeType === 1 && (n.dataset.part || n.nodeName === "BUTTON");
  const same = (old, fresh) => {
    if (old.nodeType !== 1) { if (old.data !== fresh.data) old.data = fresh.data; return; }
    if (old.dataset.sent || (old === document.activeElement && /^(INPUT|SELECT|TEXTAREA)$/.test(old.tagName))) return;
    for (const { name, value } of fresh.attributes) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
    for (const { name } of [...old.attributes]) if (name !== "open" && !fresh.hasAttribute(name)) old.removeAttribute(name);
    inside(old, fresh);
  };
  const inside = (old, fresh) => {
    let at = old.firstChild;
    for (const f of [...fresh.childNodes]) {
      let found = at;
      while (found && key(found) !== key(f) && (keyed(f) || !keyed(found))) found = found.nextSibling;
      if (found && key(found) === key(f)) {
        while (at !== found) { const next = at.nextSibling; at.remove(); at = next; }
        same(found, f);
        at = found.nextSibling;
      } else old.insertBefore(f, at);
    }
    while (at) { const next = at.nextSibling; at.remove(); at = next; }
  };

  // Whether what stands here is what is: the program is heard, reads its register, and the board was drawn anew.
  const QUIET = 5;
  let drawn = Date.now(), due = false, drawing = false, failed = false;
  const stale = () => {
    const bar = $("stale");
    if (!bar || !seen() || !body.dataset.version) return;
    const quiet = Math.floor((Date.now() - heard) / 1000), old = $("board") ? Math.floor((Date.now() - drawn) / 1000) : 0;
    bar.hidden = quiet < QUIET && old < 15 && !failed;
    $("stale-quiet").hidden = quiet < QUIET;
    $("stale-old").hidden = quiet >= QUIET;
    $("stale-for").textContent = Math.max(quiet, old);
    if (leave && quiet > 10 && (!stream || stream.readyState === 2)) open();
  };
  const redraw = async (changed) => {
    const board = $("board");
    due = due || changed || failed || Date.now() - drawn >= 10000;
    if (!board || !due || drawing) return;
    drawing = true;
    const stop = new AbortController(), late = setTimeout(() => stop.abort(), 8000);
    try {
      const answer = await fetch(body.dataset.board, inOurs({ signal: stop.signal }));
      if (!answer.ok) throw new Error(answer.status);
      const fresh = document.createElement("template");
      fresh.innerHTML = await answer.text();
      const keys = () => [...board.querySelectorAll("[data-part=tally] button")].map((b) => b.form.elements.person.value + b.value).join();
      const before = keys();
      inside(board, fresh.content);
      if (keys() !== before) sleep();
      drawn = Date.now(); due = failed = false;
    } catch (_) { failed = true; }
    clearTimeout(late);
    drawing = false;
    stale();
  };
  // Declared since this screen was drawn: what a supervisor is to read blind stands on it.
  const main = $("main"), draft = !!document.querySelector(".state.s-draft");
  const tells = (declared) => {
    const before = (body.dataset.declared || "").split(" "), at = location.pathname;
    const since = declared.split(" ").filter((n) => n && !before.includes(n));
    return since.some((n) => at === "/audit" || at === "/p/" + n || at.startsWith("/p/" + n + "/"));
  };
  const cover = (yes) => { if (main && (draft || !yes)) main.style.visibility = yes ? "hidden" : ""; };
  const beat = (data) => {
    heard = Date.now();
    if ($("not-done-words")?.textContent === say("dead")) note("");
    const b = JSON.parse(data);
    if (tells(b.declared) && signal.hidden) { cover(true); if (!underWay()) location.replace(location.href); return; }
    cover(false);
    const now = $("now"); if (now) now.textContent = b.now;
    named(b.enters);
    // Orders that stand on the board are told on every other screen.
    const late = $("overdue"), told = $("board") ? b.overdue : b.on_all, out = b.out + ($("board") ? 0 : b.suspended);
    overdue = told.length > 0;
    // Everybody who is to be looked for is named; of the rest the first.
    const first = b.lost + out || 1, rest = told.length - first;
    if (late) {
      late.hidden = !overdue;
      late.classList.toggle("lost", b.lost + out > 0);
      $("overdue-what").textContent = say(b.lost ? "lost" : out ? "out" : "late");
      if (overdue) $("overdue-words").textContent = told.slice(0, first).join(" · ") + (rest > 0 ? " · " + say("more", { n: rest }) : "");
    }
    const gone = $("missing");
    if (gone) { gone.hidden = !b.missing; gone.textContent = say("missing", { n: b.missing }); }
    const count = $("count");
    if (count) { count.hidden = !b.on_air && !b.damaged; count.textContent = say("onAir", { n: b.damaged ? "?" : b.on_air }); }
    const damaged = $("damaged"), changed = b.version !== version || (damaged && damaged.hidden === b.damaged);
    if (damaged) damaged.hidden = !b.damaged;
    // Never away from the signal.
    if (b.roll && !b.damaged && !$("roll-first") && $("board") && signal.hidden && !underWay()) location.assign("/roll-call");
    if (!$("board")) failed = false;
    version = b.version;
    redraw(changed);
  };
  const fault = () => { failed = true; cover(false); stale(); };

  const shared = !!(navigator.locks && window.BroadcastChannel), others = shared ? new BroadcastChannel("airwrit-" + root.lang) : null;
  let leads = false;
  const tell = (data) => { if (others && leads) others.postMessage(data); if (data) beat(data); else fault(); };
  const open = () => {
    if (stream) stream.close();
    stream = new EventSource("/events?language=" + root.lang);
    stream.addEventListener("beat", (e) => tell(e.data));
    stream.addEventListener("fault", () => tell(""));
    stream.addEventListener("error", () => tell(""));
  };
  if (others) {
    others.onmessage = (e) => {
      if (!seen()) return;
      // One that was opened while nothing was heard of the window that leads.
      if (stream && !leads) { stream.close(); stream = null; }
      if (e.data) beat(e.data); else fault();
    };
  }
  const listen = () => {
    if (leave || !seen() || !body.dataset.version) return;
    if (!shared) { open(); leave = () => {}; return; }
    const ask = new AbortController();
    let end;
    const over = new Promise((done) => { end = done; });
    leave = () => { ask.abort(); end(); };
    const mine = leave;
    navigator.locks.request("airwrit-events-" + root.lang, { signal: ask.signal }, () => {
      if (leave !== mine) return null;
      leads = true;
      open();
      return over;
    }).catch(() => {});
  };
  const hush = () => {
    if (leave) leave();
    leave = null; leads = false;
    if (stream) { stream.close(); stream = null; }
  };
  document.addEventListener("visibilitychange", () => { if (seen()) { heard = Date.now(); listen(); } else { hush(); cover(true); } });
  addEventListener("pagehide", hush);
  addEventListener("pageshow", listen);
  setInterval(stale, 1000);
  listen();

  // How far the auditor is.
  if (body.dataset.audit) {
    const look = async () => {
      const answer = await fetch(body.dataset.audit, inOurs());
      if (answer.ok) {
        const text = await answer.text();
        $("verdict").innerHTML = text;
        if (text.includes("<progress")) setTimeout(look, 300); else location.assign("/audit");
      }
    };
    setTimeout(look, 200);
  }
})();
