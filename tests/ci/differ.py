#!/usr/bin/env python3
"""Registers changed at random under good signatures and seals, and rosters whose text was changed at random
before custodians signed it: airwrit and the independent verifier must come to the same verdict. Which rule
is named may differ where a change breaks two. Usage: differ.py AIRWRIT [SEED]"""
import functools
import io
import json
import os
import pathlib
import random
import subprocess
import sys
import tempfile

here = pathlib.Path(__file__).resolve().parents[2]
sys.path[:0] = [str(here / "tests/python"), str(here / "examples")]
import book  # noqa: E402
import day  # noqa: E402
import verify  # noqa: E402

airwrit, dice = sys.argv[1], random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
verify.verify_strict = functools.lru_cache(maxsize=None)(verify.verify_strict)
trust = [a for c in day.TRUST for a in ("--custodian", c)]
ODD = [None, True, 0, 3, 2**53 - 1, "", "x", "\u00e9" * 3000, "1" * 64, [], ["x"], [[]], {}, {"a": {}}, "2026-11-25", book.at(30),
       "SHA256:", "TQ7-261125-01", "9999-12-31T23:59:59Z", "1970-01-01T00:00:00Z", "+14:59"]
YAML = ["", "\n", "&a", "*a", "!!str x", "[", "{", "- ", "? ", ": ", "'", '"', "|", ">", "---", "...", "1e9", "0x1", "~", "null", "<<: *x", "#",
        " #", "  ", "2", "9", "a", "A", "-", "T", "\u00e9"]


def paths(value, at=()):
    if at:
        yield at
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for k, v in list(pairs):
        yield from paths(v, at + (k,))


def change(path, new):
    def go(there, _):
        for p in path[:-1]:
            there = there[p]
        if new is None:
            del there[path[-1]]
        else:
            there[path[-1]] = new
    return go


def registers():
    for label in ("enrol", "form", "open", "answer_again", "countersign", "event", "deviation", "recovery", "roster", "clock", "clock2", "aside"):
        written, seq = day.write(label, "body", lambda there, _: None, stop=0)
        every = list(paths(json.loads(written.lines[seq][8:-100])))
        for path in dice.sample(every, min(20, len(every))):
            layer, sub = ("act", path[1:]) if path[0] == "act" and len(path) > 1 else ("body", path)
            try:
                yield label, path, b"".join(day.write(label, layer, change(sub, dice.choice(ODD)), stop=0)[0].lines)
            except (KeyError, TypeError, AttributeError, ValueError, StopIteration):
                pass                        # the small writer needs that member itself
    good = day.next_roster()
    for n in range(150):
        at = dice.randrange(len(good))
        text = good[:at] + dice.choice(YAML) + good[at + dice.choice([0, 0, 1, 2, 5, 30]):]
        taken_in = lambda b, text=text: b.add("roster", {"text": text, "signs": book.signatures(text)})  # noqa: E731
        yield "roster text", n, b"".join(day.write("moved", insert=taken_in)[0].lines)


passed = failed = 0
with tempfile.TemporaryDirectory() as folder:
    file = os.path.join(folder, "0001.jsonl")
    for label, path, raw in registers():
        with open(file, "wb") as f:
            f.write(raw)
        theirs, findings = verify.verify(io.BytesIO(raw), day.TRUST, 2)
        done = subprocess.run([airwrit, "verify", file, "--json", *trust], capture_output=True, text=True)
        ours = json.loads(done.stdout)
        if ours["verdict"].replace("_", " ") == theirs:
            passed += 1
        else:
            failed += 1
            print("DISAGREE", label, path, ours["verdict"], ours["said"][:1], theirs, findings[:1])
print("%d passed, %d failed" % (passed, failed))
sys.exit(1 if failed or passed < 200 else 0)
