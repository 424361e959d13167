"""Printed rows of heat pumps in heating, read from makers' documents; no maker is named.

Temperatures in °F, pressures in psi gauge, R-410A, 70 °F indoors unless a name says otherwise.
"""

from __future__ import annotations

#: Unit A: a maker's performance table of a residential 2.5-ton single-stage heat pump with an expansion valve, nominal
#: 1,050 cfm: outdoor air, capacity in kBtu/h, air temperature rise, total power in kW, COP.
UNIT_A = tuple(
    zip(
        (65, 60, 55, 50, 47, 45, 40, 35, 30, 25, 20, 17, 15, 10, 5, 0, -5, -10),
        (36.5, 34.5, 32.5, 30.4, 29.0, 28.1, 26.1, 24.1, 22.6, 20.9, 19.2, 18.2, 17.5, 15.7, 13.9, 12.1, 10.3, 8.5),
        (32.1, 30.4, 28.6, 26.8, 25.6, 24.8, 23.0, 21.2, 19.9, 18.4, 17.0, 16.0, 15.4, 13.8, 12.3, 10.7, 9.1, 7.5),
        (2.40, 2.36, 2.32, 2.27, 2.25, 2.23, 2.19, 2.14, 2.20, 2.15, 2.11, 2.08, 2.06, 2.01, 1.97, 1.92, 1.87, 1.83),
        (4.44, 4.28, 4.10, 3.91, 3.78, 3.69, 3.50, 3.29, 3.01, 2.84, 2.67, 2.55, 2.48, 2.28, 2.07, 1.85, 1.62, 1.36),
        strict=True,
    )
)

#: Outdoor air of the rows of units B and C.
OUTDOOR = (60, 47, 40, 30, 17, 10, 0)

#: Unit B: a maker's heating charging chart of a 2.5-ton heat pump: liquid pressure and subcooling by airflow [cfm],
#: and the suction pressure.
UNIT_B = {
    750: ((372, 15), (341, 14), (333, 17), (315, 19), (292, 22), (288, 24), (273, 26)),
    1000: ((331, 14), (310, 13), (301, 16), (286, 17), (273, 19), (265, 17), (253, 18)),
    1250: ((304, 16), (291, 13), (282, 16), (270, 17), (262, 18), (253, 21), (243, 20)),
}
UNIT_B_SUCTION = (114, 99, 85, 71, 57, 49, 41)
#: The same unit at 1,000 cfm and another return air.
UNIT_B_60 = ((290, 15), (273, 12), (265, 14), (247, 17), (236, 15), (227, 16), (216, 17))
UNIT_B_80 = ((372, 14), (352, 12), (338, 18), (326, 17), (311, 17), (303, 18), (289, 19))

#: Unit C: the same maker's 3.5-ton heat pump at 1,400 cfm, upflow and downflow. The first table's cell at 17 °F breaks
#: the smoothness of its column (a likely misprint), and is left out of comparisons.
UNIT_C = ((363, 21), (334, 20), (326, 19), (311, 19), (279, 17), (273, 19), (265, 22))
UNIT_C_DOWNFLOW = ((404, 33), (371, 31), (363, 30), (346, 30), (310, 28), (304, 31), (295, 36))
UNIT_C_SUCTION = (118, 98, 88, 73, 57, 49, 39)

#: Unit D: another maker's heating charge table, 2 ton: suction, liquid and discharge line along the charge at
#: each outdoor temperature, from low to high.
UNIT_D = {
    0: ((35, 198, 77), (36, 205, 75), (37, 212, 73), (38, 219, 71), (39, 226, 69), (40, 233, 67), (41, 240, 65)),
    10: ((50, 227, 92), (51, 233, 90), (52, 239, 88), (53, 245, 86), (54, 250, 84), (55, 256, 82), (56, 262, 80)),
    20: ((64, 256, 107), (65, 260, 105), (66, 265, 103), (67, 270, 101), (68, 275, 99), (69, 279, 97), (70, 284, 95)),
    30: (
        (79, 284, 122),
        (80, 288, 120),
        (81, 292, 118),
        (82, 295, 116),
        (83, 299, 114),
        (84, 303, 112),
        (85, 306, 110),
    ),
    40: (
        (94, 307, 136),
        (95, 314, 133),
        (96, 321, 130),
        (97, 328, 128),
        (98, 335, 125),
        (99, 342, 122),
        (100, 349, 119),
    ),
    50: (
        (111, 347, 150),
        (112, 354, 146),
        (113, 361, 141),
        (114, 368, 137),
        (115, 375, 132),
        (116, 382, 128),
        (117, 389, 123),
    ),
    60: (
        (127, 387, 165),
        (128, 394, 158),
        (129, 401, 152),
        (130, 408, 146),
        (131, 415, 140),
        (132, 422, 134),
        (133, 429, 128),
    ),
}
