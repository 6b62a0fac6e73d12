"""README as the page of the wheel, where no checkout lies beside it.

Pictures and links there would lead nowhere, since nobody hosts them: pictures are left out with
their captions, links to files become the names of the files. What is only for whoever has the
source stands in README between

    <!-- source only -->
    <!-- end -->

and is left out; what is only for the page of the wheel stands hidden in `<!-- wheel only ... -->`.
"""

from __future__ import annotations

import re

_SOURCE_ONLY = re.compile(r"<!-- source only -->\n.*?<!-- end -->\n*", re.DOTALL)
_WHEEL_ONLY = re.compile(r"<!-- wheel only\n(.*?)-->\n", re.DOTALL)
_PICTURE = re.compile(r"!\[[^\]]*\]\((?!https?:)[^)]*\)")
_CAPTION = re.compile(r"\*[^*]*\*")
_LINK = re.compile(r"(?<!!)\[([^\]]*)\]\((?!https?:|#)[^)]*\)")


def wheel_page(readme: str) -> str:
    """The text of README without what needs the source beside it."""
    text = _WHEEL_ONLY.sub(r"\1", _SOURCE_ONLY.sub("", readme))
    kept: list[str] = []
    after_picture = False
    for block in re.split(r"\n{2,}", text.strip()):
        pictures = _PICTURE.search(block) is not None
        if not pictures and not (after_picture and _CAPTION.fullmatch(block)):
            kept.append(_LINK.sub(r"\1", block))
        after_picture = pictures
    return "\n\n".join(kept) + "\n"
