"""What the benches share: their options, the folder of drawn scenes, and work in several processes."""

import argparse
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path


def size_of(text):
    """Read ``WxH``."""
    width, height = text.lower().split("x")
    return int(width), int(height)


def options(name, doc, *, seeds, start, size=(4032, 3024)):
    """Return the parser of a bench with the options that every bench has: which scenes, how large, kept where."""
    parser = argparse.ArgumentParser(prog=f"python -m tests.bench.{name}", description=doc.split(":")[0])
    parser.add_argument("--seeds", type=int, default=seeds, help="how many")
    parser.add_argument("--start", type=int, default=start, help="the first seed")
    parser.add_argument("--size", type=size_of, default=size, metavar="WxH", help="of the photos, px")
    parser.add_argument("--cache", type=Path, metavar="DIR", help="keep drawn scenes there")
    return parser


def seeds_of(wanted):
    return range(wanted.start, wanted.start + wanted.seeds)


@contextmanager
def scene_folder(kept=None):
    """Give a folder for drawn scenes: the one that keeps them, or one for the time being."""
    with tempfile.TemporaryDirectory() as temporary:
        folder = kept or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        yield folder


def run_all(job, tasks, jobs):
    """Yield the results in order, saying on standard error how far it is."""
    if jobs > 1:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        with ProcessPoolExecutor(jobs, get_context("spawn")) as pool:
            yield from pool.map(job, tasks)
        return
    for k, task in enumerate(tasks):
        print(f"\r{k + 1}/{len(tasks)}", end="", file=sys.stderr, flush=True)
        yield job(task)
    print(file=sys.stderr)
