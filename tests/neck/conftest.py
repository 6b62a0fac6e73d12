import sys
from pathlib import Path

# The oracles are plain modules beside the tests, written without anything from accomp.neck.
sys.path.insert(0, str(Path(__file__).parent.parent / "oracles"))
