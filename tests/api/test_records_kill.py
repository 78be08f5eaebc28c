"""A few kills; `tests/benchmarks/bench_kill.py` does 200."""

from contextlib import closing
from hashlib import sha256
from pathlib import Path
from runpy import run_path

from api.records import Records
from api.records.photo_files import PhotoFiles

BENCH = run_path(str(Path(__file__).parents[1] / "benchmarks" / "bench_kill.py"))
KILLS = 4


def test_what_was_acknowledged_outlives_a_kill_and_nothing_else_is_left(tmp_path: Path) -> None:
    out = BENCH["run"](KILLS, tmp_path / "data", seed=2)
    assert (out.lost, out.loose, out.wrong) == ([], [], [])
    assert out.kills == KILLS
    assert out.written.total() > 5 * KILLS


def test_the_bench_sees_what_does_not_hold_together(tmp_path: Path) -> None:
    """So that the test above can fail."""
    with closing(Records(tmp_path)) as records:
        jpegs = [b"jpeg %d" % n for n in range(3)]
        for jpeg in jpegs:
            records.add_photo(jpeg, 4, 3)
    files = PhotoFiles(tmp_path / "photos")
    assert BENCH["loose_ends"](tmp_path, set()) == []
    lost, broken, _ = (sha256(jpeg).hexdigest() for jpeg in jpegs)
    files.drop(lost)
    files.file(broken).write_bytes(b"jpe")
    half, loose = files.write(b"another"), files.keep(b"loose")
    wanted = {f"half file {half.file.name}", f"no row for {loose}", f"no file for {lost}"}
    assert set(BENCH["loose_ends"](tmp_path, set())) == {*wanted, f"half content in {broken}"}
