"""Photo intake: every kind of file that a phone or a person may hand over."""

from __future__ import annotations

import hashlib
import os
import struct
import sys
import threading
import zlib
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from lastwet.errors import UnusablePhoto
from lastwet.reading import photo as intake
from lastwet.reading.photo import load_photo


def picture(width: int = 60, height: int = 40) -> Image.Image:
    """A picture without symmetry: red grows to the right, green downwards."""
    y, x = np.mgrid[:height, :width]
    return Image.fromarray(np.stack([x * 255 // width, y * 255 // height, np.full_like(x, 90)], axis=-1).astype(np.uint8))


def encoded(image: Image.Image, kind: str, **how: Any) -> bytes:
    file = BytesIO()
    image.save(file, kind, **how)
    return file.getvalue()


def pixels(original: bytes) -> np.ndarray:
    return load_photo(original, "x").pixels.astype(int)


def assert_same(found: np.ndarray, expected: Image.Image, tolerance: int = 0) -> None:
    assert found.shape == (expected.height, expected.width, 3)
    assert np.abs(found - np.asarray(expected.convert("RGB"), dtype=int)).max() <= tolerance


# --- what is decoded


@pytest.mark.parametrize(("kind", "tolerance"), [("PNG", 0), ("JPEG", 12), ("WEBP", 12)])
def test_a_photo_is_decoded_and_described(kind: str, tolerance: int, tmp_path: Path) -> None:
    original = encoded(picture(), kind, quality=95)
    path = tmp_path / "photo"
    path.write_bytes(original)
    photo = load_photo(path, "photo")
    assert_same(photo.pixels.astype(int), picture(), tolerance)
    assert (photo.full_size, photo.scale, photo.format, photo.camera_time) == ((60, 40), 1, kind, None)
    assert photo.original == original
    assert photo.sha256 == hashlib.sha256(original).hexdigest()
    assert not photo.pixels.flags.writeable
    assert photo.pixels.flags.c_contiguous


def test_heic_is_decoded() -> None:
    pillow_heif = pytest.importorskip("pillow_heif")
    file = BytesIO()
    pillow_heif.from_pillow(picture(64, 48)).save(file, quality=95)
    photo = load_photo(file.getvalue(), "x.heic")
    assert photo.format == "HEIF"
    assert_same(photo.pixels.astype(int), picture(64, 48), 16)


def test_heic_without_its_extra_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    with pytest.raises(UnusablePhoto, match=r"HEIC support is not installed: pip install 'lastwet\[heic\]'") as raised:
        load_photo(b"\0\0\0\x18ftypheic" + bytes(40), "x.heic")
    assert raised.value.code == "not-an-image"


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_turned_photo_is_brought_upright(orientation: int, kind: str) -> None:
    """Against Pillow's own `exif_transpose`."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    original = encoded(picture(), kind, exif=exif)
    with Image.open(BytesIO(original)) as image:
        upright = ImageOps.exif_transpose(image)
    photo = load_photo(original, "x")
    assert_same(photo.pixels.astype(int), upright)
    assert photo.full_size == upright.size


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_an_orientation_that_does_not_exist_is_ignored(orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    assert_same(pixels(encoded(picture(), "PNG", exif=exif)), picture())


@pytest.mark.filterwarnings("ignore:Corrupt EXIF data")  # the command drops Pillow's warnings
def test_a_broken_label_does_not_spoil_the_photo() -> None:
    original = encoded(picture(), "JPEG", exif=b"Exif\0\0II*\0\x08\0\0\0\xff\xff" + bytes(20))
    assert pixels(original).shape == (40, 60, 3)


@pytest.mark.parametrize(
    ("tags", "claim"),
    [
        ({0x9003: "2026:11:20 10:11:12", 0x9011: "+01:00"}, "2026-11-20T10:11:12+01:00"),
        ({0x9003: "2026:11:20 10:11:12"}, "2026-11-20T10:11:12"),
        ({0x9003: "yesterday"}, None),
    ],
)
def test_the_cameras_time_is_a_claim(tags: dict[int, str], claim: str | None) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769).update(tags)
    assert load_photo(encoded(picture(), "JPEG", exif=exif), "x").camera_time == claim


def test_the_time_of_the_last_change_is_better_than_none() -> None:
    exif = Image.Exif()
    exif[0x0132] = "2026:11:20 10:11:12"
    assert load_photo(encoded(picture(), "JPEG", exif=exif), "x").camera_time == "2026-11-20T10:11:12"


# --- modes


def test_grey_is_grey_in_each_channel() -> None:
    assert_same(pixels(encoded(picture().convert("L"), "PNG")), picture().convert("L"))


def test_sixteen_bit_grey_keeps_its_tones() -> None:
    ramp = np.linspace(0, 65535, 256).astype(np.uint16)[None, :].repeat(4, axis=0)
    assert np.array_equal(pixels(encoded(Image.fromarray(ramp), "PNG"))[..., 0], ramp >> 8)


def test_sixteen_bit_colour_keeps_its_tones() -> None:
    """A PNG written by hand after its specification (W3C PNG, 11.2.2), as Pillow does not write 16-bit colour."""
    tones = np.linspace(0, 65535, 48).astype(int).reshape(16, 3)
    found = pixels(png(16, 1, 16, zlib.compress(b"\0" + tones.astype(">u2").tobytes())))[0]
    assert np.abs(found - tones // 256).max() <= 1


def test_cmyk_is_converted() -> None:
    assert_same(pixels(encoded(picture().convert("CMYK"), "JPEG", quality=100, subsampling=0)), picture(), 12)


def test_a_palette_is_looked_up() -> None:
    flat = picture().quantize(16)
    assert_same(pixels(encoded(flat, "PNG")), flat)


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P"])
def test_what_is_transparent_becomes_white(mode: str) -> None:
    image = Image.new("RGBA", (4, 2), (0, 0, 0, 255))
    image.paste((0, 0, 0, 0), (0, 0, 2, 2))
    found = pixels(encoded(image.convert(mode), "PNG"))
    assert (found[:, :2] == 255).all()
    assert (found[:, 2:] == 0).all()


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_an_animation_gives_its_first_frame(kind: str) -> None:
    frames = [Image.new("RGB", (20, 10), colour) for colour in ("#c80000", "#00c800")]
    original = encoded(frames[0], kind, save_all=True, append_images=frames[1:], lossless=True)
    assert_same(pixels(original), frames[0])


def test_the_first_of_several_pictures_in_a_jpeg_is_read() -> None:
    """Phones append a second picture (CIPA DC-007, multi-picture format)."""
    original = encoded(picture(), "MPO", save_all=True, append_images=[picture(30, 20)], quality=95)
    photo = load_photo(original, "x")
    assert photo.format == "JPEG"
    assert_same(photo.pixels.astype(int), picture(), 12)


# --- size


@pytest.mark.parametrize(
    ("kind", "size", "step"),
    [
        ("JPEG", (1600, 1200), 1),
        ("JPEG", (3199, 400), 1),
        ("JPEG", (4000, 3000), 2),
        ("JPEG", (3000, 4000), 2),
        ("JPEG", (6404, 804), 4),
        ("JPEG", (12800, 96), 8),
        ("JPEG", (1, 5000), 3),
        ("PNG", (5000, 1), 3),
        ("PNG", (3200, 64), 2),
        ("PNG", (4803, 64), 3),
    ],
)
def test_a_large_photo_is_reduced_but_not_below_what_is_enough(kind: str, size: tuple[int, int], step: int) -> None:
    photo = load_photo(encoded(Image.new("RGB", size, "grey"), kind), "x")
    assert photo.scale == 1 / step
    assert photo.full_size == size
    assert photo.pixels.shape == (-(-size[1] // step), -(-size[0] // step), 3)
    assert max(photo.pixels.shape) >= intake.ENOUGH_PX


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("size", [(1, 1), (2, 1), (1, 3)])
def test_a_tiny_photo_is_a_photo(kind: str, size: tuple[int, int]) -> None:
    photo = load_photo(encoded(Image.new("RGB", size), kind), "x")
    assert (photo.pixels.shape, photo.scale) == ((size[1], size[0], 3), 1)


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_a_point_of_the_reduced_photo_stands_where_the_scale_says(kind: str, orientation: int) -> None:
    """A square in the full-size photo, found again by its centre of mass, against the same photo turned by Pillow in full."""
    full = Image.new("L", (4000, 3000), 0)
    full.paste(255, (1200, 500, 1280, 580))
    exif = Image.Exif()
    exif[0x0112] = orientation
    original = encoded(full, kind, exif=exif)
    with Image.open(BytesIO(original)) as image:
        expected = centre(np.asarray(ImageOps.exif_transpose(image)))
    photo = load_photo(original, "x")
    found = (centre(photo.pixels[..., 0]) + 0.5) / photo.scale - 0.5
    assert found == pytest.approx(expected, abs=0.1)


def centre(grey: np.ndarray) -> np.ndarray:
    """Centre of mass (x, y) in pixels."""
    weights = np.where(grey > 20, grey, 0).astype(float)
    y, x = np.mgrid[: grey.shape[0], : grey.shape[1]]
    return np.array([(x * weights).sum(), (y * weights).sum()]) / weights.sum()


def test_a_bomb_is_refused_before_it_is_decoded() -> None:
    """70 kB that declare 600 megapixels; decoding would need 1.8 GB."""
    bomb = png(30000, 20000, 8, zlib.compress(bytes(70_000_000), 9))
    assert len(bomb) < 100_000
    with pytest.raises(UnusablePhoto, match=r"30000 x 20000 pixels, more than 120 megapixels") as raised:
        load_photo(bomb, "bomb.png")
    assert raised.value.code == "too-large"


def test_a_jpeg_may_be_larger_as_it_is_decoded_reduced() -> None:
    original = bytearray(encoded(Image.new("L", (64, 64)), "JPEG"))
    frame = original.index(b"\xff\xc0")
    original[frame + 5 : frame + 9] = struct.pack(">HH", 20000, 20000)
    with pytest.raises(UnusablePhoto, match="250 megapixels of JPEG") as raised:
        load_photo(bytes(original), "x.jpg")
    assert raised.value.code == "too-large"


def test_a_file_beyond_the_cap_is_not_read_whole(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(intake, "MAX_BYTES", 1_000_000)
    path = tmp_path / "film.jpg"
    path.write_bytes(b"\xff\xd8\xff" + bytes(1_000_000))
    with pytest.raises(UnusablePhoto, match=r"film\.jpg has more than 1 MB") as raised:
        load_photo(path, "film.jpg")
    assert raised.value.code == "too-large"


# --- what is not usable


def png(width: int, height: int, depth: int, data: bytes) -> bytes:
    """Write a colour PNG with any header, right or wrong."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    header = struct.pack(">IIBBBBB", width, height, depth, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("share", [0.001, 0.1, 0.5, 0.9])
def test_a_photo_cut_off_in_copying_is_damaged(kind: str, share: float) -> None:
    noise = Image.fromarray(np.random.default_rng(1).integers(0, 256, (200, 300, 3), dtype=np.uint8))
    original = encoded(noise, kind)
    with pytest.raises(UnusablePhoto, match="damaged or cut off") as raised:
        load_photo(original[: max(16, int(len(original) * share))], "x")
    assert raised.value.code == "damaged"
    assert raised.value.cure


@pytest.mark.parametrize(
    "original",
    [
        pytest.param(b"hello", id="text"),
        pytest.param(encoded(picture(), "GIF"), id="gif"),
        pytest.param(encoded(picture(), "TIFF"), id="tiff"),
        pytest.param(encoded(picture(), "BMP"), id="bmp"),
        pytest.param(b"%PDF-1.7\n", id="pdf"),
        pytest.param(b"\0\0\0\x18ftypmp42" + bytes(100), id="video"),
    ],
)
def test_other_files_are_no_photos(original: bytes) -> None:
    with pytest.raises(UnusablePhoto, match="x is not a JPEG, PNG, WebP or HEIC photo") as raised:
        load_photo(original, "x")
    assert raised.value.code == "not-an-image"


def test_an_empty_file_is_no_photo() -> None:
    with pytest.raises(UnusablePhoto, match="x is empty"):
        load_photo(b"", "x")


def test_a_missing_file_and_a_folder_are_no_photos(tmp_path: Path) -> None:
    with pytest.raises(UnusablePhoto, match="there is no such file"):
        load_photo(tmp_path / "nosuch.jpg", "nosuch.jpg")
    with pytest.raises(UnusablePhoto, match="is a folder"):
        load_photo(tmp_path, "folder")


def test_a_file_that_may_not_be_read_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(UnusablePhoto, match="cannot be read \\(Permission denied\\)"):
        load_photo(tmp_path / "x.jpg", "x.jpg")


def test_a_pipe_is_read_like_a_file(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.png"
    os.mkfifo(pipe)
    threading.Thread(target=pipe.write_bytes, args=[encoded(picture(), "PNG")]).start()
    assert_same(load_photo(pipe, "pipe").pixels.astype(int), picture())


@pytest.mark.filterwarnings("ignore::UserWarning:PIL")
@settings(max_examples=300, deadline=None)
@given(st.data())
def test_no_damage_gets_past_as_an_unexpected_error(data: st.DataObject) -> None:
    """Any bytes changed anywhere: a photo or an `UnusablePhoto`."""
    original = bytearray(data.draw(st.sampled_from(SEEDS)))
    for position, value in data.draw(st.lists(st.tuples(st.integers(0, len(original) - 1), st.integers(0, 255)), min_size=1, max_size=8)):
        original[position] = value
    try:
        photo = load_photo(bytes(original), "x")
    except UnusablePhoto as error:
        assert error.code in {"not-an-image", "too-large", "damaged"}
    else:
        assert photo.pixels.ndim == 3


SEEDS = [
    encoded(picture(), "JPEG", exif=b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0"),
    encoded(picture(), "PNG"),
    encoded(picture().convert("P"), "PNG"),
    encoded(picture(), "WEBP"),
]
