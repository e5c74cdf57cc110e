"""Isothermal flow with friction through hoses by the library `fluids`, air by CoolProp. Writes hoses.csv.

    python3 -m venv venv && venv/bin/pip install fluids CoolProp && venv/bin/python tests/air/make_hoses.py
"""
import math
import pathlib
import random

import CoolProp
import fluids
from CoolProp.CoolProp import PropsSI

SOURCE = "fluids %s isothermal_gas and friction_factor; CoolProp %s" % (fluids.__version__, CoolProp.__version__)
here = pathlib.Path(__file__).parent
dice = random.Random(11)
ROUGHNESS = 5e-6
FREE = PropsSI("D", "T", 293.15, "P", 101325, "Air")


def end(bore, length, flow, gauge, t):
    """Gauge pressure at the end, bar; None where so much does not go through."""
    kelvin, p1 = t + 273.15, (gauge + 1.01325) * 1e5
    d, mass = bore / 1000, flow / 60000 * FREE
    rho, mu = PropsSI("D", "T", kelvin, "P", p1, "Air"), PropsSI("V", "T", kelvin, "P", p1, "Air")
    re = 4 * mass / (math.pi * d * mu)
    fd = fluids.friction_factor(Re=re, eD=ROUGHNESS / d)
    try:
        p2 = fluids.isothermal_gas(rho=rho, fd=fd, P1=p1, L=length, D=d, m=mass)
    except Exception:
        return None
    return (re, p2 / 1e5 - 1.01325) if p2 > 1.2e5 else None


cases = [(8, 10, 100, 5), (8, 30, 200, 6), (8, 30, 340, 6), (9.5, 30, 300, 6), (9.5, 60, 300, 6), (10, 90, 300, 7), (9.5, 90, 170, 6),
         (13, 90, 600, 8), (13, 60, 500, 7), (8, 60, 300, 6.9), (8, 90, 340, 8.6)]
rows = []
for c in cases:
    re, p2 = end(*c, 20)
    rows.append((*c, 20, "%.0f" % re, "%.6f" % p2))
while len(rows) < 160:
    c = (dice.choice((5, 6, 8, 9.5, 10, 13, 16, 19)), dice.choice((5, 10, 20, 30, 40, 58, 60, 90)), round(dice.uniform(50, 900), 1),
         round(dice.uniform(2, 12), 2), round(dice.uniform(-20, 40), 1))
    found = end(*c)
    if found and found[1] > 0.2:
        rows.append((*c, "%.0f" % found[0], "%.6f" % found[1]))
with open(here / "hoses.csv", "w") as f:
    f.write("bore,length,flow,inlet,t,reynolds,end,source\n")
    for r in rows:
        f.write(",".join(map(str, r)) + "," + SOURCE + "\n")
print(len(rows), "rows")
