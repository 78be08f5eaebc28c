"""Sample sculptures: photos with their cases and expected reports."""

import json
from importlib.resources import files
from pathlib import Path


def names() -> list[str]:
    """The names of all samples, in the order in which they are shown."""
    return [str(sample["name"]) for sample in json.loads(sample_path("samples.json").read_text("utf-8"))]


def sample_path(name: str) -> Path:
    """Where a file of the samples lies, such as `owl.jpg` or `owl.case.json`.

    Raises FileNotFoundError for a file that is not there, or a name that leads elsewhere.
    """
    path = Path(str(files(__name__) / name))
    if Path(name).name != name or not path.is_file():
        raise FileNotFoundError(f"There is no sample file {name}: sample_images.names() lists the samples")
    return path
