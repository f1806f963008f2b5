"""What the wheel installs as `dialback/__init__.py`: the house stands inside that one package, so that nothing as general
as `app` or `static` lands in site-packages. In the source tree `app` is found by itself."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))


def main() -> None:
    from app.cli import main as command

    command()
