"""Where a file can be mutated, and into what: one small change of its syntax tree at a time.

comparison (`<` to `>`, `==` to `!=`, ...), boundary (`<` to `<=`, ...), arithmetic (`+` to `-`, ...),
constant (a number, True, False), condition (negated; `and` to `or`), statement (removed).
Annotations, docstrings, decorators, assertions and what a string is made of are left alone.
"""

import ast
from collections.abc import Iterator
from dataclasses import dataclass

COMPARISON: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.Gt,
    ast.LtE: ast.GtE,
    ast.Gt: ast.Lt,
    ast.GtE: ast.LtE,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
BOUNDARY: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.BitXor: ast.BitAnd,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
LEFT_ALONE = ("annotation", "returns", "decorator_list", "type_params", "bases", "format_spec")
"""Fields of a node that are never looked into."""


@dataclass(frozen=True, slots=True)
class Site:
    """One mutant of one file."""

    line: int
    kind: str
    start: int
    end: int
    """Where the text that changes lies, in bytes of the file."""
    before: str
    after: str
    within: tuple[int, ...]
    """First lines of the functions it lies in, as a code object counts them; () at the top."""

    def written(self, source: bytes) -> bytes:
        """Return the file with this change."""
        return source[: self.start] + self.after.encode() + source[self.end :]

    @property
    def name(self) -> str:
        """What it is called in a list of results: place and change."""
        return f"{self.line}@{self.start}: {self.kind}: {self.before} -> {self.after}"


def sites(source: bytes) -> list[Site]:
    """Return every mutant of a file, in the order of its text."""
    return sorted(_Finder(source).found(), key=lambda site: (site.start, site.end, site.after))


class _Finder:
    def __init__(self, source: bytes) -> None:
        self._source = source
        self._tree = ast.parse(source)
        lengths = [len(line) for line in source.splitlines(keepends=True)]
        self._starts = [sum(lengths[:n]) for n in range(len(lengths) + 1)]

    def found(self) -> Iterator[Site]:
        yield from self._inside(self._tree, ())

    def _inside(self, node: ast.AST, within: tuple[int, ...]) -> Iterator[Site]:
        for name, value in ast.iter_fields(node):
            if name in LEFT_ALONE:
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST) and not _left_alone(child):
                    yield from self._at(child, within)

    def _at(self, node: ast.AST, within: tuple[int, ...]) -> Iterator[Site]:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            lines = [node.lineno, *(d.lineno for d in getattr(node, "decorator_list", []))]
            within = (*within, min(lines))
        for kind, changed, after in _changes(node):
            start, end = self._span(changed)
            before = " ".join(self._source[start:end].decode().split())
            text = after if isinstance(changed, ast.stmt) else f"({after})"
            if within or kind in {"constant", "statement"}:  # above: aliases of types
                yield Site(changed.lineno, kind, start, end, before, text, within)
        yield from self._inside(node, within)

    def _span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        start = self._starts[node.lineno - 1] + node.col_offset
        return start, self._starts[node.end_lineno - 1] + node.end_col_offset


def _left_alone(node: ast.AST) -> bool:
    match node:
        case ast.JoinedStr() | ast.Assert() | ast.Import() | ast.ImportFrom():
            return True
        case ast.Expr(value=ast.Constant()):
            return True
        case ast.Subscript(value=ast.Name("Literal" | "ClassVar" | "Annotated" | "Callable")):
            return True
        case ast.If(test=ast.Compare(left=ast.Name("__name__"))):
            return True
        case _:
            return False


Change = tuple[str, ast.expr | ast.stmt, str]
"""Kind, the part that changes, its new text."""


def _changes(node: ast.AST) -> Iterator[Change]:
    """Yield every change of this very node."""
    yield from _conditions(node)
    match node:
        case ast.Compare(left=left, ops=[op], comparators=[right]):
            for kind, table in (("comparison", COMPARISON), ("boundary", BOUNDARY)):
                if (other := table.get(type(op))) is not None:
                    yield kind, node, ast.unparse(ast.Compare(left, [other()], [right]))
        case ast.BinOp(left=left, op=op, right=right) if type(op) in ARITHMETIC and not _text(left):
            yield "arithmetic", node, ast.unparse(ast.BinOp(left, ARITHMETIC[type(op)](), right))
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            yield "arithmetic", node, ast.unparse(operand)
        case ast.Constant(value=value):
            yield from (("constant", node, text) for text in _constants(value))
        case ast.stmt() if _can_go(node):
            yield "statement", node, "pass"
        case _:
            pass


def _conditions(node: ast.AST) -> Iterator[Change]:
    match node:
        case ast.BoolOp(op=op, values=values):
            swapped = ast.Or() if isinstance(op, ast.And) else ast.And()
            yield "condition", node, ast.unparse(ast.BoolOp(swapped, values))
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield "condition", node, ast.unparse(operand)
        case ast.If(test=test) | ast.While(test=test) | ast.IfExp(test=test):
            yield from _negated(test)
        case ast.comprehension(ifs=tests):
            for test in tests:
                yield from _negated(test)
        case _:
            pass


def _negated(test: ast.expr) -> Iterator[Change]:
    """Yield the test with a `not`; one that has it loses it where it stands."""
    if not (isinstance(test, ast.UnaryOp) and isinstance(test.op, ast.Not)):
        yield "condition", test, ast.unparse(ast.UnaryOp(ast.Not(), test))


def _can_go(node: ast.stmt) -> bool:
    """Whether a statement can be removed and the rest still means something."""
    match node:
        case ast.Expr(value=ast.Call() | ast.Await() | ast.YieldFrom()) | ast.Return(value=None):
            return True
        case ast.AugAssign() | ast.Raise() | ast.Continue() | ast.Break() | ast.Delete():
            return True
        case ast.Assign(targets=targets):
            return all(_is_kept(target) for target in targets)
        case _:
            return False


def _is_kept(target: ast.expr) -> bool:
    """Whether an assignment outlives its function: to an attribute or an item."""
    if isinstance(target, ast.Tuple):
        return all(_is_kept(part) for part in target.elts)
    return isinstance(target, ast.Attribute | ast.Subscript)


def _constants(value: object) -> Iterator[str]:
    match value:
        case bool():
            yield repr(not value)
        case int():
            yield repr(value + 1)
        case float():
            yield repr(value * 1.5 if value else 1.0)
        case _:
            return


def _text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str | bytes)
    )
