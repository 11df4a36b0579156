"""Speed bench: `python -m tests.bench.speed`: time and memory of one reading, as ratios taken in one run.

Every figure comes from a process of its own, held to one core. Ratios are of CPU time, which other work on the
machine hardly moves; whole processes are timed by the wall, the best of some tries.
"""

import argparse
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import cv2
import numpy as np

from .running import options, scene_folder, seeds_of
from .scenes import KINDS, drawn
from .tables import aligned, judged

#: figure -> (lowest, highest) allowed.
TARGETS = {
    "read / plain decode, CPU": (None, 8.0),
    "library / read, CPU": (10.0, None),
    "cold process, s": (None, 2.0),
    "--help, s": (None, 0.2),
    "peak memory, MB": (None, 400.0),
    "four times the pixels: CPU": (None, 4.0),
    "four times the pixels: memory": (None, 4.0),
}
#: Set, this would have every process compile the program anew; an installed one has its bytecode beside it.
_UNCOMPILED = "PYTHONDONTWRITEBYTECODE"
ONE_CORE = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1", "OPENCV_FOR_THREADS_NUM": "1"}
_RUN = "import sys; from swatchread.cli.main import start; sys.exit(start())"


def plain_decode(path):
    cv2.imdecode(np.frombuffer(path.read_bytes(), np.uint8), cv2.IMREAD_COLOR)


def read(path):
    from swatchread.reading import read_card

    read_card(path)


def library(path):
    """Decode to float, find the chart and correct; when it isn't found, correct on a stand-in: the work is the same."""
    from .baseline import corrected_lab, decode, detect, reference_linear

    linear = decode(path)
    measured = detect(linear)
    corrected_lab(linear[:8, :8].reshape(-1, 3), reference_linear() if measured is None else measured)


WORK = {"decode": plain_decode, "read": read, "library": library}


def worker(path, tries):
    """CPU and wall seconds of each kind of work, the best of some tries taken in turn; imports come first."""
    cv2.setNumThreads(1)
    best = {}
    for attempt in range(tries + 1):
        for name, work in WORK.items():
            cpu, wall = time.process_time(), time.perf_counter()
            work(path)
            spent = (time.process_time() - cpu, time.perf_counter() - wall)
            if attempt:  # the first round pays for imports
                best[name] = tuple(map(min, spent, best.get(name, spent)))
    return best


def process(arguments, folder):
    """Run a Python process on one core.

    Returns
    -------
    wall seconds, CPU seconds, peak resident memory in MB, exit status, standard output
    """
    out = folder / "out.txt"
    env = {name: value for name, value in os.environ.items() if name != _UNCOMPILED} | ONE_CORE
    with out.open("wb") as stream:
        start = time.perf_counter()
        child = subprocess.Popen(
            [sys.executable, "-W", "ignore", *arguments], stdout=stream, stderr=subprocess.DEVNULL,
            env=env, preexec_fn=lambda: os.sched_setaffinity(0, {min(os.sched_getaffinity(0))}),  # noqa: PLW1509
        )  # fmt: skip
        _, status, usage = os.wait4(child.pid, 0)
        wall = time.perf_counter() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, child.returncode, out.read_text("utf-8")


def best_of(tries, arguments, folder):
    """Least wall, CPU and memory of some tries; a process that fails is no measurement."""
    runs = [process(arguments, folder) for _ in range(tries)]
    failed = [run[3] for run in runs if run[3]]
    if failed:
        raise RuntimeError(f"{arguments[-2:]} ended with status {failed[0]}")
    return np.min([run[:3] for run in runs], axis=0)


def enlarged(path, folder):
    """Return a file of the same photo with four times the pixels."""
    big = cv2.resize(cv2.imread(str(path)), None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    out = folder / "big.jpg"
    cv2.imwrite(str(out), big, [cv2.IMWRITE_JPEG_QUALITY, 88])
    return out


def figures(path, folder, tries):
    """All figures of the bench for one photo."""
    inner = json.loads(process(["-m", "tests.bench.speed", "--worker", str(path), "--tries", str(tries)], folder)[4])
    into = str(folder / "notes")
    cold = best_of(tries, ["-c", _RUN, "read", str(path), "--into", into], folder)
    asked = best_of(tries, ["-c", _RUN, "--help"], folder)
    empty = best_of(tries, ["-c", "pass"], folder)
    only_read = (
        "import sys; from pathlib import Path; from swatchread.reading import read_card; read_card(Path(sys.argv[1]))"
    )
    plain = best_of(tries, ["-c", only_read, str(path)], folder)
    large = best_of(1, ["-c", only_read, str(enlarged(path, folder))], folder)
    imports = best_of(tries, ["-c", "import swatchread.reading"], folder)
    return {
        "plain decode, CPU s": inner["decode"][0],
        "read after imports, CPU s": inner["read"][0],
        "read after imports, wall s": inner["read"][1],
        "library, CPU s": inner["library"][0],
        "read / plain decode, CPU": inner["read"][0] / inner["decode"][0],
        "library / read, CPU": inner["library"][0] / inner["read"][0],
        "cold process, s": cold[0],
        "cold process, CPU s": cold[1],
        "--help, s": asked[0],
        "an empty Python process, s": empty[0],
        "peak memory, MB": cold[2],
        "four times the pixels: CPU": (large[1] - imports[1]) / (plain[1] - imports[1]),
        "four times the pixels: memory": large[2] / plain[2],
        "four times the pixels: peak MB": large[2],
    }


def report(made):
    """Text of the figures beside their targets."""
    return aligned(judged(made, TARGETS, lambda _, x: f"{x:.3g}"), ["figure", "measured", "target", ""])


def main(arguments=None):
    parser = options("speed", __doc__, seeds=1, start=3000)
    parser.add_argument("--tries", type=int, default=3)
    parser.add_argument("--worker", type=Path, help=argparse.SUPPRESS)
    wanted = parser.parse_args(arguments)
    if wanted.worker:
        print(json.dumps(worker(wanted.worker, wanted.tries)))
        return 0
    with scene_folder(wanted.cache) as scenes, scene_folder() as folder:
        for seed in seeds_of(wanted):
            made = drawn(KINDS["easy"](seed, wanted.size), scenes)
            print(report(figures(made.path, folder, wanted.tries)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
