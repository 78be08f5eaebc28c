"""What can be set from outside, by environment variables that begin with DOUGHSIGHT_."""

from pathlib import Path

from platformdirs import user_data_path
from pydantic import Field, SecretStr
from pydantic_settings import BaseSettings, SettingsConfigDict

from api.logs import Form, Level


class Settings(BaseSettings):
    """Settings of the web half; each has a default that works on a laptop without a network."""

    model_config = SettingsConfigDict(env_prefix="DOUGHSIGHT_", frozen=True)

    data_dir: Path = Field(default_factory=lambda: user_data_path("doughsight"))
    """Where photos and cases are kept."""
    database_url: SecretStr | None = None
    """The address of a PostgreSQL database that has the tables; without, they are in the data folder."""
    max_upload_mb: float = Field(default=40.0, gt=0)
    """Largest photo that is taken [MB]; a 50-megapixel JPEG has about 25 MB (estimated)."""
    max_archive_mb: float = Field(default=1000.0, gt=0)
    """Largest archive of a workshop that is brought in [MB]; 300 photos have about 300 (estimated)."""
    max_photo_side_px: int = Field(default=3200, ge=640)
    """Photos are kept with at most this many pixels on the longer side; phones show no more (estimated)."""
    log: Level = "warning"
    """What the server tells of itself: `info` has all changes, `debug` also reads that went well."""
    log_form: Form = "auto"
    """Lines as `json` or `plain`; `auto`: plain on a terminal."""
    inspections_at_once: int = Field(default=2, ge=1)
    """How many photos are worked on at the same time; the others wait."""
    keep_days: int | None = Field(default=None, ge=1)
    """Photos that belong to no workshop are deleted after so many days; none: somebody has to. Workshops have
    days of their own."""
    hosts: str = ""
    """Names and addresses, with commas between, by which phones reach this machine beside its own address."""

    @property
    def host_names(self) -> tuple[str, ...]:
        """The names in `hosts`."""
        return tuple(name.strip() for name in self.hosts.split(",") if name.strip())

    @property
    def database_address(self) -> str | None:
        """The whole address, with the password in it."""
        return None if self.database_url is None else self.database_url.get_secret_value()

    @property
    def max_upload_bytes(self) -> int:
        """Largest photo in bytes."""
        return int(self.max_upload_mb * 1_000_000)

    @property
    def max_archive_bytes(self) -> int:
        """Largest archive in bytes, packed or not: photos do not shrink."""
        return int(self.max_archive_mb * 1_000_000)
