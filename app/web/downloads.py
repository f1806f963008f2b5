"""Files made on demand."""

from urllib.parse import quote

from fastapi.responses import Response


def attachment(content: bytes, media_type: str, name: str) -> Response:
    """A download under a name of the person's own words, written as RFC 6266 and RFC 8187 ask."""
    safe = "".join("-" if char in '/\\:*?"<>|' or not char.isprintable() else char for char in name).strip()
    plain = safe.encode("ascii", "replace").decode().replace("?", "-")
    disposition = f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(safe, safe='')}"
    return Response(content, media_type=media_type, headers={"Content-Disposition": disposition})
