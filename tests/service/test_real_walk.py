"""One walk of a shop's people by its pages against the real server: from an empty folder to drift, recall and prove-out.

Two workers answer; every step fills in a form that the page before it really offered. What is on disk, in the records
and on the next person's page is looked at after each.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
from hands import SETTINGS, Hands, Screen, now_us
from page_walk import BASE, NO_CLAMP, SMALLER
from service_shop import running

from verifier import records
from verifier.findings import default_policy, policy_text
from verifier.machines import generic_lathe, machine_text
from verifier.records import Shop
from verifier.report import CAUTION

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there the server is one process")

SECRETS = {
    "fay": ("several plain words", "771204"),
    "paul": ("brass swarf on monday", "310577"),
    "lina": ("the green surface plate", "826193"),
    "lars": ("eight jaws and a key", "945012"),
    "olga": ("bar feeder sings at noon", "603748"),
}
"""Who works here, each with a password and a PIN of their own: a right one of somebody else must not do."""


@dataclass
class Shop3:
    """The shop of the walk, and a screen for each person."""

    hands: Hands
    screens: dict[str, Screen]

    def pin(self, who: str) -> str:
        return SECRETS[who][1]


def test_three_roles_walk_from_an_empty_folder_to_a_prove_out(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    with running(folder, workers=2, settings=SETTINGS) as server:
        hands = Hands(folder, Shop(folder, now_us), real=server)
        hands.secrets |= {secret for pair in SECRETS.values() for secret in pair}
        w = Shop3(hands, {})
        _first_administrator(w, server.log)
        _people_by_one_time_codes(w)
        _machine(w)
        _policy(w)
        _first_submission(w)
        _edit(w)
        _drift(w)
        _edit_at_the_control(w)
        _go_back(w)
        _recall(w)
        _withdraw(w)
        _prove_out(w)
        hands.close()
        assert server.stop() == 0
    hands.settle()
    assert records.verify_ledger(folder).entries == hands.size() > 40
    hands.shop.close_thread()


def _first_administrator(w: Shop3, log: str) -> None:
    code = re.search(r"one-time code: ([0-9A-Z-]{19})", log)
    assert code
    fay = w.hands.screen()
    assert fay.get("/").location == "/sign-in" and fay.get("/sign-in").location == "/first"
    assert w.hands.screen().get("/readyz").status == 503
    password, pin = SECRETS["fay"]
    given = {"shop_name": "Turning shop", "login": "fay", "full_name": "First F", "password": password, "pin": pin}
    given |= {"password_again": password, "pin_again": pin}
    assert fay.act("/first", "first", **given, code="2345-6789-ABCD-EFGH").status == 403
    assert fay.act("/first", "first", **given, code=code.group(1)).location == "/"
    w.hands.secrets.add(fay.cookie())
    assert "First F" in fay.get("/").text and "There is no machine yet" in fay.get("/").text
    assert fay.get("/first").status == 403, "the code is good once"
    w.screens["fay"] = fay


def _people_by_one_time_codes(w: Shop3) -> None:
    fay, pin = w.screens["fay"], w.pin("fay")
    rows = (("paul", "Programmer P", "programmer"), ("lina", "Lead L", "lead"), ("lars", "Lead R", "lead"))
    for login, name, role in (*rows, ("olga", "Operator O", "operator")):
        shown = fay.act("/people", "people", login=login, full_name=name, role=[role], pin=pin)
        code = re.search(r"[2-9A-Z]{4}(?:-[2-9A-Z]{4}){3}", shown.text)
        assert shown.status == 200 and code
        assert code.group() not in fay.get("/people").text, "a code is shown once"
        password, own = SECRETS[login]
        new = {"login": login, "password": password, "password_again": password, "pin": own, "pin_again": own}
        screen = w.hands.screen()
        assert screen.act("/welcome", "welcome", **new, code="2345-6789-ABCD-EFGH").status == 403
        assert screen.act("/welcome", "welcome", **new, code=code.group()).location == "/sign-in"
        assert w.hands.screen().act("/welcome", "welcome", **new, code=code.group()).status == 403, "good once"
        assert w.hands.sign_in(screen, login, password).location == "/"
        w.screens[login] = screen
        w.hands.secrets.add(code.group())


def _machine(w: Shop3) -> None:
    fay, pin = w.screens["fay"], w.pin("fay")
    given = {"name": "L1", "folder": "floor/L1", "pin": pin}
    wrong = fay.act(
        "/machine-files", "machine-files", {"profile": ("l1.toml", b"kind = 'lathe'\nwings = 2\n")}, **given
    )
    assert wrong.status == 422 and "wings" in wrong.text
    assert fay.get("/machine-files/L1").status == 404, "nothing is stored until there is no mistake"
    file = {"profile": ("l1.toml", machine_text(generic_lathe()).encode())}
    assert fay.act("/machine-files", "machine-files", file, **given).location == "/machine-files"
    assert "kind = " in fay.get("/machine-files/L1").text
    for who in ("paul", "lina", "olga"):
        assert fay.get("/people").status == 200 and w.screens[who].get("/machine-files").status == 403
    w.hands.until(lambda: w.screens["fay"].get("/readyz").status == 200)
    assert "Nothing is released to this machine" in w.screens["olga"].get("/at/L1").text


def _policy(w: Shop3) -> None:
    lina = w.screens["lina"]
    text = policy_text(default_policy()).replace("version = 1", "version = 2")
    file = {"policy": ("shop.toml", text.encode())}
    done = lina.act("/policy", "policy", file, reason="agreed at the round", pin=w.pin("lina"))
    assert done.location == "/policy" and "version 2" in lina.get("/policy").text
    assert w.screens["fay"].get("/policy").status == 200 and w.screens["paul"].get("/policy").status == 403


def _submit(w: Shop3, text: str, reason: str = "as the drawing asks", who: str = "paul") -> str:
    """Hand in O42; gives the page of its revision."""
    file = {"program_file": ("o42.nc", text.encode())}
    answer = w.screens[who].act("/submit", "submit", file, program="O42", target="L1", reason=reason)
    assert answer.status == 303, answer.refused
    return answer.location


def _decide(w: Shop3, page: str, verdict: str = "approve", who: str = "lina", **more: str) -> int:
    form = w.screens[who].form(page, "decide")
    form.tick_all("seen_critical")
    return w.screens[who].send(form, verdict=verdict, reason="looked at every card", pin=w.pin(who), **more).status


def _release(w: Shop3, page: str, who: str = "paul") -> None:
    answer = w.screens[who].act(page, "release", reason="for the next batch", pin=w.pin(who))
    assert answer.location == page, answer.refused
    w.hands.until(lambda: "at the machine" in w.screens[who].get(page).text)


def _confirm(w: Shop3, text: str) -> None:
    """Send back what the control holds, spelled as a control would, and confirm by it."""
    olga, page = w.screens["olga"], "/at/L1/O42"
    file = {"sent": ("o42.txt", text.replace(" ", "").replace("\n", "\r\n").encode())}
    shown = olga.get(olga.act(page, "readback", file).location)
    assert "Word for word the release" in shown.text, shown.refused
    done = olga.send(shown.form("confirm", "readback"), pin=w.pin("olga"))
    assert done.status == 303, done.refused
    assert "confirmed (strong)" in olga.get("/at/L1").text


def _revision(w: Shop3) -> records.RevisionFacts:
    return records.revisions(w.hands.shop, "O42", "L1")[-1]


def _first_submission(w: Shop3) -> None:
    page = _submit(w, BASE, "first piece was good")
    shown = w.screens["lina"].get(page).text
    assert "first submission" in shown and CAUTION in shown.replace("&#39;", "'")
    assert page in w.screens["lina"].get("/decide").text and page in w.screens["lars"].get("/").text
    assert w.screens["paul"].get("/decide").status == 403 and not w.hands.file("O42").exists()
    assert _decide(w, page) == 303 and _revision(w).state == "cleared"
    assert not w.hands.file("O42").exists(), "a decision alone puts nothing at a machine"
    _release(w, page)
    assert w.hands.file("O42").read_bytes() == BASE.encode()
    assert "/at/L1/O42" in w.screens["olga"].get("/").text
    _confirm(w, BASE)
    assert "No release waits to be confirmed" in w.screens["olga"].get("/").text


def _edit(w: Shop3) -> None:
    page = _submit(w, SMALLER, "the seat was too tight")
    shown = w.screens["lina"].get(page).text
    assert "Changed behaviour" in shown and "X47.6" in shown and "Z-44.2" in shown
    assert _revision(w).state == "held" and w.hands.file("O42").read_bytes() == BASE.encode()
    assert _decide(w, page) == 303
    _release(w, page)
    assert w.hands.file("O42").read_bytes() == SMALLER.encode()
    assert _revision(w).check_code in w.screens["olga"].get("/at/L1/O42").text
    _confirm(w, SMALLER)
    history = w.screens["olga"].get("/programs/L1/O42").text
    for told in ("approved", "released", "written to machine", "read back", "confirmed", "Programmer P", "Lead L"):
        assert told in history


def _drift(w: Shop3) -> None:
    """Somebody edits the floor copy by hand: told on three pages, and not written over by itself."""
    edited = SMALLER.replace("F0.25", "F0.4").encode()
    w.hands.file("O42").write_bytes(edited)
    olga = w.screens["olga"]
    w.hands.until(lambda: "edited" in olga.get("/at/L1").text.lower())
    assert "edited" in olga.get("/").text.lower() and "edited" in w.screens["fay"].get("/").text.lower()
    assert re.search(r">L1</a>.*<strong>1</strong></td></tr>", olga.get("/at").text), "counted among the machines"
    probe = w.hands.screen().get("/readyz")
    assert "O42" not in probe.text and "L1" not in probe.text, "whoever watches is told no names"
    again = w.screens["lina"].act("/at/L1/O42", "write-again", reason="it was edited", pin=w.pin("lina"))
    assert again.status == 303
    w.hands.until(lambda: "edited at the machine; read it back" in olga.get("/at/L1/O42").text)
    assert w.hands.file("O42").read_bytes() == edited, "an edit that nobody has read back is not written over"


def _edit_at_the_control(w: Shop3) -> None:
    """The edit is read back, kept, and becomes a revision of its own; the release is then written again."""
    edited = w.hands.file("O42").read_bytes()
    olga = w.screens["olga"]
    assert olga.act("/at/L1/O42", "readback", {"sent": ("o42.txt", edited)}).status == 303
    page = olga.get("/at/L1/O42").text
    assert "is not the release" in page and "F0.4" in page
    w.hands.until(lambda: w.hands.file("O42").read_bytes() == SMALLER.encode())
    before = _revision(w).n
    done = olga.act("/at/L1/O42", "submit", reason="the operator's feed")
    assert done.status == 303 and _revision(w).n == before + 1 and _revision(w).state == "held"
    assert records.body(w.hands.shop, _revision(w).sha) == edited
    assert _decide(w, done.location, "turn back", who="lars") == 303
    assert "read-back" in olga.get("/at/L1").text.lower() and "Not as released" in olga.get("/at/L1").text, (
        "until the control sends back the release"
    )
    _confirm(w, SMALLER)
    w.hands.until(lambda: "holds what is released, and nothing else" in olga.get("/at/L1").text)


def _go_back(w: Shop3) -> None:
    """A third release goes badly; the operator alone returns to the one that was proven."""
    page = _submit(w, SMALLER.replace("S160", "S150"), "quieter")
    assert _decide(w, page, who="lars") == 303
    _release(w, page, who="lina")
    olga = w.screens["olga"]
    done = olga.act("/at/L1/O42", "go-back", reason="it chatters", pin=w.pin("olga"))
    assert done.location == "/at/L1/O42", done.refused
    w.hands.until(lambda: w.hands.file("O42").read_bytes() == SMALLER.encode())
    w.hands.until(lambda: "The file is at the machine" in olga.get("/at/L1/O42").text)
    assert "Revision 2" in olga.get("/at/L1/O42").text
    _confirm(w, SMALLER)


def _recall(w: Shop3) -> None:
    standing = records.at_machine(w.hands.shop, "L1")[0]
    lina = w.screens["lina"]
    done = lina.act(f"/revisions/{standing.revision}", "recall", reason="wrong drawing", pin=w.pin("lina"))
    told = lina.get(done.location).text
    assert "is recalled" in told and "Believed to hold it: L1" in told
    w.hands.until(lambda: not w.hands.file("O42").exists())
    olga = w.screens["olga"]
    for url in ("/at/L1", "/at/L1/O42"):
        assert "Stop: O42 revision 2 is recalled" in olga.get(url).text
    assert "Nothing is to be run here" in olga.get("/at/L1/O42").text


def _withdraw(w: Shop3) -> None:
    page = _submit(w, SMALLER.replace("X47.6", "X47.5"), "by mistake")
    paul = w.screens["paul"]
    assert paul.act(page, "withdraw", reason="the wrong file", pin=w.pin("paul")).location == page
    assert _revision(w).state == "withdrawn" and page not in w.screens["lina"].get("/decide").text


def _prove_out(w: Shop3) -> None:
    """A change without its speed clamp is let out for prove-out, confirmed by readings, and then released."""
    page = _submit(w, NO_CLAMP, "the clamp is in the chuck's own limit now")
    assert _revision(w).has_critical
    untouched = w.screens["lina"].form(page, "decide")
    unread = w.screens["lina"].send(
        untouched, verdict="prove-out", machine="L1", days="1", reason="r", pin=w.pin("lina")
    )
    assert unread.status == 422 and "not ticked" in unread.text, "each new critical finding is ticked by itself"
    assert _decide(w, page, "prove-out", machine="L1", days="2") == 303
    w.hands.until(lambda: w.hands.file("O42").exists())
    olga = w.screens["olga"]
    w.hands.until(lambda: "The file is at the machine" in olga.get("/at/L1/O42").text)
    assert "in prove-out until" in olga.get("/at/L1/O42").text
    done = olga.act("/at/L1/O42", "confirm", readings="47.98, 44.50", pin=w.pin("olga"))
    assert done.location == "/at/L1/O42" and _revision(w).state == "cleared"
    _release(w, page)
    assert _revision(w).state == "released" and w.hands.file("O42").read_bytes() == NO_CLAMP.encode()
    assert 'name="code"' not in olga.get("/at/L1/O42").text, "a critical change is confirmed by a read-back only"
    _confirm(w, NO_CLAMP)
