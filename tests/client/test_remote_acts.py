"""The command line over a running service says and ends as it does on the shop's folder."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path

from click.testing import CliRunner, Result

sys.path.insert(0, str(Path(__file__).parents[1] / "service"))

from api_site import BODY
from service_shop import PIN, make_shop, running

from verifier import records
from verifier.cli import main


def run(*words: object, **more: str) -> Result:
    return CliRunner(env={"VERIFIER_PIN": PIN, **more}).invoke(main, [str(w) for w in words], catch_exceptions=False)


def made_token(shop: Path, login: str, by: str = "") -> str:
    done = run("shop", "token", "--shop", shop, "--by", by or login, login, *_SCOPES, "--days", 3)
    assert done.exit_code == 0, done.output
    return str(done.stdout.strip())


_SCOPES = [word for scope in records.SCOPES for word in ("--scope", scope)]


BECAUSE = ["--reason", "because"]


def acts(file: Path, digest: str) -> list[tuple[str, str, list[object]]]:
    return [
        ("submit", "pia", [file, *BECAUSE]),
        ("release", "pia", BECAUSE),
        ("check-again", "leo", []),
        ("decide", "leo", [*BECAUSE, "--verdict", "approve", "--report", "00000000"]),
        ("decide", "leo", [*BECAUSE, "--verdict", "approve", "--report", digest]),
        ("release", "pia", BECAUSE),
        ("readback", "otto", [file]),
        ("confirm", "otto", ["--readback", 1]),
        ("confirm", "otto", ["--readback", 1]),
        ("write-again", "leo", BECAUSE),
        ("withdraw", "pia", BECAUSE),
        ("recall", "leo", BECAUSE),
    ]


def test_every_act_says_the_same_over_a_service_and_on_the_folder(tmp_path: Path) -> None:
    here, there, file = tmp_path / "here", tmp_path / "side" / "there", tmp_path / "a.nc"
    make_shop(here)
    shutil.copytree(here, there)
    file.write_bytes(BODY)
    first = run("submit", "--shop", here, "--by", "pia", "--for", "L1", "O1001", file, "--reason", "because")
    digest = first.stdout.strip().rsplit("report ", 1)[1]
    shutil.rmtree(here)
    shutil.copytree(there, here)
    tokens = {login: made_token(there, login, by) for login, by in (("pia", "pia"), ("leo", "leo"), ("otto", "otto"))}
    with running(there, workers=1) as server:
        for verb, login, words in acts(file, digest):
            at = ("--for", "L1", "O1001", *words)
            local = run(verb, "--shop", here, "--by", login, *at)
            remote = run(verb, "--server", server.base, *at, VERIFIER_TOKEN=tokens[login], VERIFIER_SHOP=str(tmp_path))
            # A busy publisher lets the service answer before the file is written; the command then asks where it is.
            told = [one.output.replace("  L1 O1001.NC: done\n", "") for one in (remote, local)]
            assert (remote.exit_code, told[0]) == (local.exit_code, told[1]), verb
        for words in ((), ("--show", 1), ("--show", 2), ("--out", tmp_path / "x"), ("--as", "json")):
            local = run("readbacks", "--shop", here, "--for", "L1", "O1001", *words)
            remote = run(
                "readbacks", "--server", server.base, "--for", "L1", "O1001", *words, VERIFIER_TOKEN=tokens["leo"]
            )
            alike = [re.sub(r"[0-9T:+-]{20,}|[0-9]{16}", "", one.output) for one in (local, remote)]
            assert remote.exit_code == local.exit_code and alike[0] == alike[1], words
        both = (("--shop", here, "--by", "pia"), ("--server", server.base))
        for name in ("O1002", "O1003"):
            like = tmp_path / f"{name}.nc"
            like.write_bytes(BODY.replace(b"O1001", name.encode()))
            told = [
                run("submit", *where, "--for", "L1", name, like, *BECAUSE, VERIFIER_TOKEN=tokens["pia"])
                for where in both
            ]
            assert told[0].output == told[1].output and ("(verifier nearest)" in told[0].stdout) == (name == "O1003")
        found = [
            run("nearest", *where, "--for", "L1", "O1003", VERIFIER_TOKEN=tokens["leo"])
            for where in (both[0][:2], both[1])
        ]
        assert found[0].output == found[1].output and [one.exit_code for one in found] == [0, 0]
        assert "not the report that is signed: beside O1002 revision 1 for L1" in found[0].stdout
        none = run("nearest", "--shop", here, "--for", "L1", "O1002")
        assert none.exit_code == 0 and "no other program of the library" in none.stdout
        out = tmp_path / "sent.nc"
        done = run("readbacks", "--server", server.base, "--for", "L1", "O1001", "--show", 1, "--out", out,
                   VERIFIER_TOKEN=tokens["leo"])  # fmt: skip
        assert done.exit_code == 0 and out.read_bytes() == BODY
        told = run("history", "--server", server.base, "--for", "L1", "O1001", VERIFIER_TOKEN=tokens["leo"])
        assert told.exit_code == 0 and "recalled" in told.stdout
        wrong = run("withdraw", "--server", server.base, "--by", "leo", "--for", "L1", "O1001", "--reason", "r",
                    VERIFIER_TOKEN=tokens["pia"])  # fmt: skip
        assert wrong.exit_code == 2 and "token is not leo's" in wrong.stderr


def test_shop_and_server_exclude_each_other(tmp_path: Path) -> None:
    at = ("--for", "L1", "O1001")
    both = run("history", "--shop", tmp_path, "--server", "http://127.0.0.1:1", *at)
    neither = run("history", *at)
    assert both.exit_code == neither.exit_code == 2 and "--shop" in both.stderr and "--server" in neither.stderr
    unnamed = run("withdraw", "--shop", tmp_path, *at, "--reason", "r")
    assert unnamed.exit_code == 2 and "--by" in unnamed.stderr
    no_token = run("history", "--server", "http://127.0.0.1:1", *at)
    assert no_token.exit_code == 2 and "token" in no_token.stderr


def test_only_an_administrator_makes_a_token_for_somebody_else(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    make_shop(shop)
    refused = run("shop", "token", "--shop", shop, "--by", "pia", "leo", "--scope", "read")
    assert refused.exit_code == 2 and not refused.stdout.strip()
    for words in (_SCOPES, ["--scope", "submit"], ["--scope", "read", "--scope", "decide"]):
        refused = run("shop", "token", "--shop", shop, "--by", "ada", "leo", *words)
        assert refused.exit_code == 2 and not refused.stdout.strip() and "reads, and no more" in refused.stderr
    made = run("shop", "token", "--shop", shop, "--by", "ada", "leo", "--scope", "read", "--days", 3)
    secret = made.stdout.strip()
    with records.open_shop(shop, lambda: 1) as opened:
        found = records.find_token(opened, secret)
        last = records.whole_history(opened)[-1]
    assert found is not None and found.person.login == "leo" and last.person == "Administrator A"
    assert secret not in last.body and records.verify_ledger(shop).faults == ()


def test_tokens_are_listed_without_their_secrets_and_ended(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    make_shop(shop)
    secret = made_token(shop, "pia")
    listed = run("shop", "tokens", "--shop", shop, "pia")
    assert listed.exit_code == 0 and "read, submit" in listed.stdout and secret not in listed.output
    assert run("shop", "tokens", "--shop", shop, "pia", "--end", 1).exit_code == 2, "somebody ends it"
    assert run("shop", "tokens", "--shop", shop, "--by", "leo", "pia", "--end", 1).exit_code == 2
    assert run("shop", "tokens", "--shop", shop, "--by", "ada", "otto", "--end", 1).exit_code == 2
    wrong = run("shop", "tokens", "--shop", shop, "--by", "pia", "pia", "--end", 1, VERIFIER_PIN="000001")
    assert wrong.exit_code == 2 and "PIN" in wrong.stderr
    assert "ended" in run("shop", "tokens", "--shop", shop, "--by", "ada", "pia", "--end", 1).stdout
    with records.open_shop(shop, lambda: 1) as opened:
        assert records.find_token(opened, secret) is None
