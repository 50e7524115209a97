"""A street block from open footprints: heights from a field, or from storeys where there is none."""

import sys
from pathlib import Path

from invented.street_block import footprints

import siteaxo


def main(out: Path) -> None:
    """Draw the block."""
    blocks = siteaxo.Layer(
        name="buildings",
        role="structure",
        source=footprints(),  # or the path of a file; degrees are brought onto a plane in metres
        base=0.0,
        height="height",  # texts such as "13.6 m" are read too
        storeys="levels",  # where there is no height: storeys × storey height
        storey_height="floor_h",
        neighbours="apart",  # a line between houses whose fronts or roofs lie in one plane
    )
    model = siteaxo.Site(name="A street block", layers=[blocks]).stack()
    print(model)  # and model.findings: which heights were missing
    diagram = model.draw(siteaxo.planometric(turn=30), shadows="conventional")
    diagram.figure(sheet="A3", scale="fit", levels=False).savefig(out / "street_block.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
