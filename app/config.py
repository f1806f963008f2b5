"""Settings, each of which may also be given as an environment variable with the prefix DIALBACK_."""

from pathlib import Path

from platformdirs import user_data_path
from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict

ROOT = Path(__file__).parent.parent


class Settings(BaseSettings):
    model_config = SettingsConfigDict(env_prefix="DIALBACK_", frozen=True)

    library: Path = Field(
        default_factory=lambda: user_data_path("dialback", appauthor=False),
        description="The folder that holds the library.",
    )
    port: int = Field(default=8427, ge=0, le=65_535, description="Port on 127.0.0.1; 0 takes any free one.")
    max_upload_bytes: int = Field(
        default=16 * 1024**3, gt=0, description="The largest request that is taken in, in bytes."
    )
