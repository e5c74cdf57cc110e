// The little that a page needs beside its forms: everyone out at one key, signs of life, keys for gloves, the plan while it is
// filled in. Nothing is decided here; without it every form still works.
"use strict";
(() => {
  const $ = (id) => document.getElementById(id);
  const body = document.body;
  // Words in the language of the page; numbers are filled in.
  const say = (name, filled = {}) => Object.entries(filled).reduce((t, [n, v]) => t.replace(`{${n}}`, v), $("page-words").dataset[name]);

  // Everyone out: the signal stands on the screen before anything is sent. A call that is not kept yet is remembered by the
  // browser, with the time of its key: the next screen that loads sends it first, under the same word.
  const form = $("callout"), signal = $("signal"), kept = $("signal-kept");
  const UNSENT = "airwrit-calls", HALF_A_DAY = 12 * 3600 * 1000, MOST = 20;
  let calls = 0, unkept = 0;
  const unsent = () => {
    try {
      const all = JSON.parse(localStorage.getItem(UNSENT) || "[]");
      return all.filter((c) => typeof c.data === "string" && Math.abs(Date.now() - c.at) < HALF_A_DAY).slice(-MOST);
    } catch (_) { return []; }
  };
  const remember = (all) => {
    try { if (all.length) localStorage.setItem(UNSENT, JSON.stringify(all)); else localStorage.removeItem(UNSENT); } catch (_) { /* a browser that keeps nothing */ }
  };
  const over = (call) => { unkept -= 1; remember(unsent().filter((c) => c.data !== call.data)); };
  const rows = (all) => {
    const list = $("signal-rows");
    list.textContent = "";
    for (const [label, words] of all) {
      const li = document.createElement("li"), b = document.createElement("b"), span = document.createElement("span");
      b.textContent = label; span.textContent = words;
      li.append(b, " ", span); list.append(li);
    }
  };
  const stood = [...document.querySelectorAll("#signal-rows li")].map((li) => [li.children[0].textContent, li.children[1].textContent]);
  const record = async (call, n) => {
    const data = new URLSearchParams(call.data);
    // The word of a screen that is open now: the one that pressed may be gone.
    data.set("t", new FormData(form).get("t"));
    for (let wait = 500; ; wait = Math.min(wait * 2, 8000)) {
      try {
        // Kept late, it has the time of the key.
        data.set("ago", Math.max(0, Math.round((Date.now() - call.at) / 1000)));
        const stop = new AbortController();
        const late = setTimeout(() => stop.abort(), 15000);
        const answer = await fetch("/call-out", { method: "POST", body: data, signal: stop.signal });
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
          if (n === calls) kept.textContent = say(came.told.done ? "kept" : "notKept") + " " + (done ? "" : say("again") + " ") + came.told.out.concat(came.told.why, said).join(" · ");
          if (done) { over(call); return; }
        } else {
          if (n === calls) kept.textContent = say("shutOut");
          if (answer.status === 403 || answer.status === 421) { over(call); return; }
        }
      } catch (_) {
        if (n === calls) kept.textContent = say("noAnswer");
      }
      await new Promise((done) => setTimeout(done, wait));
    }
  };
  // While the signal stands nothing else of the screen is reached.
  const raise = () => {
    signal.hidden = false;
    for (const e of body.children) if (e !== signal && e.id !== "not-taken") e.inert = true;
    signal.focus();
    body.classList.add("called");
    kept.textContent = say("being");
  };
  const send = (call) => {
    calls += 1; unkept += 1;
    // A browser opens few connections at once: where each window holds one of its own, this one makes room.
    if (!shared) hush();
    record(call, calls).finally(listen);
  };
  const callOut = () => {
    raise();
    const data = new URLSearchParams(new FormData(form));
    data.set("once", data.get("once") + "-" + (calls + 1));
    data.set("quick", "1");
    const call = { data: data.toString(), at: Date.now() };
    remember([...unsent(), call]);
    send(call);
  };
  if (form) {
    form.addEventListener("submit", (e) => { e.preventDefault(); callOut(); });
    $("signal-again").addEventListener("click", callOut);
    addEventListener("keydown", (e) => {
      if (e.key !== "F9" || e.repeat) return;
      e.preventDefault(); e.stopPropagation();
      callOut();
    }, true);
  }

  // Keys sleep for a moment after a screen appeared, or after what stands under the finger was moved: a second press was meant
  // for what stood there before. Calling out never sleeps.
  const ASLEEP = 700;
  let woken = 0, hushed = 0;
  const word = (name) => {
    const bar = $("not-taken");
    bar.textContent = say(name);
    bar.hidden = false;
    clearTimeout(hushed);
    hushed = setTimeout(() => { bar.hidden = true; }, name === "dead" ? 20000 : 5000);
  };
  const sleep = () => {
    delete body.dataset.awake;
    clearTimeout(woken);
    woken = setTimeout(() => { body.dataset.awake = "1"; }, ASLEEP);
  };
  sleep();
  // Where the keys stand: told apart before and after something of the screen was renewed.
  const stands = () => [...document.querySelectorAll("main form[method=post] button")].filter((b) => b.checkVisibility()).map((b) => {
    const r = b.getBoundingClientRect();
    return [b.value, b.textContent, ...[r.x, r.y, r.width, r.height].map(Math.round)].join();
  }).join("|");
  const renewed = (work) => { const before = stands(); work(); if (stands() !== before) sleep(); };

  // A sign of life before anything leads away from this screen: with the program gone it stays, and so does the key.
  const alive = async () => {
    const stop = new AbortController();
    let late = false;
    const limit = setTimeout(() => { late = true; stop.abort(); }, 2500);
    try {
      await fetch("/icon.svg", { method: "HEAD", cache: "no-store", signal: stop.signal });
      return true;
    } catch (_) {
      // Slow is not gone, where it was heard just now.
      return late && Date.now() - heard < 5000;
    } finally { clearTimeout(limit); }
  };
  let heard = Date.now();
  addEventListener("click", async (e) => {
    const link = e.target.closest && e.target.closest("a[href]");
    if (!link || e.defaultPrevented || e.button || e.ctrlKey || e.shiftKey || e.altKey || e.metaKey || link.target) return;
    if (link.origin !== location.origin || link.getAttribute("href").startsWith("#")) return;
    e.preventDefault();
    if (await alive()) location.assign(link.href); else word("dead");
  });

  // Day and night, as chosen here; else as the machine has it.
  const mode = $("mode"), root = document.documentElement;
  const dark = () => root.dataset.mode ? root.dataset.mode === "night" : matchMedia("(prefers-color-scheme: dark)").matches;
  const named = () => { if (mode) mode.textContent = say(dark() ? "day" : "night"); };
  try {
    const saved = localStorage.getItem("mode");
    if (saved) root.dataset.mode = saved;
    if (mode) {
      mode.hidden = false; named();
      mode.addEventListener("click", () => {
        root.dataset.mode = dark() ? "day" : "night";
        localStorage.setItem("mode", root.dataset.mode); named();
      });
    }
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
  for (const put of document.querySelectorAll("[data-put]")) put.addEventListener("click", () => { $("value").value = put.dataset.put; });
  // A key that is held down sends nothing; Enter sends nothing where several keys stand and none of them was meant.
  addEventListener("keydown", (e) => {
    const at = e.target;
    if (e.key !== "Enter" && e.key !== " ") return;
    if (e.repeat && at.tagName !== "TEXTAREA" && !(e.key === " " && at.tagName === "INPUT")) { e.preventDefault(); return; }
    if (e.key === "Enter" && at.tagName === "INPUT" && at.form && at.form.querySelector("button.none")) { e.preventDefault(); word("enter"); }
  }, true);
  // A form is sent once, when keys are awake and the program lives; the program knows a second one too.
  let passes = null;
  document.addEventListener("submit", async (e) => {
    const f = e.target;
    if (f === form || passes === f) return;
    e.preventDefault();
    if (f.dataset.sent) return;
    if (f.method === "post" && !body.dataset.awake) { word("asleep"); return; }
    f.dataset.sent = "1";
    const key = e.submitter, lives = await alive();
    if (!lives || !f.isConnected || (key && !key.isConnected)) {
      delete f.dataset.sent;
      word(lives ? "asleep" : "dead");
      return;
    }
    setTimeout(() => { delete f.dataset.sent; }, 4000);
    passes = f;
    try { f.requestSubmit(key); } finally { passes = null; }
  });
  addEventListener("pageshow", () => { sleep(); for (const f of document.forms) delete f.dataset.sent; });

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
          const answer = await fetch(planned.dataset.plan, { method: "POST", body: new URLSearchParams(new FormData(planned)) });
          if (answer.ok && mine === turn) $("plan").innerHTML = await answer.text();
        } catch (_) { /* the key below works it out too */ }
      }, 250);
    });
  }

  // Signs of life. One stream for all windows of this browser, held by one of them, while any is looked at.
  let stream = null, leave = null, version = body.dataset.version, ring = null, overdue = false;
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
    const hide = quiet < QUIET && old < 15 && !failed;
    if (bar.hidden !== hide) renewed(() => { bar.hidden = hide; });
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
      const answer = await fetch(body.dataset.board, { signal: stop.signal });
      if (!answer.ok) throw new Error(answer.status);
      const fresh = document.createElement("template");
      fresh.innerHTML = await answer.text();
      renewed(() => inside(board, fresh.content));
      drawn = Date.now(); due = failed = false;
    } catch (_) { failed = true; }
    clearTimeout(late);
    drawing = false;
    stale();
  };
  const beat = (data) => {
    heard = Date.now();
    renewed(() => beaten(JSON.parse(data)));
  };
  const beaten = (b) => {
    const now = $("now"); if (now) now.textContent = b.now;
    const late = $("overdue");
    overdue = b.overdue.length > 0;
    if (late) { late.hidden = !overdue; if (overdue) $("overdue-words").textContent = b.overdue[0] + (b.overdue.length > 1 ? " · " + say("more", { n: b.overdue.length - 1 }) : ""); }
    const count = $("count");
    if (count) { count.hidden = !b.on_air && !b.damaged; count.textContent = say("onAir", { n: b.damaged ? "?" : b.on_air }); }
    const damaged = $("damaged"), changed = b.version !== version || (damaged && damaged.hidden === b.damaged);
    if (damaged) damaged.hidden = !b.damaged;
    if (b.roll && !b.damaged && !$("roll-first") && $("board") && signal.hidden && !unkept) location.assign("/roll-call");
    if (!$("board")) failed = false;
    version = b.version;
    redraw(changed);
  };
  const fault = () => { failed = true; stale(); };

  const shared = !!(navigator.locks && window.BroadcastChannel), others = shared ? new BroadcastChannel("airwrit") : null;
  let leads = false;
  const tell = (data) => { if (others && leads) others.postMessage(data); if (data) beat(data); else fault(); };
  const open = () => {
    if (stream) stream.close();
    stream = new EventSource("/events");
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
    navigator.locks.request("airwrit-events", { signal: ask.signal }, () => {
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
  document.addEventListener("visibilitychange", () => { if (seen()) { heard = Date.now(); listen(); } else hush(); });
  addEventListener("pagehide", hush);
  addEventListener("pageshow", listen);
  setInterval(stale, 1000);
  listen();

  // How far the auditor is.
  if (body.dataset.audit) {
    const look = async () => {
      const answer = await fetch(body.dataset.audit);
      if (answer.ok) {
        const text = await answer.text();
        $("verdict").innerHTML = text;
        if (text.includes("<progress")) setTimeout(look, 300); else location.assign("/audit");
      }
    };
    setTimeout(look, 200);
  }

  // Calls that another screen could not bring through.
  if (form) {
    const before = unsent();
    if (before.length) { raise(); for (const call of before) send(call); }
  }
})();
