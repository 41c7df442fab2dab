"""Which findings tell a kind of hazardous edit rightly. Any one of them, with a cause on an edited line, is a hit; `undetermined` is none.

A kind names what a hand did; what that does depends on the place (a digit in X is a position, the same digit in F a feed). So the kinds
that may stand at any word accept the rules of all such words, and the catch-all `behaviour-changed-otherwise` is accepted nowhere but
where it says what no closer rule can.
"""

from __future__ import annotations

POSITION = {
    "thread-depth-changed", "thread-start-changed", "tool-change-position-changed", "datum-return-changed", "retract-order-changed",
    "position-changed", "approach-clearance-changed", "retract-clearance-changed", "curve-changed", "arc-not-possible",
    "cycle-amount-changed", "moves-added", "moves-removed", "setup-note-changed",
}  # fmt: skip
# Of a cycle that cannot be computed before or after, its words are told as they are written, the feed among them.
FEED = {"cycle-amount-changed", "feed-changed", "feed-missing", "feed-at-rapid-rate", "thread-lead-changed"}
SPEED = {"speed-changed", "speed-clamp-raised", "speed-clamp-lowered", "speed-above-limit", "speed-missing"}
ANY_WORD = (
    POSITION
    | FEED
    | SPEED
    | {"decimal-point-lost", "sign-lost", "dwell-changed", "state-left-changed", "remark-changed"}
)
ALONE = {"sequence-start-incomplete"}
SPINDLE = {"spindle-state-changed", "not-turning-while-cutting", "momentary-state-changed"}
CONTOUR = {"contour-label-missing", "contour-label-moved", "contour-label-repeated"}
ORDER = {"order-changed", "moves-added", "moves-removed", "position-changed"}
STATES = {
    "coolant-changed",
    "speed-mode-changed",
    "feed-mode-changed",
    "units-changed",
    "compensation-changed",
    "work-offset-changed",
    "tool-changed",
}

ACCEPTED: dict[str, frozenset[str]] = {
    kind: frozenset(rules)
    for kind, rules in {
        # In a dwell the word is a time: its seconds before and after are told.
        # In a coordinate preset it shifts all that follows: the preset is told as it was and as it is.
        "point lost": {"decimal-point-lost", "point-rests-on-unverified-choice", "dwell-changed", "work-offset-changed"},
        "point gained": {"decimal-point-lost", "point-rests-on-unverified-choice", "dwell-changed", "work-offset-changed"},
        "point moved left": {"decimal-point-lost", "dwell-changed", "work-offset-changed"} | POSITION,
        "point moved right": {"decimal-point-lost", "dwell-changed", "work-offset-changed"} | POSITION,
        # There is no time below zero: the dwell is told with the word as it is written now.
        "sign lost": {"sign-lost", "work-offset-changed", "dwell-changed"},
        "sign gained": {"sign-lost", "work-offset-changed", "dwell-changed"},
        "digit dropped": ANY_WORD | {"feed-became-rapid", "work-offset-changed"},
        "digits swapped": ANY_WORD | {"feed-became-rapid", "work-offset-changed"},
        "place and increment exchanged": {"increment-word-exchanged"},
        "feed doubled": FEED,
        "feed ten times": FEED | {"decimal-point-lost"},
        "feed halved": FEED,
        "feed deleted": FEED | ALONE,
        "clamp deleted": {"speed-clamp-removed", "speed-clamp-lowered", "speed-clamp-raised", "speed-clamp-missing", "state-left-changed"} | ALONE,
        "clamp raised": {"speed-clamp-raised", "state-left-changed"},
        "clamp behind the speed word": {"speed-clamp-after-speed-word"},
        "speed mode exchanged": {"speed-mode-changed", "state-left-changed"},
        "speed doubled": {"speed-changed", "speed-above-limit", "state-left-changed"},
        "spindle sense exchanged": {"spindle-sense-changed"},
        "spindle start deleted": SPINDLE | ALONE,
        "rapid became feed": {"rapid-became-feed"},
        "feed became rapid": {"feed-became-rapid"},
        "arc sense exchanged": {"direction-changed", "curve-changed"},
        "arc centre changed": {"curve-changed", "arc-not-possible"},
        "compensation side exchanged": {"compensation-changed"},
        "compensation cancel deleted": {"compensation-changed"} | ALONE,
        "compensation deleted": {"compensation-changed"},
        "tool changed": {"tool-changed"},
        "offset changed": {"tool-offset-changed"},
        "work offset changed": {"work-offset-changed"},
        "units exchanged": {"units-changed"},
        # A sequence that only threads has one lead in either mode: then the mode is only left behind at the end.
        "feed mode exchanged": {"feed-mode-changed", "state-left-changed"},
        "approach shortened": {"approach-clearance-changed", "position-changed"},
        "safety block deleted": {"feed-mode-changed", "speed-mode-changed", "units-changed", "compensation-changed", "search-number-moved"} | ALONE,
        "coolant deleted": {"coolant-changed", "coolant-off-while-cutting"} | ALONE,
        "coolant off deleted": {"coolant-changed", "sequence-end-unsafe"},
        "spindle stop deleted": SPINDLE | {"sequence-end-unsafe"},
        "dwell deleted": {"dwell-changed"},
        "dwell ten times": {"dwell-changed"},
        "optional stop deleted": {"stop-removed"},
        "optional became program stop": {"stop-removed", "stop-added"},
        "slash added": {"skip-changed"},
        "program end deleted": {"program-end-changed", "program-end-missing"},
        "program end became repeat": {"program-end-became-repeat"},
        "peck ten times": {"cycle-amount-changed"},
        "thread depth ten times": {"thread-depth-changed"},
        "allowance sign": {"sign-lost"},
        "cycle amount ten times": {"cycle-amount-changed", "decimal-point-lost"},
        "label renumbered alone": CONTOUR | {"call-changed", "subprogram-missing"},
        # The label may name a contour that no cycle can cut: one block.
        # Without its first block an arc of the contour begins elsewhere, and fits no more.
        "cycle label changed": CONTOUR | {"cycle-not-possible", "arc-not-possible", "call-changed", "subprogram-missing"},
        "thread lead changed": {"thread-lead-changed"},
        "infeed angle changed": {"thread-depth-changed"},
        "finish passes changed": {"thread-depth-changed"},
        "pull-out changed": {"thread-depth-changed"},
        "repeat count changed": {"repeat-count-changed"},
        "another subprogram": {"call-changed", "subprogram-missing"},
        "blocks exchanged": ORDER | STATES | FEED | SPEED | SPINDLE | CONTOUR | {
            "feed-became-rapid", "rapid-became-feed", "tool-change-near-work", "sequence-end-unsafe", "cycle-not-possible",
            "approach-clearance-changed", "retract-clearance-changed", "curve-changed", "speed-clamp-after-speed-word",
            "stop-added", "stop-removed", "program-end-changed", "skip-changed", "units-changed", "offset-not-established",
            "search-number-moved", "dwell-changed", "direction-changed", "tool-offset-changed", "speed-clamp-removed", "unreached-block-changed",
            "cycle-amount-changed", "datum-return-changed", "retract-order-changed", "thread-depth-changed", "thread-start-changed",
            # Homed first, and gone out again: the next tool is called there.
            "tool-change-position-changed",
        } | ALONE,
        # What the line does is done twice: its move, its stop, its dwell, its call, its cycle (whose start is then another).
        "block repeated": {"moves-added", "position-changed", "retract-clearance-changed", "approach-clearance-changed", "curve-changed",
            "cycle-amount-changed", "stop-added", "dwell-changed", "call-changed", "repeat-count-changed", "arc-not-possible",
            "thread-depth-changed"},  # passes of a thread are told by their number and infeed
        "block deleted": POSITION | {"speed-changed", "feed-changed", "dwell-changed", "tool-changed", "tool-offset-changed", "units-changed",
            "rapid-became-feed", "feed-became-rapid", "coolant-changed", "spindle-state-changed", "search-number-moved", "direction-changed",
            "unreached-block-changed"} | CONTOUR | ALONE,
        "sequence removed": {"sequence-removed"},
        "sequences exchanged": {"order-changed", "sequence-removed", "moves-removed"},
        "home through another point": {"datum-return-changed"},
        "preset changed": {"position-changed", "work-offset-changed", "approach-clearance-changed", "behaviour-changed-otherwise"},
        "word gone at a sequence's head": {"speed-mode-changed", "feed-mode-changed", "units-changed", "compensation-changed", "feed-became-rapid",
            # Without its G00 the approach is one more pass of the cycle that is in force: the rapid is gone.
            "rapid-became-feed", "motion-not-established", "moves-removed"} | ALONE,
        "chuck or quill before spindle stop": {"states-must-not-meet", "auxiliary-changed", "order-changed", "spindle-state-changed"},
        "quill back early": {"auxiliary-changed", "order-changed"},
        "chuck or quill code deleted": {"auxiliary-changed"},
        # Where the rapid behind one cut ends the next one begins.
        # Half way may lie beyond zero: then the word's sign is told with both numbers.
        "retract shortened": {"retract-clearance-changed", "approach-clearance-changed", "position-changed", "tool-change-position-changed",
            "sign-lost"},
        "variable value": {"variable-changed"} | POSITION | FEED | SPEED,
        "number in an expression": {"variable-changed"} | POSITION | FEED | SPEED,
        "another variable": {"variable-changed", "variable-not-set"} | POSITION | FEED | SPEED,
        "comparison sense": {"moves-added", "moves-removed", "variable-changed", "run-does-not-end", "position-changed"},
        "another jump": {"jump-or-loop-wrong", "moves-added", "moves-removed"},
        # A contour or a loop pasted twice has its labels twice. A thread that the same tool cuts again is told by its passes, before and after.
        "sequence twice": {"sequence-added", "moves-added", "contour-label-repeated", "jump-or-loop-wrong", "thread-depth-changed"},
        # Moved over the head of the next sequence it only changes where that one can be started.
        "stop moved": {"stop-removed", "stop-added"} | ALONE,
        "number in a note": {"setup-note-changed", "program-number-changed", "program-identity-changed"},
    }.items()
}  # fmt: skip
