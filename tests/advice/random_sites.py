"""Small invented sites thrown at random from a number: the same number gives the same site."""

from __future__ import annotations

import random

import yaml

from advisor.site.load import LoadedSite, load_text

WALLS = (["plasterboard"], ["brick"], ["brick", "plasterboard"], ["concrete"], [])


def _path(chance: random.Random, least_m: float, most_m: float) -> dict[str, object]:
    through = list(chance.choice(WALLS))
    return {"distance_m": round(chance.uniform(least_m, most_m), 1), "through": through, "complete": True}


def random_site(number: int, relays: int, gear: str = "home-relay", **about: object) -> LoadedSite:
    """A gateway with some relays, two to four places, some neighbours; every pair told by its distance."""
    chance = random.Random(number)
    names = [f"relay{index}" for index in range(1, relays + 1)]
    bands = {"r24": {"band": "2.4", "channel": 1}, "r5": {"band": "5", "channel": 36, "width_mhz": 40}}
    nodes: dict[str, object] = {"gateway": {"role": "gateway", "gear": "open-node", "radios": bands}}
    for index, name in enumerate(names):
        above = ["gateway", *names[:index]]
        nodes[name] = {
            "role": "relay",
            "gear": gear,
            "radios": {
                "r24": {"band": "2.4", "streams": 2, "channel": 1},
                "r5": {"band": "5", "streams": chance.choice([1, 2]), "channel": 36, "width_mhz": 40},
            },
            "uplink": {"to": "gateway", "band": chance.choice(["2.4", "5"])},
            "paths": {other: _path(chance, 5, 22) for other in above},
        }
    places = {
        f"place{index}": {
            "client": chance.choice(["laptop", "phone"]),
            "count": chance.randint(1, 3),
            "down_mbps": chance.choice([3, 8, 20, 60]),
            "up_mbps": chance.choice([1, 4, 15]),
            "calls": chance.choice([0, 0, 1]),
            "paths": {node: _path(chance, 2, 18) for node in nodes},
        }
        for index in range(1, chance.randint(2, 4) + 1)
    }
    ends = list(nodes)
    neighbours = {
        f"n{index}": {
            "band": band,
            "channel": channel,
            "heard_dbm": {chance.choice(ends): chance.randint(-80, -60)},
            "busy_share": round(chance.uniform(0.05, 0.6), 2),
        }
        for index, (band, channel) in enumerate(
            chance.sample([("2.4", 1), ("2.4", 6), ("2.4", 11), ("5", 36), ("5", 44)], chance.randint(0, 3))
        )
    }
    site = {
        "site": {"name": f"Invented {number}", "country": "GB", "invented": True},
        "internet": {"down_mbps": 500, "up_mbps": 200},
        "nodes": nodes,
        "networks": {"all": {"name": "invented", "security": "wpa2-personal"}},
        "places": places,
        "neighbours": neighbours,
        **about,
    }
    return load_text(yaml.safe_dump(site, sort_keys=False), f"invented-{number}.yaml")
