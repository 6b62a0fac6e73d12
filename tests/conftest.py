"""Tests see the data that comes with the program, whatever styles whoever runs them has made."""

import os
from pathlib import Path

# Read by platformdirs on Linux when a user's folder is asked for; styles are listed while tests are
# still being collected, so it is set before any is imported.
os.environ["XDG_DATA_HOME"] = str(Path(__file__).parent / "nobody's folder")
