"""What a machine's pages say of files and read-backs that are not the release, and how a word to be read is asked for."""

from __future__ import annotations

from dataclasses import asdict, replace

from page_walk import BASE, SMALLER, act, file_of, newest, released
from service_shop import Site

from verifier import records
from verifier.floor import check_floor, drift_advice
from verifier.floor import watch as floor_watch
from verifier.records import ChallengeWord
from verifier.service.standing import amiss, asked, release_of
from verifier.service.telling import moment, sentence


def look(site: Site) -> None:
    records.claim_look(site.shop, 0)
    records.keep_look(site.shop, [asdict(drift) for drift in check_floor(site.shop)])


def test_a_file_edited_in_the_folder_is_told_at_the_machine_until_it_is_put_right(site: Site) -> None:
    found = released(site)
    otto, leo, file = site.client("otto"), site.client("leo"), site.folder / "floor" / "L1" / "O42.NC"
    look(site)
    assert "The file is at the machine" in otto.get("/at/L1/O42").text
    file.write_bytes(BASE.replace("F0.25", "F0.5").encode())
    look(site)
    for url in ("/at/L1/O42", "/at/L1"):
        assert "Edited" in otto.get(url).text and "Do not run it" in otto.get(url).text
    assert "The file is at the machine." not in otto.get("/at/L1/O42").text
    assert "not as released: edited" in leo.get(f"/revisions/{found.id}").text
    act(leo, "/at/L1/O42/write-again", revision=found.id)
    assert "read it back" in leo.get("/at/L1/O42").text and file.read_bytes() != BASE.encode()
    otto.post("/at/L1/O42/readback", {"revision": found.id, "sent": file_of(BASE.replace("F0.25", "F0.5"))})
    act(leo, "/at/L1/O42/write-again", revision=found.id)
    assert file.read_bytes() == BASE.encode()
    shown = otto.get("/at/L1/O42").text  # nobody looked at the folder since, but the file was written and read back
    assert "The file is at the machine." in shown and "Edited" not in shown
    assert "The last read-back differs. Do not run it." in shown


def test_an_equal_read_back_ends_what_an_earlier_one_said(site: Site) -> None:
    found = released(site)
    otto = site.client("otto")
    otto.post("/at/L1/O42/readback", {"revision": found.id, "sent": file_of(BASE.replace("F0.25", "F0.5"))})
    look(site)
    assert [one.kind for one in amiss(site.shop, records.last_look(site.shop))] == ["read-back differs"]
    otto.post("/at/L1/O42/readback", {"revision": found.id, "sent": file_of(BASE)})
    assert amiss(site.shop, records.last_look(site.shop)) == ()
    assert "Do not run it" not in otto.get("/at/L1/O42").text


def test_a_read_back_of_another_revision_is_told_as_that(site: Site) -> None:
    first = released(site)
    otto = site.client("otto")
    otto.post("/at/L1/O42/readback", {"revision": first.id, "sent": file_of(BASE.replace("F0.25", "F0.5"))})
    released(site, SMALLER)
    shown = otto.get("/at/L1/O42").text
    assert "is not what it should have held then (revision 1)" in shown
    assert "Submit what the control holds" in shown
    act(otto, "/at/L1/O42/submit", sha=records.drifted(site.shop)[0].sha)
    shown = otto.get("/at/L1/O42").text
    assert "Submit what the control holds" not in shown and f"revision {newest(site).n}</a>, which is held" in shown


def test_a_word_is_asked_for_in_its_block_and_no_asked_word_is_given_away(site: Site) -> None:
    released(site)
    release = release_of(site.shop, "L1", "O42")
    assert release
    words = (ChallengeWord("line 8, word X", "X54."), ChallengeWord("line 9, word X", "X48."))
    first, second = asked(replace(release, challenge=words), BASE.encode())
    assert first.block == "N60 G00 X… Z3. M08" and second.block == "N70 G01 X… F0.25" and second.letter == "X"
    long = (ChallengeWord("line 9, word F", "F0.2"), ChallengeWord("line 99, word Z", "Z1."))
    hidden, beyond = asked(replace(release, challenge=long), BASE.encode())
    assert hidden.block == "" and beyond.block == "" and beyond.place == "line 99, word Z"


def test_every_kind_of_drift_has_its_advice() -> None:
    kinds = [
        value
        for name, value in vars(floor_watch).items()
        if name.isupper()
        and isinstance(value, str)
        and not name.startswith("_")
        and name not in ("MANIFEST", "TEMPORARY")
    ]
    assert len(kinds) == 11
    assert [kind for kind in kinds if drift_advice(kind) == drift_advice("no such kind")] == []


def test_times_are_told_by_the_clock_on_the_wall_with_its_distance_from_utc() -> None:
    assert moment(None) == "–"
    assert " UTC" in moment(1_800_000_000_000_000)


def test_a_message_becomes_a_sentence() -> None:
    assert [sentence(text) for text in ("the file is gone", "Stop.", "so:", "")] == [
        "The file is gone.",
        "Stop.",
        "So:",
        "",
    ]
