"""
Who is at Wrenlow and what is said of it: areas for people, and notes.
"""

from __future__ import annotations

from groundwork import R_GROVE, Row, court, deck
from hillside import LOOKOUT_AT, brow_path_rows, field_path_rows
from setting_out import CENTRE, arc, disc, rect, strip
from shapely import LineString, Point, Polygon


def people_rows() -> list[Row]:
    """Areas for people, with how many there are on a square metre."""
    x, y = CENTRE
    ledge = LineString([(x + 13.4, 22.4), *arc(13.4, 0, 90), (10.0, y + 13.4)])
    graded = [*field_path_rows(), *brow_path_rows()]
    ways = {row["name"]: strip(row["geometry"], row["width_m"]) for row in graded}
    areas: dict[str, tuple[Polygon, float]] = {
        "Forecourt": (rect(0.9, 9.9, 7.0, 19.1), 0.04),
        "Lower walk": (rect(5.0, 19.8, 6.6, 37.5), 0.03),
        "Kiln yard": (rect(0.9, 38.4, 3.0, 43.0), 0.04),
        "Basin court": (rect(9.8, 8.9, 24.0, 19.9), 0.04),
        "Tea terrace": (rect(11.1, 5.7, 21.9, 8.8), 0.07),
        "Sunken court": (court().buffer(-0.4), 0.06),
        "Rim walk": (disc(R_GROVE - 3.9) & rect(9.6, 20.0, 21.0, 36.0), 0.02),
        "Grove": (rect(24.6, 0.4, 32.2, 21.4), 0.03),
        "Belvedere": (deck(), 0.1),
        "Grove walk": (rect(11.0, y + 8.2, x, y + 11.0), 0.03),
        "Ledge walk": (strip(ledge, 1.3), 0.03),
        "Vine terrace": (rect(26.9, -7.8, 33.0, -0.3), 0.06),
        "Lookout": (disc(1.9, centre=LOOKOUT_AT), 0.2),
        "Field path": (ways["Field path"], 0.1),
        "Brow": (ways["Brow path north"], 0.08),
    }
    return [{"geometry": shape, "name": name, "per_m2": density} for name, (shape, density) in areas.items()]


def note_rows() -> list[Row]:
    """Notes on the drawing: each is a place and its text."""
    notes = {
        "Lime kiln": (6.5, 41.1),
        "Keeper's lodge": (39.0, -7.0),
        "Lookout": LOOKOUT_AT,
        "Tilted green": (31.0, -10.8),
        "Bothy": (19.3, -8.6),
    }
    return [{"geometry": Point(place), "text": text} for text, place in notes.items()]
