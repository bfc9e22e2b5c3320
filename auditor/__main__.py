"""``python -m auditor`` is the same command as ``steadykeep``."""

import sys

from auditor.cli import main

if __name__ == "__main__":
    sys.exit(main())
