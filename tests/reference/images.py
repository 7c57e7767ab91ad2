"""Figures of general-purpose libraries that the measuring is held against.

    python3 -m venv /tmp/reference && /tmp/reference/bin/pip install -r tests/reference/requirements.txt
    /tmp/reference/bin/python tests/reference/images.py            # writes images/ anew
    /tmp/reference/bin/python tests/reference/images.py --check    # compares images/ with a fresh run

Everything is drawn: strokes, bars, rules, noise of a fixed seed, and letters of an open font that the
demo draws with (Mali, SIL Open Font License 1.1; `npm ci` in demo/fonts fetches it). No photograph of
anybody's page is used. The Rust tests read the written files and need no Python.
"""

import json
import math
import sys
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont
from scipy import ndimage
from skimage import filters, measure, morphology, transform

HERE = Path(__file__).resolve().parent
OUT = HERE / "images"
FONT = HERE.parents[1] / (
    "demo/fonts/node_modules/@expo-google-fonts/mali/400Regular/Mali_400Regular.ttf"
)
SEED = 20_240_229
PAPER = 230

# ---------------------------------------------------------------- what is drawn


def bar(lean, width, size=(120, 120), paper=PAPER, ink=70):
    """One stroke that leans by `lean` degrees (+ forward), its edges shared out over pixels."""
    height, across = size
    fine = 8
    y, x = np.mgrid[0 : height * fine, 0 : across * fine]
    y, x = (y + 0.5) / fine, (x + 0.5) / fine
    # Half a pixel off the middle, so that an upright bar of odd width covers whole pixels.
    middle = across / 2 + 0.5 - math.tan(math.radians(lean)) * (y - height / 2)
    inside = np.abs(x - middle) * math.cos(math.radians(lean)) <= width / 2
    inside &= (y >= 10) & (y < height - 10)
    cover = inside.reshape(height, fine, across, fine).mean(axis=(1, 3))
    return np.round(paper + (ink - paper) * cover).astype(np.uint8)


def text_mask(text, size):
    """A line of the font, black on white, its edges shared out over pixels."""
    font = ImageFont.truetype(str(FONT), size, layout_engine=ImageFont.Layout.BASIC)
    box = font.getbbox(text)
    picture = Image.new("L", (box[2] + 20, box[3] + 20), 255)
    ImageDraw.Draw(picture).text((10, 10), text, font=font, fill=0)
    return np.asarray(picture)


def page():
    """A scrap of a page: uneven light, rules that cross, strokes, bars, letters, noise."""
    height, width = 260, 400
    y, x = np.mgrid[0:height, 0:width].astype(float)
    light = 215 - 0.12 * x - 0.10 * y + 18 * np.exp(-(((x - 90) / 70) ** 2 + ((y - 60) / 50) ** 2))
    cover = np.zeros((height, width))
    for row in range(30, height, 40):
        cover[row : row + 2, :] = np.maximum(cover[row : row + 2, :], 0.22)
    for column in range(25, width, 40):
        cover[:, column : column + 1] = np.maximum(cover[:, column : column + 1], 0.18)
    letters = 1 - text_mask("a bold hand jumps", 52) / 255
    top, left = 78, 4
    part = letters[: height - top, : width - left]
    area = cover[top : top + part.shape[0], left : left + part.shape[1]]
    np.maximum(area, 0.8 * part, out=area)
    for k, lean in enumerate([-25, -12, 0, 12, 25]):
        tile = (PAPER - bar(lean, 3 + k, (90, 70)).astype(float)) / (PAPER - 70)
        area = cover[160:250, 20 + 74 * k : 90 + 74 * k]
        np.maximum(area, 0.75 * tile, out=area)
    noise = np.random.default_rng(SEED).normal(0, 3, (height, width))
    return np.clip(np.round(light * (1 - 0.85 * cover) + noise), 0, 255).astype(np.uint8)


def marks():
    """Random specks and blobs, 255 where there is ink, no two labels guessable from the other."""
    rng = np.random.default_rng(SEED + 1)
    soft = ndimage.gaussian_filter(rng.normal(0, 1, (120, 160)), 1.1)
    return np.where(soft > 0.22, 255, 0).astype(np.uint8)


def photo():
    """Something in colour to be resampled: smooth light, a few letters, a margin line."""
    height, width = 200, 260
    y, x = np.mgrid[0:height, 0:width].astype(float)
    base = np.stack(
        [
            210 - 0.2 * x + 12 * np.sin(y / 19),
            200 - 0.15 * y + 10 * np.cos(x / 23),
            190 - 0.1 * (x + y) + 8 * np.sin((x - y) / 29),
        ],
        axis=2,
    )
    ink = 1 - text_mask("pond", 96) / 255
    ink = ink[: height - 20, : width - 10]
    cover = np.zeros((height, width))
    cover[20 : 20 + ink.shape[0], 10 : 10 + ink.shape[1]] = ink
    base *= 1 - 0.75 * cover[:, :, None]
    base[:, 30:32] = (190, 90, 100)
    # The optics of a camera: nothing in a photograph is sharper than its pixels.
    base = ndimage.gaussian_filter(base, (0.8, 0.8, 0))
    return np.clip(np.round(base), 0, 255).astype(np.uint8)


# ---------------------------------------------------------------- what the libraries say


def sauvola(grey, window):
    """scikit-image's and OpenCV's masks, 255 where there is ink; and figures of some windows.

    At the border scikit-image mirrors the picture and OpenCV repeats its edge, while a window may
    also be cut off; the third mask is plain numpy with windows cut off.
    """
    skimage_limit = filters.threshold_sauvola(grey, window_size=window, k=0.2, r=128)
    by_skimage = np.where(grey <= skimage_limit, 255, 0).astype(np.uint8)
    by_opencv = cv2.ximgproc.niBlackThreshold(
        grey,
        maxValue=255,
        type=cv2.THRESH_BINARY_INV,
        blockSize=window,
        k=0.2,
        binarizationMethod=cv2.ximgproc.BINARIZATION_SAUVOLA,
        r=128,
    )
    height, width = grey.shape
    half = window // 2
    cut = np.zeros_like(grey)
    samples = []
    rng = np.random.default_rng(SEED + window)
    wanted = set(rng.choice(height * width, 40, replace=False).tolist())
    for row in range(height):
        for column in range(width):
            part = grey[max(0, row - half) : row + half + 1, max(0, column - half) : column + half + 1]
            mean, deviation = part.mean(), part.std()
            limit = mean * (1 + 0.2 * (deviation / 128 - 1))
            cut[row, column] = 255 if grey[row, column] <= limit else 0
            inside = half <= row < height - half and half <= column < width - half
            if row * width + column in wanted and inside:
                samples.append(
                    {
                        "mean": float(mean),
                        "deviation": float(deviation),
                        "skimage": float(skimage_limit[row, column]),
                    }
                )
    return {"skimage": by_skimage, "opencv": by_opencv, "cut": cut}, samples


def otsu(grey):
    """The threshold at or below which a pixel is ink, by both libraries."""
    by_opencv, _ = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    return {"skimage": int(filters.threshold_otsu(grey)), "opencv": int(by_opencv)}


def two_greys():
    """100 x 100 at 200 with a block of 50."""
    grey = np.full((100, 100), 200, np.uint8)
    grey[:20, :20] = 50
    return grey


def stroke_width(mask):
    """2 EDT - 1: its largest value, and its median over the skeleton of Zhang and Suen."""
    distance = ndimage.distance_transform_edt(np.pad(mask > 0, 1))[1:-1, 1:-1]
    skeleton = morphology.skeletonize(mask > 0, method="zhang")
    return {
        "edt_max": float(distance.max()),
        "of_skeleton": float(np.median(2 * distance[skeleton] - 1)),
        "skeleton_pixels": int(skeleton.sum()),
    }


def strongest_line(mask):
    """Lean of the strongest line of scikit-image's Hough transform, in steps of a twentieth degree."""
    angles = np.deg2rad(np.arange(-45, 45, 0.05))
    votes, angles, _ = transform.hough_line(mask > 0, theta=angles)
    _, column = np.unravel_index(np.argmax(votes), votes.shape)
    # x cos t + y sin t = d: along the line dx/dy = -tan t; leaning forward is to the right going up.
    return float(np.rad2deg(angles[column]))


def lean(grey):
    """Lean by regressing column on row over the ink of one stroke, weighed by how dark it is."""
    ink = (PAPER - grey.astype(float)).clip(0)
    y, x = np.mgrid[0 : grey.shape[0], 0 : grey.shape[1]]
    weight = ink / ink.sum()
    mx, my = (weight * x).sum(), (weight * y).sum()
    covariance = (weight * (x - mx) * (y - my)).sum()
    variance = (weight * (y - my) ** 2).sum()
    return float(-np.degrees(np.arctan(covariance / variance)))


def bars():
    """Tiles of one bar each, and what is said of them."""
    tiles, figures = [], []
    for true_lean in [-25, -12.5, -3, 0, 1, 7.5, 20, 30]:
        for width in [3, 5, 7, 11]:
            grey = bar(true_lean, width)
            mask = np.where(grey < 150, 255, 0).astype(np.uint8)
            skeleton = morphology.skeletonize(mask > 0, method="zhang")
            tiles.append(grey)
            figures.append(
                {
                    "lean": true_lean,
                    "width": width,
                    "regression": lean(grey),
                    "hough_of_stroke": strongest_line(mask),
                    "hough_of_skeleton": strongest_line(skeleton),
                    **stroke_width(mask),
                }
            )
    rows = [np.hstack(tiles[k : k + 8]) for k in range(0, len(tiles), 8)]
    return np.vstack(rows), figures


def homographies():
    """Quads of the kinds that photographs have, to an A4 sheet in millimetres."""
    rng = np.random.default_rng(SEED + 2)
    given = [[(100, 80), (900, 120), (880, 1300), (60, 1250)]]
    for _ in range(23):
        square = np.array([(400, 400), (2600, 400), (2600, 3500), (400, 3500)], float)
        angle = rng.uniform(-math.pi, math.pi)
        turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        corners = (square - 1750) @ turn.T + 1750 + rng.uniform(-380, 380, (4, 2))
        given.append([tuple(float(round(v, 2)) for v in corner) for corner in corners])
    out = []
    for index, corners in enumerate(given):
        size = (2100, 2970) if index == 0 else (210, 297)
        sheet = [(0, 0), (size[0], 0), (size[0], size[1]), (0, size[1])]
        source, target = np.array(corners, np.float32), np.array(sheet, np.float32)
        by_opencv = cv2.getPerspectiveTransform(source, target)
        by_skimage = transform.ProjectiveTransform.from_estimate(
            source.astype(float), target.astype(float)
        )
        matrix = np.asarray(by_skimage.params) / by_skimage.params[2, 2]
        out.append(
            {
                # What OpenCV was given has the precision of a float.
                "from": source.astype(float).tolist(),
                "to": target.astype(float).tolist(),
                "opencv": by_opencv.ravel().tolist(),
                "skimage": matrix.ravel().tolist(),
            }
        )
    return out


def warped(picture):
    """The picture cut out of a quad, 8 pixels for each of 24 x 18 mm, by three samplers."""
    corners = np.array([(14, 9), (247, 21), (238, 188), (5, 176)], np.float32)
    width, height, density = 24, 18, 8
    outline = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float32)
    to_photo = cv2.getPerspectiveTransform(outline, corners)
    # Page pixel (i, j) has its middle at ((i + 0.5) / density, (j + 0.5) / density) mm.
    middle = np.array([[1 / density, 0, 0.5 / density], [0, 1 / density, 0.5 / density], [0, 0, 1]])
    pixels = to_photo @ middle
    shape = (height * density, width * density)

    def by_skimage(order):
        planes = [
            transform.warp(
                picture[:, :, c].astype(float),
                transform.ProjectiveTransform(pixels),
                output_shape=shape,
                order=order,
                mode="edge",
                preserve_range=True,
            )
            for c in range(3)
        ]
        return np.clip(np.round(np.stack(planes, axis=2)), 0, 255).astype(np.uint8)

    bilinear = cv2.warpPerspective(
        picture,
        pixels,
        shape[::-1],
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    figures = {
        "to_photo": to_photo.ravel().tolist(),
        "width_mm": width,
        "height_mm": height,
        "px_per_mm": density,
    }
    pictures = {"cubic": by_skimage(3), "linear-skimage": by_skimage(1), "linear-opencv": bilinear}
    return pictures, figures


# ---------------------------------------------------------------- files


def everything():
    pictures, figures = {}, {}
    scrap, spots, colour = page(), marks(), photo()
    pictures["page"], pictures["marks"], pictures["photo"] = scrap, spots, colour

    figures["sauvola"] = []
    for window in [25, 61]:
        masks, samples = sauvola(scrap, window)
        for name, mask in masks.items():
            pictures[f"page-sauvola{window}-{name}"] = mask
        figures["sauvola"].append({"window": window, "samples": samples})

    rng = np.random.default_rng(SEED + 3)
    hills = np.concatenate([rng.normal(75, 14, 1500), rng.normal(205, 9, 10_500)])
    pictures["hills"] = np.clip(np.round(hills), 0, 255).astype(np.uint8).reshape(100, 120)
    figures["otsu"] = {
        "two_greys": otsu(two_greys()),
        "page": otsu(scrap),
        "hills": otsu(pictures["hills"]),
    }

    by_corners, n8 = measure.label(spots > 0, connectivity=2, return_num=True)
    _, n4 = measure.label(spots > 0, connectivity=1, return_num=True)
    identity = np.eye(4, dtype=bool)
    pictures["marks-labels"] = by_corners.astype(np.uint16)
    figures["labels"] = {
        "marks_by_corners": int(n8),
        "marks_by_sides": int(n4),
        "identity_by_corners": int(measure.label(identity, connectivity=2).max()),
        "identity_by_sides": int(measure.label(identity, connectivity=1).max()),
    }

    line = text_mask("on the pond a swan", 64)
    pictures["letters"] = line
    figures["letters"] = stroke_width(np.where(line < 128, 255, 0))
    pictures["bars"], figures["bars"] = bars()

    figures["homographies"] = homographies()
    cut, figures["warp"] = warped(colour)
    pictures.update({f"photo-{name}": picture for name, picture in cut.items()})
    return pictures, figures


def rounded(value):
    if isinstance(value, float):
        return float(f"{value:.12g}")
    if isinstance(value, dict):
        return {key: rounded(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(entry) for entry in value]
    return value


def saved(picture, path):
    black_and_white = picture.dtype == np.uint8 and picture.ndim == 2
    if black_and_white and set(np.unique(picture)) <= {0, 255}:
        Image.fromarray(picture).convert("1").save(path, optimize=True)
    else:
        Image.fromarray(picture).save(path, optimize=True)


def close(a, b):
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(close(a[key], b[key]) for key in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(close(x, y) for x, y in zip(a, b))
    if isinstance(a, float) or isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-7, abs_tol=1e-9)
    return a == b


def check(pictures, figures):
    wrong = []
    for name, picture in pictures.items():
        with Image.open(OUT / f"{name}.png") as file:
            kept = np.asarray(file.convert("L") if file.mode == "1" else file)
        if kept.shape != picture.shape or (kept.astype(int) != picture.astype(int)).any():
            wrong.append(f"{name}.png")
    if not close(json.loads((OUT / "images.json").read_text()), json.loads(json.dumps(figures))):
        wrong.append("images.json")
    print("not as computed now: " + ", ".join(wrong) if wrong else "as computed now")
    return 1 if wrong else 0


def main():
    pictures, figures = everything()
    figures = rounded(figures)
    if "--check" in sys.argv[1:]:
        return check(pictures, figures)
    OUT.mkdir(exist_ok=True)
    for name, picture in pictures.items():
        saved(picture, OUT / f"{name}.png")
    (OUT / "images.json").write_text(json.dumps(figures, indent=1) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
