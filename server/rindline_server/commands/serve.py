"""``serve``: answer over HTTP until told to stop.

The HTTP server is granian. Tried against it with real sockets (tests/http/test_slow_callers.py
and its neighbours): headers that never end and connections that idle are cut off by its header
timeout, bodies are handed over piece by piece so that our own deadline and size limit can stop
them, a reader who takes nothing holds up only his own answer, and on SIGTERM it stops accepting,
finishes what is in flight, and exits with 0. What it leaves to us: the body's deadline and size
(``http/bodies.py``), headers that are many bytes but few (``http/edge.py``), and noticing that
the reader of a stream has gone (``http/replies.py``). HTTP/1.1 only: what speaks HTTP/2 to
browsers is a proxy in front.
"""

import argparse
import multiprocessing
import os
import shutil
import socket
import sys
import tempfile

from granian.constants import HTTPModes, Interfaces
from granian.http import HTTP1Settings
from granian.log import LogLevels
from granian.server import Server

from rindline_server.app import open_service
from rindline_server.commands import ExitCode
from rindline_server.observe.logs import logging_settings
from rindline_server.settings import Settings

__all__ = ["add_arguments", "run"]

_BUFFER_BYTES = 64 * 1024  # what is read ahead of one connection, at most


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments; each overrides its setting in the environment."""
    parser.add_argument("--host", help="address to listen at (default: this machine only)")
    parser.add_argument("--port", type=int, help="port to listen at; 0 picks a free one")
    parser.add_argument("--workers", type=int, help="processes that answer")
    parser.add_argument(
        "--migrate", action="store_true", help="first bring the database to the newest revision"
    )


def run(arguments: argparse.Namespace, settings: Settings) -> int:
    """Serve; gives the exit code once stopped."""
    given = {
        name: value
        for name in ("host", "port", "workers")
        if (value := getattr(arguments, name)) is not None
    }
    settings = settings.but(given)
    try:
        settings = settings.but({"port": _free_port(settings.host, settings.port)})
    except OSError as error:
        address = f"{settings.host}, port {settings.port}"
        print(f"rindline-server: can't listen at {address}: {error.strerror}", file=sys.stderr)
        return ExitCode.FAILED
    if arguments.migrate:
        _migrate(settings)
    with open_service(settings) as service:
        amiss = service.ready()
    if amiss is not None:
        print(
            f"rindline-server: {amiss}\nRun `rindline-server migrate`, or `serve --migrate`.",
            file=sys.stderr,
        )
        return ExitCode.NOT_MIGRATED
    return _serve(settings)


def _serve(settings: Settings) -> int:
    # Forked workers would share this process's connections and locks.
    multiprocessing.set_start_method("spawn", force=True)
    # The workers are processes of their own; they read the same settings.
    os.environ.update(settings.environment())
    counts = tempfile.mkdtemp(prefix="rindline-metrics-") if settings.workers > 1 else None
    if counts is not None:
        os.environ["PROMETHEUS_MULTIPROC_DIR"] = counts
    server = Server(
        "rindline_server.app:serving_app",
        factory=True,
        address=settings.host,
        port=settings.port,
        interface=Interfaces.ASGI,
        workers=settings.workers,
        http=HTTPModes.http1,
        websockets=False,
        backlog=settings.connections,
        backpressure=settings.connections,
        http1_settings=HTTP1Settings(
            header_read_timeout=int(settings.header_s * 1000), max_buffer_size=_BUFFER_BYTES
        ),
        log_level=LogLevels.warning,
        log_dictconfig=logging_settings(),
        workers_kill_timeout=int(settings.stop_s),
    )
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    server.on_startup(
        lambda: print(f"Rindline answers at http://{host}:{settings.port}/", flush=True)
    )
    try:
        server.serve()
    finally:
        if counts is not None:
            shutil.rmtree(counts, ignore_errors=True)
    return ExitCode.DONE


def _free_port(host: str, port: int) -> int:
    """Make sure that nobody listens at the port, or find one for 0.

    The HTTP server shares ports between processes: without this a second server, perhaps on
    another database, would quietly take half of the first one's callers.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind((host, port))
        free: int = probe.getsockname()[1]
        return free


def _migrate(settings: Settings) -> None:
    # Loaded only when asked for: the tools that migrate take their time to load.
    from rindline_server.store.migrate import upgrade  # noqa: PLC0415

    upgrade(settings.database_url)
