"""Small faults for the pure rooms: one operator, one number or one truth value of a module changed at a time.

The kinds are the classic ones of mutation testing (DeMillo, Lipton and Sayward 1978: programmers' slips are small):
a comparison's boundary, `and` for `or`, plus for minus, a number one off, a truth value turned, a condition negated,
the larger for the smaller of two.
"""

import ast
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_REACHED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
_SWAPPED = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "any": "all", "all": "any"}


# changes that no test can notice, by module, the line as it stands and the change; each with the reason
EQUIVALENT = {
    ("audit.standards.patterns", "another = np.diff(first, prepend=-1) != 0", "1 -> 2"): (
        "places of falls are 0 or more: the first differs from any number below"
    ),
    (
        "audit.standards.patterns",
        "changes = np.append(0, np.cumsum(accompanied.another))",
        "0 -> 1",
    ): "looked at by itself alone, where nothing accompanies anything",
    (
        "audit.agreement.measured",
        'reach = float(stats.t.ppf(1.0 - (1.0 - level) / 2.0, n - 1)) * error if n > 1 else float("nan")',
        "n > 1 -> n >= 1",
    ): "the error of one difference is NaN, and so is whatever it is multiplied by",
    (
        "audit.agreement.pairs",
        "value, formula(draws) if has_interval else draws[:0, 0, 0], n=int(counts.sum()), cases=cases,",
        "0 -> 1",
    ): "where there is no interval `estimate` answers before it looks at any draw",
    (
        "audit.agreement.pairs",
        "drawn = resample([sums], options.draws, options.seed, times)[0] if cases else np.zeros((0, shape[1]))",
        "0 -> 1",
    ): "without a case there is no figure, and `estimate` answers before it looks at any draw",
    (
        "audit.agreement.pairs",
        "has_interval = np.isfinite(value) and cases >= options.interval.cases_min",
        "np.isfinite(value) and cases >= options.interval.cases_min -> np.isfinite(value) or "
        "cases >= options.interval.cases_min",
    ): "`estimate` asks both again; here they only save work",
    **{
        ("audit.agreement.pairs", "size = max(1, _BLOCK_BYTES // (8 * options.draws * k * k))", change): (
            "a block's size bounds memory alone: a pair's figures do not depend on the pairs beside it"
        )
        for change in (
            "1 -> 2",
            "8 -> 9",
            "max(1, _BLOCK_BYTES // (8 * options.draws * k * k)) -> "
            "min(1, _BLOCK_BYTES // (8 * options.draws * k * k))",
        )
    },
    (
        "audit.agreement.document",
        "both = int(np.isfinite(grid.values[:, a] - grid.values[:, b]).sum())",
        "grid.values[:, a] - grid.values[:, b] -> grid.values[:, a] + grid.values[:, b]",
    ): "a sum of two is finite where their difference is",
    (
        "audit.agreement.many_readers",
        "divisor = np.maximum(pairs, 1.0)",
        "1.0 -> 2.0",
    ): "two reads are two ordered pairs; of one read 0 is divided",
    (
        "audit.agreement.measured",
        "x = x - (x.mean() if x.size else 0.0)",
        "0.0 -> 1.0",
    ): "there is nothing to take it from",
    (
        "audit.agreement.resampling",
        "missing = (len(drawn) - len(usable)) / max(len(drawn), 1)",
        "1 -> 2",
    ): "without draws there are no usable ones either",
    (
        "audit.agreement.arrays",
        "np.divide(top, bottom, out=quotient, where=np.abs(bottom) > SMALLEST_DENOMINATOR)",
        "np.abs(bottom) > SMALLEST_DENOMINATOR -> np.abs(bottom) >= SMALLEST_DENOMINATOR",
    ): "what lies below is rounding; no denominator is exactly that number",
    (
        "audit.agreement.yardstick",
        "if kappa <= top + 1e-12:",
        "kappa <= top + 1e-12 -> kappa < top + 1e-12",
    ): "what is added is for rounding; no kappa lies there exactly",
    ("audit.tracing.edges", "width = np.sqrt(np.maximum(squared, SHORTEST_FLANK_S**2))", "2 -> 3"): (
        "the shortest flank is one second: squared or cubed it is one"
    ),
    (
        "audit.measures.standardised",
        "if np.abs(step).max() < _CLOSE:",
        "np.abs(step).max() < _CLOSE -> np.abs(step).max() <= _CLOSE",
    ): "no step is exactly that long",
    **{
        ("audit.standards.seen", text, "0.0 -> 1.0"): "no marks at all are told from others by their number"
        for text in ("float(at_s[0]) if at_s.size else 0.0,", "float(at_s[-1]) if at_s.size else 0.0,")
    },
    **{
        ("audit.agreement.two_readers", text, "1 -> 2"): "a table has as many rows as columns"
        for text in ("chance = 1.0 / np.asarray(table).shape[-1]", "categories = shares.shape[-1]")
    },
    (
        "audit.tracing.baseline_doubt",
        "counts = [running_total(~np.isnan(smooth)), "
        "*(running_total(side * smooth > AWAY_BPM) for side in (-1.0, 1.0))]",
        "1.0 -> 2.0",
    ): "only passes over windows that `_other_level` refuses by a count of its own; with more counted, fewer of them",
    (
        "audit.standards.patterns",
        "highest = (pattern.accompanied + number) / np.maximum(pattern.contractions + number, 1.0)",
        "1.0 -> 2.0",
    ): "asked where a share is given, so with four contractions and more; without any it only keeps 0 from dividing 0",
    ("audit.response.episodes", "first = last = -1", "1 -> 2"): "any place below 0 says that no run goes on",
    ("audit.response.episodes", "first = -1", "1 -> 2"): "any place below 0 says that no run goes on",
    (
        "audit.response.chance",
        "width = min((len(tally.shifts_counted) for tally in drawn), default=0)",
        "0 -> 1",
    ): "without a draw nothing is counted, however wide",
    (
        "audit.response.chance",
        "by_target = earliest_s <= deadline_s(episode, rule)",
        "earliest_s <= deadline_s(episode, rule) -> earliest_s < deadline_s(episode, rule)",
    ): "an act that moves never falls on the very moment, and one that stays is there under every shift",
    (
        "audit.standards.seen",
        "state = np.where(np.isfinite(values), limit.met(values), -1).astype(np.int64)",
        "1 -> 2",
    ): "a run of minutes takes any state below 0 as unknown",
}


@dataclass(frozen=True)
class Mutant:
    """One fault: the module it is in, where, what it does, and the module's text with it."""

    module: str
    line: int
    change: str
    source: str
    text: str = ""  # the line as it stands
    function: tuple[str, str] = ("", "")  # the file and the function that hold it

    @property
    def no_difference(self) -> str | None:
        """Why no test can notice it; None where one can."""
        return EQUIVALENT.get((self.module, self.text, self.change))


def sample(files: list[Path], root: Path, count: int, seed: int) -> list[Mutant]:
    """As many faults of a room, the same ones for the same seed and code."""
    found = [(file, k) for file in sorted(files) for k, _ in enumerate(_places(ast.parse(file.read_text("utf-8"))))]
    chosen = random.Random(seed).sample(found, len(found))
    made: list[Mutant] = []
    for file, k in chosen:
        if len(made) == count:
            break
        written = file.read_text(encoding="utf-8")
        tree = ast.parse(written)
        node, slot, function = list(_places(tree))[k]
        line, change = getattr(node, "lineno", 0), _change(node, slot)
        if change is not None:
            module = ".".join(file.relative_to(root).with_suffix("").parts)
            text = written.splitlines()[line - 1].strip()
            within = (str(file), function)
            made.append(Mutant(module, line, change, ast.unparse(ast.fix_missing_locations(tree)), text, within))
    return made


def _places(tree: ast.Module) -> Iterator[tuple[ast.AST, int, str]]:
    """What can be changed, and in which function: code that runs inside one, but for messages of errors and types."""
    for top in ast.walk(tree):
        if isinstance(top, ast.FunctionDef):
            for statement in top.body:
                yield from ((node, slot, top.name) for node, slot in _within(statement))


def _within(node: ast.AST) -> Iterator[tuple[ast.AST, int]]:
    if isinstance(node, ast.Raise | ast.JoinedStr | ast.FunctionDef | ast.Assert):
        return
    if isinstance(node, ast.keyword) and node.arg == "strict":  # of `zip`: asserts that lengths are the same
        return
    if isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "reshape":
        yield from (place for part in (node.func, *node.args) if not _open(part) for place in _within(part))
        return
    if isinstance(node, ast.Compare):
        for k in range(len(node.ops)):
            yield node, k
    elif isinstance(node, ast.BoolOp | ast.BinOp | ast.If | ast.IfExp | ast.Call):
        yield node, 0
    elif isinstance(getattr(node, "value", None), bool | int | float):
        yield node, 0  # a constant
    for name, child in ast.iter_fields(node):
        if name in ("annotation", "returns"):
            continue
        for one in child if isinstance(child, list) else [child]:
            if isinstance(one, ast.AST):
                yield from _within(one)


def _open(node: ast.AST) -> bool:
    """The length that `reshape` finds by itself: NumPy takes any number below 0 for it."""
    return isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub)


def _change(node: ast.AST, slot: int) -> str | None:
    """Change the node in place and say how; None where there is nothing to change."""
    before = ast.unparse(node)
    if isinstance(node, ast.Compare):
        other = _COMPARED.get(type(node.ops[slot]))
        if other is None:
            return None
        node.ops[slot] = other()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.BinOp):
        another = _REACHED.get(type(node.op))
        if another is None:
            return None
        node.op = another()
    elif isinstance(node, ast.If | ast.IfExp):
        before, node.test = ast.unparse(node.test), ast.UnaryOp(ast.Not(), node.test)
        return f"{_short(before)} -> not"
    elif isinstance(node, ast.Call):
        target = node.func
        name = target.attr if isinstance(target, ast.Attribute) else getattr(target, "id", "")
        if name not in _SWAPPED:
            return None
        if isinstance(target, ast.Attribute):
            target.attr = _SWAPPED[name]
        elif isinstance(target, ast.Name):
            target.id = _SWAPPED[name]
    elif isinstance(node, ast.Constant):
        value = node.value
        node.value = (not value) if isinstance(value, bool) else value + 1  # type: ignore[operator]
    return f"{_short(before)} -> {_short(ast.unparse(node))}"


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 60 else f"{line[:57]}..."
