"""A PostgreSQL server of one's own for tests: a cluster in a temporary folder, reached through a socket file only."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from wanted import LIBRARIES, POSTGRESQL, needs

_USERS = ("postgres", "nobody")
"""Who runs the server where the tests run as root, which it refuses."""


def _programs() -> Path | None:
    """Return the folder of the server's programs, or None where it is not installed."""
    found = shutil.which("initdb")
    folders = [Path(found).resolve().parent] if found else sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    return next((folder for folder in reversed(folders) if (folder / "pg_ctl").exists()), None)


@contextmanager
def postgresql_url() -> Iterator[str]:
    """Yield the URL of an empty database; the test is skipped, saying so, where no server can be started here."""
    pytest.importorskip("psycopg", reason=needs(LIBRARIES))
    programs = _programs()
    if programs is None:
        pytest.skip(needs(POSTGRESQL))
    folder = Path(tempfile.mkdtemp(prefix="answers-"))
    run_as: dict[str, Any] = {"cwd": folder, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    if os.getuid() == 0:
        user = next(pwd.getpwnam(name) for name in _USERS if _is_user(name))
        os.chown(folder, user.pw_uid, user.pw_gid)
        run_as |= {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    control = [str(programs / "pg_ctl"), "-D", str(folder / "data"), "-w"]
    # Stops the server and clears away when the pipe closes: also where this process is killed.
    ending = 'read line; "$0" -D "$1/data" -m immediate stop; rm -rf "$1"'
    with subprocess.Popen(
        ["sh", "-c", ending, control[0], str(folder)], stdin=subprocess.PIPE, start_new_session=True,
        **run_as | {"cwd": "/"},
    ):
        subprocess.run([
            str(programs / "initdb"), "-D", str(folder / "data"), "-A", "trust", "-U", "reader", "-E", "UTF8",
            "--locale=C.UTF-8", "--no-sync",
        ], check=True, **run_as)
        options = f"-F -k {folder} -c listen_addresses='' -c log_statement=none"
        subprocess.run([*control, "-o", options, "-l", str(folder / "log"), "start"], check=True, **run_as)
        yield f"postgresql:///postgres?host={quote(str(folder))}&user=reader"


def _is_user(name: str) -> bool:
    try:
        pwd.getpwnam(name)
    except KeyError:
        return False
    return True
