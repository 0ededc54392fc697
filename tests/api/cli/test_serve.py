"""`phaseyard serve` as a process of its own."""

import asyncio
import os
import signal
import socket
import sys
from asyncio.subprocess import PIPE, Process
from pathlib import Path

import httpx
import pytest

from api.cli.serve import loop_factory


async def serve(folder: Path, *words: str, **environment: str) -> Process:
    clean = {key: value for key, value in os.environ.items() if not key.startswith("PHASEYARD_")}
    command = (
        sys.executable,
        "-m",
        "csms",
        "serve",
        "--host",
        "127.0.0.1",
        "--data-dir",
        str(folder),
        *words,
    )
    return await asyncio.create_subprocess_exec(
        *command, stdout=PIPE, stderr=PIPE, env=clean | environment, cwd=Path(__file__).parents[3]
    )


async def said(process: Process) -> tuple[int | None, str, list[str]]:
    out, errors = await asyncio.wait_for(process.communicate(), 60)
    return process.returncode, out.decode(), errors.decode().splitlines()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
async def test_it_answers_until_it_is_told_to_stop(tmp_path: Path, number: signal.Signals) -> None:
    process = await serve(tmp_path, "--http-port", "0", "--ocpp-port", "0")
    assert process.stdout is not None
    pages = (await asyncio.wait_for(process.stdout.readline(), 60)).decode()
    chargers = (await asyncio.wait_for(process.stdout.readline(), 60)).decode()
    assert chargers.startswith("chargers:       ws://127.0.0.1:")
    async with httpx.AsyncClient(base_url=pages.split()[-1]) as client:
        assert (await client.get("/v1/health")).status_code == 200
        assert (await client.get("/sign-in")).status_code == 200
    process.send_signal(number)
    code, _, errors = await said(process)
    assert code == 0
    assert [line for line in errors if " INFO " not in line] == []
    assert (tmp_path / "phaseyard.db").exists()


@pytest.mark.parametrize(("mine", "other"), [("--http-port", "--ocpp-port"), ("--ocpp-port", "--http-port")])
async def test_a_port_that_is_taken_is_one_line(tmp_path: Path, mine: str, other: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        code, out, errors = await said(await serve(tmp_path, mine, port, other, "0"))
    assert (code, out, len(errors)) == (2, "", 1), errors
    assert errors[0].startswith("cannot listen: ")
    assert "choose other ports with --http-port and --ocpp-port" in errors[0]


@pytest.mark.parametrize(
    ("words", "environment", "named"),
    [
        (("--http-port", "70000"), {}, "http_port"),
        ((), {"PHASEYARD_ROTATION": "900"}, "PHASEYARD_ROTATION: there is no such setting"),
        ((), {"PHASEYARD_ROTATION_S": "soon"}, "rotation_s"),
        ((), {"PHASEYARD_LOG_LEVEL": "NOISY"}, "log_level"),
        (("--config", "nowhere.toml"), {}, "--config: nowhere.toml is not a file"),
        ((), {"PHASEYARD_SMTP_URL": "mail.weavers.example"}, "cannot start: smtp_url: give smtp://"),
    ],
)
async def test_a_wrong_setting_is_one_line_that_names_it(
    tmp_path: Path, words: tuple[str, ...], environment: dict[str, str], named: str
) -> None:
    code, out, errors = await said(await serve(tmp_path, *words, **environment))
    assert (code, out, len(errors)) == (2, "", 1), errors
    assert named in errors[0]


async def test_a_certificate_that_cannot_be_used_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "tls").mkdir()
    (tmp_path / "tls" / "server-ec.pem").write_text("nonsense")
    ports = ("--http-port", "0", "--ocpp-port", "0", "--ocpp-tls-port", "0")
    code, _, errors = await said(await serve(tmp_path, *ports))
    problems = [line for line in errors if " INFO " not in line]
    assert (code, len(problems)) == (2, 1), errors
    assert problems[0].startswith("cannot start: server-ec.pem: cannot be used with server-ec.key")


def test_the_loop_is_the_fast_one_where_there_is_one() -> None:
    factory = loop_factory()
    try:
        import uvloop
    except ImportError:
        assert factory is None
    else:
        assert factory is uvloop.new_event_loop
