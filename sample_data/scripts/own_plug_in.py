"""A plug-in of one's own at work: its role is drawn, its style is used, its operation is run."""

import sys
from pathlib import Path

from invented import quay

import siteaxo

sys.path.insert(0, str(Path(__file__).parent / "plug_in"))  # as if it were installed


def main(out: Path) -> None:
    """Draw a quay with copings, and count the length to sit on."""
    copings = siteaxo.run("quayside.seat_length", {"features": quay.copings(), "height": "high"})
    print(f"{copings['seat_m'].sum():.0f} m to sit on")
    layers = [
        siteaxo.Layer(name="harbour", role="water", source=quay.harbour(), base=0, top=0.6),
        siteaxo.Layer(name="quay", role="terrace", source=quay.terraces(), top="level"),
        siteaxo.Layer(name="copings", role="quayside.coping", source=copings, base="below", height="high"),
    ]
    site = siteaxo.Site(name="A quay", layers=layers, base_line=90)
    diagram = site.stack().draw(siteaxo.planometric(turn=30), style="quayside.tidewater", people=True)
    diagram.figure(sheet="A3", scale="fit").savefig(out / "own_plug_in.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
