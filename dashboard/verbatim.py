"""A text as it stands, where a widget would read it as Markdown: in labels, alerts, titles and hints.

What Streamlit reads there: CommonMark and GitHub's additions to it (tables, struck text, bare addresses), formulas
between dollar signs, `:red[text]` and its kin, `:emoji:` and `:material/icons:`, and arrows of `->`. A backslash holds
off what is read from signs; what is looked for in the finished text (addresses, emoji, icons, arrows) is held off by a
word joiner, which takes no room.
"""

import re

JOINER = "\u2060"

_SIGNS = re.compile(r"([\\`*_{}\[\]$<>#~|!&])")
_BEGINS = re.compile(r"^([+=-]|\d+(?=[.)](\s|$)))")
_FOUND_LATER = (
    re.compile(r":(?=[^\W\d_]|(?!\d\d:)[\w+-]+:|//)"),  # directives, emoji, icons, https://; not the minutes of a time
    re.compile(r"www(?=\.)", re.IGNORECASE),
    re.compile(r"@(?=\w)"),
    re.compile(r"-(?=-|\\?>)|\\?<(?=-|=)|\\?>(?==)|\\?~(?==)"),  # arrows, dashes, and the like
)


def verbatim(text: str) -> str:
    """The text so that its letters are shown as they are, in one line, and nothing else is made of them."""
    text = _SIGNS.sub(r"\\\1", " ".join(text.replace("\0", "\N{REPLACEMENT CHARACTER}").split()))
    text = _BEGINS.sub(lambda begins: begins[0] + JOINER if begins[0].isdigit() else f"\\{begins[0]}", text)
    for found in _FOUND_LATER:
        text = found.sub(lambda match: match[0] + JOINER, text)
    return text
