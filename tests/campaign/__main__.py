"""Runs the whole campaign, its parts side by side, and prints one table."""

from __future__ import annotations

import argparse
import multiprocessing
import random
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed

from tests.campaign.parts import PARTS, run_share
from tests.campaign.rows import Row, merged, table

PROCESSES = 3  # for two processors: one part or another always waits for a terminal or a disk


def shares(seed: int, names: list[str], part_of: int) -> Iterator[tuple[str, int, int]]:
    """Name, count and random state of every share."""
    for part in PARTS:
        if names and part.name not in names:
            continue
        count = max(1, part.full // part_of)
        each = -(-count // part.shares)
        for share in range(part.shares):
            yield part.name, min(each, count - share * each), seed + share


def main() -> int:
    """Run what is asked for; 1 when something was lost or escaped."""
    words = argparse.ArgumentParser(prog="python -m tests.campaign", description=__doc__)
    words.add_argument("seed", nargs="?", type=int, default=random.SystemRandom().randrange(10**6))
    words.add_argument("parts", nargs="*", choices=[*(part.name for part in PARTS), []])
    words.add_argument("--part-of", type=int, default=1, help="this part of every count only")
    words.add_argument("--processes", type=int, default=PROCESSES, help="at once; without it 3")
    options = words.parse_args()
    begun = time.perf_counter()
    found: dict[tuple[str, int], list[Row]] = {}
    wanted = list(shares(options.seed, options.parts, options.part_of))
    print(f"random state {options.seed}", flush=True)
    with ProcessPoolExecutor(
        options.processes, multiprocessing.get_context("spawn"), max_tasks_per_child=1
    ) as pool:
        running = {pool.submit(run_share, *share): share for share in wanted if share[1] > 0}
        for done in as_completed(running):
            name, count, seed = running[done]
            found[name, seed] = done.result()
            print(f"{time.perf_counter() - begun:.0f} s: {name} {count}, {seed}", flush=True)
            print(table(found[name, seed], head=False), flush=True)
    rows = merged([row for name, _, seed in wanted for row in found.get((name, seed), [])])
    print(f"\n{table(rows)}\n\n{time.perf_counter() - begun:.0f} s")
    return 0 if all(row.holds for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
