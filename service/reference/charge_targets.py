"""Target superheat and target temperature split: closed forms fitted to two published tables.

California Energy Commission, 2008 Residential Appendices, Appendix RA3, Tables RA3.2-2 and
RA3.2-3.  The tables were recalled from memory and are consistent to rounding; the closed forms
agree with every cell of the superheat table within 0.1 °F and of the split table within 0.07 °F.
Temperatures here are in °F, as the tables are.
"""

from __future__ import annotations

#: Rows and columns of the superheat table [°F]: outdoor dry bulb, return wet bulb.
SUPERHEAT_OUTDOOR = (55.0, 115.0)
SUPERHEAT_WET_BULB = (50.0, 76.0)
#: Below this the table has a dash: no valid test.
SUPERHEAT_LOWEST_TARGET = 5.0

#: Terms (power of outdoor - 85, power of wet bulb - 65) and coefficients, wet bulb from 65 up.
SUPERHEAT_HUMID = {
    (0, 0): 13.74059, (0, 1): 1.77784, (0, 2): -0.003185277, (0, 3): 1.967369e-5,
    (1, 0): -0.5675965, (1, 1): 0.01504568, (1, 2): 2.759362e-4, (2, 0): 2.83563e-4,
    (2, 1): 7.651342e-5, (3, 0): -1.98374e-7,
}  # fmt: skip
#: The same up to wet bulb 64; between 64 and 65 the two are blended, as the table steps there.
SUPERHEAT_DRY = {
    (0, 0): 13.44586, (0, 1): 1.483265, (0, 2): -0.05868346, (0, 3): -8.02676e-5,
    (1, 0): -0.5690292, (1, 1): 0.04717182, (1, 2): -0.002319409, (2, 0): 5.650264e-4,
    (2, 1): 0.00176865, (3, 0): -1.761321e-6,
}  # fmt: skip

#: Rows and columns of the split table [°F]: return dry bulb, return wet bulb.
SPLIT_DRY_BULB = (70.0, 84.0)
SPLIT_WET_BULB = (50.0, 76.0)
#: Constant, dry bulb, wet bulb, wet bulb squared.
SPLIT = (-70.0009, 0.544204, 2.19571, -0.0228101)
#: Driest filled cell of each row of the split table [°F]: return dry bulb, lowest wet bulb.
SPLIT_LOWEST_WET_BULB = (
    (70.0, 50.0), (76.0, 50.0), (77.0, 51.0), (78.0, 53.0), (79.0, 55.0), (80.0, 56.0),
    (81.0, 57.0), (82.0, 58.0), (83.0, 59.0), (84.0, 59.0),
)  # fmt: skip
