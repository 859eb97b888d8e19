"""A room that stands next to one that is not declared is told as such."""

import pytest

from advisor.errors import InputError
from advisor.site.load import load_text

FILE = """\
site: {name: Invented}
nodes: {gateway: {role: gateway}}
floors: {ground: {level: 0}}
rooms:
  hall: {floor: ground, next_to: {kitchn: brick}}
  kitchen: {floor: ground}
"""


def test_a_room_next_to_one_that_is_not_there() -> None:
    with pytest.raises(InputError) as refused:
        load_text(FILE, "site.yaml")
    (problem,) = refused.value.problems
    assert problem.what == 'there is no room "kitchn"'
    assert problem.help == 'Did you mean "kitchen"? Known here: hall, kitchen.'
