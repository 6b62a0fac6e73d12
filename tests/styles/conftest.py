"""The small tunes of tests/score serve here too."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent.parent / "score"))
