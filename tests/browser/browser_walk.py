"""From an empty folder to a machine that went back, as new people would walk it: only what is on the pages is read, clicked and typed."""

from __future__ import annotations

import re
import time
from dataclasses import dataclass
from pathlib import Path

from browser_hands import Floor, Person

ROOT = Path(__file__).parents[2]
SHOP = ROOT / "fixtures" / "shop"
SLEEVE = (SHOP / "programs" / "flanged-sleeve" / "base.nc").read_bytes()
SHAFT = (SHOP / "programs" / "drive-shaft" / "base.nc").read_bytes()
STUD = (SHOP / "programs" / "clamp-stud" / "base.nc").read_bytes()
STUD_SETUP = (SHOP / "setups" / "clamp-stud.toml").read_bytes()
SETUP = (SHOP / "setups" / "flanged-sleeve.toml").read_bytes()
FASTER = SLEEVE.replace(b"Z-46. F0.3", b"Z-46. F0.6").replace(b"G50 S1800\r\n", b"", 1).replace(b"G50 S1800\n", b"", 1)
"""The sleeve with the rougher's feed doubled and its speed clamp removed."""
EDITED = FASTER.replace(b"Z-46. F0.6", b"Z-46. F0.9")
OFFICE = FASTER.replace(b"Z-46. F0.6", b"Z-46. F0.5").replace(b"S180", b"S170", 1)
MARKUP = "<script>document.title='taken'</script><img src=//elsewhere.example/x onerror=alert(1)><b>"
WAIT_S = 30


@dataclass
class People:
    """Who belongs to the shop of this walk."""

    ada: Person
    pia: Person
    leo: Person
    otto: Person


def hire(floor: Floor) -> People:
    """Four people, each with a browser, a password and a PIN of their own in mind."""
    return People(
        floor.person("Administrator A", "ada", "bench vice blue 7", "402817"),
        floor.person("Programmer P", "pia", "slow feed at dawn", "118243"),
        floor.person("Lead L", "leo", "two lamps and a bell", "907755"),
        floor.person("Operator O", "otto", "coffee by the lathe", "336190"),
    )


def open_the_shop(people: People, log: str) -> None:
    """The first administrator comes in with the one-time code that the server printed, and makes the shop."""
    ada, code = people.ada, re.search(r"one-time code: ([0-9A-Z-]{19})", log)
    assert code, log
    ada.open("/").sees("Nobody can sign in yet").look("first")
    form = (
        ada.form("Open the shop").fill("One-time code", "2222-2222-2222-2222").fill("Name of the shop", "Turning shop")
    )
    form.fill("Your full name", ada.name).fill("Login", ada.login).secrets().press()
    ada.sees("not the one that was printed").look("first-wrong-code")
    ada.form("Open the shop").fill("One-time code", code.group(1)).secrets().press()
    ada.sees("The shop is open").look("home-empty-administrator")


def add_people(people: People) -> None:
    """The administrator adds the others and hands each of them a one-time code; they set their own password and PIN."""
    ada = people.ada
    for person, role in ((people.pia, "programmer"), (people.leo, "lead"), (people.otto, "operator")):
        ada.follow("People")
        form = ada.form("Add, and show a one-time code").fill("Full name", person.name).fill("Login", person.login)
        form.tick(role).sign()
        code = ada.sees(f"One-time code for {person.name}").look("code").text_of(".keep")
        person.open("/").follow("I have a one-time code").look("welcome")
        form = person.form("Set password and PIN").fill("Login", person.login).fill("One-time code", code)
        form.secrets().press().sees("Your password and PIN are set").look("sign-in")
        person.form("Sign in").fill("Login", person.login).fill("Password", person.password).press().sees("What waits")
        person.look(f"home-empty-{role}")
    ada.follow("People").look("people").follow(people.leo.name).look("person")


def add_machines(people: People) -> None:
    """A profile with a mistake is told; then two machines come, one of which runs from its folder."""
    ada, button = people.ada, "Add the machine"
    people.pia.follow("Submit").sees("There is no machine yet").look("submit-no-machine")
    ada.follow("Machine files").look("machine-files-empty")
    profile = (SHOP / "machines" / "north-lathe.toml").read_bytes()
    ada.form(button).upload("Machine profile", "north-lathe.toml", profile.replace(b"rapid =", b"rapide ="))
    ada.form(button).fill("Folder", "floor/north").sign()
    ada.sees("The file is not valid", "rapide").look("machine-files-refused")
    ada.form(button).upload("Machine profile", "north-lathe.toml", profile).fill("Folder", "floor/north").sign()
    ada.sees("north-lathe is added")
    dock = (SHOP / "machines" / "dock-lathe.toml").read_bytes()
    form = ada.form(button).upload("Machine profile", "dock-lathe.toml", dock).fill("Folder", "floor/dock")
    form.tick("waits until the operator takes it over").sign().sees("dock-lathe is added").look("machine-files")
    ada.follow("north-lathe").look("machine-file")


def set_policy(people: People) -> None:
    """The lead puts the shop's own policy in force."""
    leo = people.leo.follow("Policy").look("policy")
    policy = (SHOP / "policy.toml").read_bytes()
    leo.form("Put it in force").upload("Policy", "policy.toml", policy).sign("the limits of this shop")
    version = re.search(rb"^version = ([0-9]+)$", policy, re.MULTILINE)
    assert version is not None
    leo.sees(f"shop-policy, version {version[1].decode()}").look("policy-set")


def first_submissions(people: People) -> None:
    """A program is handed in as a file with its setup sheet, another one by pasting its text."""
    pia = people.pia.follow("Home").follow("Submit a program").look("submit")
    form = (
        pia.form("Submit")
        .fill("Program", "O2102")
        .fill("Reason", "First batch of the sleeve")
        .choose("For", "north-lathe")
    )
    form.press().sees("There is no program").look("submit-refused")
    form = pia.form("Submit").upload("The program, as a file", "o2102.nc", SLEEVE)
    form.upload("Setup sheet, if there is one", "sleeve.toml", SETUP).press()
    pia.sees("O2102 revision 1 is submitted; it is held", "A lead has to decide").look("first-submission")
    form = pia.follow("Submit").form("Submit").fill("Program", "O2101").fill("Reason", "New shaft, threaded end")
    form.choose("For", "north-lathe").fill("Or as text", SHAFT.decode()).press()
    pia.sees("O2101 revision 1 is submitted; it is held")
    pia.follow("Home").look("home-programmer").follow("Programs").look("programs")


def decide_first(people: People) -> None:
    """The lead approves the one and turns the other back; a wrong PIN decides nothing."""
    leo, button = people.leo, "Sign the decision"
    leo.follow("Home").look("home-lead").follow("To decide").look("to-decide").follow("O2102 revision 1")
    form = leo.form(button).tick("approve it").tick_all("New critical findings").fill("Reason", "looked at")
    form.fill("Your PIN", "000000").press().sees("is not right").look("decision-wrong-pin")
    leo.form(button).tick_all("New critical findings").sign("read against the drawing").sees(
        "O2102 revision 1 is cleared"
    )
    leo.follow("To decide").follow("O2101 revision 1")
    leo.form(button).tick("turn it back").sign("The setup sheet is missing.").sees("is turned back").look("turned-back")
    leo.follow("To decide").look("to-decide-empty")
    people.pia.follow("Home").follow("O2101 revision 1").sees("The setup sheet is missing.")


def release(person: Person, program: str, n: int, state: str = "") -> None:
    """Its author or a lead releases what is cleared."""
    person.follow("Home").follow(f"{program} revision {n}")
    if state:
        person.look(state)
    person.form("Release it").sign("for the next batch").sees("The revision is released")


def asked_words(person: Person, program: bytes) -> dict[str, str]:
    """The words that the page asks for, read from the program as its control would show it."""
    lines, found = program.decode().splitlines(), {}
    for label in person.page.locator("label").all_inner_texts():
        asked = re.match(r"line (\d+), word ([A-Z])", label)
        if asked:
            word = re.search(rf"{asked[2]}-?[\d.]+", lines[int(asked[1]) - 1])
            assert word, (label, lines[int(asked[1]) - 1])
            found[label] = word.group()
    return found


def to_the_machine(person: Person, machine: str, program: str) -> Person:
    """From anywhere to the program's page at a machine."""
    return person.follow("Machines").follow(machine).follow(program)


def confirm_by_code(people: People) -> None:
    """The operator reads check code and two words at the machine; wrong words confirm nothing."""
    otto, button = people.otto, "Confirm by check code"
    otto.follow("Home").look("home-operator").follow("Machines").look("machines").follow("north-lathe").look("machine")
    otto.follow("O2102").sees("The file is at the machine", "Not yet confirmed").look("at-machine")
    words, code = asked_words(otto, SLEEVE), otto.text_of(".run .code")
    assert len(words) == 2
    for right in (False, True):
        form = otto.form(button).fill("Check code", code)
        for label, word in words.items():
            form.fill(label, word if right else "X1.")
        form.sign().sees("Confirmed by" if right else "are not those")
        otto.look("at-machine-confirmed-weak" if right else "at-machine-wrong-words")


def submit_edit(people: People) -> None:
    """The programmer doubles a feed and takes out a speed clamp; the report says both, on the cards of the edits."""
    pia = people.pia.follow("Programs").follow("O2102").look("program").follow("Submit a revision")
    form = pia.form("Submit").upload("The program, as a file", "o2102-b.nc", FASTER)
    form.upload("Setup sheet, if there is one", "sleeve.toml", SETUP)
    form.fill("Reason", "Roughing takes too long").press().sees("O2102 revision 2 is submitted; it is held")
    pia.sees("Changed behaviour", "F0.6", "Speed clamp").look("report-author").form("Withdraw it")


def decide_edit(people: People) -> None:
    """A decision without the ticks is refused, and what was typed stays; with them the revision is cleared."""
    leo, button, group = people.leo, "Sign the decision", "New critical findings"
    leo.follow("To decide").follow("O2102 revision 2").look("report-lead")
    leo.follow("The blocks behind them, both programs in one column").sees("Compared with revision 1").look("blocks")
    leo.follow("To decide").follow("O2102 revision 2")
    leo.form(button).tick("approve it").sign("clamp stands in the setup sheet")
    leo.sees("not ticked").look("decision-untick")
    leo.form(button).tick_all(group).sign().sees("O2102 revision 2 is cleared").look("report-cleared")


def confirm_by_readback(people: People) -> None:
    """A changed revision with a critical finding is confirmed by a read-back and by nothing else."""
    otto = (
        to_the_machine(people.otto, "north-lathe", "O2102").look("at-machine-critical").misses("Confirm by check code")
    )
    form = otto.form("Compare").upload("The file", "from-control.nc", FASTER.replace(b" ", b""))
    form.press().sees("Word for word the release").look("readback-equal")
    otto.form("Confirm by read-back").sign().sees("Confirmed by read-back").look("at-machine-confirmed-strong")


def floor_drift(people: People, folder: Path) -> None:
    """Somebody edits the file in the machine's folder: the pages say so, and it is not overwritten before it was read back."""
    file = next((folder / "floor" / "north").glob("*2102*.NC"))
    file.write_bytes(EDITED)
    ends = time.monotonic() + WAIT_S
    otto = people.otto.follow("Home")
    while not otto.page.get_by_text("edited").count():
        assert time.monotonic() < ends, "the watch did not see the edited file"
        otto.page.wait_for_timeout(250)
        otto.follow("Home")
    otto.look("home-drift").follow("Machines").look("machines-drift").follow("north-lathe").look("machine-drift")
    otto.follow("O2102").look("at-machine-drift")
    leo = to_the_machine(people.leo, "north-lathe", "O2102")
    leo.form("Write it again").sign("edited by hand in the folder").sees("was edited at the machine").look(
        "not-written"
    )
    assert file.read_bytes() == EDITED


def control_drift(people: People, folder: Path) -> None:
    """What was edited is read back: the page says how it differs, nothing of it is lost, and the file is put right."""
    otto = to_the_machine(people.otto, "north-lathe", "O2102")
    otto.form("Compare").fill("Or its text", EDITED.decode()).press()
    otto.sees("is not the release", "F0.9").look("readback-differs")
    otto.form("Submit what the control holds").fill("Reason", "cut at the control last night").press()
    otto.sees("O2102 revision 3 is submitted").look("control-edit-submitted")
    leo = to_the_machine(people.leo, "north-lathe", "O2102").look("at-machine-readback-differs")
    leo.form("Write it again").sign("its edit is revision 3").sees("The file is at the machine").look("written-again")
    assert next((folder / "floor" / "north").glob("*2102*.NC")).read_bytes() == FASTER


def office_edit(people: People) -> None:
    """While that waits, the office edits the same block: both pages say beforehand what a release would take away."""
    pia = people.pia.follow("Programs").follow("O2102").follow("Submit a revision")
    form = pia.form("Submit").upload("The program, as a file", "o2102-d.nc", OFFICE)
    form.fill("Reason", "The edge breaks out").press().sees("O2102 revision 4 is submitted", "sent back something else")
    pia.look("came-back-otherwise").follow("Who changed what").sees("each otherwise").look("who-changed-what")
    pia.follow("Revision 4").form("Withdraw it").sign("the operator's feed comes first")


def recall_and_go_back(people: People) -> None:
    """The lead recalls; the machine's pages say stop; the operator goes back to what was proven there."""
    leo = people.leo.follow("Programs").follow("O2102").follow("Revision 2")
    leo.form("Recall it").sign("the chuck opens at this speed").sees("Stop: O2102 revision 2 is recalled")
    leo.look("recalled")
    otto = people.otto.follow("Machines").follow("north-lathe").sees("Stop: O2102 revision 2").look("machine-recalled")
    otto.follow("What to run instead").sees("Nothing is to be run here").look("at-machine-recalled")
    otto.form("Go back to revision 1").sign("back to what ran yesterday").sees("goes back to revision 1").look(
        "gone-back"
    )
    waits = leo.follow("Programs").follow("O2102").look("history").follow("Revision 3")
    waits.sees("out of date", "base").look("out-of-date").form("Check it again").sign()
    waits.sees("checked again, because this changed").misses("out of date").look("checked-again")


def prove_out(people: People) -> None:
    """A first program at a machine that runs from its folder: let out for prove-out, taken over, confirmed by readings."""
    pia, leo, otto = people.pia, people.leo, people.otto
    form = pia.follow("Submit").form("Submit").fill("Program", "O1203").choose("For", "dock-lathe")
    form.upload("The program, as a file", "o1203.nc", STUD).upload("Setup sheet, if there is one", "s.toml", STUD_SETUP)
    form.fill("Reason", "Clamp stud, first batch").press().sees("O1203 revision 1 is submitted")
    leo.follow("To decide").follow("O1203 revision 1").look("first-with-hazards")
    form = (
        leo.form("Sign the decision").tick("let it out for prove-out").choose("Machine of the prove-out", "dock-lathe")
    )
    form.tick_all("New critical findings").sign("one piece, slowly").sees("O1203 revision 1 is prove-out").look(
        "let-out"
    )
    otto.follow("Home").look("home-prove-out").follow("Machines").follow("dock-lathe").follow("O1203")
    otto.sees("it waits to be taken over", "Do not run it").look("at-machine-waits")
    otto.form("Take it over").tick("The cycle is stopped").sign().sees("The file is at the machine").look("taken-over")
    form = otto.form("Confirm the prove-out").fill(
        "Readings of the first piece", "0.748 at the thread, 1.250 at the flange"
    )
    form.sign().sees("Confirmed by").look("prove-out-confirmed")


def hostile(people: People) -> None:
    """Notes and reasons that would be markup are letters like all others."""
    pia = people.pia.follow("Submit")
    form = pia.form("Submit").fill("Program", "O1999").fill("Reason", MARKUP).choose("For", "north-lathe")
    text = SHAFT.decode().replace("O2101", "O1999").replace("DRIVE SHAFT", f"{MARKUP} ")
    form.fill("Or as text", text).press().sees(MARKUP).look("markup-report")
    pia.follow("compare with that").sees("not the report that is signed").look("compared")
    pia.follow("The blocks behind them, both programs in one column").sees("Compared with").look(
        "compared-blocks"
    ).follow("O1999 revision 1")
    pia.follow("the program as text").sees(MARKUP).look("markup-text")
    people.leo.follow("Programs").follow("O1999").sees(MARKUP).look("markup-history")


def other_pages(people: People) -> None:
    """Pages that nobody needs on the way: rules, one's own account, an address that leads nowhere, a page for others."""
    people.pia.follow("Rules").look("rules").follow("The speed clamp is removed.").look("rule")
    people.pia.follow(people.pia.name).look("account").follow("Tokens, with which programs act in your name").look(
        "tokens-none"
    )
    form = people.pia.form("Make it").fill("What it is for", "command line at the desk").tick_first("What it may do")
    form.sign().sees("It is shown this once").look("token").follow("Done").look("tokens")
    people.pia.open("/nowhere").sees("Nothing is kept at this address").look("not-found")
    people.otto.open("/people").sees("This is not for you to do").look("not-for-you")
    people.otto.open("/")
    people.leo.follow("Machines").follow("north-lathe").follow("O2102").follow("The change report").look(
        "released-report"
    )
    to_the_machine(people.leo, "north-lathe", "O2102").look("at-machine-lead")
    people.leo.follow("All read-backs of O2102 at north-lathe").look("readbacks").follow("Read-back 2").look("readback")


def screen_at_the_machine(people: People) -> None:
    """An administrator makes a browser the machine's own screen; an operator opens it with login and PIN."""
    ada = people.ada.follow("Machine files").follow("north-lathe")
    ada.form("Make this browser a screen").fill("Name of the screen", "tablet at the north wall").sign()
    ada.sees("This browser is now the screen").look("machine-file-screen").press("Sign out")
    ada.open("/here").look("here").form("Open").fill("Login", people.otto.login).fill("PIN", people.otto.pin).press()
    ada.sees("screen at north-lathe").look("home-at-screen")


def walk(floor: Floor, folder: Path, log: str) -> People:
    """The whole way."""
    people = hire(floor)
    open_the_shop(people, log)
    add_people(people)
    add_machines(people)
    set_policy(people)
    first_submissions(people)
    decide_first(people)
    release(people.pia, "O2102", 1, "cleared")
    confirm_by_code(people)
    submit_edit(people)
    decide_edit(people)
    release(people.pia, "O2102", 2)
    confirm_by_readback(people)
    floor_drift(people, folder)
    control_drift(people, folder)
    office_edit(people)
    recall_and_go_back(people)
    prove_out(people)
    hostile(people)
    other_pages(people)
    screen_at_the_machine(people)
    return people
