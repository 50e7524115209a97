"""Shadows on the day of the equinox, morning, noon and afternoon, side by side."""

import sys
from datetime import UTC, datetime
from pathlib import Path

from invented.tanner_court import proposed

import siteaxo

HOURS = (8, 11, 14)


def main(out: Path) -> None:
    """Draw a courtyard in the light of three hours."""
    model = proposed().stack()
    # A time needs its zone; where the sun stands then follows from the place of the site.
    times = [datetime(2026, 3, 20, hour, tzinfo=UTC) for hour in HOURS]
    drawings = [model.draw(siteaxo.planometric(turn=60), shadows=time) for time in times]
    sheet = siteaxo.side_by_side(
        drawings,
        captions=[f"20 March, {time:%H:%M} UTC" for time in times],
        sheet="A2",
        scale=200,
        columns=3,
        levels=False,  # no level marks: this sheet is about light
        title="Shadows at the equinox",
    )
    sheet.savefig(out / "equinox_shadows.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
