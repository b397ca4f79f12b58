"""What a maker installs: the wheel, in an environment of its own, run from another folder."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SCRIPTS = "Scripts" if os.name == "nt" else "bin"


def uv(*call: str | Path) -> None:
    program = os.environ.get("UV") or shutil.which("uv")
    assert program, "this test needs uv: pip install uv"
    ran = subprocess.run([program, *map(str, call)], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr


@pytest.mark.slow
def test_the_wheel_runs_the_demo_from_another_folder(tmp_path: Path) -> None:
    uv("build", "--wheel", "--quiet", "--out-dir", tmp_path / "wheels", ROOT)
    (wheel,) = (tmp_path / "wheels").glob("kerfledger-*.whl")
    uv("venv", "--quiet", tmp_path / "clean")
    python = tmp_path / "clean" / SCRIPTS / "python"
    # the exact versions that this run is tested with, where uv has settled on some
    lock = ("--constraint", _constraints(tmp_path)) if (ROOT / "uv.lock").is_file() else ()
    uv("pip", "install", "--quiet", "--python", python, *lock, wheel)

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


def _constraints(folder: Path) -> Path:
    uv(
        "export",
        "--quiet",
        "--frozen",
        "--no-hashes",
        "--no-emit-project",
        "--no-dev",
        "--project",
        ROOT,
        "--output-file",
        folder / "constraints.txt",
    )
    return folder / "constraints.txt"
