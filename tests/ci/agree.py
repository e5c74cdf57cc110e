#!/usr/bin/env python3
"""Runs airwrit's verifier and the independent one over the demo's register and its damaged copies; their
verdicts must agree. Usage: agree.py AIRWRIT DEMO_FOLDER"""
import json
import pathlib
import subprocess
import sys
import tempfile

airwrit, demo = sys.argv[1], pathlib.Path(sys.argv[2])
here = pathlib.Path(__file__).resolve().parents[2]
trust = [l.strip()[2:] for l in (demo / "trust.yaml").read_text().splitlines() if l.strip().startswith("- SHA256:")]
with_trust = [a for f in trust for a in ("--custodian", f)] + ["--threshold", "2"]
registers = [demo / "register"] + sorted((demo / "damaged").iterdir())
failed = excerpts = 0
for register in registers:
    for args in (with_trust, []):
        ours = subprocess.run([airwrit, "verify", str(register), "--json", *args], capture_output=True, text=True)
        theirs = subprocess.run(
            [sys.executable, str(here / "examples/verify.py"), "--json", *args, str(register)],
            capture_output=True, text=True)
        a, b = json.loads(ours.stdout), json.loads(theirs.stdout)
        same = a["verdict"].replace("_", " ") == b["verdict"] and ours.returncode == theirs.returncode
        print(f"{'agree   ' if same else 'DISAGREE'} {register.name}: {a['verdict']} {ours.returncode}, {b['verdict']} {theirs.returncode}")
        failed += not same
# Excerpts, whole and with each line in turn left out.
whole = next(demo.glob("*.excerpt.jsonl")).read_bytes().splitlines(keepends=True)
with tempfile.TemporaryDirectory() as folder:
    file = pathlib.Path(folder) / "excerpt.jsonl"
    for leave_out in [None] + list(range(0, len(whole), 9)):
        file.write_bytes(b"".join(l for n, l in enumerate(whole) if n != leave_out))
        ours = subprocess.run([airwrit, "verify", "--excerpt", str(file), "--json", *with_trust], capture_output=True, text=True)
        theirs = subprocess.run([sys.executable, str(here / "examples/verify.py"), "--excerpt", "--json", *with_trust, str(file)],
                                capture_output=True, text=True)
        a, b = json.loads(ours.stdout), json.loads(theirs.stdout)
        rule = a["said"][0]["rule"] if a["said"] else None
        same = (a["verdict"].replace("_", " "), rule, ours.returncode) == (b["verdict"], b["rule"], theirs.returncode)
        print(f"{'agree   ' if same else 'DISAGREE'} excerpt without {leave_out}: {a['verdict']} {rule}, {b['verdict']} {b['rule']}")
        failed += not same
        excerpts += 1
print(f"{2 * len(registers) + excerpts - failed} passed, {failed} failed")
sys.exit(1 if failed or len(registers) < 5 else 0)
