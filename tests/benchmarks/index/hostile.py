"""
4,000 truncations, 2,000 byte flips and every crafted file: exceptions, hangs, invented values.

    python -m tests.benchmarks.index.hostile

Targets: none of any.
"""

from __future__ import annotations

import resource
import traceback

from tests.benchmarks.index.corpus import real_frames
from tests.readers.hostile import LONGEST_CPU_S, bombs, flipped, invented, prefixes, read
from tests.readers.test_hostile import MADE


def main() -> None:
    """Run all and print the counts."""
    contents = [
        file.read_bytes() for file in sorted(real_frames().rglob("*")) if file.is_file() and file.suffix != ".md"
    ]
    contents += MADE.values()
    seen = {"truncations": 0, "flips": 0, "crafted": 0, "exceptions": 0, "hangs": 0, "invented": 0}
    slowest_s = 0.0

    def one(kind: str, content: bytes, whole: bytes | None = None) -> None:
        nonlocal slowest_s
        seen[kind] += 1
        try:
            row, cpu_s = read(content)
        except Exception:
            seen["exceptions"] += 1
            traceback.print_exc()
            return
        slowest_s = max(slowest_s, cpu_s)
        seen["hangs"] += cpu_s > LONGEST_CPU_S
        seen["invented"] += whole is not None and bool(invented(read(whole)[0], row))

    for number, content in enumerate(contents):
        for part in prefixes(content, -(-4000 // len(contents)) + 3):
            one("truncations", part, content)
        for mutant in flipped(content, -(-2000 // len(contents)), seed=number):
            one("flips", mutant)
    for content in bombs().values():
        one("crafted", content)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{seen}; slowest {slowest_s * 1e3:.0f} ms CPU; peak of the process {peak_mb:.0f} MB")


if __name__ == "__main__":
    main()
