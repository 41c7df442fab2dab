"""Reads the forms of a page as a browser does, so that steps are made with what the page really offers."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser


@dataclass
class Form:
    """One form: where it is sent to (empty: the page itself), how, and the fields it would send as it stands."""

    action: str
    method: str
    fields: dict[str, list[str]] = field(default_factory=dict)
    boxes: list[tuple[str, str]] = field(default_factory=list)
    """Boxes and choices that are not ticked: (name, value)."""

    def tick_all(self, name: str) -> None:
        """Tick every box of a name."""
        self.fields[name] = [value for known, value in self.boxes if known == name] + self.fields.get(name, [])


def forms_of(text: str) -> list[Form]:
    """The forms of a page, in its order."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    return reader.found


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[Form] = []
        self.form: Form | None = None
        self.select: str | None = None
        self.area: list[str] | None = None
        self.area_name = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value if value is not None else "" for name, value in attrs}
        if tag == "form":
            self.form = Form(given.get("action", ""), given.get("method", "get").lower())
            self.found.append(self.form)
        if self.form is None:
            return
        if tag == "input":
            self._input(self.form, given)
        elif tag == "select":
            self.select = given.get("name", "")
        elif (
            tag == "option" and self.select is not None and ("selected" in given or self.select not in self.form.fields)
        ):
            self.form.fields[self.select] = [given.get("value", "")]
        elif tag == "textarea":
            self.area, self.area_name = [], given.get("name", "")

    def _input(self, form: Form, given: dict[str, str]) -> None:
        kind, name, value = given.get("type", "text"), given.get("name", ""), given.get("value", "")
        if not name or kind == "file":
            return
        if kind in ("checkbox", "radio") and "checked" not in given:
            form.boxes.append((name, given.get("value", "on")))
        else:
            form.fields.setdefault(name, []).append(value)

    def handle_data(self, data: str) -> None:
        if self.area is not None:
            self.area.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        elif tag == "select":
            self.select = None
        elif tag == "textarea" and self.area is not None and self.form is not None:
            self.form.fields[self.area_name] = ["".join(self.area).removeprefix("\n")]
            self.area = None
