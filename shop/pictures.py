"""Makes a safe picture of whatever was sent as one."""

import warnings
from io import BytesIO
from typing import IO

from PIL import Image, ImageOps

from shop.errors import Refused

LARGEST_BYTES = 12 * 1024 * 1024
# A hundred megapixels: more than any phone takes, and still decoded within a fraction of a gigabyte.
LARGEST_PIXELS = 100_000_000
LONGEST_SIDE = 2048
SMALL_SIDE = 360
LARGEST_PROFILE = 16 * 1024
FORMATS = ("JPEG", "PNG", "WEBP")
# ISO/IEC 23008-12 annex B and 23000-22: brands of still pictures that browsers cannot show.
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif", b"avis"}


class PictureError(Refused, ValueError):
    """What was sent cannot be kept as a photo; the words are fit to show."""


def read_picture(sent: IO[bytes], *, size: int) -> bytes:
    """The picture in `sent` as a JPEG that stands upright, no longer than `LONGEST_SIDE`, without place, maker or time.

    Raises PictureError for something that is no picture, is cut short, is too large, or is of a kind that browsers
    do not show.
    """
    if not size:
        raise PictureError("That file is empty. Take the photo again.", field="file")
    if size > LARGEST_BYTES:
        raise PictureError(
            f"That photo has {size / 1_000_000:.0f} MB; at most {LARGEST_BYTES // (1024 * 1024)} MB can be sent. "
            "Choose a smaller size in the camera.",
            field="file",
        )
    head = sent.read(16)
    sent.seek(0)
    if head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS:
        raise PictureError(
            "That is a HEIC photo, which most screens cannot show. In the phone's camera settings choose JPEG, "
            "often called most compatible, and take it again.",
            field="file",
        )
    return _as_jpeg(_opened(sent), LONGEST_SIDE)


def make_small(kept: IO[bytes]) -> bytes:
    """A small picture for lists, of one that `read_picture` made."""
    return _as_jpeg(_opened(kept), SMALL_SIDE)


def _opened(sent: IO[bytes]) -> Image.Image:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        try:
            image = Image.open(sent, formats=FORMATS)
        # A damaged or hostile file may make a decoder raise nearly anything.
        except Exception as error:
            raise PictureError("That is not a photo. Send a JPEG, PNG or WebP picture.", field="file") from error
    if image.width * image.height > LARGEST_PIXELS:
        raise PictureError("That picture has too many points to be a photo. Take it with the camera.", field="file")
    return image


def _as_jpeg(image: Image.Image, longest: int) -> bytes:
    made = BytesIO()
    try:
        # A JPEG is decoded at half, a quarter or an eighth of its size when that is still large enough.
        image.draft("RGB", (longest, longest))
        image.load()
        upright = ImageOps.exif_transpose(image)
        upright.thumbnail((longest, longest))
        profile = image.info.get("icc_profile") or b""
        kept_profile = profile if len(profile) <= LARGEST_PROFILE else None
        # Pillow would carry a comment over by itself, and some cameras write place and maker into it.
        on_white(upright).save(made, "JPEG", quality=84, optimize=True, icc_profile=kept_profile, comment=b"")
    except Exception as error:
        raise PictureError("That photo is damaged, or was cut short. Take it again.", field="file") from error
    return made.getvalue()


def on_white(image: Image.Image) -> Image.Image:
    """The picture in plain colours; what was see-through is white."""
    if image.mode == "RGB":
        return image
    if "A" not in image.getbands() and "transparency" not in image.info:
        return image.convert("RGB")
    seen = image.convert("RGBA")
    white = Image.new("RGBA", seen.size, "white")
    return Image.alpha_composite(white, seen).convert("RGB")
