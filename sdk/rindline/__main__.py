"""``python -m rindline``: the command line."""

import sys

from rindline.cli import main

sys.exit(main())
