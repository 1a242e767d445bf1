"""`python -m rehearse` is the same as `rehearse`."""

import sys

from rehearse.cli import main

if __name__ == "__main__":
    sys.exit(main())
