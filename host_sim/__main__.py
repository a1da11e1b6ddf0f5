"""`python -m host_sim` is the command `alula`."""

import sys

from host_sim.cli import main

sys.exit(main())
