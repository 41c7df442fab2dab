"""What the grammar's rules become while Lark parses: items with their place in the line, expressions as values.

Nothing here decides what is right: a fault is carried along with the item and named later.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from lark import Token, Transformer

from verifier.syntax.numbers import read_number
from verifier.syntax.words import Binary, Call, Expression, Literal, Number, TwoOrders, Unary, Variable

DEPTH_LIMIT = 200
"""Nesting of an expression, however it comes about (brackets, signs, variables of variables, long sums)."""

_COMPARISONS = ("EQ", "NE", "GT", "LT", "GE", "LE")
_LOGIC = ("AND", "OR", "XOR")
_PRODUCTS = ("*", "/", "MOD")
_NOTHING = Literal(Number("0", 0, -1))


class Part(NamedTuple):
    """An expression, its place (characters from 0, end excluded), nesting, fault, whether it is in brackets, and of a chain its pieces."""

    node: Expression
    start: int
    end: int
    depth: int = 1
    fault: str = ""
    closed: bool = False
    operators: tuple[str, ...] = ()
    operands: tuple[Part, ...] = ()


class Figure(NamedTuple):
    """A number that stands by itself as a value, with its place; None for one of too many digits."""

    number: Number | None
    start: int
    end: int


class WordItem(NamedTuple):
    """An address with what follows it; `value` is a Part, a plain Number, or None where there is none or none to read."""

    start: int
    end: int
    letter: str
    value: Part | Number | None
    fault: str = ""


class Statement(NamedTuple):
    """A macro statement: kind, place, and its parts in order (target and value of an assignment, else one)."""

    kind: str
    start: int
    end: int
    parts: tuple[Part, ...]


Item = WordItem | Statement | Token


def _start(token: Token) -> int:
    return token.start_pos or 0


def _end(token: Token) -> int:
    return token.end_pos or 0


def _joined(node: Expression, start: int, end: int, parts: tuple[Part, ...]) -> Part:
    """A node over its parts; beyond the depth limit it is not built any more, only said to be too deep."""
    depth = 1 + max((part.depth for part in parts), default=0)
    fault = next((part.fault for part in parts if part.fault), "")
    if depth > DEPTH_LIMIT:
        return Part(_NOTHING, start, end, depth, fault or "too-deep")
    return Part(node, start, end, depth, fault)


class Builder(Transformer[Any, list[Item]]):
    """Callbacks by rule name, as Lark wants them; each gets the rule's children in order."""

    def block(self, children: list[Item]) -> list[Item]:
        """The items of a line, in order; one that is only a token stays a token."""
        return children

    def notes(self, children: list[Token]) -> list[Token]:
        """The pieces of a line, code and notes, in order."""
        return children

    def address(self, children: list[Token]) -> Token:
        """A letter, or a comma and a letter."""
        return children[0]

    def word(self, children: list[Any]) -> WordItem:
        """An address with a value that could be read, or with more signs than one."""
        address, *signs, value = children
        start, letter = _start(address), _letter(address)
        if len(signs) > 1:
            return WordItem(start, value.end, letter, None, "signs")
        if isinstance(value, Figure):
            if value.number is None:
                return WordItem(start, value.end, letter, None, "digits")
            number = read_number(f"{signs[0]}{value.number.text}") if signs else value.number
            return WordItem(start, value.end, letter, number)
        if signs:
            value = _joined(Unary(str(signs[0]), value.node), _start(signs[0]), value.end, (value,))
        return WordItem(start, value.end, letter, None if value.fault else value, value.fault)

    def bad_number(self, children: list[Token]) -> WordItem:
        """An address with a number that is none; the fault is named after its terminal."""
        return WordItem(_start(children[0]), _end(children[-1]), _letter(children[0]), None, children[-1].type)

    def bare(self, children: list[Token]) -> WordItem:
        """An address without a value, with or without a sign."""
        return WordItem(_start(children[0]), _end(children[-1]), _letter(children[0]), None, "bare")

    def figure(self, children: list[Token]) -> Figure:
        """A number as the value of an address."""
        token = children[0]
        try:
            return Figure(read_number(str(token)), _start(token), _end(token))
        except ValueError:
            return Figure(None, _start(token), _end(token))

    def number(self, children: list[Token]) -> Part:
        """A number inside an expression."""
        return _part(self.figure(children))

    def register(self, children: list[Any]) -> Part:
        """A variable as the value of an address."""
        mark, index = children
        return self.variable([mark, _part(index)])

    def variable(self, children: list[Any]) -> Part:
        """A variable inside an expression; its index is a number, a variable or a bracket."""
        mark, index = children
        return _joined(Variable(index.node), _start(mark), index.end, (index,))

    def bracket(self, children: list[Any]) -> Part:
        """Square brackets around an expression."""
        opening, closing = children[0], children[2]
        inner: Part = children[1]
        return inner._replace(start=_start(opening), end=_end(closing), closed=True, operators=(), operands=())

    def signed(self, children: list[Any]) -> Part:
        """A sign before an operand."""
        sign, operand = children
        return _joined(Unary(str(sign), operand.node), _start(sign), operand.end, (operand,))

    def chain(self, children: list[Any]) -> Part:
        """Operands and operators of one level, joined from the left."""
        operators = tuple(str(operator).upper() for operator in children[1::2])
        operands = tuple(children[::2])
        found = _from_left(operators, operands)
        if not found.fault and _unclear(operators, operands):
            return found._replace(fault="order")
        if not found.fault and "AND" in operators:
            found = _both_orders(found, operators, operands)
        return found._replace(operators=operators, operands=operands)

    def call(self, children: list[Any]) -> Part:
        """A function with its argument or arguments."""
        name = children[0]
        arguments = tuple(child for child in children if isinstance(child, Part))
        node = Call(str(name).upper(), tuple(argument.node for argument in arguments))
        return _joined(node, _start(name), _end(children[-1]), arguments)

    arctangent = call
    computed = bracket

    def assign(self, children: list[Any]) -> Statement:
        """A variable, and what it is set to."""
        mark, index, _, value = children
        target = self.register([mark, index])
        return Statement("assign", target.start, value.end, (target, value))

    def goto(self, children: list[Any]) -> Statement:
        """A jump to a label."""
        return _statement("goto", children)

    def do(self, children: list[Any]) -> Statement:
        """The start of a loop."""
        return _statement("do", children)

    def end(self, children: list[Any]) -> Statement:
        """The end of a loop."""
        return _statement("end", children)

    def given(self, children: list[Any]) -> Statement:
        """IF and its condition."""
        return _statement("given", children)

    def loop(self, children: list[Any]) -> Statement:
        """WHILE and its condition."""
        return _statement("loop", children)


def _from_left(operators: tuple[str, ...], operands: tuple[Part, ...]) -> Part:
    left = operands[0]
    for operator, right in zip(operators, operands[1:], strict=True):
        left = _joined(Binary(operator, left.node, right.node), left.start, right.end, (left, right))
    return left


def _unclear(operators: tuple[str, ...], operands: tuple[Part, ...]) -> bool:
    """Whether logic stands inside a comparison without brackets: it goes before it on one control and after it on another."""
    inner = [part.node.operator for part in operands if isinstance(part.node, Binary) and not part.closed]
    two = any(isinstance(part.node, TwoOrders) and not part.closed for part in operands)
    return operators[0] in _COMPARISONS and (two or any(name in inner for name in _LOGIC))


def _both_orders(found: Part, operators: tuple[str, ...], operands: tuple[Part, ...]) -> Part:
    """A chain of sums with AND in it, where it matters also as it is read if AND goes with the products."""
    flat_operands: list[Part] = []
    flat_operators: list[str] = []
    for k, part in enumerate(operands):
        if k:
            flat_operators.append(operators[k - 1])
        if part.operators and part.operators[0] in _PRODUCTS:
            flat_operands += part.operands
            flat_operators += part.operators
        else:
            flat_operands.append(part)
    if set(flat_operators) == {"AND"}:
        return found
    products: list[list[Part]] = [[flat_operands[0]]]
    inside: list[list[str]] = [[]]
    sums: list[str] = []
    for operator, part in zip(flat_operators, flat_operands[1:], strict=True):
        if operator in _PRODUCTS or operator == "AND":
            products[-1].append(part)
            inside[-1].append(operator)
        else:
            products.append([part])
            inside.append([])
            sums.append(operator)
    parts = tuple(_from_left(tuple(names), tuple(some)) for names, some in zip(inside, products, strict=True))
    other = _from_left(tuple(sums), parts)
    if other.node == found.node:
        return found
    return _joined(TwoOrders(found.node, other.node), found.start, found.end, (found, other))


def _part(value: Part | Figure) -> Part:
    """A figure where an expression is wanted."""
    if isinstance(value, Part):
        return value
    if value.number is None:
        return Part(_NOTHING, value.start, value.end, fault="digits")
    return Part(Literal(value.number), value.start, value.end)


def _statement(kind: str, children: list[Any]) -> Statement:
    """A statement of a keyword and one value; THEN may stand behind a condition."""
    part = _part(children[1])
    end = _end(children[2]) if len(children) > 2 else part.end
    return Statement(kind, _start(children[0]), end, (part,))


def _letter(token: Token) -> str:
    return "".join(str(token).split()).upper()
