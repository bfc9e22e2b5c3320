"""
Set up an environment and run steadykeep or its tests in it. Needs Python 3.11 or newer and nothing else.

    python3 run.py demo         environment, sample library, index, audit, summary, pages
    python3 run.py test         environment with what tests need, then the tests (arguments go to pytest)
    python3 run.py COMMAND …    any other command of steadykeep

The environment is the folder .venv beside this file, or where STEADYKEEP_VENV says.
"""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
OLDEST = (3, 11)


def venv_folder() -> Path:
    """Return where the environment lies."""
    return Path(os.environ.get("STEADYKEEP_VENV") or HERE / ".venv")


def python_in(venv: Path) -> Path:
    """Return the environment's Python, wherever the system keeps it."""
    return venv / "Scripts" / "python.exe" if os.name == "nt" else venv / "bin" / "python"


def fail(*lines: str) -> None:
    """Say what is wrong and stop."""
    print(*lines, sep="\n", file=sys.stderr)
    sys.exit(1)


def make_venv(venv: Path) -> None:
    """Make an empty environment."""
    print(f"Making the environment {venv} …", flush=True)
    made = subprocess.run([sys.executable, "-m", "venv", str(venv)], check=False)
    if made.returncode:
        fail("the environment could not be made", "on Debian and Ubuntu: apt install python3-venv")


def install(venv: Path, lock: Path) -> None:
    """Install what the lock names, hashes checked, unless this very lock was installed already."""
    wanted = hashlib.sha256(lock.read_bytes()).hexdigest()
    stamp = venv / f"installed-{lock.parent.name}"
    if stamp.is_file() and stamp.read_text() == wanted:
        return
    print("Installing libraries, once …", flush=True)
    pip = [str(python_in(venv)), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    done = subprocess.run([*pip, "--require-hashes", "--only-binary", ":all:", "-r", str(lock)], check=False)
    if done.returncode:
        fail("the libraries could not be installed; what pip says stands above")
    stamp.write_text(wanted)


def main(arguments: list[str]) -> int:
    """Set up, then hand over; return the exit status."""
    if sys.version_info < OLDEST:
        fail(f"steadykeep needs Python {'.'.join(map(str, OLDEST))} or newer; this is {sys.version.split()[0]}")
    if not arguments or arguments[0] in {"-h", "--help"}:
        print(__doc__.strip())
        return 0
    testing = arguments[0] == "test"
    venv = venv_folder()
    if not python_in(venv).exists():
        make_venv(venv)
    install(venv, HERE / ("tests" if testing else "") / "requirements.lock")
    # The checkout itself is not installed but found here, so that a change to it counts at once.
    path = os.pathsep.join(filter(None, [str(HERE), os.environ.get("PYTHONPATH")]))
    command = ["-m", "pytest", *arguments[1:]] if testing else ["-m", "auditor", *arguments]
    run = subprocess.run(
        [str(python_in(venv)), *command],
        cwd=HERE if testing else None,
        env={**os.environ, "PYTHONPATH": path},
        check=False,
    )
    return run.returncode


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
