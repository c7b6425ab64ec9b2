"""Finds where a module changes the state of an object that is not its own.

An object is a module's own when it is `self`, was made in the same function, or is of a class of
that module (by the annotation of a parameter, a field or an attribute). Changed is: assigned or
deleted, an attribute or an item of one; or a method called on an attribute that changes what it
holds.

    python -m tests.house.owners    # prints what is changed from outside today
"""

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

TAKES = {
    **dict.fromkeys(("clear", "popitem", "popleft", "reverse"), 0),
    **dict.fromkeys(("add", "append", "appendleft", "discard", "extend", "remove", "subtract"), 1),
    **dict.fromkeys(("insert", "pop", "setdefault", "sort", "update"), 2),
}
"""Methods that change a container, and the most they take: one that takes more is a verb."""
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True, slots=True, order=True)
class Change:
    """One place where somebody else's state is changed."""

    file: str
    function: str
    what: str
    """The attribute, as written: `state.verdict`, `self.case.progress.judged`."""
    line: int = field(compare=False)


def places(root: Path) -> list[Path]:
    """Return the files that hold the state of a job: the pure rooms."""
    daemon = root / "daemon"
    rooms = [
        file for room in ("core", "measure", "workflow") for file in (daemon / room).rglob("*.py")
    ]
    return sorted(rooms)


def found(root: Path) -> set[Change]:
    """Return every change of a foreign state in those files."""
    return {change for file in places(root) for change in changes(file, root)}


def changes(file: Path, root: Path) -> Iterator[Change]:
    """Yield every change of a foreign state in a file."""
    tree = ast.parse(file.read_text("utf-8"))
    classes = {node.name: node for node in ast.walk(tree) if isinstance(node, ast.ClassDef)}
    names = set(classes)
    fields = {name: _own_fields(node, names) for name, node in classes.items()}
    for owner, function in _functions(tree):
        own = _own_names(function, names)
        for node in ast.walk(function):
            for place in _changed(node):
                if not _is_own(place, owner, own, fields):
                    name = f"{owner}.{function.name}" if owner else function.name
                    where = file.relative_to(root).as_posix()
                    yield Change(where, name, ast.unparse(place), place.lineno)


def _functions(tree: ast.Module) -> Iterator[tuple[str, Function]]:
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef | ast.AsyncFunctionDef):
                    yield node.name, inner
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield "", node


def _changed(node: ast.AST) -> Iterator[ast.Attribute]:
    """Yield the attributes that a node changes."""
    match node:
        case ast.Assign(targets=targets) | ast.Delete(targets=targets):
            for target in targets:
                yield from _targets(target)
        case ast.AugAssign(target=target) | ast.AnnAssign(target=target, value=ast.expr()):
            yield from _targets(target)
        case ast.For(target=target):
            yield from _targets(target)
        case ast.Call(func=ast.Attribute(value=held, attr=method), args=given):
            if len(given) <= TAKES.get(method, -1):
                yield from _targets(held)
        case _:
            pass


def _targets(target: ast.expr) -> Iterator[ast.Attribute]:
    match target:
        case ast.Attribute():
            yield target
        case ast.Subscript(value=item) | ast.Starred(value=item):
            yield from _targets(item)
        case ast.Tuple(elts=parts) | ast.List(elts=parts):
            for part in parts:
                yield from _targets(part)
        case _:
            pass


def _is_own(
    place: ast.Attribute, owner: str, own: dict[str, str], fields: dict[str, dict[str, str]]
) -> bool:
    """Whether the object that holds the attribute belongs to this module."""
    return _class_of(place.value, owner, own, fields) is not None


def _class_of(
    node: ast.expr, owner: str, own: dict[str, str], fields: dict[str, dict[str, str]]
) -> str | None:
    """Return the class of this module that an object is of; "" for one made on the spot."""
    match node:
        case ast.Name("self"):
            return owner
        case ast.Name(name):
            return own.get(name)
        case ast.Attribute(value=inner, attr=attr):
            holder = _class_of(inner, owner, own, fields)
            return fields.get(holder or "", {}).get(attr)
        case ast.Call(func=ast.Name(name)) if name in fields:
            return name
        case _:
            return None


def _own_names(function: Function, names: set[str]) -> dict[str, str]:
    """Return the names that hold an own object, with its class: parameters and what is made."""
    found = {}
    arguments = function.args
    for argument in [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]:
        if (kind := _kind(argument.annotation, names)) is not None:
            found[argument.arg] = kind
    for node in ast.walk(function):
        match node:
            case ast.Assign(targets=[ast.Name(name)], value=ast.Call() as call) if _makes(call):
                found[name] = _called(call) if _called(call) in names else ""
            case ast.AnnAssign(target=ast.Name(name), annotation=annotation):
                if (kind := _kind(annotation, names)) is not None:
                    found[name] = kind
            case _:
                pass
    return found


def _makes(call: ast.Call) -> bool:
    """Whether a call makes an object: of a class, by its capital letter."""
    return _called(call)[:1].isupper()


def _called(call: ast.Call) -> str:
    match call.func:
        case ast.Name(name) | ast.Attribute(attr=name):
            return name
        case _:
            return ""


def _kind(annotation: ast.expr | None, classes: set[str]) -> str | None:
    """Return the own class an annotation names, also in `Class | None`."""
    match annotation:
        case ast.Name(name) if name in classes:
            return name
        case ast.BinOp(left=left, right=right):
            return _kind(left, classes) or _kind(right, classes)
        case _:
            return None


def _own_fields(node: ast.ClassDef, names: set[str]) -> dict[str, str]:
    """Return the attributes of a class that hold an own object, with its class."""
    found = {}
    for inner in ast.walk(node):
        match inner:
            case ast.AnnAssign(target=ast.Name(name) | ast.Attribute(attr=name)) as field_:
                kind = _kind(field_.annotation, names)
            case ast.Assign(targets=[ast.Attribute(attr=name)], value=ast.Call() as call):
                kind = _called(call) if _called(call) in names else None
            case _:
                continue
        if kind is not None:
            found[name] = kind
    return found


def main() -> None:
    """Print them as they stand in `changed_from_outside.txt`."""
    for change in sorted(found(Path(__file__).parents[2])):
        print(f"{change.file}: {change.function}: {change.what}")  # noqa: T201


if __name__ == "__main__":
    main()
