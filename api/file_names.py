"""Names of files that every system takes, made of what people typed."""

import re
import unicodedata

MOST_CHARS = 40


def file_name(name: str, *more: str, kind: str) -> str:
    """`name` in small Latin letters, figures and hyphens, then `more`, then `.kind`: a name without any path.

    Accents go; a name in other letters leaves only `more`.
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:MOST_CHARS].strip("-")
    return "-".join(filter(None, (slug, *more))) + f".{kind}"
