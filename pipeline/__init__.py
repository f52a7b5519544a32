"""squadsides: weekly left/right reports with how sure each one is.

What stands here and in `version` a Python that is too old must be able to read, so that it says so.
"""

import sys

from pipeline.version import LEAST_PYTHON, dotted

if sys.version_info < LEAST_PYTHON:
    found = dotted(sys.version_info[:3])
    sys.exit(
        f"squadsides needs Python {dotted(LEAST_PYTHON)} or newer, and this is Python {found}. "
        "After `make`, `.venv/bin/python` is the right one."
    )
