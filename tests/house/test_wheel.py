"""The wheel carries grammar, pages and the demo shop, and runs without the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_demo_runs_from_the_wheel_in_an_empty_folder(tmp_path: Path) -> None:
    wheels, site, empty = tmp_path / "wheels", tmp_path / "site", tmp_path / "empty"
    empty.mkdir()
    built = subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(wheels), str(ROOT)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert built.returncode == 0, built.stderr[-2000:]
    (wheel,) = wheels.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    done = subprocess.run(
        [sys.executable, "-P", "-m", "verifier", "demo", "--once"],
        cwd=empty, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": str(site)},
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    where = subprocess.run(
        [sys.executable, "-P", "-c", "import verifier; print(verifier.__file__)"],
        cwd=empty, capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": str(site)},
    )  # fmt: skip
    assert where.stdout.startswith(str(site))
    assert "SAME BEHAVIOUR" in done.stdout and "speed-clamp-removed" in done.stdout
    assert list(empty.iterdir()) == []
