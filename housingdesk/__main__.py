"""``python -m housingdesk``."""

import sys

from housingdesk.cli import main

if __name__ == "__main__":
    sys.exit(main())
