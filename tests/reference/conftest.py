"""The helpers of other tests that draw inputs serve here, too; a user's own data is not seen."""

import os
import sys
from pathlib import Path

TESTS = Path(__file__).parent.parent
sys.path += [str(TESTS / name) for name in ("fuzz", "intake", "oracles")]
os.environ["XDG_DATA_HOME"] = str(TESTS / "nobody's folder")
