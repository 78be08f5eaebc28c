"""2,000 hostile uploads, every tenth of them an archive, sent to a real server process; what came of them.

    uv run python tests/benchmarks/bench_hostile.py --count 2000 --seed 1

The generator is that of `tests/api/test_hostile_uploads.py`. It ends with status 1 when an answer is neither
a refusal in one sentence nor a clean picture, when a file is written elsewhere, or when the server ends.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "e2e"))

import hostile_archives
import hostile_forms
from hostile_verdicts import judged, judged_archive, surroundings
from served import Served

ARCHIVES_EVERY = 10


def main() -> int:
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--count", type=int, default=2000)
    told.add_argument("--seed", type=int, default=1)
    wish = told.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        return attack(Path(folder), wish.count, wish.seed)


def attack(folder: Path, count: int, seed: int) -> int:
    """Send them all, one after the other, and print what came of it; 0 if all is well."""
    served = Served(folder)
    before = surroundings(served.temporary)
    began_kb = most_kb = served.memory_kb()
    verdicts: Counter[tuple[str, str]] = Counter()
    seconds, failures = [], []
    archives = hostile_archives.attempts(seed, count)
    for number, one in enumerate(hostile_forms.attempts(seed, count)):
        began = time.monotonic()
        as_archive = number % ARCHIVES_EVERY == 0
        name, data = next(archives) if as_archive else (one.name, one.body)
        where, kind = ("/workshops/import", "application/zip") if as_archive else ("/photos", one.kind)
        try:
            answer = served.ask.post(where, content=data, headers={"content-type": kind})
            seconds.append((time.monotonic() - began, name))
            verdict = judged_archive(answer) if as_archive else judged(answer, served.ask.get)
            verdicts[f"archive {name}" if as_archive else name, verdict] += 1
        except Exception as error:
            failures.append(f"{number} {name}: {type(error).__name__} {str(error)[:300]}")
            if served.process.poll() is not None:
                break
        most_kb = max(most_kb, served.memory_kb() if served.process.poll() is None else 0)
    alive = served.process.poll() is None
    ends_kb = served.memory_kb() if alive else 0
    new = surroundings(served.temporary) - before
    elsewhere = [path for path in served.opened() if not path.startswith((str(folder), "/dev/"))]
    printed = served.stop()
    tell(verdicts, sorted(seconds), (began_kb, most_kb, ends_kb))
    for line in (*failures, *(f"written elsewhere: {path}" for path in [*elsewhere, *sorted(new)])):
        print(line)
    if "Traceback" in printed:
        print(printed[-3000:])
    return 0 if alive and not failures and not elsewhere and "Traceback" not in printed else 1


def tell(
    verdicts: Counter[tuple[str, str]], seconds: list[tuple[float, str]], kb: tuple[int, int, int]
) -> None:
    """The figures."""
    for name in sorted({name for name, _ in verdicts}):
        print(f"{name:24} refused {verdicts[name, 'refused']:5} kept {verdicts[name, 'kept']:5}")
    refused = sum(n for (_, verdict), n in verdicts.items() if verdict == "refused")
    print(f"{sum(verdicts.values())} in all, {refused} refused in one sentence, the others kept clean")
    middle, last = seconds[len(seconds) // 2], seconds[-1]
    print(f"time: median {middle[0] * 1000:.0f} ms, longest {last[0]:.2f} s ({last[1]})")
    print("memory: {:.0f} MB before, {:.0f} MB at most, {:.0f} MB after".format(*(one / 1000 for one in kb)))


if __name__ == "__main__":
    sys.exit(main())
