"""Whole processes timed: wall time, processor time, peak memory; and what they ran on."""

import os
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Spent:
    """What one process cost together with its children; `peak` is of the largest, in MiB."""

    wall: float
    cores: float
    peak: float
    said: str


def spent(*arguments: str | Path, status: int = 0) -> Spent:
    """Run Python with these arguments; it must end with this status."""
    with tempfile.TemporaryFile("w+") as said:
        begin = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, *map(str, arguments)], stdout=said, stderr=subprocess.STDOUT
        )
        _, ended, used = os.wait4(process.pid, 0)
        wall = time.perf_counter() - begin
        process.returncode = os.waitstatus_to_exitcode(ended)
        said.seek(0)
        text = said.read()
    if process.returncode != status:
        raise RuntimeError(f"{arguments} ended with {process.returncode}: {text}")
    return Spent(wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, text)


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
