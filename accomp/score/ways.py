"""How a tune asks its style to begin and to end.

Conventions: what a tune does not say is the style's. A vamp is bars of the tune's own and no matter
of the style: see `accomp.score.course`.
"""

from __future__ import annotations

from accomp.rhythm import Style
from accomp.rhythm.ways import pick_up, roll_off, slowing, stopping, tagged
from accomp.tune import Beginning, Finish, Tune

_BEGIN = {Beginning.ROLL_OFF: roll_off, Beginning.PICK_UP: pick_up}
_END = {Finish.RITARD: slowing, Finish.SHORT_STOP: stopping, Finish.TAG: tagged}


def styled(style: Style, tune: Tune) -> Style:
    """The style with the lead-in and the ending that the tune chooses."""
    if tune.begin in _BEGIN:
        style = _BEGIN[tune.begin](style)
    return style if tune.end is None else _END[tune.end](style)
