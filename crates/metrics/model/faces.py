"""Open faces -> pictures of letters: each letter by itself, and what stands to its left and right.

A picture is 128 x 128, 32 pixels to the x-height, with the baseline at row BASE and the middle of
the letter's own ink at column 64. Grey is coverage: 0 for paper, 255 for ink.
"""

import csv
import hashlib
import os
import random
from multiprocessing import Pool

import numpy as np
from PIL import Image, ImageDraw, ImageFont

CLASSES = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
# Faces that the project draws its own pages with or that schools teach; open handwriting; upright and
# italic type; formal and brush scripts, which no child writes.
GROUPS = ("pages", "hand", "plain", "script")
SIZE, PER_X_HEIGHT, BASE = 128, 32, 83
HERE = os.path.dirname(os.path.abspath(__file__))


def families(part=None):
    """Rows of families.tsv, of one part ("train", "tune" or "unseen") if it is named."""
    with open(os.path.join(HERE, "families.tsv"), encoding="utf-8") as file:
        rows = list(csv.DictReader(file, delimiter="\t"))
    return [row for row in rows if part in (None, row["part"])]


def files(folder, name):
    """The upright and the italic face of a family, where they are."""
    for style in ("normal", "italic"):
        for weight in ("400", "300", "500"):
            path = os.path.join(folder, f"{name}-latin-{weight}-{style}.woff")
            if os.path.exists(path):
                yield path
                break


def ink(font, text):
    """Box of a text's ink about its pen position: left, top, right, bottom."""
    return font.getbbox(text, anchor="ls")


def sized(path):
    """The face at 32 pixels to the x-height."""
    probe = ImageFont.truetype(path, 200)
    heights = sorted(-ink(probe, c)[1] for c in "xzv")
    if heights[1] < 20:
        raise ValueError("no x-height")
    return ImageFont.truetype(path, round(200 * PER_X_HEIGHT / heights[1]))


def drawn(font, text, x):
    picture = Image.new("L", (SIZE, SIZE), 0)
    ImageDraw.Draw(picture).text((x, BASE), text, fill=255, font=font, anchor="ls")
    return np.asarray(picture)


def same_shape(font, lower):
    """Whether a small letter is only its capital made smaller."""
    def shape(text):
        left, top, right, bottom = ink(font, text)
        picture = Image.new("L", (max(right - left, 1), max(bottom - top, 1)), 0)
        ImageDraw.Draw(picture).text((-left, -top), text, fill=255, font=font, anchor="ls")
        return np.asarray(picture.resize((32, 32))) > 127

    a, b = shape(lower), shape(lower.upper())
    return (a & b).sum() / max((a | b).sum(), 1) > 0.85


def usable(font):
    """Whether a face has small letters of their own and no letter missing."""
    missing = font.getmask("\uffff").getbbox(), bytes(font.getmask("\uffff"))
    for c in CLASSES:
        mask = font.getmask(c)
        if mask.getbbox() is None or (mask.getbbox(), bytes(mask)) == missing:
            return False
    return sum(same_shape(font, c) for c in "abdeghnqrt") < 4


def without_dot(picture):
    """An i or j whose dot was left out, if white parts them."""
    rows = np.flatnonzero(picture.max(axis=1) > 60)
    gaps = np.flatnonzero(np.diff(rows) > 1)
    if len(gaps) == 0 or rows[gaps[-1]] > BASE - PER_X_HEIGHT // 2:
        return picture
    out = picture.copy()
    out[: rows[gaps[-1]] + 2] = 0
    return out


def lean(font):
    """Columns to the right for each row up of the face's own l."""
    picture = drawn(font, "l", SIZE / 2 - ink(font, "l")[2] / 2).astype(float)
    rows = np.flatnonzero(picture.sum(axis=1) > 0)
    rows = rows[rows < BASE - PER_X_HEIGHT // 4]
    if len(rows) < 8:
        return 0.0
    middles = picture[rows] @ np.arange(SIZE) / picture[rows].sum(axis=1)
    return float(-np.polyfit(rows, middles, 1)[0])


def neighbours(c, dice):
    small = CLASSES[:26]
    if c.isdigit():
        return dice.choice(CLASSES[52:]), dice.choice(CLASSES[52:])
    return ("" if c.isupper() else dice.choice(small)), dice.choice(small)


def letter(font, c, dice, dotted):
    """A letter and its neighbours."""
    left, right = neighbours(c, dice)
    box = ink(font, c)
    x = SIZE / 2 - (box[0] + box[2]) / 2
    own = drawn(font, c, x)
    if c in "ij" and not dotted:
        own = without_dot(own)
    beside = np.zeros_like(own)
    if left:
        beside = drawn(font, left, x - (font.getlength(left + c) - font.getlength(c)))
    at_right = x + font.getlength(c + right) - font.getlength(right)
    return own, np.maximum(beside, drawn(font, right, at_right))


def face(job):
    """All letters of a face, `turns` times with other neighbours; None if it cannot be used."""
    path, turns = job
    try:
        font = sized(path)
        if not usable(font):
            return None
    except (OSError, ValueError):
        return None
    seed = hashlib.sha256(os.path.basename(path).encode()).digest()
    dice = random.Random(seed)
    own, beside, classes = [], [], []
    for turn in range(turns):
        for index, c in enumerate(CLASSES):
            a, b = letter(font, c, dice, turn % 3 != 2)
            own.append(a)
            beside.append(b)
            classes.append(index)
    leans = np.full(len(classes), lean(font), np.float32)
    return np.stack(own), np.stack(beside), np.array(classes), leans


def bank(folder, part, turns, processes=16):
    """Letters of every family of a part: own ink, neighbours, class, lean, group, family."""
    jobs, tags = [], []
    for number, row in enumerate(families(part)):
        for path in files(folder, row["family"]):
            jobs.append((path, turns if row["group"] in ("pages", "hand") else max(turns // 2, 1)))
            tags.append((row["group"], number))
    with Pool(processes) as pool:
        faces = pool.map(face, jobs, chunksize=1)
    kept = [(f, t) for f, t in zip(faces, tags) if f is not None]
    refused = [os.path.basename(j[0]) for j, f in zip(jobs, faces) if f is None]
    own, beside, classes, leans = (np.concatenate([f[k] for f, _ in kept]) for k in range(4))
    groups = np.concatenate([np.full(len(f[2]), GROUPS.index(t[0])) for f, t in kept])
    family = np.concatenate([np.full(len(f[2]), t[1]) for f, t in kept])
    print(part, len(kept), "faces", len(classes), "letters; not usable:", *refused, flush=True)
    return own, beside, classes, leans, groups, family
