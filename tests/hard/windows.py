"""Windows' rules for names and open files, on another system: what it would refuse of a write is refused here too.

From memory of Microsoft's "Naming Files, Paths, and Namespaces" and of its CreateFile: some characters and names are
nobody's to have, no name ends in a blank or a point, and a file that is open as Python opens it can be neither
replaced, renamed nor deleted. Files that DuckDB opens are not seen; nor are names that differ by case alone.
"""

import builtins
import errno
import io
import os
import re
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

NOT_A_NAME = re.compile(r'[\x00-\x1f<>:"|?*\\]|[ .]$|^(con|prn|aux|nul|com[1-9]|lpt[1-9]) *(\.|$)', re.IGNORECASE)


class _Rules:
    def __init__(self, root: Path) -> None:
        self.root, self.held, self.handles = root, Counter[str](), dict[int, str]()

    def own(self, path: Any) -> str:
        """The path as it is compared; "" for one elsewhere."""
        if isinstance(path, int):
            return ""
        plain = Path(os.path.abspath(os.fsdecode(path)))  # noqa: PTH100 (a link is a file of its own)
        return str(plain) if plain.is_relative_to(self.root) else ""

    def named(self, path: Any) -> None:
        """Raises for a name that no file can have there."""
        if own := self.own(path):
            for part in Path(own).relative_to(self.root).parts:
                if NOT_A_NAME.search(part):
                    raise OSError(errno.EINVAL, "Windows takes no such name", own)

    def free(self, path: Any) -> None:
        """Raises for a file that is open."""
        if (own := self.own(path)) and self.held[own] > 0:
            raise PermissionError(errno.EACCES, "Windows has this file open", own)


class _Held:
    """An open file, which is held until it is closed."""

    def __init__(self, file: Any, rules: _Rules, path: str) -> None:
        self._file, self._rules, self._path = file, rules, path
        rules.held[path] += 1

    def close(self) -> None:
        if not self._file.closed:
            self._rules.held[self._path] -= 1
        self._file.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def __enter__(self) -> "_Held":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def __iter__(self) -> Iterator[Any]:
        return iter(self._file)


@contextmanager
def rules_of_windows(root: Path) -> Iterator[None]:
    """What this process does below `root` is done as Windows would have it."""
    rules = _Rules(root)
    real_open, real_os_open, real_close = io.open, os.open, os.close

    def opened(file: Any, mode: str = "r", *given: Any, **more: Any) -> Any:
        if set(mode) & set("wxa"):
            rules.named(file)
        made, own = real_open(file, mode, *given, **more), rules.own(file)
        return _Held(made, rules, own) if own else made

    def os_opened(path: Any, flags: int, *given: Any, **more: Any) -> int:
        if flags & os.O_CREAT:
            rules.named(path)
        handle = real_os_open(path, flags, *given, **more)
        if own := rules.own(path):
            rules.handles[handle] = own
            rules.held[own] += 1
        return handle

    def closed(handle: int) -> None:
        if own := rules.handles.pop(handle, ""):
            rules.held[own] -= 1
        real_close(handle)

    def moved(real: Callable[..., Any]) -> Callable[..., Any]:
        def move(path: Any, to: Any, *given: Any, **more: Any) -> Any:
            rules.named(to)
            rules.free(path)
            rules.free(to)
            return real(path, to, *given, **more)

        return move

    def deleted(real: Callable[..., Any]) -> Callable[..., Any]:
        def delete(path: Any, *given: Any, **more: Any) -> Any:
            rules.free(path)
            return real(path, *given, **more)

        return delete

    def made(real: Callable[..., Any], which: int) -> Callable[..., Any]:
        def make(*given: Any, **more: Any) -> Any:
            rules.named(given[which])
            return real(*given, **more)

        return make

    patches: dict[str, Any] = {"open": os_opened, "close": closed, "mkdir": made(os.mkdir, 0), "link": made(os.link, 1)}
    patches |= {name: moved(getattr(os, name)) for name in ("replace", "rename")}
    patches |= {name: deleted(getattr(os, name)) for name in ("unlink", "remove")}
    with mock.patch.multiple(os, **patches), mock.patch.object(io, "open", opened):
        builtins_open, builtins.open = builtins.open, opened  # type: ignore[assignment]
        try:
            yield
        finally:
            builtins.open = builtins_open
