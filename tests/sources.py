"""What the syntax trees of a package say of its imports and names; nothing is imported or run."""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path


@dataclass(frozen=True, eq=False)
class Module:
    """One source file: its path in the package, its dotted name and the names of all modules of the package."""

    path: str
    name: str
    tree: ast.Module
    house: frozenset[str]

    @property
    def folder(self) -> str:
        """First part of the path: the name of a folder or of a module beside it."""
        return self.path.split("/")[0].removesuffix(".py")

    @property
    def package(self) -> str:
        return self.name if self.path.endswith("__init__.py") else self.name.rpartition(".")[0]

    @cached_property
    def imports(self) -> list[tuple[int, str]]:
        """Line and full name of everything imported, wherever in the file; modules of the package by their own."""
        return [(node.lineno, name) for node in ast.walk(self.tree) for name in self._imported(node)]

    def _imported(self, node: ast.AST) -> Iterator[str]:
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = self._base(node)
            names = [f"{base}.{alias.name}" for alias in node.names]
            yield from dict.fromkeys(name if name in self.house else base for name in names)
        elif isinstance(node, ast.Call) and self.full_name(node.func) in ("importlib.import_module", "__import__"):
            yield from (argument.value for argument in node.args[:1] if isinstance(argument, ast.Constant))

    def _base(self, node: ast.ImportFrom) -> str:
        if not node.level:
            return node.module or ""
        above = self.package.split(".")[: len(self.package.split(".")) - node.level + 1]
        return ".".join([*above, node.module] if node.module else above)

    @cached_property
    def aliases(self) -> dict[str, str]:
        """What each imported name stands for."""
        known = {}
        for node in ast.walk(self.tree):
            if isinstance(node, ast.Import):
                for alias in node.names:
                    head = alias.name.split(".")[0]
                    known[alias.asname or head] = alias.name if alias.asname else head
            elif isinstance(node, ast.ImportFrom):
                known |= {alias.asname or alias.name: f"{self._base(node)}.{alias.name}" for alias in node.names}
        return known

    def full_name(self, node: ast.AST) -> str:
        """Dotted name of a name or attribute with imports resolved; empty for anything else."""
        if isinstance(node, ast.Name):
            return self.aliases.get(node.id, node.id)
        if isinstance(node, ast.Attribute) and (base := self.full_name(node.value)):
            return f"{base}.{node.attr}"
        return ""


@cache
def tree_of(source: str) -> ast.Module:
    """The syntax tree of ``source``, made once for all that only look at it."""
    return ast.parse(source)


def modules(package: Path) -> list[Module]:
    """Every module in the folder ``package``, in the order of their paths."""
    paths = {path.relative_to(package).as_posix(): path for path in sorted(package.rglob("*.py"))}
    names = {
        path: ".".join([package.name, *path.removesuffix(".py").split("/")]).removesuffix(".__init__") for path in paths
    }
    house = frozenset(names.values())
    return [Module(path, names[path], tree_of(file.read_text(encoding="utf-8")), house) for path, file in paths.items()]
