#!/usr/bin/env python3
"""A terminal as a camera sees it: half blocks on the standard input become a PGM picture; `dark` or `light` is the
terminal's own ground, which the code must not depend on."""
import re
import sys

ground = 20 if sys.argv[1] == "dark" else 235
rows = []
for line in sys.stdin.read().splitlines():
    told = re.fullmatch("\x1b\\[38;5;16;48;5;231m([ █▀▄]+)\x1b\\[0m", line)
    if told:
        rows.append([c in "█▀" for c in told[1]])
        rows.append([c in "█▄" for c in told[1]])
assert rows, "no code is shown"
MODULE, AROUND = 4, 40
width = len(rows[0]) * MODULE + 2 * AROUND
edge = bytes([ground]) * (width * AROUND)
sides = bytes([ground]) * AROUND
picture = edge
for row in rows:
    line = b"".join(bytes([0 if dark else 255]) * MODULE for dark in row)
    picture += (sides + line + sides) * MODULE
picture += edge
sys.stdout.buffer.write(b"P5 %d %d 255\n" % (width, len(picture) // width) + picture)
