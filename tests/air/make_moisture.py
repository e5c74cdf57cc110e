"""Vapour pressures and dew points by psychrolib. Writes moisture.csv.

    python3 -m venv venv && venv/bin/pip install psychrolib && venv/bin/python tests/air/make_moisture.py
"""
import importlib.metadata
import pathlib
import random

import psychrolib

psychrolib.SetUnitSystem(psychrolib.SI)
SOURCE = "psychrolib %s GetSatVapPres" % importlib.metadata.version("psychrolib")
here = pathlib.Path(__file__).parent
dice = random.Random(3)
# mg/m3 at 20 °C and 101325 Pa of a share of vapour: 101325 Pa, 18.01528 g/mol, 8.314462618 J/(mol K).
PURE = 101325 * 18.01528e-3 / (8.314462618 * 293.15) * 1e6
rows = []
for t in [-60, -55, -50, -45.6, -40, -35, -30, -25, -20, -15, -11, -8, -5, -2, -0.5, 0, 0.5, 2, 3, 5, 8, 10, 15, 20, 25, 30, 40, 50, 60, 70]:
    for gauge in (0, 5, 8, 10, 20, 40):
        p = (gauge + 1.01325) * 1e5
        share = psychrolib.GetSatVapPres(t) / p
        if share < 0.5:
            rows.append((t, gauge, "%.6f" % (PURE * share)))
for _ in range(80):
    t, gauge = round(dice.uniform(-60, 60), 2), round(dice.uniform(1, 40), 2)
    rows.append((t, gauge, "%.6f" % (PURE * psychrolib.GetSatVapPres(t) / ((gauge + 1.01325) * 1e5))))
with open(here / "moisture.csv", "w") as f:
    f.write("dew_point,gauge,content,source\n")
    for r in rows:
        f.write(",".join(map(str, r)) + "," + SOURCE + "\n")
print(len(rows), "rows")
