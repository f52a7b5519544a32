"""Write the sample exports anew: `python -m tests.sample [FOLDER]`."""

import sys
from pathlib import Path

from tests.sample.files import sample_files

SAMPLE_EXPORTS = Path(__file__).parents[2] / "sample_exports"


def write_sample(folder: Path) -> None:
    """Write every file and take away what the scenario no longer has."""
    folder.mkdir(parents=True, exist_ok=True)
    files = sample_files()
    for old in folder.iterdir():
        if old.is_file() and not old.name.startswith(".") and old.name not in files:
            old.unlink()
    for name, content in files.items():
        (folder / name).write_bytes(content)


if __name__ == "__main__":
    write_sample(Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLE_EXPORTS)
