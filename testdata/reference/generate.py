# SPDX-License-Identifier: Apache-2.0
"""Makes the shops in tiny/ and medium/ from a seed. Everything is invented.

    python generate.py            writes tiny/01-… to tiny/60-… and medium/01 to medium/10

A theme puts a few of the
engine's constraints together; its variants differ in numbers, in how many
pieces there are and in what the objective asks.
"""

import csv
import os
import random

import yaml

from themes import TINY, season

SEED = 20260302
HEAD = ["order", "line", "customer", "product", "quantity", "ship_by", "weight", "kind", "earliest_start", "note"]


class Quoted(str):
    """A time of day or a date, which YAML would read as something else."""


class Dumper(yaml.SafeDumper):
    def ignore_aliases(self, data):
        return True


def scalar(dumper, text):
    # Plain where the shop's own reader takes it as text; quoted else.
    plain = not any(c in text for c in "{}[],&*#?|<>=!%@`\"'") and ": " not in text and text not in ("", "true", "false")
    style = None if plain and not text[0].isdigit() and text[0] != "-" else '"'
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


Dumper.add_representer(str, scalar)


def write(folder, about, plant, orders):
    os.makedirs(folder, exist_ok=True)
    with open(f"{folder}/plant.yaml", "w", encoding="utf-8") as f:
        f.write(f"# {about} Invented; made by generate.py.\n")
        yaml.dump(plant, f, Dumper=Dumper, sort_keys=False, default_flow_style=None, width=120)
    with open(f"{folder}/orders.csv", "w", encoding="utf-8", newline="") as f:
        out = csv.DictWriter(f, HEAD, restval="", lineterminator="\n")
        out.writeheader()
        out.writerows(orders)


def main():
    here = os.path.dirname(os.path.abspath(__file__))
    number = 0
    for theme in TINY:
        for variant in range(5):
            number += 1
            name = theme.__name__.replace("_", "-")
            plant, orders = theme(random.Random(f"{SEED} {name} {variant}"), variant)
            plant = {"id": f"tiny-{number:02d}", **plant}
            write(f"{here}/tiny/{number:02d}-{name}-{variant + 1}", theme.__doc__.split("\n")[0], plant, orders)
    for variant in range(10):
        plant, orders = season(random.Random(f"{SEED} season {variant}"), variant)
        number = variant + 1
        write(f"{here}/medium/{number:02d}", season.__doc__, {"id": f"medium-{number:02d}", **plant}, orders)


if __name__ == "__main__":
    main()
