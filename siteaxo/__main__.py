"""Run siteaxo from the command line: ``python -m siteaxo``."""

from .cli import main

raise SystemExit(main())
