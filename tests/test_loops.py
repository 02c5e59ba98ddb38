"""A loop of asserts that runs over nothing asserts nothing: such a test states how much it saw.

A rule of the house, no source.  A test whose every assert sits in a loop, or holds of no things
at all (``all(… for …)``, ``[… for …] == []``), fails here, unless each of these loops is over
things that are written out where it stands.
"""

import ast
from collections.abc import Iterable, Iterator

from tests.conftest import ROOT

LOOPS = (ast.For, ast.While, ast.AsyncFor)
NAMED = {"enumerate", "zip", "range", "sorted", "reversed"}


def module_tests(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    """Yield the test functions of a module: no class has any here."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            yield node


def is_written_out(iterated: ast.expr, known: frozenset[str] = frozenset()) -> bool:
    """Tell whether what a loop runs over is seen to hold something; ``known`` names do."""
    if isinstance(iterated, ast.Name):
        return iterated.id in known
    if isinstance(iterated, ast.Tuple | ast.List | ast.Set):
        return bool(iterated.elts)
    if isinstance(iterated, ast.Dict):
        return bool(iterated.keys)
    if isinstance(iterated, ast.Constant | ast.UnaryOp):
        return bool(getattr(iterated, "value", True))
    if not isinstance(iterated, ast.Call):
        return False
    called = iterated.func
    if isinstance(called, ast.Attribute):
        return called.attr in ("items", "split") and is_written_out(called.value, known)
    held = isinstance(called, ast.Name) and called.id in NAMED
    return held and all(is_written_out(one, known) for one in iterated.args)


def gathers(node: ast.expr, known: frozenset[str]) -> bool:
    """Tell whether an expression gathers things of what may be nothing."""
    if not isinstance(node, ast.ListComp | ast.SetComp | ast.DictComp | ast.GeneratorExp):
        return False
    return not all(is_written_out(one.iter, known) for one in node.generators)


def holds_of_nothing(claim: ast.expr, known: frozenset[str]) -> bool:
    """Tell whether a claim holds where there is nothing: all are so, none is, a list is empty."""
    denied = isinstance(claim, ast.UnaryOp) and isinstance(claim.op, ast.Not)
    if isinstance(claim, ast.UnaryOp) and denied:
        claim = claim.operand
    if isinstance(claim, ast.Call) and isinstance(claim.func, ast.Name):
        of_nothing = claim.func.id == ("any" if denied else "all")
        return of_nothing and any(gathers(one, known) for one in claim.args)
    if isinstance(claim, ast.Compare) and isinstance(claim.ops[0], ast.Eq):
        sides = (claim.left, claim.comparators[0])
        are_empty = [isinstance(one, ast.List) and not one.elts for one in sides]
        return any(are_empty) and any(gathers(one, known) for one in sides)
    return denied and gathers(claim, known)


def statements(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the statements that stand in another one: no expression has an assert in it."""
    for name in ("body", "handlers", "cases", "orelse", "finalbody"):
        yield from getattr(node, name, ())


def asserts_by_loop(
    node: ast.AST, known: frozenset[str], *, in_loop: bool = False
) -> Iterator[bool]:
    """Yield for every assert whether it may be of nothing: in a loop, or by what it claims."""
    for child in statements(node):
        if isinstance(child, ast.Assert):
            yield in_loop or holds_of_nothing(child.test, known)
        written = isinstance(child, ast.For) and is_written_out(child.iter, known)
        loops = isinstance(child, LOOPS) and not written
        yield from asserts_by_loop(child, known, in_loop=in_loop or loops)


def written_names(test: ast.FunctionDef) -> frozenset[str]:
    """Return the names that a test binds to what it writes out."""
    found = set()
    for node in test.body:
        bound = isinstance(node, ast.Assign | ast.AnnAssign) and node.value
        if isinstance(node, ast.Assign | ast.AnnAssign) and bound and is_written_out(bound):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            found |= {target.id for target in targets if isinstance(target, ast.Name)}
    return frozenset(found)


def uncounted(source: str) -> list[str]:
    """Return the names of a module's tests that may have compared nothing."""
    return uncounted_of(module_tests(ast.parse(source)))


def uncounted_of(tests: Iterable[ast.FunctionDef]) -> list[str]:
    """Return the names of those tests that may have compared nothing."""
    found = []
    for test in tests:
        asserts = list(asserts_by_loop(test, written_names(test)))
        if asserts and all(asserts):
            found.append(test.name)
    return found


def test_every_loop_of_asserts_states_how_much_it_compared() -> None:
    found, seen = [], 0
    for path in sorted(ROOT.glob("tests/**/test_*.py")):
        own = list(module_tests(ast.parse(path.read_text(encoding="utf-8"))))
        seen += len(own)
        found += [f"{path.relative_to(ROOT)}: {name}" for name in uncounted_of(own)]
    assert found == []
    assert seen > 800


def test_what_is_uncounted_is_found() -> None:
    loop = "def test_a():\n    for one in things():\n        assert one\n"
    assert uncounted(loop) == ["test_a"]
    assert uncounted(loop + "    assert seen == 3\n") == []
    assert uncounted(loop.replace("things()", "(1, 2)")) == []
    assert uncounted(loop.replace("things()", "()")) == ["test_a"]
    assert uncounted(loop.replace("things()", "enumerate([1])")) == []
    assert uncounted("def test_a():\n    two = [1]\n    for x in two:\n        assert x\n") == []
    assert uncounted("def test_b():\n    while more():\n        assert one\n") == ["test_b"]


def test_a_claim_that_holds_of_nothing_is_found() -> None:
    for claim in ("all(x for x in things())", "not any(x for x in things())"):
        assert uncounted(f"def test_a():\n    assert {claim}\n") == ["test_a"]
        assert uncounted(f"def test_a():\n    assert {claim}\n    assert seen == 3\n") == []
    for claim in ("[x for x in things()] == []", "not [x for x in things()]"):
        assert uncounted(f"def test_a():\n    assert {claim}\n") == ["test_a"]
    assert uncounted("def test_a():\n    assert all(x for x in (one, two))\n") == []
    assert uncounted("def test_a():\n    assert [x for x in things()] == [1]\n") == []
    assert uncounted("def test_a():\n    assert any(x for x in things())\n") == []
