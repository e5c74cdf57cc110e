#!/usr/bin/env python3
"""Writes motors.csv: full-load currents of three-phase motors that tables give, beside what a plate might say.

    python3 make_motors.py > motors.csv

The amperes are copied from the tables, nothing is worked out here but kW from hp. Efficiency and power factor are
what the formula is given: IE3 of IEC 60034-30-1, 4 poles, 50 Hz, and ordinary power factors, both from memory;
for the motors in hp the efficiencies of 60 Hz premium motors (NEMA MG 1 table 12-12, from memory) and the power
factors of the row in kW next to them. So a row says how far tables of typical motors stand from the formula, not
how good the formula is.
Columns: kW, V, efficiency, power factor, amperes of the table, socket A, source.
"""

HP = 0.745699872
IE3 = {1.5: (85.3, 0.79), 2.2: (86.7, 0.81), 3: (87.7, 0.82), 4: (88.6, 0.82), 5.5: (89.6, 0.83), 7.5: (90.4, 0.84), 11: (91.4, 0.85)}
IEC = {1.5: 3.4, 2.2: 4.8, 3: 6.3, 4: 8.1, 5.5: 10.9, 7.5: 14.8, 11: 21}
THIRD = {1.5: 3.5, 2.2: 5, 3: 6.5, 4: 8.4, 5.5: 11, 7.5: 14, 11: 21}
NEC = {2: (6.8, 3.4), 3: (9.6, 4.8), 5: (15.2, 7.6), 7.5: (22, 11), 10: (28, 14), 15: (42, 21)}
PREMIUM = {2: (86.5, 0.79), 3: (89.5, 0.81), 5: (89.5, 0.82), 7.5: (91.7, 0.83), 10: (91.7, 0.84), 15: (92.4, 0.85)}


def socket(amps):
    return next(s for s in (16, 32, 63, 125) if s >= amps)


print("kw,volts,efficiency,power_factor,amps,socket,source")
for table, source in ((IEC, "IEC 60947-4-1 typical currents; MEMORY"), (THIRD, "myelectrical.com/notes/entryid/156; READ")):
    for kw, amps in table.items():
        eta, pf = IE3[kw]
        print(f"{kw},400,{eta / 100:.3f},{pf},{amps},{socket(amps)},{source}")
for column, volts in enumerate((230, 460)):
    for hp, both in NEC.items():
        eta, pf = PREMIUM[hp]
        amps = both[column]
        print(f"{hp * HP:.6f},{volts},{eta / 100:.3f},{pf},{amps},{socket(amps)},NEC table 430.250 as in scribd.com/doc/250218196; READ")
print("4,400,0.886,0.82,8.1,16,a 4 kW three-phase motor is served by a 16 A socket: common practice; no source")
