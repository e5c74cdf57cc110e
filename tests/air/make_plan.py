"""What a plan says of the reserve, by CoolProp's density and a bisection. Writes plan.csv.

The reserve of examples/set.yaml: 81 L, floor 23 bar. Each wearer and each rescuer on this air draws 318 L/min, the
consumer what its column says. The way out is 3.5 min and the walk; times 1.5 and at least 10 min it must last.

    python3 -m venv venv && venv/bin/pip install CoolProp && venv/bin/python tests/air/make_plan.py
"""
import pathlib
import random

import CoolProp
from CoolProp.CoolProp import PropsSI

SOURCE = "CoolProp %s PropsSI Air" % CoolProp.__version__
AMBIENT, LITRES, FLOOR, EACH = 1.01325, 81, 23, 318
FREE = PropsSI("D", "T", 293.15, "P", 101325, "Air")
dice = random.Random(11)


def content(bar, t):
    return LITRES * PropsSI("D", "T", t + 273.15, "P", (bar + AMBIENT) * 1e5, "Air") / FREE


def row(wearers, rescuers, consumer, low, high, reserve, walk):
    flow = (wearers + rescuers) * EACH + consumer
    left = content(FLOOR, low)
    lasts = (content(reserve, high) - left) / flow
    needed = left + flow * max((3.5 + walk) * 1.5, 10)
    if content(349, high) < needed:
        return None
    a, b = 0.0, 349.0
    for _ in range(80):
        middle = (a + b) / 2
        a, b = (middle, b) if content(middle, high) < needed else (a, middle)
    leave_by = max(a, FLOOR)
    # A figure that is whole to the last digit is rounded either way by a hair.
    if min(abs(x - round(x)) for x in (leave_by, lasts)) < 1e-4:
        return None
    return wearers, rescuers, consumer, low, high, reserve, walk, "%.6f" % leave_by, "%.6f" % lasts


rows = [row(n, 0, c, -2, 9, 207, 4) for n in (1, 2, 3) for c in (0, 120)]
assert None not in rows
while len(rows) < 40:
    low = dice.randint(-12, 30)
    made = row(
        dice.randint(1, 3),
        dice.randint(0, 1),
        dice.choice((0, 0, 60, 120, 415)),
        low,
        dice.randint(low, 41),
        dice.randint(194, 300),
        dice.choice((2, 4, 6)),
    )
    if made:
        rows.append(made)
with open(pathlib.Path(__file__).parent / "plan.csv", "w") as f:
    f.write("wearers,rescuers,consumer,low,high,reserve,walk,leave_by,lasts,source\n")
    for r in rows:
        f.write(",".join(map(str, r)) + "," + SOURCE + "\n")
print(len(rows), "rows")
