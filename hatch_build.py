"""What the build asks for: README as the page of the wheel."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

from hatchling.metadata.plugin.interface import MetadataHookInterface

ROOT = Path(__file__).parent


class WheelPageHook(MetadataHookInterface):  # type: ignore[misc]  # the build's own, untyped here
    """Gives the project its description."""

    def update(self, metadata: dict[str, Any]) -> None:
        """Add the page."""
        spec = importlib.util.spec_from_file_location("page", ROOT / "docs" / "wheel_page.py")
        assert spec is not None
        assert spec.loader is not None
        page = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(page)
        text = page.wheel_page((ROOT / "README.md").read_text(encoding="utf-8"))
        metadata["readme"] = {"content-type": "text/markdown", "text": text}
