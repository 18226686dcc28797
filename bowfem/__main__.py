"""Run the command line: `python -m bowfem`."""

import sys

from bowfem.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
