"""The check of a million weighings, against the fastest way to read the same file."""

import sys
import tempfile
from pathlib import Path

from tests.bench import watched

REPOSITORY = Path(__file__).parents[2]
SEEDS, TIMES = 10_000, 100
READ = "import sys, pandas; pandas.read_csv(sys.argv[1])"


def weighings(folder: Path) -> Path:
    """Write a study of one experiment with a million weighings, and return the table."""
    folder.mkdir(parents=True)
    (folder / "lots.csv").write_text("lot,taxon\nbank,Inventia exempla\n", encoding="utf-8")
    (folder / "treatments.csv").write_text(
        "treatment,step,method\nintact,1,none\n", encoding="utf-8"
    )
    own = folder / "soaked"
    own.mkdir()
    about = "title: A million weighings\nanalyses: [imbibition]\nsource: invented\nbalance_readability_mg: 1\n"
    (own / "experiment.yaml").write_text(about, encoding="utf-8")
    path = own / "weighings.csv"
    with path.open("w", encoding="utf-8") as file:
        file.write("seed,lot,treatment,seeds,soaked_h,mass_mg\n")
        for seed in range(SEEDS):
            start = 150 + seed % 60
            file.writelines(
                f"s{seed},bank,intact,1,{hour},{start + hour // 2}\n" for hour in range(TIMES)
            )
    return path


def run() -> None:
    """Print the CPU and memory of reading and of checking."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        table = weighings(folder / "bank")
        (folder / "config.yaml").write_text("study: bank\n", encoding="utf-8")
        read = watched.run([sys.executable, "-c", READ, str(table)], folder=REPOSITORY)
        places = ["--config", str(folder / "config.yaml"), "--results", str(folder / "results")]
        check = watched.run([sys.executable, "-m", "hilum", "check", *places], folder=REPOSITORY)
    print(f"read_csv of a million weighings   {read.cpu:6.2f} s CPU   {read.megabytes:5.0f} MB")
    print(
        f"their check                       {check.cpu:6.2f} s CPU   {check.megabytes:5.0f} MB"
        f"   {check.cpu / read.cpu:5.2f} x read_csv"
    )


if __name__ == "__main__":
    run()
