"""`python -m ringwright`: the commands."""

import sys

from ringwright.cli import main

sys.exit(main(sys.argv[1:]))
