#!/usr/bin/env python3
"""Kills the program with SIGKILL at a random moment of an entry, many times, on the real disk. What was
acknowledged must be in the register, the register must verify, and it must go on.
Usage: kill9.py AIRWRIT DEMO_FOLDER [ROUNDS]"""
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time

airwrit, demo = sys.argv[1], pathlib.Path(sys.argv[2])
rounds = int(sys.argv[3]) if len(sys.argv) > 3 else 200
seed = time.time_ns()
random.seed(seed)
print(f"seed {seed}")
with tempfile.TemporaryDirectory() as folder:
    here = pathlib.Path(folder)
    shutil.copytree(demo / "register", here / "register")
    shutil.copytree(demo / "seal", here / "seal")
    place = ["--register", str(here / "register"), "--seal", str(here / "seal")]

    def entry(words):
        return [airwrit, *place, "note", "--set", "heron", "--words", words]

    begun = time.monotonic()
    for n in range(3):
        subprocess.run(entry(f"measured {n}"), check=True, capture_output=True)
    takes = (time.monotonic() - begun) / 3
    acknowledged, killed = {}, 0
    for n in range(rounds):
        words = f"round {n}"
        p = subprocess.Popen(entry(words), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        try:
            # What was at hand may be gone with the round before: then it takes longer than was measured.
            p.wait(timeout=random.uniform(0, takes * (3 if n % 2 else 1.2)))
        except subprocess.TimeoutExpired:
            p.kill()
            killed += 1
        out, err = p.communicate()
        line = re.search(r"; line (\d+)", out)
        if line:
            acknowledged[int(line[1])] = words
        elif p.returncode not in (-9, 0):
            sys.exit(f"round {n}: exit {p.returncode}: {err}")
    # It goes on, and everything is there.
    subprocess.run(entry("after all"), check=True, capture_output=True)
    lines = (here / "register" / "0001.jsonl").read_text().splitlines()
    lost = [(n, w) for n, w in acknowledged.items() if f'"words":"{w}"' not in lines[n]]
    verdict = subprocess.run([airwrit, "verify", str(here / "register"), "--trust", str(demo / "trust.yaml")],
                             capture_output=True, text=True)
    print(f"{rounds} rounds of {takes * 1000:.0f} ms, {killed} killed, {len(acknowledged)} acknowledged, "
          f"{len(lost)} lost; {len(lines)} lines: {verdict.stdout.splitlines()[0]}")
    sys.exit(1 if lost or verdict.returncode or killed < rounds / 4 or not acknowledged else 0)
