"""A million rows, sound and with one fault in the last of them."""

from __future__ import annotations

from pathlib import Path

from tests.faults import judge
from tests.faults.damage import Damaged, Kind
from tests.faults.ground import Ground
from tests.faults.judge import Bench, Verdict

ROWS = 1_000_000
SECONDS = 120


def _study(last: str) -> Ground:
    """Return a study with a million inspections of two thousand dishes, the last of them as given."""
    dishes = [f"d{i}" for i in range(2000)]
    lines = [f"{dish},{hour},0" for dish in dishes for hour in range(1, ROWS // 2000 + 1)]
    lines[-1] = lines[-1].rpartition(",")[0] + f",{last}"
    files = {
        "lots.csv": "lot,taxon\nA,Strandia ficta\n",
        "treatments.csv": "treatment,method\nintact,none\n",
        "germ/experiment.yaml": "title: Large\nanalyses: []\n",
        "germ/dishes.csv": "dish,lot,treatment,temperature_c,seeds\n"
        + "".join(f"{dish},A,intact,20,25\n" for dish in dishes),
        "germ/counts.csv": "dish,elapsed_h,germinated\n" + "\n".join(lines) + "\n",
    }
    return Ground("large", {name: text.encode() for name, text in files.items()})


def verdicts(folder: Path) -> list[Verdict]:
    """Return what becomes of the sound table, and of one with a word in its last line."""
    bench = Bench(folder, _study("0"), seconds=SECONDS)
    sound = Kind("a million rows", lambda ground, _: Damaged(ground.files, "sound"), harmless=True)
    torn = _study("three").files
    broken = Kind("a fault in the last row", lambda *_: Damaged(torn, "three"), refused=True)
    return [v for k in (sound, broken) if (v := bench.judge(k, judge.__name__))]
