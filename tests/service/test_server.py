"""The real server on loopback with two workers: what has to hold across processes, and at its start and end."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from service_shop import PASSWORD, PIN, ROOT, HandClock, RealBrowser, Server, copied, running

from verifier import records
from verifier.desk import server_key

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there the server is one process")


@pytest.fixture(scope="module")
def server(made_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server for the tests that leave it as it was (each uses people of its own)."""
    folder = copied(made_shop, tmp_path_factory.mktemp("real") / "shop")
    with running(folder, workers=2) as started:
        yield started


def test_a_session_holds_in_both_workers(server: Server) -> None:
    browser = server.browser("leo")
    workers = Counter()
    for _ in range(12):
        with RealBrowser(server.base).session as fresh:  # a new connection each time, so that any worker may answer
            fresh.cookies.update(browser.session.cookies)
            answer = fresh.get(server.base + "/account", allow_redirects=False, timeout=20)
            workers[answer.status_code] += 1
    assert workers == {200: 12}


def test_the_sixth_wrong_password_is_refused_whichever_worker_hears_it(server: Server) -> None:
    answers: list[int] = []
    lock = threading.Lock()

    def try_once(k: int) -> None:
        status = server.browser().sign_in("pia", f"wrong password {k}").status_code
        with lock:
            answers.append(status)

    threads = [threading.Thread(target=try_once, args=(k,)) for k in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Counter(answers) == {403: 5, 429: 7}
    assert server.browser().sign_in("pia").status_code == 429


def test_the_sixth_wrong_pin_is_refused_whichever_worker_hears_it(server: Server) -> None:
    answers = []
    for _ in range(7):
        admin = server.browser("lena")
        admin.get("/policy")
        sent = {"reason": "x", "pin": "999999"}
        answers.append(admin.post("/policy", sent, files={"policy": ("p.toml", b"name = 'x'")}).status_code)
    assert answers == [403] * 5 + [429] * 2


def test_another_host_and_another_site_are_refused(server: Server) -> None:
    browser = server.browser("otto")
    assert browser.get("/sign-in", headers={"Host": "elsewhere.example"}).status_code == 400
    assert browser.post("/sign-out", headers={"Origin": "https://elsewhere.example"}).status_code == 403
    assert browser.get("/account").status_code == 200


def test_an_upload_over_the_limit_is_refused_and_the_server_goes_on(server: Server) -> None:
    admin = server.browser("ada")
    admin.get("/machine-files")
    answer = admin.post("/machine-files", {"pin": PIN}, files={"profile": ("big.toml", b"x" * (10 << 20))})
    assert answer.status_code == 413
    assert server.browser().get("/healthz").status_code == 200


def test_a_body_without_a_length_is_refused(server: Server) -> None:
    browser = server.browser()
    browser.get("/sign-in")
    answer = browser.session.post(server.base + "/sign-in", data=iter([b"login=x", b"&password=y"]), timeout=20)
    assert answer.status_code == 411


def test_the_publisher_looks_and_the_service_is_ready(server: Server) -> None:
    import time

    ends = time.monotonic() + 15
    answer = server.browser().get("/readyz")
    while answer.status_code != 200 and time.monotonic() < ends:
        time.sleep(0.2)
        answer = server.browser().get("/readyz")
    assert answer.json() == {"status": "ready", "reasons": []}


def test_what_the_server_writes_is_json_and_holds_no_secret(server: Server) -> None:
    server.browser("leo").get("/account")
    text = server.log
    lines = [line for line in text.splitlines() if line.startswith("{")]
    assert len(lines) > 5 and all("event" in json.loads(line) for line in lines)
    assert PASSWORD not in text and PIN not in text and "wrong password" not in text
    assert "Traceback" not in text


def test_a_new_shop_is_opened_by_the_printed_code_and_the_server_ends_cleanly(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    with running(folder, workers=2) as started:
        code = re.search(r"one-time code: ([0-9A-Z-]{19})", started.log)
        assert code
        browser = started.browser()
        browser.get("/first")
        secrets = {"password": "several plain words", "pin": "771204"}
        given = {"shop_name": "New shop", "login": "fay", "full_name": "First F", **secrets}
        given |= {f"{name}_again": value for name, value in secrets.items()}
        assert browser.post("/first", {**given, "code": "2222-2222-2222-2222"}).status_code == 403
        assert browser.post("/first", {**given, "code": code.group(1)}).status_code == 303
        assert {browser.get("/people").status_code for _ in range(6)} == {200}
        assert browser.post("/first", {**given, "code": code.group(1)}).status_code == 403
        assert started.stop() == 0
    assert records.verify_ledger(folder).ok
    with running(folder, workers=1) as again:
        assert "one-time code" not in again.log
        assert again.browser().sign_in("fay", "several plain words").status_code == 303


def test_only_one_of_two_becomes_the_first_administrator(tmp_path: Path) -> None:
    with running(tmp_path / "new", workers=2) as started:
        found = re.search(r"one-time code: ([0-9A-Z-]{19})", started.log)
        assert found
        secrets = {"password": "several plain words", "pin": "771204"}
        answers: list[int] = []

        def take(name: str) -> None:
            browser = started.browser()
            browser.get("/first")
            given = {"shop_name": "New", "login": name, "full_name": f"Name {name}", "code": found.group(1), **secrets}
            answers.append(browser.post("/first", given | {f"{k}_again": v for k, v in secrets.items()}).status_code)

        threads = [threading.Thread(target=take, args=(name,)) for name in ("one", "two")]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert sorted(answers)[0] == 303 and answers.count(303) == 1
    with records.open_shop(tmp_path / "new", HandClock()) as shop:
        assert len(records.people(shop)) == 1


def test_the_server_of_one_process_serves_the_same_and_ends_cleanly(made_shop: Path, tmp_path: Path) -> None:
    folder = copied(made_shop, tmp_path / "shop")
    with running(folder, arguments=("--threads-only",)) as started:
        browser = started.browser("leo")
        answer = browser.get("/policy")
        assert answer.status_code == 200 and "Server" not in answer.headers
        assert browser.get("/x", headers={"Host": "elsewhere.example"}).status_code == 400
        assert started.stop() == 0


def test_older_records_are_brought_up_to_date_at_the_start(made_shop: Path, tmp_path: Path) -> None:
    folder = tmp_path / "old"
    _older(folder)
    server_key(folder)
    with running(folder, workers=1) as started:
        assert "brought up to date (5 steps)" in started.log
        assert started.browser().get("/first").status_code == 200


def _older(folder: Path) -> None:
    """A shop as it was made before there was a service."""
    code = (
        "import sys; from pathlib import Path; import verifier.records.tables as t; import verifier.records.schema as s\n"
        "old = t.STEPS[:1]\n"
        "s.migrate.__defaults__ = (old,); s.check_schema.__defaults__ = (old,); s.schema_faults.__defaults__ = (old,)\n"
        "from verifier import records\n"
        "records.init_shop(Path(sys.argv[1]), 'old', ('ann', 'A'), clock=lambda: 1, new_id=lambda: 'u').close_thread()\n"
    )
    subprocess.run([sys.executable, "-c", code, str(folder)], cwd=ROOT, check=True)


def test_settings_with_mistakes_end_the_command_with_each_of_them(tmp_path: Path) -> None:
    file = tmp_path / "service.toml"
    file.write_text("port = 0\nworker = 2\n", encoding="utf-8")
    command = [sys.executable, "-m", "verifier", "serve", "--config", str(file), "--shop", str(tmp_path / "s")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 2 and "port" in done.stderr and "worker" in done.stderr
    assert not (tmp_path / "s").exists()


def test_an_administrator_who_is_locked_out_gets_a_code_where_the_server_is_started(
    made_shop: Path, tmp_path: Path
) -> None:
    folder = copied(made_shop, tmp_path / "shop")
    with running(folder, workers=1, arguments=("--code-for", "ada")) as started:
        code = re.search(r"one-time code: ([0-9A-Z-]{19})", started.log)
        assert code
        secrets = {"password": "several plain words", "pin": "771204"}
        given = {"login": "ada", "code": code.group(1), **secrets} | {f"{k}_again": v for k, v in secrets.items()}
        assert started.browser().post("/welcome", given).status_code == 303
        assert started.browser().sign_in("ada", "several plain words").status_code == 303
    command = [sys.executable, "-m", "verifier", "serve", "--shop", str(folder), "--code-for", "leo"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 2 and "administrator" in done.stderr
