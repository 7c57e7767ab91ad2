"""What the recogniser is worth: figures on families that it has not seen."""

import json
import os

import numpy as np
import torch
import torch.nn.functional as F
from PIL import Image

import distort
import faces

# Letters that nobody can tell apart by shape once size, place or a dot is uncertain.
ALIKE = ("il1I", "oO0", "cC", "sS", "uU", "vV", "wW", "xX", "zZ", "kK", "pP")
SEED = 1
# What figures are of: part, how much the outline is warped, and the share of small letters with joining strokes.
JUDGED = (
    ("tune", "tune", 1.0, 0.0),
    ("unseen", "unseen", 1.0, 0.0),
    ("unseen_joined", "unseen", 1.0, 1.0),
    ("unseen_warped_0.5", "unseen", 0.5, 0.0),
    ("unseen_warped_0.0", "unseen", 0.0, 0.0),
)


def logits(net, bank, size, batches, seed, much=1.0, share=0.0):
    """Logits, classes and groups of distorted letters of a bank; small letters come most, and a share of
    them has joining strokes."""
    dice = distort.Dice(seed, bank.own.device)
    all_logits, classes, groups = [], [], []
    with torch.no_grad():
        for _ in range(batches):
            x, y, at, _ = bank.batch(size, dice, much, share)
            all_logits.append(net(x))
            classes.append(y)
            groups.append(bank.groups[at])
    return torch.cat(all_logits), torch.cat(classes), torch.cat(groups)


def temperature(net, bank, size, batches, share):
    """The divisor of logits at which the surprise on families kept for tuning is least."""
    z, y, _ = logits(net, bank, size, batches, SEED + 1, share=share)
    tried = torch.linspace(0.5, 2.5, 81, device=z.device)
    return float(min(tried, key=lambda t: F.cross_entropy(z / t, y).item()))


def calibration_error(p, right, bins=15):
    """Expected calibration error: mean distance of confidence and share right, in bins of equal
    width (Guo et al. 2017)."""
    at = (p * bins).long().clamp(max=bins - 1)
    total = 0.0
    for k in range(bins):
        inside = at == k
        if inside.any():
            total += inside.float().mean() * (p[inside].mean() - right[inside].float().mean()).abs()
    return float(total)


def merged(device, alike=ALIKE):
    """The class that stands for each class once those alike count as one."""
    stands = torch.arange(distort.OTHER + 1, device=device)
    for group in alike:
        at = [faces.CLASSES.index(c) for c in group]
        stands[at] = min(at)
    return stands


def small_letters(z, y):
    """Figures where only the 26 small letters come into question."""
    chosen = y < 26
    p = F.softmax(z[chosen][:, :26], 1)
    y = y[chosen]
    confidence, best = p.max(1)
    two = merged(z.device, ("il",))
    right = best == y
    each = {faces.CLASSES[c]: round(float(right[y == c].float().mean()), 4) for c in range(26)}
    pairs = torch.bincount(y * 26 + best, minlength=676).view(26, 26).float()
    pairs = pairs / pairs.sum(1, keepdim=True)
    pairs.fill_diagonal_(0)
    most = pairs.flatten().argsort(descending=True)[:16].tolist()
    return {
        "letters": len(y),
        "top1": round(float(right.float().mean()), 4),
        "top1_i_l_one": round(float((two[best] == two[y]).float().mean()), 4),
        "top3": round(float((p.topk(3).indices == y[:, None]).any(1).float().mean()), 4),
        "calibration_error": round(calibration_error(confidence, right), 4),
        "each": each,
        "confusions": [[faces.CLASSES[k // 26], faces.CLASSES[k % 26], round(float(pairs.flatten()[k]), 4)] for k in most],
    }


def all_classes(z, y):
    """Figures where all 63 classes come into question."""
    p = F.softmax(z, 1)
    confidence, best = p.max(1)
    stands = merged(z.device)
    right, alike = best == y, stands[best] == stands[y]

    def share(chosen, what):
        return round(float(what[chosen].float().mean()), 4)

    small, capital, digit, other = y < 26, (y >= 26) & (y < 52), (y >= 52) & (y < 62), y == distort.OTHER
    return {
        "top1": share(y >= 0, right), "top1_merged": share(y >= 0, alike),
        "small": share(small, right), "small_merged": share(small, alike),
        "capitals_merged": share(capital, alike), "digits_merged": share(digit, alike),
        "no_letter_found": share(other, right),
        "letters_called_none": round(float((best[~other] == distort.OTHER).float().mean()), 4),
        "calibration_error": round(calibration_error(confidence, right), 4),
    }


def figures(net, banks, size, batches):
    out = {}
    for name, part, much, share in JUDGED:
        z, y, groups = logits(net, banks[part], size, batches if much == 1.0 else batches // 4, SEED, much, share)
        chosen = groups < 3
        out[name] = {"small": small_letters(z[chosen], y[chosen]), "all": all_classes(z[chosen], y[chosen])}
        for k, group in enumerate(faces.GROUPS):
            if (groups == k).any():
                out[name][group] = small_letters(z[groups == k], y[groups == k])["top1"]
    return out


def show(f):
    for part, figures_of in f.items():
        if not isinstance(figures_of, dict):
            continue
        small = {k: v for k, v in figures_of["small"].items() if k not in ("each", "confusions")}
        print(part, small, figures_of["all"], {g: figures_of.get(g) for g in faces.GROUPS}, flush=True)
    print(f["unseen"]["small"]["each"], f["unseen"]["small"]["confusions"], flush=True)


def chosen_letters(bank, each, dice, groups=(0, 1)):
    """The same number of each small letter, of handwriting and school-like faces."""
    picked = []
    for c in range(26):
        at = torch.isin(bank.groups, torch.tensor(groups, device=bank.own.device)) & (bank.classes == c)
        at = at.nonzero().flatten()
        picked.append(at[dice.whole(len(at), each)])
    return torch.cat(picked)


SHEET_ROWS, SHEET_COLUMNS = 50, 40
PAPER, INK = 230, 80


def sheet(bank, out, each=12):
    """Letters of unseen families as photographed, before ink is told from paper: cells of 50 x 40,
    15 pixels to the x-height, the baseline 33.75 down; 26 cells a row, the letters in their order."""
    dice = distort.Dice(SEED + 2, bank.own.device)
    at = chosen_letters(bank, 2 * each, dice)
    photo, y, _ = distort.photos(bank.letters(at), dice)
    inner = (distort.WIDE - distort.COLUMNS) * distort.FINE // 2
    photo = photo[:, :, :, inner:-inner]
    photo = F.interpolate(photo, (SHEET_ROWS, SHEET_COLUMNS), mode="area")
    photo = photo.clamp(0, 1)[:, 0].cpu().numpy()
    grey = np.round((PAPER - photo * (PAPER - INK)) / 5) * 5
    y = y.cpu().numpy()
    rows = []
    for row in range(each):
        cells = []
        for c in range(26):
            kept = np.flatnonzero(y == c)
            cells.append(grey[kept[row % len(kept)]])
        rows.append(np.concatenate(cells, 1))
    Image.fromarray(np.concatenate(rows).astype(np.uint8)).save(os.path.join(out, "letters.png"), optimize=True)


def sample(bank, net, out):
    """Crops and what the net says of them, for holding another forward pass against this one."""
    dice = distort.Dice(SEED + 3, bank.own.device)
    x, _, _, _ = bank.batch(64, dice, share=distort.JOINED)
    whole = torch.round(x * 255)
    with torch.no_grad():
        z = net.cpu()(whole.cpu() / 255)  # in full precision
    tiles = whole[:, 0].cpu().numpy().astype(np.uint8).reshape(4, 16, 40, 32).transpose(0, 2, 1, 3).reshape(160, 512)
    Image.fromarray(tiles).save(os.path.join(out, "check.png"), optimize=True)
    with open(os.path.join(out, "check.json"), "w", encoding="utf-8") as file:
        json.dump([[round(v, 4) for v in row] for row in z.cpu().tolist()], file)
