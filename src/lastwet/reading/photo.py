"""From a file's bytes to an upright RGB photo of a size that is quick to read.

Pillow is the only decoder. The format is told by the file's first bytes, so that only the plugin of an allowed format ever runs,
and caps hold before anything is decoded: a PNG of 70 kB can declare 600 megapixels. JPEG is decoded at 1/2, 1/4 or 1/8 by libjpeg
itself (`draft`), at half the time of a full decode and a quarter of its memory or less; other formats are averaged down afterwards.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import BinaryIO, Literal

import numpy as np
import numpy.typing as npt
from PIL import Image

from lastwet.errors import UnusablePhoto

MAX_BYTES = 200_000_000
"""Largest file; a phone's 200 megapixel JPEG has about 100 MB."""
MAX_DRAFT_PX = 250_000_000
"""Most pixels of a JPEG, which is decoded reduced; phones send up to 200 megapixels."""
MAX_FULL_PX = 120_000_000
"""Most pixels of a format that must be decoded in full, at 3 bytes each."""
ENOUGH_PX = 1600
"""A photo is reduced as far as its long side keeps at least this: to 1600..3199 px."""

BAND_PX = 32
"""Rows that are copied at a time: few enough to stay in the processor's cache."""

FORMATS = "JPEG, PNG, WebP or HEIC"

Format = Literal["JPEG", "PNG", "WEBP", "HEIF"]
_HEIF_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})
"""Major brands of the `ftyp` box for images coded with HEVC (ISO/IEC 23008-12, annexes B and C)."""

_ORIENTATION, _EXIF_IFD, _CHANGED, _TAKEN, _TAKEN_OFFSET = 0x0112, 0x8769, 0x0132, 0x9003, 0x9011
"""EXIF 2.32 tags: Orientation, the pointer to the Exif IFD, DateTime, DateTimeOriginal, OffsetTimeOriginal."""
_TIME = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)")
_OFFSET = re.compile(r"[+-]\d\d:\d\d")
_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What brings a photo of each EXIF orientation upright; 5 to 8 swap width and height."""

# The caps above take over: Pillow's own would warn at 89 megapixels, whatever the format.
Image.MAX_IMAGE_PIXELS = None


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """One photo, upright, ready to be read.

    Point p of `pixels` stands at ``(p + 0.5) / scale - 0.5`` in the upright full-size photo, the origin at the centre of the
    top-left pixel in both. Where the full size is no multiple of the reduction, a turned photo is off by less than one
    pixel of `pixels`.
    """

    pixels: npt.NDArray[np.uint8]
    """RGB, shape (height, width, 3), read-only."""
    full_size: tuple[int, int]
    """Width and height of the upright full-size photo."""
    scale: float
    """Pixels of `pixels` per full-size pixel: 1, 1/2, 1/3 ..."""
    sha256: str
    """Of the file's bytes."""
    format: Format
    camera_time: str | None
    """When the camera claims to have taken it, ISO 8601; without an offset where the camera states none."""
    original: bytes
    """The file's bytes as received."""


def load_photo(source: Path | bytes, name: str) -> Photo:
    """Decode a photo and bring it upright.

    Parameters
    ----------
    source : Path or bytes
        The file, or its bytes.
    name : str
        What the person calls it, for messages.

    Raises
    ------
    UnusablePhoto
        With the code not-an-image, too-large or damaged.
    """
    original = source if isinstance(source, bytes) else read_original(source, name)
    kind = _format(original, name)
    image = _open(original, kind, name)
    full_size = image.size
    _refuse_oversize(full_size, kind, name)
    try:
        exif = _exif(image)
        pixels = _upright(_reduced(image), exif.get(_ORIENTATION))
    except Exception as error:  # decoders raise whatever they stumble over
        raise _damaged(name, error) from error
    reduction = round(max(full_size) / max(pixels.shape[:2]))
    turned = full_size[::-1] if exif.get(_ORIENTATION) in (5, 6, 7, 8) else full_size
    return Photo(pixels, turned, 1 / reduction, hashlib.sha256(original).hexdigest(), kind, _camera_time(exif), original)


def read_original(path: Path, name: str) -> bytes:
    """Read a file's bytes; raises `UnusablePhoto` where there is none, or too much of it."""
    try:
        with path.open("rb") as file:
            return read_stream(file, name)
    except FileNotFoundError:
        raise UnusablePhoto("not-an-image", f"{name}: there is no such file", "check the name") from None
    except IsADirectoryError:
        raise UnusablePhoto("not-an-image", f"{name} is a folder", "name a photo, or a folder with photos in it") from None
    except OSError as error:
        raise UnusablePhoto("not-an-image", f"{name} cannot be read ({error.strerror})", "check its permissions and its disk") from error


def read_stream(stream: BinaryIO, name: str) -> bytes:
    """Read a stream to its end, at most `MAX_BYTES`; raises `UnusablePhoto` beyond."""
    original = stream.read(MAX_BYTES + 1)
    if len(original) > MAX_BYTES:
        raise UnusablePhoto("too-large", f"{name} has more than {MAX_BYTES // 1_000_000} MB", "send the photo as the phone saved it")
    return original


def _format(original: bytes, name: str) -> Format:
    """Tell the format by the first bytes of the file."""
    if not original:
        raise UnusablePhoto("not-an-image", f"{name} is empty", "copy the photo from the phone again")
    if original.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if original.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if original[:4] == b"RIFF" and original[8:12] == b"WEBP":
        return "WEBP"
    if original[4:8] == b"ftyp" and original[8:12] in _HEIF_BRANDS:
        return "HEIF"
    raise UnusablePhoto("not-an-image", f"{name} is not a {FORMATS} photo", "take the photo with the phone's camera, or convert it to JPEG")


def _open(original: bytes, kind: Format, name: str) -> Image.Image:
    """Read the header only."""
    if kind == "HEIF":
        _admit_heif(name)
    try:
        image = Image.open(BytesIO(original), formats=(kind,))
    except Exception as error:  # decoders raise whatever they stumble over
        raise _damaged(name, error) from error
    image.decodermaxblock = len(original)  # all at once: libjpeg is slow at the end of each piece, and Pillow's are of 64 kB
    return image


def _admit_heif(name: str) -> None:
    try:
        from pillow_heif import register_heif_opener  # an extra, and 50 ms that no other format needs
    except ImportError:
        cure = "pip install 'lastwet[heic]', or set the phone's camera to its most compatible format, JPEG"
        raise UnusablePhoto("not-an-image", f"{name} is a HEIC photo, and HEIC support is not installed", cure) from None
    register_heif_opener()


def _damaged(name: str, error: Exception) -> UnusablePhoto:
    return UnusablePhoto("damaged", f"{name} is damaged or cut off ({error})", "copy the photo from the phone again, or take it again")


def _refuse_oversize(size: tuple[int, int], kind: Format, name: str) -> None:
    most = MAX_DRAFT_PX if kind == "JPEG" else MAX_FULL_PX
    if size[0] * size[1] > most:
        message = f"{name} has {size[0]} x {size[1]} pixels, more than {most // 1_000_000} megapixels of {kind}"
        raise UnusablePhoto("too-large", message, "send the photo as the phone saved it, as JPEG, or scale it down to 12 megapixels")


def _reduced(image: Image.Image) -> Image.Image:
    """Decode to RGB, reduced as far as `ENOUGH_PX` allows."""
    share = min(1.0, ENOUGH_PX / max(image.size))
    image.draft(None, (max(1, int(image.width * share)), max(1, int(image.height * share))))
    step = max(image.size) // ENOUGH_PX
    image = _rgb(image)
    return image.reduce(step) if step > 1 else image


def _rgb(image: Image.Image) -> Image.Image:
    """Convert any mode to RGB; what is transparent becomes white."""
    if image.mode == "RGB" and not image.has_transparency_data:
        return image  # `convert` would copy
    if image.mode.startswith("I"):  # 16-bit grey, which Pillow would clip at 255
        grey = np.asarray(image) >> 8
        return Image.fromarray(grey.astype(np.uint8)).convert("RGB")
    if image.has_transparency_data:
        rgba = image.convert("RGBA")
        return Image.alpha_composite(Image.new("RGBA", rgba.size, "white"), rgba).convert("RGB")
    return image.convert("RGB")


def _upright(image: Image.Image, orientation: object) -> npt.NDArray[np.uint8]:
    turn = _TURNS.get(orientation) if isinstance(orientation, int) else None
    pixels = _pixels(image if turn is None else image.transpose(turn))
    pixels.flags.writeable = False
    return pixels


def _pixels(image: Image.Image) -> npt.NDArray[np.uint8]:
    """Copy an RGB image in bands: `np.asarray` on the whole of it goes through two copies in fresh memory, at twice the time."""
    pixels = np.empty((image.height, image.width, 3), np.uint8)
    for top in range(0, image.height, BAND_PX):
        pixels[top : top + BAND_PX] = np.asarray(image.crop((0, top, image.width, min(top + BAND_PX, image.height))))
    return pixels


def _exif(image: Image.Image) -> Image.Exif:
    """Return the EXIF data, none where it is broken: a photo with a broken label is still a photo."""
    try:
        exif = image.getexif()
        exif.get_ifd(_EXIF_IFD)
    except Exception:  # the parser raises whatever it stumbles over
        return Image.Exif()
    return exif


def _camera_time(exif: Image.Exif) -> str | None:
    details = exif.get_ifd(_EXIF_IFD)
    taken = _TIME.match(str(details.get(_TAKEN) or exif.get(_CHANGED)))
    if not taken:
        return None
    year, month, day, clock = taken.groups()
    offset = _OFFSET.match(str(details.get(_TAKEN_OFFSET)))
    return f"{year}-{month}-{day}T{clock}{offset[0] if offset else ''}"
