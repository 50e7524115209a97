"""Two states of a courtyard: what is new, changed, kept and removed."""

import sys
from pathlib import Path

from invented.tanner_court import as_it_is, proposed

import siteaxo


def main(out: Path) -> None:
    """Compare the states and set them on one sheet."""
    # Features are told to be the same by their ids, where the layers name a field for them, else by place.
    states = {"as it is": as_it_is(), "a raised terrace": proposed()}
    found = siteaxo.compare(states, siteaxo.planometric(turn=45))
    print(found.summary.to_string(index=False))
    found.sheet(sheet="A3", title="Tanner Court, two options").savefig(out / "options.png")
    found.to_csv(out / "options.csv")  # one row for each difference, with levels before and after


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
