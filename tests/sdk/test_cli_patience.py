"""How long each command waits for the server."""

import argparse

from rindline.cli._arguments import build_parser

_AT_A_SCALE_S = 2.0
_USUAL_S = 90.0


def test_only_a_scale_has_no_patience() -> None:
    """Every command waits a minute and a half, but for those at a scale, where nobody waits."""
    parser = build_parser(None)
    (commands,) = (
        action.choices
        for action in parser._actions
        if isinstance(action, argparse._SubParsersAction)
    )
    waits = {name: command.get_default("timeout") for name, command in commands.items()}
    assert {name for name, wait in waits.items() if wait == _AT_A_SCALE_S} == {"scale", "stamp"}
    assert set(waits.values()) == {_AT_A_SCALE_S, _USUAL_S}
