"""What a maker installs: the wheel, in an environment of its own, run from another folder.

`WHEEL_PYTHON=/path/to/python3.13` tries another Python, `WHEEL_LOWEST=1` the lowest versions that our ranges allow.
"""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SCRIPTS = "Scripts" if os.name == "nt" else "bin"


def uv(folder: Path, *call: str | Path) -> None:
    program = os.environ.get("UV") or shutil.which("uv")
    assert program, "this test needs uv: pip install uv"
    # in a folder of no project: its constraints would hold the lowest versions too
    ran = subprocess.run([program, *map(str, call)], cwd=folder, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr


@pytest.mark.slow
def test_the_wheel_runs_the_demo_from_another_folder(tmp_path: Path) -> None:
    uv(tmp_path, "build", "--wheel", "--quiet", "--out-dir", tmp_path / "wheels", ROOT)
    (wheel,) = (tmp_path / "wheels").glob("kerfledger-*.whl")
    other = os.environ.get("WHEEL_PYTHON")
    uv(tmp_path, "venv", "--quiet", *(("--python", other) if other else ()), tmp_path / "clean")
    python = tmp_path / "clean" / SCRIPTS / "python"
    lowest, tested = ("--resolution", "lowest-direct"), ("--constraint", ROOT / ".ci" / "constraints.txt")
    versions = lowest if os.environ.get("WHEEL_LOWEST") else tested
    uv(tmp_path, "pip", "install", "--quiet", "--python", python, *versions, wheel)

    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    # names that would shadow ours if the folder one is in counted
    for name in ("pipeline", "dashboard", "sql", "sample_data"):
        (elsewhere / name).mkdir()
    kerfledger = tmp_path / "clean" / SCRIPTS / "kerfledger"
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    call = [str(kerfledger), "demo", "--no-show"]
    ran = subprocess.run(call, cwd=elsewhere, env=clean, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "What an hour paid" in ran.stdout
    assert list((elsewhere / "demo-shop" / "database").glob("shop-*.duckdb"))
    call = [str(kerfledger), "report", "demo-shop", "--month", "2026-05"]  # its template comes along
    ran = subprocess.run(call, cwd=elsewhere, env=clean, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert (elsewhere / "demo-shop" / "reports" / "month-2026-05.html").is_file()
