"""``python -m tests.fuzz --inputs 5000``: try mutated inputs, and sort what became of them."""

from __future__ import annotations

import argparse
from collections import Counter
from pathlib import Path

from tabulate import tabulate

from tests.fuzz.running import FAULTS, KINDS, SEEDS, Outcome, compile_first, laid, made, run


def main() -> None:
    """Print each fault as it is met, and at the end outcomes, worst time and memory by reader."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--inputs", type=int, default=5000, help="how many")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--readers", help="of them these alone, with commas between")
    parser.add_argument("--keep", type=Path, help="folder for the inputs of faults")
    parser.add_argument("--accepted", action="store_true", help="print what was understood, too")
    asked = parser.parse_args()
    readers = asked.readers.split(",") if asked.readers else list(SEEDS)
    compile_first()
    met: Counter[tuple[str, str]] = Counter()
    seconds, used = dict.fromkeys(SEEDS, 0.0), dict.fromkeys(SEEDS, 0)
    for outcome in run(asked.inputs, asked.first, readers):
        met[outcome.reader, outcome.kind] += 1
        seconds[outcome.reader] = max(seconds[outcome.reader], outcome.seconds)
        used[outcome.reader] = max(used[outcome.reader], outcome.used)
        if outcome.kind in FAULTS or (asked.accepted and outcome.kind == "accepted"):
            tell(outcome)
        if outcome.kind in FAULTS and asked.keep:
            laid(
                made(outcome.reader, outcome.seed),
                asked.keep / f"{outcome.reader} {outcome.seed}".replace(" ", "-"),
            )
    rows = [
        [reader, *(met[reader, kind] for kind in KINDS), seconds[reader], used[reader] / 1e6]
        for reader in readers
    ]
    rows.append(["all", *(sum(row[i] for row in rows) for i in range(1, 1 + len(KINDS)))])
    rows[-1] += [max(seconds.values()), max(used.values()) / 1e6]
    print(tabulate(rows, headers=["reader", *KINDS, "most s", "most MB"], floatfmt=".1f"))
    raise SystemExit(1 if any(met[reader, kind] for reader in SEEDS for kind in FAULTS) else 0)


def tell(outcome: Outcome) -> None:
    """Print what became of an input."""
    print(
        f"{outcome.reader} {outcome.seed}: {outcome.kind} after {outcome.seconds:.1f} s: "
        f"{outcome.said}",
        flush=True,
    )


if __name__ == "__main__":
    main()
