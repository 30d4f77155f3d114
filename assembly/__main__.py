"""``python -m assembly``: the same command as ``swingroom``."""

import sys

from assembly.cli import main

if __name__ == "__main__":
    sys.exit(main())
