"""``python -m sim`` is the command ``pegloop``."""

from sim.cli import main

raise SystemExit(main())
