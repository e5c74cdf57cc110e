#!/usr/bin/env python3
"""Registers changed at random under good signatures and seals, and rosters whose text was changed at random
before custodians signed it, and excerpts cut out of such registers: airwrit and the independent verifier must come to the
same verdict. Which rule is named may differ where a change breaks two. Usage: differ.py AIRWRIT [SEED]"""
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
import changes  # noqa: E402
import day  # noqa: E402
import excerpts  # noqa: E402
import remember  # noqa: E402
import turns  # noqa: E402
import turns_ways  # noqa: E402,F401  (its cases join those of `ways`)
import verify  # noqa: E402
import ways  # noqa: E402

airwrit, dice = sys.argv[1], random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
remember.remember(verify)
trust = [a for c in day.TRUST for a in ("--custodian", c)]
ODD = [None, 3, *changes.ODD]
YAML = ["", "\n", "&a", "*a", "!!str x", "[", "{", "- ", "? ", ": ", "'", '"', "|", ">", "---", "...", "1e9", "0x1", "~", "null", "<<: *x", "#",
        " #", "  ", "2", "9", "a", "A", "-", "T", "\u00e9"]


LABELS = {day.the_day: "enrol form open answer_again countersign event deviation recovery roster clock clock2 aside".split(),
          turns.story: "read air open2 issue1 asked1 given1 outgoing1 incoming1 carried3 carried5 oil2 shut1 taken".split()}


def registers():
    """(label, path, bytes, whether it is an excerpt)."""
    for story, label in [(story, label) for story, labels in LABELS.items() for label in labels]:
        written, seq = day.write(label, "body", lambda there, _: None, stop=0, story=story)
        body = json.loads(written.lines[seq][8:-100])
        every = list(changes.paths(body))
        for path in dice.sample(every, min(20, len(every))):
            layer, sub = changes.layer(path)
            try:
                lines = day.write(label, layer, changes.change(sub, dice.choice(ODD)), stop=0, story=story)[0].lines
                yield label, path, b"".join(lines), False
                if story is turns.story and "permit" in body:
                    yield label, path, b"".join(excerpts.excerpt(lines, body["permit"])), True
            except (KeyError, TypeError, AttributeError, ValueError, StopIteration):
                pass                        # the small writer needs that member itself
    # Registers wrong or right in a named way, and of each every permit's excerpt.
    for name, _, _, make in ways.CASES:
        lines = make()[0].splitlines(keepends=True)
        try:
            numbers = sorted({json.loads(line)["body"].get("permit", "") for line in lines} - {""})
            cut = [b"".join(excerpts.excerpt(lines, n)) for n in numbers]
        except (KeyError, TypeError, AttributeError, ValueError, StopIteration, RecursionError):
            continue                        # no JSON, or a permit that was never opened
        for number, raw in zip(numbers, cut):
            yield name, number, raw, True
    good = day.next_roster()
    for n in range(150):
        at = dice.randrange(len(good))
        text = good[:at] + dice.choice(YAML) + good[at + dice.choice([0, 0, 1, 2, 5, 30]):]
        taken_in = lambda b, text=text: b.add("roster", {"text": text, "signs": book.signatures(text)})  # noqa: E731
        yield "roster text", n, b"".join(day.write("moved", insert=taken_in)[0].lines), False


passed = failed = 0
with tempfile.TemporaryDirectory() as folder:
    file = os.path.join(folder, "0001.jsonl")
    for label, path, raw, excerpt in registers():
        with open(file, "wb") as f:
            f.write(raw)
        theirs, findings = verify.verify(io.BytesIO(raw), day.TRUST, 2, excerpt=excerpt)
        more = ["--excerpt"] if excerpt else []
        done = subprocess.run([airwrit, "verify", file, "--json", *more, *trust], capture_output=True, text=True)
        ours = json.loads(done.stdout)
        if ours["verdict"].replace("_", " ") == theirs:
            passed += 1
        else:
            failed += 1
            print("DISAGREE", label, path, ours["verdict"], ours["said"][:1], theirs, findings[:1])
print("%d passed, %d failed" % (passed, failed))
sys.exit(1 if failed or passed < 200 else 0)
