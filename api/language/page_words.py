"""The words of the page: a key, and its sentence or one sentence for each plural category (CLDR)."""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path

Template = str | Mapping[str, str]


@cache
def page_words() -> Mapping[str, Template]:
    """Key -> template with `{slots}`."""
    found: dict[str, Template] = json.loads(Path(__file__).with_name("page.en.json").read_text("utf-8"))
    return found
