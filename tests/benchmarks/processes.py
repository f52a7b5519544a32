"""Whole processes timed: wall time, processor time, peak memory; and what they ran on."""

import ctypes
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from resource import struct_rusage

SET_CHILD_SUBREAPER = 36


@dataclass(frozen=True)
class Spent:
    """What one process cost together with its children; `peak` is of the largest, in MiB."""

    wall: float
    cores: float
    peak: float
    said: str


def _adopt() -> None:
    """Have processes whose parent ends become children of this one (prctl(2), of Linux)."""
    if ctypes.CDLL(None, use_errno=True).prctl(SET_CHILD_SUBREAPER, 1, 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "This process cannot adopt others.")


def spent(*arguments: str | Path, status: int = 0) -> Spent:
    """Run Python with these arguments; it must end with this status."""
    _adopt()
    with tempfile.TemporaryFile("w+") as said:
        begin = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, *map(str, arguments)], stdout=said, stderr=subprocess.STDOUT
        )
        _, ended, used = os.wait4(process.pid, 0)
        wall = time.perf_counter() - begin
        all_used = [used, *_left_behind()]
        process.returncode = os.waitstatus_to_exitcode(ended)
        said.seek(0)
        text = said.read()
    if process.returncode != status:
        raise RuntimeError(f"{arguments} ended with {process.returncode}: {text}")
    cores = sum(one.ru_utime + one.ru_stime for one in all_used)
    return Spent(wall, cores, max(one.ru_maxrss for one in all_used) / 1024, text)


def _left_behind() -> Iterator[struct_rusage]:
    """What the processes cost that outlived their parent, as the one workers are forked from."""
    while True:
        try:
            yield os.wait4(-1, 0)[2]
        except ChildProcessError:
            return


def build(exports: Path, reports: Path, *more: str) -> Spent:
    """One build with two workers, as a person starts it."""
    folders = ("--exports", exports, "--reports", reports)
    return spent("-m", "pipeline", "build", *folders, "--workers", "2", *more)


def machine() -> str:
    """What it ran on and how busy that was."""
    with Path("/proc/cpuinfo").open() as lines:
        model = next((line.split(":")[1].strip() for line in lines if "model name" in line), "")
    return (
        f"{os.cpu_count()} cores ({model}), Python {platform.python_version()}, "
        f"load of the machine in the last quarter of an hour: {os.getloadavg()[2]:.1f}"
    )
