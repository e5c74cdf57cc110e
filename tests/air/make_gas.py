"""Real dry air by CoolProp: compressibility, content against free air, settled pressures, usable content. Writes gas.csv.

    python3 -m venv venv && venv/bin/pip install CoolProp && venv/bin/python tests/air/make_gas.py
"""
import pathlib
import random

import CoolProp
from CoolProp.CoolProp import PropsSI

SOURCE = "CoolProp %s PropsSI Air" % CoolProp.__version__
here = pathlib.Path(__file__).parent
dice = random.Random(7)
FREE = PropsSI("D", "T", 293.15, "P", 101325, "Air")
rows = []


def z(t, bar):
    return PropsSI("Z", "T", t + 273.15, "P", bar * 1e5, "Air")


def content(litres, bar, t):
    return litres * PropsSI("D", "T", t + 273.15, "P", bar * 1e5, "Air") / FREE


for t in (-40, -30, -20, -10, 0, 5, 10, 15, 20, 30, 40, 50, 60):
    for bar in (1, 2, 5, 10, 20, 50, 80, 100, 120, 150, 180, 200, 232, 250, 280, 300, 330, 351):
        rows.append(("z", bar, t, "", "", "%.9f" % z(t, bar)))
for _ in range(120):
    bar, t = dice.uniform(0.6, 351), dice.uniform(-40, 60)
    rows.append(("z", "%.4f" % bar, "%.3f" % t, "", "", "%.9f" % z(float("%.3f" % t), float("%.4f" % bar))))
for _ in range(80):
    litres, bar, t = dice.choice((9, 10, 20, 27, 50, 81)), round(dice.uniform(2, 351), 3), round(dice.uniform(-40, 60), 2)
    rows.append(("content", bar, t, litres, "", "%.6f" % content(litres, bar, t)))
while sum(r[0] == "settled" for r in rows) < 80:
    bar, t1, t2 = round(dice.uniform(5, 340), 3), round(dice.uniform(-40, 60), 2), round(dice.uniform(-40, 60), 2)
    rho = PropsSI("D", "T", t1 + 273.15, "P", bar * 1e5, "Air")
    p2 = PropsSI("P", "T", t2 + 273.15, "D", rho, "Air") / 1e5
    if 0.6 < p2 < 350:
        rows.append(("settled", bar, t1, t2, "", "%.6f" % p2))
# Leave-by pressure by bisection on CoolProp's density: gauge floor 10..60 bar, reading warm, left behind cold.
while sum(r[0] == "leave_by" for r in rows) < 60:
    litres, floor = dice.choice((20, 27, 54, 81, 150)), dice.choice((10, 23, 40, 55))
    warm = round(dice.uniform(-20, 55), 1)
    cold = round(dice.uniform(-40, warm), 1)
    needed = round(dice.uniform(200, 12000), 1)
    wanted = content(litres, floor + 1.01325, cold) + needed
    if content(litres, 345, warm) < wanted:
        continue
    low, high = 0.5, 350.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if content(litres, middle, warm) < wanted else (low, middle)
    rows.append(("leave_by", floor, "%s %s" % (warm, cold), litres, needed, "%.6f" % (low - 1.01325)))
with open(here / "gas.csv", "w") as f:
    f.write("what,bar,t,other,more,value,source\n")
    for r in rows:
        f.write(",".join(map(str, r)) + "," + SOURCE + "\n")
print(len(rows), "rows")
