"""What a person types for a what-if: the edits it gives, and what is said where it cannot be understood."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from advisor.compare.structure import structural
from advisor.compare.wishes import wishes
from advisor.errors import InputError
from advisor.site.edit import REMOVE, Edit, edited
from advisor.site.load import load_site, load_text

FULL = load_site(str(Path(__file__).parent / "full_site.yaml"))
RADIOS = ("nodes", "porch", "radios")

UNDERSTOOD: dict[str, tuple[tuple[str | int, ...], Any]] = {
    "nodes.ledge.uplink.band=2.4": (("nodes", "ledge", "uplink", "band"), 2.4),
    " nodes.porch.radios.fast.channel = 100 ": ((*RADIOS, "fast", "channel"), 100),
    "nodes.porch.radios.fast.channel=auto": ((*RADIOS, "fast", "channel"), "auto"),
    "nodes.porch.note=a = b": (("nodes", "porch", "note"), "a = b"),
    'site.note=""': (("site", "note"), ""),
    "networks.staff.nodes+=beam": (("networks", "staff", "nodes", 2), "beam"),
    "networks.staff.nodes-=porch": (("networks", "staff", "nodes", 0), REMOVE),
    "networks.visitors.nodes-=beam": (("networks", "visitors", "nodes"), ["porch", "ledge"]),
    "networks.staff.bands+=5": (("networks", "staff", "bands"), [5]),
    'networks.visitors.bands-="5"': (("networks", "visitors", "bands", 1), REMOVE),
    "outages.reset.gone-=beam": (("outages", "reset", "gone"), []),
    "nodes-=beam": (("nodes", "beam"), REMOVE),
    "nodes.beam=": (("nodes", "beam"), REMOVE),
    "nodes.ledge.paths-=porch": (("nodes", "ledge", "paths", "porch"), REMOVE),
    "needs.other={place: stage, calls: true}": (("needs", "other"), {"place": "stage", "calls": True}),
    "nodes.beam.radios.r5={band: 5}": (("nodes", "beam", "radios", "r5"), {"band": 5}),
    "choices.channels.2.4=[1, 6]": (("choices", "channels", "2.4"), [1, 6]),
    "choices.powers_dbm.porch.slow=[10]": (("choices", "powers_dbm", "porch.slow"), [10]),
    "nodes.porch.radios.slow.power_drop_db.9=3": ((*RADIOS, "slow", "power_drop_db", "9"), 3),
    "neighbours.mill.heard_dbm.beam=-80": (("neighbours", "mill", "heard_dbm", "beam"), -80),
    "walks.round.points[2]=attic": (("walks", "round", "points", 1), "attic"),
    "walks.round.points[2]=": (("walks", "round", "points", 1), REMOVE),
    "walks.round.points[2][1]=7": (("walks", "round", "points", 1, 0), 7),
    "walks.round.points+=stage": (("walks", "round", "points", 3), "stage"),
    "nodes.porch.at[2]=4": (("nodes", "porch", "at", 1), 4),
}


@pytest.mark.parametrize("text", UNDERSTOOD)
def test_what_is_understood(text: str) -> None:
    path, value = UNDERSTOOD[text]
    assert wishes(FULL, [text]) == (Edit(path, value),)


VALID = [text for text in UNDERSTOOD if text not in ("nodes-=beam", "nodes.beam=")]


@pytest.mark.parametrize("text", VALID)
def test_it_changes_one_thing_in_the_file(text: str) -> None:
    """`nodes-=beam` is left out: others refer to it, which the loader says."""
    found = structural(FULL, edited(FULL, wishes(FULL, [text])))
    assert len(found.differences) + len(found.restated) == 1


def test_several_are_made_one_after_the_other() -> None:
    texts = [
        "nodes.shed={role: relay, uplink: {to: porch, band: 5}}",
        "networks.staff.nodes+=shed",
        "nodes.shed.note=new",
    ]
    site = edited(FULL, wishes(FULL, texts)).site
    assert site.nodes["shed"].note == "new"
    assert site.networks["staff"].nodes == ("porch", "ledge", "shed")
    assert wishes(FULL, []) == ()


FORM = "Write PATH=VALUE, PATH+=ITEM, PATH-=ITEM, or PATH= to take it out: `nodes.stair.uplink.band=5`."
DOTS = "Put one dot between words; items of a list are counted from 1 in brackets: `walks.round.points[2]`."
REFUSED = {
    "hello": ("this is no change of the site file", FORM),
    "=5": ("this is no change of the site file", FORM),
    "": ("this is no change of the site file", FORM),
    "nodes..porch=5": ('"nodes..porch" is no path', DOTS),
    "walks.round.points[0]=stage": ('"walks.round.points[0]" is no path', DOTS),
    "noodes.porch.note=x": (
        'unknown word "noodes" at the top of the file',
        'Did you mean "nodes"? Allowed here: site, internet, nodes, networks, clients, places, walks, calls, floors, '
        "rooms, neighbours, interference, needs, choices, measured, outages, ignored.",
    ),
    "nodes.ledge.uplink.bnad=5": (
        'unknown word "bnad" under nodes.ledge.uplink',
        'Did you mean "band"? Allowed here: to, over, band, radio, choice, speed_mbps, length_m, outdoor.',
    ),
    "internet.channel=5": (
        'unknown word "channel" under internet',
        "channel belongs under neighbours.ID. Allowed here: down_mbps, up_mbps, delay_ms, queue, loaded_delay_ms, at, "
        "modem_boot_s.",
    ),
    "nodes.lege.uplink.band=5": (
        'there is no node "lege"',
        'Did you mean "ledge"? Known here: porch, ledge, beam. To add it, give it whole: `nodes.lege={…}`.',
    ),
    "nodes-=lege": (
        'there is no node "lege"',
        'Did you mean "ledge"? Known here: porch, ledge, beam. To add it, give it whole: `nodes.lege={…}`.',
    ),
    "nodes.lege=": (
        'there is no node "lege"',
        'Did you mean "ledge"? Known here: porch, ledge, beam. To add it, give it whole: `nodes.lege={…}`.',
    ),
    "nodes.porch.radios.fats.channel=5": (
        'there is no radio "fats" under nodes.porch.radios',
        'Did you mean "fast"? Known here: slow, fast. To add it, give it whole: `nodes.porch.radios.fats={…}`.',
    ),
    "nodes.beam.radios.r5.channel=44": (
        'there is no radio "r5" under nodes.beam.radios',
        "The node declares no radios, so those usual for its kind are taken: r24, r5. To set one, declare all of them "
        "first: `nodes.beam.radios={r24: {band: …}, …}`.",
    ),
    "choices.channels.7=[1]": ('"7" cannot stand under choices.channels', "Expected: 2.4, 5 or 6."),
    "nodes.porch.role.x=5": (
        "nodes.porch.role is one value; nothing stands below it",
        "Write `nodes.porch.role=VALUE`, expected: gateway, relay or access-point.",
    ),
    "networks.staff.nodes.porch=": (
        'networks.staff.nodes is a list; "porch" cannot stand in it',
        "Set it as a whole: `networks.staff.nodes=VALUE`, expected: a list in square brackets, each an id; or add and "
        "take out items with += and -=.",
    ),
    "networks.staff.nodes[3]=beam": (
        "networks.staff.nodes holds 2, so there is no number 3",
        "Add one at its end with `networks.staff.nodes+=ITEM`.",
    ),
    "nodes.porch.at[3]=1": (
        "nodes.porch.at holds 2, so there is no number 3",
        "Write `nodes.porch.at=VALUE`, expected: [a number from -10000 to 10000, a number from -10000 to 10000].",
    ),
    "nodes.porch[1]=x": (
        "nodes.porch is no list with items of its own",
        "Set it as a whole: `nodes.porch=VALUE`, expected: a block of indented lines `word: value`.",
    ),
    "nodes.porch.mode=": (
        "nothing is written at nodes.porch.mode, so there is nothing to take out",
        "Leave this wish out, or give a value: `nodes.porch.mode=VALUE`, expected: bridge or router.",
    ),
    "nodes.porch.role+=relay": (
        "nodes.porch.role is one value, not a list that grows",
        "Write `nodes.porch.role=VALUE`, expected: gateway, relay or access-point.",
    ),
    "rooms.foyer.size_m+=3": (
        "rooms.foyer.size_m holds a fixed number of values, not a list that grows",
        "Write `rooms.foyer.size_m=VALUE`, expected: [a number above 0, at most 500, a number above 0, at most 500].",
    ),
    "nodes+=shed": ("nodes is a block of entries, not a list", "Give an entry whole: `nodes.ID={…}`."),
    "networks.staff.nodes+=": ("there is no item behind +=", FORM),
    "networks.staff.nodes+=porch": ('"porch" is in networks.staff.nodes already', "It holds: porch, ledge."),
    "networks.staff.nodes-=baem": ('"baem" is not in networks.staff.nodes', "It holds: porch, ledge."),
    "networks.visitors.nodes-=baem": (
        '"baem" is not in networks.visitors.nodes',
        'Did you mean "beam"? It holds: porch, ledge, beam.',
    ),
    "networks.visitors.nodes+=beam": (
        "networks.visitors.nodes is empty, which stands for all nodes",
        "To have it on some alone, give them: `networks.visitors.nodes=[…]`.",
    ),
    "nodes.porch.note=: x": (
        'the value ": x" cannot be read: a second colon on this line',
        'If it belongs to the value, put it in quotes: word: "a: b".',
    ),
    "site.note=a\nnodes: {}": ('the value "a\\nnodes: {}" goes on after its end', "Write it in one line."),
    "interference.kettle.band=5": (
        'there is no entry "kettle" under interference',
        "Known here: oven. To add it, give it whole: `interference.kettle={…}`.",
    ),
}


@pytest.mark.parametrize("text", REFUSED)
def test_what_is_not_understood(text: str) -> None:
    with pytest.raises(InputError) as refused:
        wishes(FULL, [text])
    (problem,) = refused.value.problems
    assert (problem.what, problem.help) == REFUSED[text]
    assert refused.value.file == text


def test_the_last_node_of_a_network_is_not_taken_out() -> None:
    """An empty list would stand for all of them."""
    with pytest.raises(InputError) as refused:
        wishes(FULL, ["networks.staff.nodes-=porch", "networks.staff.nodes-=ledge"])
    assert '"ledge" is the last node of networks.staff.nodes; an empty list would stand for all' in str(refused.value)


def test_nothing_declared_is_said() -> None:
    bare = load_text("site: {name: Bare}\nnodes: {gateway: {role: gateway}}\n", "bare.yaml")
    with pytest.raises(InputError) as refused:
        wishes(bare, ["places.desk.count=2"])
    assert str(refused.value) == (
        'places.desk.count=2: there is no place "desk"\n'
        "    None is declared. To add it, give it whole: `places.desk={…}`."
    )


def test_a_wrong_value_is_told_by_the_loader() -> None:
    with pytest.raises(InputError) as refused:
        edited(FULL, wishes(FULL, ["nodes.porch.radios.fast.channel=many"]))
    assert 'nodes.porch.radios.fast.channel is "many"; expected: a whole number or auto' in str(refused.value)
