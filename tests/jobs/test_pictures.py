"""Photos: what is kept of one, and what is no photo."""

import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from shop.pictures import LARGEST_BYTES, LONGEST_SIDE, SMALL_SIDE, PictureError, make_small, read_picture

# Tags of the Exif standard (CIPA DC-008): orientation, maker, and the pointer to the place.
ORIENTATION, MAKER, PLACE = 0x0112, 0x010F, 0x8825


def encoded(image: Image.Image, kind: str = "JPEG", **more: object) -> bytes:
    made = BytesIO()
    image.save(made, kind, **more)
    return made.getvalue()


def read(sent: bytes) -> Image.Image:
    return Image.open(BytesIO(read_picture(BytesIO(sent), size=len(sent))))


def halves() -> Image.Image:
    """Lying on its side: red on the left half, blue on the right."""
    image = Image.new("RGB", (400, 200), "red")
    image.paste("blue", (200, 0, 400, 200))
    return image


def with_exif() -> bytes:
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    exif[MAKER] = "Somebody"
    exif.get_ifd(PLACE)[1] = "N"
    exif.get_ifd(PLACE)[2] = (48.0, 7.0, 30.0)
    return encoded(halves(), exif=exif)


def test_photo_stands_upright() -> None:
    """Exif orientation 6: the first row is the right-hand side, so the picture is turned clockwise (CIPA DC-008)."""
    image = read(with_exif())
    assert image.size == (200, 400)
    assert image.getpixel((100, 40))[0] > 200 and image.getpixel((100, 360))[2] > 200  # type: ignore[index]


def test_photo_loses_place_and_maker() -> None:
    sent = with_exif()
    assert b"Somebody" in sent and Image.open(BytesIO(sent)).getexif().get_ifd(PLACE)
    kept = read_picture(BytesIO(sent), size=len(sent))
    assert b"Somebody" not in kept and b"Exif" not in kept
    assert not dict(Image.open(BytesIO(kept)).getexif())


def test_photo_loses_what_stands_in_its_comment() -> None:
    """Comments are a marker of the JPEG standard (ITU-T T.81, COM) and a text of PNG; they may say anything."""
    info = PngInfo()
    info.add_text("comment", "48.125 N 11.5 E")
    for sent in (encoded(halves(), comment=b"48.125 N 11.5 E"), encoded(halves(), "PNG", pnginfo=info)):
        assert b"48.125" in sent
        assert b"48.125" not in read_picture(BytesIO(sent), size=len(sent))


def test_large_photo_is_made_smaller_and_keeps_its_shape() -> None:
    image = read(encoded(Image.effect_noise((6000, 3000), 40).convert("RGB"), quality=60))
    assert image.size == (LONGEST_SIDE, LONGEST_SIDE // 2)


def test_small_picture_is_made_of_a_kept_one() -> None:
    sent = with_exif()
    kept = read_picture(BytesIO(sent), size=len(sent))
    assert max(Image.open(BytesIO(make_small(BytesIO(kept)))).size) <= SMALL_SIDE


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_see_through_becomes_white(kind: str) -> None:
    image = read(encoded(Image.new("RGBA", (40, 40), (0, 0, 0, 0)), kind))
    assert image.format == "JPEG" and min(image.getpixel((20, 20))) > 250  # type: ignore[arg-type]


@pytest.mark.parametrize("mode", ["1", "L", "P", "CMYK", "I;16"])
def test_unusual_colours_are_read(mode: str) -> None:
    kind = "JPEG" if mode == "CMYK" else "PNG"
    assert read(encoded(Image.new(mode, (30, 30)), kind)).mode == "RGB"


def refused(sent: bytes, size: int | None = None) -> str:
    with pytest.raises(PictureError) as error:
        read_picture(BytesIO(sent), size=len(sent) if size is None else size)
    return str(error.value)


@pytest.mark.parametrize(
    "sent",
    [
        b"<html><script>alert(1)</script></html>",
        b"%PDF-1.7\n",
        b"GIF89a" + bytes(40),
        b'<svg xmlns="http://www.w3.org/2000/svg"/>',
        b"\xff\xd8\xff" + bytes(100),
        b"\x89PNG\r\n\x1a\n" + b"x" * 200,
        bytes(3),
    ],
)
def test_what_is_no_photo_is_refused_in_words(sent: bytes) -> None:
    assert "not a photo" in refused(sent) or "damaged" in refused(sent)


def test_empty_file_is_refused() -> None:
    assert "empty" in refused(b"")


def test_thirty_megabytes_are_refused_with_advice_and_not_read() -> None:
    assert refused(b"", size=30_000_000).startswith("That photo has 30 MB; at most 12 MB can be sent.")
    assert "not a photo" in refused(b"nothing", size=LARGEST_BYTES)


@pytest.mark.parametrize("brand", [b"heic", b"mif1", b"heix", b"avif"])
def test_heic_is_refused_with_advice(brand: bytes) -> None:
    """Brands of ISO/IEC 23008-12 (HEIF) in a file type box of ISO/IEC 14496-12."""
    assert "choose JPEG" in refused(struct.pack(">I4s4sI", 24, b"ftyp", brand, 0) + bytes(8))


def bomb(side: int) -> bytes:
    """A tiny PNG that says it is side by side points large (format: ISO/IEC 15948)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(5000))) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("side", [11_000, 30_000, 2_000_000_000])
def test_decompression_bomb_is_refused_before_it_is_unpacked(side: int) -> None:
    assert "photo" in refused(bomb(side))


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_upload_cut_short_is_refused(share: float) -> None:
    sent = encoded(Image.effect_noise((900, 700), 60).convert("RGB"))
    assert "cut short" in refused(sent[: int(len(sent) * share)])
