#!/usr/bin/env python3
"""Writes verdicts.csv: readings of air judged by exact fractions of Python, apart from the program.

    python3 make_verdicts.py > verdicts.csv

The rule: a reading passes if it is within its limit and no nearer to it than its uncertainty;
one read outside fails; anything else cannot be told. The limits are copied from the rules named in each row: EN
12021:2014 from memory, 29 CFR 1910.134(i)(1)(ii) as read in WAC 296-307-61605.
Columns: profile, component, instrument or tube, reading, uncertainty (share of the reading, or with a unit), answer,
margin in the limit's unit as a fraction, source.
"""

from fractions import Fraction as F

EN, D = "en-12021-2014", "cfr-1910-134-grade-d"
# From, most, unit; parts per million of each unit of a share by volume.
LIMITS = {
    (EN, "o2"): (F(20), F(22), "%"), (EN, "co"): (None, F(5), "ppm"), (EN, "co2"): (None, F(500), "ppm"),
    (EN, "oil"): (None, F(1, 2), "mg/m3"),
    (D, "o2"): (F("19.5"), F("23.5"), "%"), (D, "co"): (None, F(10), "ppm"), (D, "co2"): (None, F(1000), "ppm"),
    (D, "oil"): (None, F(5), "mg/m3"),
}
SOURCE = {EN: "EN 12021:2014; MEMORY", D: "29 CFR 1910.134(i)(1)(ii) as in WAC 296-307-61605; READ"}
READINGS = {
    "o2": ["19.4", "19.5", "19.9", "20", "20.05", "20.9", "21.7", "22", "22.1", "23.5", "23.6"],
    "co": ["0", "0.5", "3", "4.3", "4.35", "4.999999", "5", "5.000001", "8", "9.09", "9.1", "10", "10.1", "< 2", "< 5", "< 10"],
    "co2": ["380", "434.7", "434.8", "499.9", "500", "501", "869.5", "869.6", "1000", "1000.5", "< 300"],
    "oil": ["0", "0.1", "0.4", "0.45", "0.5", "0.51", "4.3", "4.4", "5", "5.1", "< 0.1"],
}
UNSURE = {
    "o2": ["", "of 0.1 %", "of 0.5 %", "share 0.01"], "co": ["", "share 0.1", "share 0.15", "share 0.25", "of 0.5 ppm"],
    "co2": ["", "share 0.15", "share 0.25", "of 50 ppm"], "oil": ["", "share 0.15", "share 0.3"],
}


def judged(limit, text, unsure, tube):
    least, most, _ = limit
    high = F(text.removeprefix("< "))
    low = F(0) if text.startswith("<") else high
    kind, _, much = unsure.partition(" ")
    down, up = F(0), F(0)
    if kind == "share":
        down, up = low * F(much), high * F(much)
    elif kind == "of":
        down = up = F(much.split(" ")[0])
    left = [] if most is None else [most - (high + up)]
    left += [] if least is None else [(low - down) - least]
    outside = (most is not None and low > most) or (least is not None and high < least)
    if outside:
        answer = "fail"
    elif (tube and not unsure) or min(left) < 0:
        answer = "cannot_tell"
    else:
        answer = "pass"
    return answer, min(left)


print("profile,component,by,reading,uncertainty,answer,margin,source")
for (profile, component), limit in LIMITS.items():
    for text in READINGS[component]:
        for unsure in UNSURE[component]:
            for by in ("instrument", "tube"):
                answer, margin = judged(limit, text, unsure, by == "tube")
                print(f"{profile},{component},{by},{text} {limit[2]},{unsure},{answer},{margin},{SOURCE[profile]}; Python fractions")
