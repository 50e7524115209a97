"""
Keys of a layer: which take numbers or fields, and which of these may be words.
"""

from __future__ import annotations

from typing import Final

LEVELS: Final = ("base", "top", "height")
ANGLES: Final = ("pitch",)  # in degrees, whatever the unit
COUNTS: Final = ("density", "flow")  # of people, whatever the unit
OPTIONAL: Final = ("clear_stem", "cheek", "landing", "posts", "beams", "rim", "drop", "parapet")  # 0: none
MOST_PITCH: Final = 85.0  # a steeper roof is a wall [degrees]
RATIOS: Final = ("bank", *COUNTS)  # run for one of rise, and counts, whatever the unit
FALLS: Final = ("low", "fall_bearing")  # of any sign: the level of the low side, and the way down to it
SIZES: Final = ("width", "diameter", "riser", *OPTIONAL, *ANGLES, *RATIOS, *FALLS)
# Where a field of these is empty, a feature simply has none of it.
UNASKED: Final = ("bank", *FALLS, "cheek", "landing", "beams", "rim", "drop", "parapet")
STOREYS: Final = ("storeys", "storey_height")
EACH: Final = "each"
SURVEY: Final = "survey"
FINISHED: Final = "finished levels"
WORDS: Final = {"base": ("below",), "top": (SURVEY, FINISHED)}  # beside a number or the name of a field
ACROSS: Final = ("split", "whole")
NEIGHBOURS: Final = ("joined", "apart")
Z_WORDS: Final = ("min", "mean", "max", EACH)
TEXTS: Final = ("id", "material")
