"""Full disks, kills, Ctrl-C and company at work in the same folder lose nothing."""

import pytest
from fault_table import COMMANDS, FAULTS, may_mount, rows


@pytest.mark.long
@pytest.mark.parametrize("command", COMMANDS)
def test_nothing_is_lost(command):
    found = list(rows(command))
    assert [(one.fault, one.wrong, one.said) for one in found if one.wrong] == []
    assert len(found) == sum(may_mount() or not one.mounts for one in FAULTS.values())
