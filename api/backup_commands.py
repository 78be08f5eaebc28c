"""`doughsight backup` and `doughsight restore`."""

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from api.errors import InputError
from api.language.speech import N_, _
from api.settings import Settings

out = Console(highlight=False)
ELSEWHERE = N_(
    "What is kept is in PostgreSQL (DOUGHSIGHT_DATABASE_URL): back it up and restore it with the tools of "
    "PostgreSQL, and copy the photos folder in {folder} right after."
)


def backup(
    to: Annotated[
        Path, typer.Argument(metavar="TO", help="A name that ends in .zip, or a folder to put it into.")
    ],
) -> None:
    """Write all that is kept to one file; the server may run meanwhile.

    A backup contains photos of children's work, and their nicknames: keep it as safely as the laptop, and
    delete old ones. What is deleted here stays in backups that were made before.
    """
    # Here and not at the top: the other commands start without it.
    from api.records.backup import back_up

    made = back_up(_folder(), to)
    _say(_("Written to {target}: {count} photos, checked.", target=made.file, count=made.photos))
    if made.lost:
        _say(_("{count} photos are not in it: their files are missing or damaged.", count=made.lost))
        raise typer.Exit(1)
    _say(_("It contains photos of children's work: keep it as safely as this machine."))


def restore(
    file: Annotated[Path, typer.Argument(metavar="FROM.zip", help="What `doughsight backup` has written.")],
    replace: Annotated[bool, typer.Option("--replace", help="Lose what is kept now.")] = False,
) -> None:
    """Put a backup back, into an empty data folder; stop the server first.

    Photos that were deleted after the backup come back. Phones have to join anew.
    """
    # Here and not at the top: the other commands start without it.
    from api.records.backup import restore as put_back
    from api.serving import only_server

    folder = _folder()
    with only_server(folder):
        done = put_back(file, folder, replace=replace)
    _say(_("Restored to {target}: {count} photos.", target=folder, count=done.photos))


def _say(text: str) -> None:
    out.print(text, markup=False, soft_wrap=True)


def _folder() -> Path:
    settings = Settings()
    if settings.database_url is not None:
        raise InputError(ELSEWHERE, folder=settings.data_dir)
    return settings.data_dir
