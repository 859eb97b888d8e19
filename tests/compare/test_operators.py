"""Which operator a difference is, and on what."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.compare.changes import changes_of
from advisor.compare.structure import structural
from advisor.compare.wishes import wishes
from advisor.data import catalogue
from advisor.site.edit import edited
from advisor.site.load import load_site
from tests.compare.random_edits import thrown

FULL = load_site(str(Path(__file__).parent / "full_site.yaml"))

OPERATORS = {
    "nodes.porch.radios.fast.channel=100": ("retune", "radio=porch.fast"),
    "nodes.porch.radios.fast.channel=auto": ("tell", "site"),
    "nodes.porch.radios.fast.width_mhz=40": ("set-width", "radio=porch.fast"),
    "nodes.porch.radios.fast.eirp_dbm=14": ("set-power", "radio=porch.fast"),
    "nodes.porch.radios.fast.basic_rates_mbps=[12]": ("set-basic-rates", "radio=porch.fast"),
    "nodes.porch.radios.fast.streams=4": ("tell", "site"),
    "nodes.porch.at=[2, 2]": ("move-node", "node=porch"),
    "nodes.ledge.at=[2, 2]": ("tell", "site"),
    "nodes.beam.mode=bridge": ("bridge-mode", "node=beam"),
    "nodes.beam.power.source=ups": ("back-up-power", "node=beam"),
    "nodes.ledge.backhaul.credential=own": ("own-backhaul-credential", "node=ledge"),
    "nodes.ledge.backhaul.generation=2": ("renew-credential", "hop=ledge"),
    "nodes.ledge.uplink.band=2.4": ("change-uplink-band", "hop=ledge"),
    "nodes.ledge.uplink.choice=node": ("tell", "site"),
    "nodes.ledge.uplink={to: porch, over: ethernet}": ("wire-hop", "hop=ledge"),
    "nodes.beam.uplink.to=porch": ("change-parent", "hop=beam"),
    "nodes.beam.uplink.length_m=20": ("reroute-cable", "hop=beam"),
    "nodes.beam.uplink={to: porch, band: 5}": ("tell", "site"),
    "nodes.shed={role: relay, uplink: {to: porch, band: 5}}": ("add-node", "site"),
    "networks.staff.security=wpa3-personal": ("set-security", "network=staff"),
    "networks.staff.aids.r=true": ("set-aids", "network=staff"),
    "networks.staff.name=other": ("rename", "network=staff"),
    "networks.staff.hidden=true": ("tell", "site"),
    "places.attic.client=phone": ("replace-client", "place=attic"),
    "places.booth.traffic_class=voice": ("voice-class", "place=booth"),
    "places.booth.calls=2": ("tell", "site"),
    "internet.queue=fair": ("fair-queue", "site"),
    "internet.down_mbps=200": ("faster-line", "site"),
    "internet.down_mbps=20": ("tell", "site"),
    "neighbours.mill=": ("tell", "site"),
}


@pytest.mark.parametrize("wish", OPERATORS)
def test_the_operator_of_a_difference(wish: str) -> None:
    (change,) = changes_of(structural(FULL, edited(FULL, wishes(FULL, [wish]))))
    assert (change.operator, change.subject) == OPERATORS[wish]
    assert change.told.endswith(".")
    assert change.edits


@pytest.mark.parametrize("seed", range(15))
def test_every_operator_is_known_and_fits_its_subject(seed: int) -> None:
    known = catalogue("operators")["operators"]
    for change in changes_of(structural(FULL, thrown(FULL, seed))):
        kind = change.subject.partition("=")[0]
        assert kind in known[change.operator]["subjects"], change
