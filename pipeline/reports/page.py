"""HTML pages made of the templates in `templates/`: all text is escaped, and a name that nobody gives is a fault."""

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment


def page(template: str, **given: object) -> str:
    """The page that a template makes of what it is given. Of that only `Drawing.svg` is put in as it is."""
    return _environment().get_template(template).render(given)


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, FunctionLoader, StrictUndefined  # here: only a command that prints needs it

    home = files("pipeline") / "reports" / "templates"
    return Environment(
        loader=FunctionLoader(lambda name: (home / name).read_text(encoding="utf-8")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
