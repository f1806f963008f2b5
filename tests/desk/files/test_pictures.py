from __future__ import annotations

import contextlib
import io
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pillow_heif
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, PngImagePlugin

from app.desk.files.pictures import CleanPicture, UnusablePicture, clean_picture

pillow_heif.register_heif_opener()

WHITE = (255, 255, 255)
BRICK = (180, 60, 40)


def opened(jpeg: bytes) -> Image.Image:
    picture = Image.open(io.BytesIO(jpeg))
    assert picture.format == "JPEG"
    picture.load()
    return picture


def colour_at(jpeg: bytes, x: int, y: int) -> tuple[int, int, int]:
    red, green, blue = opened(jpeg).convert("RGB").getpixel((x, y))  # type: ignore[misc]
    return red, green, blue


def near(found: tuple[int, int, int], wanted: tuple[int, int, int], tolerance: int = 6) -> bool:
    return all(abs(a - b) <= tolerance for a, b in zip(found, wanted, strict=True))


def saved(tmp_path: Path, picture: Image.Image, name: str, **options: object) -> Path:
    path = tmp_path / name
    picture.save(path, **options)  # type: ignore[arg-type]
    return path


def refusal(path: Path) -> str:
    with pytest.raises(UnusablePicture) as refused:
        clean_picture(path)
    sentence = str(refused.value)
    assert sentence[0].isupper()
    assert sentence.endswith(".")
    assert str(path) not in sentence
    return sentence


def png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


@pytest.mark.parametrize(
    ("suffix", "media_type"),
    [("jpg", "image/jpeg"), ("png", "image/png"), ("webp", "image/webp"), ("heic", "image/heic")],
)
def test_a_photo_of_each_kind_comes_out_as_jpeg(tmp_path: Path, suffix: str, media_type: str) -> None:
    path = saved(tmp_path, Image.new("RGB", (640, 480), BRICK), f"panel.{suffix}")

    clean = clean_picture(path)

    assert clean.media_type_found == media_type
    assert (clean.width, clean.height) == opened(clean.shown).size == (640, 480)
    assert opened(clean.thumbnail).size == (320, 240)
    assert near(colour_at(clean.shown, 320, 240), BRICK)
    assert near(colour_at(clean.thumbnail, 160, 120), BRICK)


def test_the_type_is_judged_by_content_and_not_by_name(tmp_path: Path) -> None:
    path = saved(tmp_path, Image.new("RGB", (40, 30), BRICK), "lies.jpg", format="PNG")
    assert clean_picture(path).media_type_found == "image/png"


@pytest.mark.parametrize("suffix", ["jpg", "png"])
@pytest.mark.parametrize("size", [(5200, 1300), (1300, 5200), (5121, 100), (2561, 2560)])
def test_a_large_photo_is_shown_at_2560_pixels_on_the_long_side(
    tmp_path: Path, suffix: str, size: tuple[int, int]
) -> None:
    clean = clean_picture(saved(tmp_path, Image.new("RGB", size, BRICK), f"large.{suffix}"))

    assert max(clean.width, clean.height) == 2560
    assert clean.width / clean.height == pytest.approx(size[0] / size[1], rel=0.03)
    assert max(opened(clean.thumbnail).size) == 320
    assert near(colour_at(clean.shown, clean.width - 1, clean.height - 1), BRICK)


def test_shrinking_in_strips_leaves_no_seam_and_moves_nothing(tmp_path: Path) -> None:
    ramp = Image.linear_gradient("L").resize((400, 11000), Image.Resampling.BILINEAR)
    clean = clean_picture(saved(tmp_path, ramp, "ramp.png"))

    shown = opened(clean.shown).convert("L")
    column = [shown.getpixel((40, y)) for y in range(clean.height)]
    expected = [255 * (y + 0.5) / clean.height for y in range(clean.height)]
    assert max(abs(found - want) for found, want in zip(column, expected, strict=True)) <= 4  # type: ignore[operator]


def test_a_small_photo_is_not_enlarged(tmp_path: Path) -> None:
    clean = clean_picture(saved(tmp_path, Image.new("RGB", (1, 1), BRICK), "dot.png"))
    assert (clean.width, clean.height) == opened(clean.thumbnail).size == (1, 1)


def test_a_photo_one_pixel_wide_stays_a_photo(tmp_path: Path) -> None:
    clean = clean_picture(saved(tmp_path, Image.new("RGB", (1, 20_000), BRICK), "thread.png"))
    assert (clean.width, clean.height) == (1, 2560)


def photo_with_a_life_story(tmp_path: Path, suffix: str) -> Path:
    exif = Image.Exif()
    exif[0x010F] = "INVENTED-MAKER"
    exif[0x013B] = "INVENTED-PERSON"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (12.0, 34.0, 56.0)
    xmp = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf>INVENTED-PLACE</rdf></x:xmpmeta>'
    options: dict[str, object] = {"exif": exif, "xmp": xmp}
    if suffix == "jpg":
        options["comment"] = b"INVENTED-COMMENT"
    if suffix == "png":
        texts = PngImagePlugin.PngInfo()
        texts.add_text("Author", "INVENTED-AUTHOR")
        texts.add_itxt("XML:com.adobe.xmp", xmp.decode())
        options = {"exif": exif, "pnginfo": texts}
    return saved(tmp_path, Image.new("RGB", (64, 48), BRICK), f"story.{suffix}", **options)


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "heic"])
def test_nothing_but_pixels_leaves(tmp_path: Path, suffix: str) -> None:
    path = photo_with_a_life_story(tmp_path, suffix)
    assert b"INVENTED-P" in path.read_bytes(), "the photo must carry what is to be stripped"

    clean = clean_picture(path)

    for jpeg in (clean.shown, clean.thumbnail):
        picture = opened(jpeg)
        assert not picture.getexif()
        assert set(picture.info) <= {
            "jfif",
            "jfif_version",
            "jfif_unit",
            "jfif_density",
            "progressive",
            "progression",
        }
        for word in (b"INVENTED", b"Exif", b"xmp", b"Photoshop", b"GPS"):
            assert word not in jpeg


def display_p3_profile() -> bytes:
    """A matrix profile with the P3 primaries at D65 (SMPTE RP 431-2 primaries), built from an sRGB one.

    The colorants, adapted to D50, are those of the ICC's published Display P3 profile.
    """
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    colorants = {
        b"rXYZ": (0.51512, 0.24120, -0.00105),
        b"gXYZ": (0.29198, 0.69225, 0.04189),
        b"bXYZ": (0.15710, 0.06657, 0.78407),
    }
    for index in range(struct.unpack_from(">I", profile, 128)[0]):
        tag, offset, _ = struct.unpack_from(">4sII", profile, 132 + 12 * index)
        if tag in colorants:
            struct.pack_into(">3i", profile, offset + 8, *(round(65536 * v) for v in colorants[tag]))
    return bytes(profile)


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "heic"])
def test_a_wide_gamut_photo_keeps_its_colour(tmp_path: Path, suffix: str) -> None:
    """P3 (200, 100, 80) is sRGB (215, 93, 73), by the two standards' matrices and the sRGB curve."""
    path = saved(
        tmp_path,
        Image.new("RGB", (64, 64), (200, 100, 80)),
        f"wide.{suffix}",
        icc_profile=display_p3_profile(),
    )
    assert near(colour_at(clean_picture(path).shown, 32, 32), (215, 93, 73), tolerance=4)


def test_an_unreadable_colour_profile_does_not_spoil_the_photo(tmp_path: Path) -> None:
    path = saved(tmp_path, Image.new("RGB", (64, 64), BRICK), "odd.png", icc_profile=b"no profile at all")
    assert near(colour_at(clean_picture(path).shown, 32, 32), BRICK)


@pytest.mark.parametrize("suffix", ["png", "webp", "heic"])
def test_transparency_lies_on_white(tmp_path: Path, suffix: str) -> None:
    picture = Image.new("RGBA", (128, 64), (*BRICK, 255))
    picture.paste((0, 0, 0, 0), (64, 0, 128, 64))
    clean = clean_picture(saved(tmp_path, picture, f"clear.{suffix}"))

    assert near(colour_at(clean.shown, 16, 32), BRICK)
    assert near(colour_at(clean.shown, 112, 32), WHITE)


def test_half_transparency_lies_on_white_too(tmp_path: Path) -> None:
    picture = Image.new("RGBA", (32, 32), (0, 0, 0, 128))
    assert near(colour_at(clean_picture(saved(tmp_path, picture, "half.png")).shown, 8, 8), (127, 127, 127))


def test_a_transparent_palette_lies_on_white(tmp_path: Path) -> None:
    picture = Image.new("P", (64, 32), 0)
    picture.putpalette([10, 10, 10, *BRICK])
    picture.paste(1, (32, 0, 64, 32))
    clean = clean_picture(saved(tmp_path, picture, "palette.png", transparency=0))

    assert near(colour_at(clean.shown, 8, 16), WHITE)
    assert near(colour_at(clean.shown, 56, 16), BRICK)


@pytest.mark.parametrize(
    ("mode", "ink", "grey"),
    [("1", 0, 0), ("1", 1, 255), ("L", 90, 90), ("I;16", 32896, 128), ("I;16", 65535, 255)],
)
def test_grey_photos_keep_their_tone(tmp_path: Path, mode: str, ink: int, grey: int) -> None:
    clean = clean_picture(saved(tmp_path, Image.new(mode, (32, 32), ink), "grey.png"))
    assert near(colour_at(clean.shown, 8, 8), (grey, grey, grey), tolerance=2)


def test_a_cmyk_jpeg_comes_out_in_its_colours(tmp_path: Path) -> None:
    picture = Image.new("CMYK", (64, 64), (0, 200, 220, 20))
    wanted = picture.convert("RGB").getpixel((0, 0))
    path = saved(tmp_path, picture, "press.jpg", quality=95)
    assert near(colour_at(clean_picture(path).shown, 32, 32), wanted)  # type: ignore[arg-type]


@pytest.mark.parametrize("suffix", ["png", "webp", "heic"])
def test_of_a_moving_picture_the_first_frame_is_taken(tmp_path: Path, suffix: str) -> None:
    first, second = Image.new("RGB", (64, 64), BRICK), Image.new("RGB", (64, 64), (0, 0, 200))
    path = saved(tmp_path, first, f"moving.{suffix}", save_all=True, append_images=[second])
    with Image.open(path) as picture:
        assert getattr(picture, "n_frames", 1) == 2
    assert near(colour_at(clean_picture(path).shown, 32, 32), BRICK)


def test_a_jpeg_with_a_second_picture_behind_it_is_a_jpeg(tmp_path: Path) -> None:
    first, second = Image.new("RGB", (64, 64), BRICK), Image.new("RGB", (64, 64), (0, 0, 200))
    path = saved(tmp_path, first, "depth.jpg", format="MPO", save_all=True, append_images=[second])
    clean = clean_picture(path)
    assert clean.media_type_found == "image/jpeg"
    assert near(colour_at(clean.shown, 32, 32), BRICK)


def test_the_same_photo_gives_the_same_bytes(tmp_path: Path) -> None:
    path = saved(tmp_path, Image.radial_gradient("L"), "lamp.png")
    assert clean_picture(path) == clean_picture(path)


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.jpg"
    path.touch()
    assert "empty" in refusal(path)


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"Treble at 6, middle at noon.\n", "not a picture"),
        (b"\0" * 5000, "not a picture"),
        (b"RIFF\x24\0\0\0WAVEfmt ", "not a picture"),
        (b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom", "film"),
        (b"\0\0\0\x18ftypavif\0\0\0\0mif1miaf", "AVIF"),
        (b"GIF89a\x01\0\x01\0", "GIF"),
        (b"BM\x46\0\0\0", "BMP"),
        (b"II*\0\x08\0\0\0", "TIFF"),
        (b"%PDF-1.7\n", "PDF"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>', "SVG"),
        (b'\xef\xbb\xbf<?xml version="1.0"?>\n<!-- a drawing -->\n<SVG/>', "SVG"),
    ],
)
def test_what_is_no_photo_is_named_and_refused(tmp_path: Path, content: bytes, word: str) -> None:
    path = tmp_path / "panel.jpg"
    path.write_bytes(content)
    sentence = refusal(path)
    assert word in sentence
    assert "PNG" in sentence, "it says what to use instead"


def test_a_decompression_bomb_is_refused_before_it_is_decoded(tmp_path: Path) -> None:
    side = 60_000
    header = png_chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0))
    body = png_chunk(b"IDAT", zlib.compress(bytes(1_000_000)))
    path = tmp_path / "bomb.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + header + body + png_chunk(b"IEND", b""))
    assert "100 million pixels" in refusal(path)


@pytest.mark.parametrize("side", [10_001, 13_500])
def test_a_picture_just_over_the_limit_is_refused_as_well(tmp_path: Path, side: int) -> None:
    picture = Image.new("1", (side, side), 1)
    assert "100 million pixels" in refusal(saved(tmp_path, picture, "over.png"))


def test_a_text_bomb_inside_a_png_is_refused(tmp_path: Path) -> None:
    bomb = png_chunk(b"zTXt", b"Comment\0\0" + zlib.compress(bytes(100_000_000), 9))
    good = saved(tmp_path, Image.new("RGB", (8, 8), BRICK), "good.png").read_bytes()
    path = tmp_path / "text.png"
    path.write_bytes(good[:33] + bomb + good[33:])
    assert "damaged" in refusal(path)


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "heic"])
@pytest.mark.parametrize("kept", [0.02, 0.3, 0.7, 0.95])
def test_a_photo_cut_short_is_refused(tmp_path: Path, suffix: str, kept: float) -> None:
    noise = Image.effect_noise((400, 300), 90).convert("RGB")
    whole = saved(tmp_path, noise, f"whole.{suffix}").read_bytes()
    path = tmp_path / f"cut.{suffix}"
    path.write_bytes(whole[: int(len(whole) * kept)])
    assert "cut short or damaged" in refusal(path)


def test_a_missing_file_is_no_fault_of_the_picture(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        clean_picture(tmp_path / "gone.jpg")


@settings(max_examples=150, deadline=None)
@given(
    head=st.sampled_from(
        [b"", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"RIFF\0\0\0\0WEBP", b"\0\0\0\x18ftypheic"]
    ),
    rest=st.binary(max_size=300),
)
def test_any_bytes_are_either_shown_or_refused_with_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, head: bytes, rest: bytes
) -> None:
    path = tmp_path_factory.mktemp("any") / "any.jpg"
    path.write_bytes(head + rest)
    with contextlib.suppress(UnusablePicture):
        assert isinstance(clean_picture(path), CleanPicture)


def test_the_module_starts_without_pillow() -> None:
    code = "import sys, app.desk.files.pictures; print([m for m in ('PIL', 'pillow_heif', 'numpy') if m in sys.modules])"
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"
