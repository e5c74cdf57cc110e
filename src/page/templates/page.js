// The little that a page needs beside its forms: everyone out at one key, signs of life, keys for gloves, the plan while it is
// filled in. Nothing is decided here; without it every form still works.
"use strict";
(() => {
  const $ = (id) => document.getElementById(id);
  const body = document.body;
  // Words in the language of the page; numbers are filled in.
  const say = (name, filled = {}) => Object.entries(filled).reduce((t, [n, v]) => t.replace(`{${n}}`, v), $("words").dataset[name]);

  // Everyone out: the signal stands on the screen before anything is sent.
  const form = $("callout"), signal = $("signal"), kept = $("signal-kept");
  let calls = 0;
  const rows = (all) => {
    const list = $("signal-rows");
    list.textContent = "";
    for (const [label, words] of all) {
      const li = document.createElement("li"), b = document.createElement("b"), span = document.createElement("span");
      b.textContent = label; span.textContent = words;
      li.append(b, " ", span); list.append(li);
    }
  };
  const record = async (data, n) => {
    for (let wait = 500; ; wait = Math.min(wait * 2, 8000)) {
      try {
        const stop = new AbortController();
        const late = setTimeout(() => stop.abort(), 15000);
        const answer = await fetch("/call-out", { method: "POST", body: data, signal: stop.signal });
        clearTimeout(late);
        if (answer.ok && (answer.headers.get("content-type") || "").startsWith("application/json")) {
          const came = await answer.json();
          if (came.signal.rows.length) rows(came.signal.rows);
          const said = came.told.err.filter((l) => !l.startsWith("  ") && !l.startsWith(say("calling")));
          kept.textContent = say(came.told.done ? "kept" : "notKept") + " " + came.told.out.concat(came.told.why, said).join(" · ");
          return;
        }
        kept.textContent = say("shutOut");
        if (answer.status === 403 || answer.status === 421) return;
      } catch (_) {
        if (n !== calls) return;
        kept.textContent = say("noAnswer");
      }
      await new Promise((done) => setTimeout(done, wait));
    }
  };
  const callOut = () => {
    signal.hidden = false;
    signal.focus();
    body.classList.add("called");
    kept.textContent = say("being");
    calls += 1;
    const data = new URLSearchParams(new FormData(form));
    data.set("once", data.get("once") + "-" + calls);
    data.set("quick", "1");
    record(data, calls);
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

  // Day and night, as chosen here; else as the machine has it.
  const mode = $("mode"), root = document.documentElement;
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
  // A form is sent once; the program knows a second one too.
  for (const f of document.querySelectorAll("form[method=post]:not(#callout)")) {
    f.addEventListener("submit", (e) => {
      if (f.dataset.sent) { e.preventDefault(); return; }
      f.dataset.sent = "1";
      setTimeout(() => { delete f.dataset.sent; }, 4000);
    });
  }
  addEventListener("pageshow", () => { for (const f of document.forms) delete f.dataset.sent; });

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

  // Signs of life. One stream, only while this screen is looked at.
  let heard = Date.now(), stream = null, version = body.dataset.version, ring = null, overdue = false;
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
  const busy = () => { const at = document.activeElement; return at && at.closest && at.closest("#board") && /^(INPUT|SELECT|TEXTAREA)$/.test(at.tagName); };
  let drawn = Date.now();
  const redraw = async (changed) => {
    const board = $("board");
    if (!board || (!changed && Date.now() - drawn < 10000)) return;
    // What is being typed is not taken away; a details that stands open stays open.
    if (busy() || [...board.querySelectorAll("input")].some((i) => i.type !== "hidden" && i.value)) return;
    const answer = await fetch(body.dataset.board);
    if (!answer.ok) return;
    const text = await answer.text();
    const opened = [...board.querySelectorAll("details")].map((d) => d.open);
    const at = document.activeElement && board.contains(document.activeElement) ? [...board.querySelectorAll("button, a, summary")].indexOf(document.activeElement) : -1;
    board.innerHTML = text;
    [...board.querySelectorAll("details")].forEach((d, i) => { d.open = !!opened[i]; });
    if (at >= 0) { const again = [...board.querySelectorAll("button, a, summary")][at]; if (again) again.focus(); }
    drawn = Date.now();
  };
  const beat = (e) => {
    heard = Date.now();
    const b = JSON.parse(e.data);
    const now = $("now"); if (now) now.textContent = b.now;
    const late = $("overdue");
    overdue = b.overdue.length > 0;
    if (late) { late.hidden = !overdue; if (overdue) $("overdue-words").textContent = b.overdue[0] + (b.overdue.length > 1 ? " · " + say("more", { n: b.overdue.length - 1 }) : ""); }
    if (b.roll && !document.querySelector(".bar a[href='/roll-call']") && $("board")) location.assign("/roll-call");
    const changed = b.version !== version;
    version = b.version;
    redraw(changed).catch(() => {});
  };
  const listen = () => {
    if (stream || document.visibilityState !== "visible" || !body.dataset.version) return;
    stream = new EventSource("/events");
    stream.addEventListener("beat", beat);
  };
  const hush = () => { if (stream) { stream.close(); stream = null; } };
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") { heard = Date.now(); listen(); } else hush(); });
  addEventListener("pagehide", hush);
  addEventListener("pageshow", listen);
  setInterval(() => {
    const bar = $("stale");
    if (!bar || document.visibilityState !== "visible" || !body.dataset.version) return;
    const quiet = Math.floor((Date.now() - heard) / 1000);
    bar.hidden = quiet < 8;
    $("stale-for").textContent = quiet;
    if (quiet > 10 && stream && stream.readyState === 2) { hush(); listen(); }
  }, 1000);
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
})();
