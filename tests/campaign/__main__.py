"""Runs the whole campaign, its parts side by side, and prints one table in Markdown."""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed

from tests.campaign.parts import PARTS
from tests.campaign.rows import Row, merged, table
from tests.campaign.share import Share, in_a_process


def shares(seed: int, names: list[str], part_of: int) -> Iterator[Share]:
    """Every share of every part that is wanted; those of one part have states that follow.

    Fewer are as large as those of a full run: what comes of long work is seen in them too.
    """
    for part in PARTS:
        if names and part.name not in names:
            continue
        count = max(1, part.full // part_of)
        each = -(-part.full // part.shares)
        for number in range(-(-count // each)):
            yield Share(part.name, min(each, count - number * each), seed + number)


def spread(wanted: list[Share]) -> list[Share]:
    """Shares in an order in which those that wait for a terminal run beside those that compute.

    Those of one part are spread over the whole run, and so are the parts that have but one.
    """
    of_part: dict[str, list[Share]] = {}
    for share in wanted:
        of_part.setdefault(share.part, []).append(share)
    alone = [one for group in of_part.values() if len(group) == 1 for one in group]
    places = {one: number / len(alone) for number, one in enumerate(alone)}
    for group in of_part.values():
        if len(group) > 1:
            places |= {one: (n + 0.5) / len(group) for n, one in enumerate(group)}
    return sorted(wanted, key=lambda share: places[share])


def main() -> int:
    """Run what is asked for; 1 when something was lost or escaped."""
    words = argparse.ArgumentParser(prog="python -m tests.campaign", description=__doc__)
    words.add_argument("seed", nargs="?", type=int, default=random.SystemRandom().randrange(10**6))
    words.add_argument("parts", nargs="*", metavar="part", help="some of: without, all")
    words.add_argument("--part-of", type=int, default=1, help="this part of every count only")
    more = "at once; without it 6, for two processors: ends and races mostly wait for a terminal"
    words.add_argument("--processes", type=int, default=6, help=more)
    options = words.parse_args()
    if unknown := set(options.parts) - {part.name for part in PARTS}:
        words.error(f"no part is called {', '.join(sorted(unknown))}")
    begun = time.perf_counter()
    wanted = list(shares(options.seed, options.parts, options.part_of))
    found: dict[Share, list[Row]] = {}
    print(f"random state {options.seed}", flush=True)
    with ThreadPoolExecutor(options.processes) as pool:
        running = {pool.submit(in_a_process, share): share for share in spread(wanted)}
        for done in as_completed(running):
            share = running[done]
            found[share] = done.result()
            at = f"{time.perf_counter() - begun:.0f} s: {share.part} {share.count}, {share.seed}"
            print(f"{at}\n{table(found[share], head=False)}", flush=True)
    rows = merged([row for share in wanted for row in found[share]])
    if options.part_of == 1:
        for row in rows:
            row.need_all()
    seconds = time.perf_counter() - begun
    print(f"\n{table(rows)}\n\nRandom state {options.seed}; {seconds / 60:.1f} minutes.")
    return 0 if all(row.holds for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
