"""Where each entry of a TOML text stands: its line, by its path.

In: a text that tomllib has accepted. Out: a line for every key and every item of an array, so
that a message can name it. The grammar is tree-sitter's; what it fails to see falls back to the
line of the entry around it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tree_sitter import Node

Path = tuple[str | int, ...]

_KEYS = ("bare_key", "quoted_key", "dotted_key")


class Positions:
    """Lines of a TOML text, counted from 1, by path of keys and array indices.

    Parameters
    ----------
    text : str
        A TOML text that tomllib has accepted.

    Examples
    --------
    >>> positions = Positions('[[roof]]\\nname = "A"\\n[[roof]]\\nname = "B"\\n')
    >>> positions.line(("roof", 1, "name"))
    4
    >>> positions.line(("roof", 1, "pitch"))
    3
    """

    def __init__(self, text: str) -> None:
        self._lines: dict[Path, int] = _walk(text)

    def line(self, path: Sequence[str | int]) -> int | None:
        """Line of the entry at `path`, or of the nearest entry around it; None for the file."""
        wanted = tuple(path)
        while wanted:
            if wanted in self._lines:
                return self._lines[wanted]
            wanted = wanted[:-1]
        return None


def _walk(text: str) -> dict[Path, int]:
    """The line of every path of the text: the first that names it."""
    import tree_sitter
    import tree_sitter_toml

    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
    root = parser.parse(text.encode("utf-8")).root_node
    found: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    for node in root.named_children:
        if node.type == "pair":
            _read_pair(node, (), found)
        elif node.type in ("table", "table_array_element"):
            header = _current(_header(node), counts, node.type == "table_array_element")
            _note(header, node, found)
            for pair in node.named_children:
                if pair.type == "pair":
                    _read_pair(pair, header, found)
    return found


def _header(node: Node) -> Path:
    """The keys within the brackets of a table's header."""
    return next((_keys(child) for child in node.named_children if child.type in _KEYS), ())


def _current(keys: Path, counts: dict[Path, int], new_element: bool) -> Path:
    """A header's path with the index of the current element after each array of tables."""
    path: Path = ()
    for place, key in enumerate(keys):
        path += (key,)
        if new_element and place == len(keys) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path += (counts[path],)
    return path


def _read_pair(pair: Node, within: Path, found: dict[Path, int]) -> None:
    """Note a ``key = value`` and all that its value holds."""
    parts = [child for child in pair.named_children if child.type != "comment"]
    if not parts or parts[0].type not in _KEYS:
        return
    path = within + _keys(parts[0])
    _note(path, pair, found)
    pending: list[tuple[Node, Path]] = [(parts[-1], path)]
    while pending:
        value, place = pending.pop()
        if value.type == "array":
            items = [child for child in value.named_children if child.type != "comment"]
            for number, item in enumerate(items):
                _note((*place, number), item, found)
                pending.append((item, (*place, number)))
        elif value.type == "inline_table":
            for inner in value.named_children:
                inner_parts = [child for child in inner.named_children if child.type != "comment"]
                if inner.type == "pair" and inner_parts and inner_parts[0].type in _KEYS:
                    inner_path = place + _keys(inner_parts[0])
                    _note(inner_path, inner, found)
                    pending.append((inner_parts[-1], inner_path))


def _note(path: Path, node: Node, found: dict[Path, int]) -> None:
    """Keep the first line of a path and of the dotted keys that lead to it."""
    line = node.start_point[0] + 1
    for length in range(1, len(path) + 1):
        found.setdefault(path[:length], line)


def _keys(node: Node) -> Path:
    """A key, bare, quoted or dotted, as tomllib reads it."""
    written = (node.text or b"").decode("utf-8")
    try:
        value: Any = tomllib.loads(f"{written} = 0")
    except ValueError:
        return ()
    keys: list[str] = []
    while isinstance(value, dict):
        key, value = next(iter(value.items()))
        keys.append(key)
    return tuple(keys)
