"""Writes tests/bad/: files as phones, scanners, drawing programs and accidents make them.

    /tmp/reference/bin/python tests/reference/bad_files.py

What each must come to stands in tests/bad/outcomes.json, written by hand. The sheet on them is drawn,
with an open font (Mali, SIL Open Font License 1.1); nobody wrote it.
"""

import io
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "tests/bad"
FONT = ROOT / "demo/fonts/node_modules/@expo-google-fonts/mali/400Regular/Mali_400Regular.ttf"


def sheet(grain, size=(520, 710), sheet_at=(30, 34, 490, 687)):
    """An A5 sheet with lines 8 mm apart on a dark desk, seen from straight above."""
    picture = Image.new("RGB", size, (84, 62, 46))
    draw = ImageDraw.Draw(picture)
    left, top, right, bottom = sheet_at
    draw.rectangle(sheet_at, fill=(240, 238, 232))
    mm = (right - left) / 148
    font = ImageFont.truetype(str(FONT), round(5.2 * mm), layout_engine=ImageFont.Layout.BASIC)
    words = "a small brown hen ran down\nthe long lane and met\nan old dog on the way home"
    for k in range(22):
        y = top + (20 + 8 * k) * mm
        draw.line((left, y, right, y), fill=(170, 190, 222), width=1)
    for k, line in enumerate(words.split("\n")):
        y = top + (28 + 8 * k) * mm
        draw.text((left + 13 * mm, y), line, font=font, fill=(48, 48, 54), anchor="ls")
    noise = np.random.default_rng(5).normal(0, grain, (size[1], size[0], 1))
    return Image.fromarray(np.clip(np.asarray(picture) + noise, 0, 255).astype(np.uint8))


def png(chunks):
    """A PNG of raw chunks, CRCs right (ISO/IEC 15948)."""
    out = b"\x89PNG\r\n\x1a\n"
    for kind, data in chunks:
        out += struct.pack(">I", len(data)) + kind + data
        out += struct.pack(">I", zlib.crc32(kind + data))
    return out


def flat_png(width, height, extra=()):
    """All white, one bit a pixel."""
    rows = zlib.compressobj(9)
    row = b"\0" + b"\xff" * ((width + 7) // 8)
    data = b"".join(rows.compress(row) for _ in range(height)) + rows.flush()
    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return png([(b"IHDR", header), *extra, (b"IDAT", data), (b"IEND", b"")])


def woven_png(picture):
    """The picture in seven passes (ISO/IEC 15948, 8.2), as slow lines once wanted it."""
    pixels = np.asarray(picture)
    height, width, _ = pixels.shape
    passes = [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)]
    rows = [
        b"\0" + row.tobytes()
        for x, y, across, down in passes
        for row in pixels[y::down, x::across]
    ]
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 1)
    return png([(b"IHDR", header), (b"IDAT", zlib.compress(b"".join(rows), 9)), (b"IEND", b"")])


def jpeg(picture, **how):
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=55, **how)
    return out.getvalue()


def with_app1(bytes_of_jpeg, payload):
    """The JPEG with one APP1 segment put first."""
    return b"\xff\xd8\xff\xe1" + struct.pack(">H", len(payload) + 2) + payload + bytes_of_jpeg[2:]


def exif(orientation, next_at=0, count=1):
    """One tag, 0x0112, orientation (Exif 2.3, 4.6.4); and where the next directory is said to be."""
    tag = struct.pack(">HHIHH", 0x0112, 3, count, orientation, 0)
    return b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01" + tag + struct.pack(">I", next_at)


def saved(picture, kind, **how):
    out = io.BytesIO()
    picture.save(out, kind, **how)
    return out.getvalue()


def encoded(ending, pixels):
    return cv2.imencode(ending, pixels)[1].tobytes()


def main():
    OUT.mkdir(exist_ok=True)
    page, clean = sheet(2), sheet(0)
    plain = jpeg(page)
    small = clean.resize((260, 355))
    other = Image.new("RGB", page.size, (200, 40, 40))
    half_seen = page.convert("RGBA")
    half_seen.putalpha(Image.linear_gradient("L").resize(page.size))
    few = clean.quantize(24, dither=Image.Dither.NONE)
    files = {
        # Kinds of the three formats that are read.
        "plain.jpg": plain,
        "progressive.jpg": jpeg(page, progressive=True),
        "grey.jpg": jpeg(page.convert("L")),
        "four-inks.jpg": jpeg(page.convert("CMYK")),
        "sixteen-bit-grey.png": encoded(".png", (np.asarray(clean.convert("L"))).astype(np.uint16) * 257),
        "sixteen-bit.png": encoded(".png", np.asarray(clean)[:, :, ::-1].astype(np.uint16) * 257),
        "woven.png": woven_png(clean),
        "palette.png": saved(few, "PNG", optimize=True),
        "half-seen-through.webp": saved(half_seen, "WEBP", quality=60),
        "moving.png": saved(few, "PNG", save_all=True, append_images=[other.quantize(4)], duration=300),
        "moving.webp": saved(page, "WEBP", save_all=True, append_images=[other], duration=300, quality=60),
        "lossy.webp": saved(page, "WEBP", quality=60),
        "a-png.jpg": saved(few, "PNG", optimize=True),
        "a-jpeg.png": plain,
        # Directions that no camera gives, and directories that lead nowhere.
        "orientation-0.jpg": with_app1(plain, exif(0)),
        "orientation-9.jpg": with_app1(plain, exif(9)),
        "orientation-of-many.jpg": with_app1(plain, exif(6, count=0x7FFFFFFF)),
        "exif-in-a-circle.jpg": with_app1(plain, exif(1, next_at=8)),
        "exif-cut-short.jpg": with_app1(plain, exif(1)[:18]),
        # Too small, too large, out of all proportion.
        "small.jpg": jpeg(small),
        "one-pixel-high.png": flat_png(3000, 1),
        "one-pixel.png": flat_png(1, 1),
        "a-strip.png": flat_png(20_000, 400),
        "sixty-million.png": flat_png(20_000, 3_000),
        "too-many.png": flat_png(20_000, 3_001),
        "too-wide.jpg": jpeg(Image.new("L", (65_500, 8), 255)),
        "no-height.jpg": plain.replace(
            struct.pack(">HH", *reversed(page.size)), struct.pack(">HH", 0, page.size[0]), 1
        ),
        # More inside than outside.
        "swelling-profile.png": flat_png(
            600, 800, [(b"iCCP", b"x\0\0" + zlib.compress(bytes(64 << 20), 9))]
        ),
        "swelling-text.png": flat_png(
            600, 800, [(b"zTXt", b"x\0\0" + zlib.compress(bytes(64 << 20), 9))]
        ),
        # Broken.
        "no-bytes.jpg": b"",
        "two-bytes.jpg": b"\xff\xd8",
        "only-a-header.png": flat_png(600, 800)[:33],
        "wrong-crc.png": flat_png(600, 800)[:-20] + b"\0" * 20,
        "no-sampling.jpg": plain.replace(b"\x01\x22\x00\x02\x11", b"\x01\x00\x00\x02\x11", 1),
        # Something else.
        "letter.jpg": b"Dear tutor, here is the page.",
        "drawing.png": b'<svg xmlns="http://www.w3.org/2000/svg" width="600" height="800"/>',
        "moving.gif": saved(small, "GIF"),
        "scan.tif": saved(small.convert("1"), "TIFF", compression="group4"),
        "old.bmp": saved(small.convert("1"), "BMP"),
        "phone.heic": b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(64),
        "phone.avif": b"\0\0\0\x18ftypavif\0\0\0\0mif1avif" + bytes(64),
        "film.mp4": b"\0\0\0\x18ftypisom\0\0\x02\0isomiso2" + bytes(64),
        "pages.pdf": b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\n",
    }
    for name, data in files.items():
        (OUT / name).write_bytes(data)


if __name__ == "__main__":
    main()
