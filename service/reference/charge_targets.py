"""Target superheat and target temperature split: closed forms fitted to two published tables.

California Energy Commission, 2008 Residential Appendices, Appendix RA3, Tables RA3.2-2 (source
``ra3_target_superheat``) and RA3.2-3 (source ``ra3_target_split``).
The tables are recalled from memory, consistent with smooth formulas to rounding, and not checked
against the printed pages; the closed forms are our own fits, within 0.1 °F of every cell of the
superheat table and 0.063 °F of the split table.
Temperatures here are in °F, as the tables are.
"""

from __future__ import annotations

#: Rows and columns of the superheat table [°F]: outdoor dry bulb, return wet bulb.
SUPERHEAT_OUTDOOR = (55.0, 115.0)
SUPERHEAT_WET_BULB = (50.0, 76.0)
#: Below this the table has a dash: no valid test.
SUPERHEAT_LOWEST_TARGET = 5.0

#: Where both cubics are centred [°F].
SUPERHEAT_CENTRE_OUTDOOR = 85.0
SUPERHEAT_CENTRE_WET_BULB = 65.0
#: The slope of the table steps between these wet bulbs [°F], so there is a cubic for each side.
SUPERHEAT_SEAM = (64.0, 65.0)
#: Wet bulb of 65 °F and over.  One row for each power of outdoor - 85 from 0 up; in the row, one
#: coefficient for each power of wet bulb - 65 from 0 up.
SUPERHEAT_HUMID = (
    (13.74059, 1.77784, -0.003185277, 1.967369e-5),
    (-0.5675965, 0.01504568, 2.759362e-4),
    (2.83563e-4, 7.651342e-5),
    (-1.98374e-7,),
)
#: The same for wet bulbs up to 64 °F.
SUPERHEAT_DRY = (
    (13.44586, 1.483265, -0.05868346, -8.02676e-5),
    (-0.5690292, 0.04717182, -0.002319409),
    (5.650264e-4, 0.00176865),
    (-1.761321e-6,),
)

#: Rows and columns of the split table [°F]: return dry bulb, return wet bulb.
SPLIT_DRY_BULB = (70.0, 84.0)
SPLIT_WET_BULB = (50.0, 76.0)
#: Constant, dry bulb, wet bulb, wet bulb squared.
SPLIT = (-70.0009, 0.544204, 2.19571, -0.0228101)
#: Driest filled cell of the split table [°F]: return dry bulb, lowest wet bulb.  Rows 70 to 76 are
#: full, the drier corner of the hotter rows is dashes (the target would pass about 25 °F).
SPLIT_LOWEST_WET_BULB = (
    (70.0, 50.0),
    (76.0, 50.0),
    (77.0, 51.0),
    (78.0, 53.0),
    (79.0, 55.0),
    (80.0, 56.0),
    (81.0, 57.0),
    (82.0, 58.0),
    (83.0, 59.0),
    (84.0, 59.0),
)
