"""Pictures of letters -> crops as a child's hand, a phone and a cut in the wrong place leave them.

All in one batch on one device. Lengths are in x-heights unless said otherwise. A crop is 40 x 32:
12 rows to the x-height, baseline under row 27, the ink's box centred across.
"""

import math

import torch
import torch.nn.functional as F

from faces import BASE, CLASSES, PER_X_HEIGHT, SIZE

ROWS, COLUMNS, UNIT, BASELINE = 40, 32, 12, 27
FINE = 2  # fine cells to a cell of the crop, each way
WIDE = 44  # columns worked on, before the ink is centred
PX = UNIT * FINE  # fine cells to the x-height
OTHER = 62
JOINED = 0.5  # the share of small letters that joining strokes are drawn to, in training and tuning


class Dice:
    """Random numbers of one generator."""

    def __init__(self, seed, device):
        self.device = device
        self.generator = torch.Generator(device=device).manual_seed(seed)

    def uniform(self, *shape, low=0.0, high=1.0):
        return low + (high - low) * torch.rand(*shape, generator=self.generator, device=self.device)

    def normal(self, *shape, sd=1.0, most=2.5):
        return sd * torch.randn(*shape, generator=self.generator, device=self.device).clamp(-most, most)

    def whole(self, high, *shape):
        return torch.randint(high, shape, generator=self.generator, device=self.device)

    def chance(self, n, p):
        return self.uniform(n, 1, 1, 1) < p


def blurred(x, sigma):
    """Gaussian blur, sigma in cells."""
    reach = max(1, math.ceil(2.5 * sigma))
    k = torch.exp(-torch.arange(-reach, reach + 1, device=x.device, dtype=x.dtype) ** 2 / (2 * sigma**2))
    k = k / k.sum()
    flat = x.reshape(-1, 1, *x.shape[2:])
    flat = F.conv2d(flat, k.view(1, 1, 1, -1), padding=(0, reach))
    return F.conv2d(flat, k.view(1, 1, -1, 1), padding=(reach, 0)).view_as(x)


def smooth(dice, n, fields, grid, rows, columns):
    """Fields that vary slowly: unit noise on a coarse grid, drawn out."""
    mode = "bicubic" if grid < 6 else "bilinear"
    return F.interpolate(dice.normal(n, fields, grid, grid), (rows, columns), mode=mode, align_corners=True)


def some(x, dice, share, change):
    """A share of the pictures changed."""
    at = torch.randperm(len(x), generator=dice.generator, device=x.device)[: round(share * len(x))]
    return x.index_copy(0, at, change(x[at])) if len(at) else x


def written(pictures, leans, dice, much):
    """Slant, size, aspect, a wavering hand, and a crop that is a little off. The writing's own lean
    is undone for most, as the page's is. Gives the lean that is left, too."""
    n, rows, columns = len(pictures), ROWS * FINE, WIDE * FINE
    one = (n, 1, 1)
    x = ((torch.arange(columns, device=dice.device) + 0.5) / PX - WIDE / UNIT / 2).view(1, 1, -1)
    y = (BASELINE / UNIT - (torch.arange(rows, device=dice.device) + 0.5) / PX).view(1, -1, 1)
    y = y + dice.uniform(*one, low=-0.1, high=0.1) * much
    size = torch.exp(dice.uniform(*one, low=-0.1, high=0.1) * much)
    narrow = torch.exp(dice.normal(*one, sd=0.13) * much)
    leans = leans.view(one)
    lean = torch.tan(torch.deg2rad(dice.normal(*one, sd=8.0) * much))
    lean = lean - torch.where(dice.uniform(*one) < 0.7, leans, torch.zeros_like(leans))
    turn = torch.deg2rad(dice.normal(*one, sd=3.0) * much)
    x, y = x * size * narrow, y * size
    x, y = x - turn * y, y + turn * x
    x = x - lean * (y - 0.5)
    for grid, most in ((4, 0.09), (7, 0.045), (14, 0.018)):
        by = dice.uniform(*one) * most * much
        field = smooth(dice, n, 2, grid, rows, columns)
        x = x + by * field[:, 0]
        y = y + by * field[:, 1]
    half = SIZE / 2
    at = torch.stack((x * PER_X_HEIGHT / half, (BASE - y * PER_X_HEIGHT - half) / half), -1)
    ink = F.grid_sample(pictures, at, mode="bilinear", padding_mode="zeros", align_corners=False)
    return ink, (lean + leans).view(n, 1, 1, 1)


def stroked(ink, dice):
    """Another pen, the same for all channels: strokes made thicker or thinner, their ends rounder,
    the width uneven. What is thick already is not made thicker."""
    n = len(ink)
    soft = blurred(ink, 0.1 * PX)
    peak = F.max_pool2d(F.max_pool2d(soft, (9, 1), 1, (4, 0)), (1, 9), 1, (0, 4))
    thick = (soft[:, :1].flatten(1).amax(1).view(n, 1, 1, 1) - 0.6).clamp(0, 0.4)
    level = dice.uniform(n, 1, 1, 1, low=0.25, high=0.8) + thick * dice.uniform(n, 1, 1, 1)
    level = level.clamp(max=0.85) + 0.08 * smooth(dice, n, 1, 5, *ink.shape[-2:])
    return torch.sigmoid((soft / (peak + 1e-3) - level) * 14) * torch.sigmoid((peak - 0.07) * 80)


def columns_of(ink):
    """First and last column with ink; all of them where there is none."""
    inked = (ink > 0.3).flatten(1, 2).any(1)
    at = torch.arange(inked.shape[1], device=ink.device)
    first = torch.where(inked, at, inked.shape[1]).amin(1)
    last = torch.where(inked, at, -1).amax(1)
    return first.view(-1, 1, 1, 1).float(), last.view(-1, 1, 1, 1).float()


def cut(own, beside, leans, classes, dice):
    """One letter's ink: by itself, or cut out of a joined word along its lean and a little wrongly,
    so that a stroke of a neighbour stays or some of its own goes. Some are cut so wrongly that they
    are no letter, or are two: class OTHER."""
    n = len(own)
    both = torch.maximum(own, beside)
    tilt = leans + dice.normal(n, 1, 1, 1, sd=0.08)
    row = torch.arange(own.shape[2], device=own.device).view(1, 1, -1, 1)
    at = torch.arange(own.shape[3], device=own.device) + tilt * (row - (BASELINE - UNIT / 2) * FINE)
    inked = own > 0.3
    first = torch.where(inked, at, torch.full_like(at, own.shape[3])).flatten(1).amin(1).view(n, 1, 1, 1)
    last = torch.where(inked, at, torch.zeros_like(at)).flatten(1).amax(1).view(n, 1, 1, 1)
    left = first - dice.normal(n, 1, 1, 1, sd=0.07) * PX
    right = last + dice.normal(n, 1, 1, 1, sd=0.07) * PX
    kind = dice.uniform(n, 1, 1, 1)
    small = (classes < 26).view(-1, 1, 1, 1)
    two, astride = (kind < 0.035) & small, (kind >= 0.035) & (kind < 0.065) & small
    right = torch.where(two, own.shape[3] * 2.0, right)
    left = torch.where(astride, (first + last) / 2 + 0.1 * PX, left)
    right = torch.where(astride, last + dice.uniform(n, 1, 1, 1, low=0.35, high=0.6) * PX, right)
    from_word = torch.where((at >= left) & (at <= right), both, torch.zeros_like(both))
    touching = (F.max_pool2d(own, 5, 1, 2) * beside).flatten(1).amax(1).view(n, 1, 1, 1) > 0.25
    alone = (dice.uniform(n, 1, 1, 1) < torch.where(touching, 0.3, 0.9)) & ~two & ~astride
    ink = torch.where(alone, own, from_word)
    blot = kind > 0.975
    ink = torch.where(blot, blots(dice, *own.shape), ink)
    wrong = (two | astride | blot).flatten()
    return ink, torch.where(wrong, torch.full_like(classes, OTHER), classes)


# Letters that joined writing leaves at the top, those it leaves from below the line, and those it enters high.
FROM_TOP, FROM_BELOW, TALL = "borvw", "gjy", "bfhkl"


def among(classes, letters):
    """Which classes are one of some letters."""
    return torch.isin(classes, torch.tensor([CLASSES.index(c) for c in letters], device=classes.device))


def edge(own, height, at_right):
    """Column of the outermost ink at a height, on the right or the left, and whether there is ink."""
    columns = own.shape[3]
    row = ((BASELINE / UNIT - height) * PX).round().long().clamp(0, own.shape[2] - 1)
    near = F.max_pool2d(own, (3, 1), 1, (1, 0))
    inked = near.gather(2, row.view(-1, 1, 1, 1).expand(-1, 1, 1, columns))[:, 0, 0] > 0.3
    at = torch.arange(columns, device=own.device)
    first = torch.where(inked, at, columns).amin(1)
    last = torch.where(inked, at, -1).amax(1)
    return torch.where(at_right, last, first).float(), inked.any(1)


def pen(own):
    """Width of the strokes in fine cells: twice the inked area over the length of its outline."""
    across, down = own[:, :, :-1, 1:] - own[:, :, :-1, :-1], own[:, :, 1:, :-1] - own[:, :, :-1, :-1]
    outline = (across**2 + down**2).sqrt().flatten(1).sum(1)
    return (2 * own.flatten(1).sum(1) / outline.clamp(min=1)).clamp(1.5, 10)


def curve(own, letter_end, free_end, bend, width):
    """A stroke between two places (column and height of each, n x 2), drawn toward a third."""
    column = torch.arange(own.shape[3], device=own.device).view(1, 1, -1)
    height = (BASELINE * FINE - torch.arange(own.shape[2], device=own.device)).view(1, -1, 1)
    nearest = torch.full((len(own), own.shape[2], own.shape[3]), 1e6, device=own.device)
    for t in torch.linspace(0, 1, 20).tolist():
        x, y = ((1 - t) ** 2 * letter_end + 2 * t * (1 - t) * bend + t**2 * free_end).unbind(1)
        away = (column - x.view(-1, 1, 1)) ** 2 + (height - y.view(-1, 1, 1)) ** 2
        nearest = torch.minimum(nearest, away)
    return torch.sigmoid((width.view(-1, 1, 1) / 2 - nearest.sqrt()) * 3).unsqueeze(1)


def joining(own, leans, classes, at_right, dice):
    """The stroke by which joined writing enters a letter or, at the right, leaves it: to or from the
    neighbour's foot or top, of many lengths."""
    n = len(own)
    usual = dice.uniform(n) < 0.8
    below = at_right & among(classes, FROM_BELOW) & usual
    top = torch.where(at_right, among(classes, FROM_TOP) == usual, dice.uniform(n) < 0.35)
    # Heights where the stroke meets the letter, and where it ends.
    most = torch.where(~at_right & among(classes, TALL), 1.6, 1.0)
    foot = torch.where(at_right, dice.uniform(n, low=0.0, high=0.3), 0.4 + (most - 0.4) * dice.uniform(n).sqrt())
    meets = torch.where(top, dice.uniform(n, low=0.6, high=1.0), foot)
    meets = torch.where(below, dice.uniform(n, low=-0.7, high=-0.25), meets)
    foot = torch.where(at_right, dice.uniform(n, low=0.0, high=0.9), dice.uniform(n, low=-0.1, high=0.35))
    ends = torch.where(top, dice.uniform(n, low=0.5, high=1.05), foot)
    # Below the line a letter ends at the left of its tail, and its stroke crosses it.
    column, found = edge(own, meets, at_right & ~below)
    outermost, _ = edge(own, dice.uniform(n, low=0.2, high=0.6), at_right)
    far = dice.uniform(n, low=0.1, high=0.7) * PX
    away = torch.where(below, (outermost - column).clamp(min=0) + far, far)
    away = torch.where(at_right, away, -away) + leans.flatten() * (ends - meets) * PX
    letter_end = torch.stack((column, meets * PX), 1)
    free_end = torch.stack((column + away, ends * PX), 1)
    sag = torch.where(top | at_right, -dice.uniform(n, high=0.3), torch.zeros_like(far))
    along, up = dice.uniform(n, low=0.1, high=0.8), dice.uniform(n, low=-0.2, high=1.1)
    bend = torch.stack((column + along * away, (meets + up * (ends - meets) + sag) * PX), 1)
    width = pen(own) * torch.exp(dice.normal(n, sd=0.2)) * 0.9
    drawn = curve(own, letter_end, free_end, bend, width) * dice.uniform(n, 1, 1, 1, low=0.75)
    return drawn * found.view(n, 1, 1, 1)


def joined(ink, own, leans, classes, dice, share):
    """A share of the small letters as joined writing leaves them: whole, with a joining stroke before
    it, after it, or both. Which those are, too."""
    at = ((classes < 26) & (dice.uniform(len(own)) < share)).nonzero().flatten()
    own, leans, classes = own[at], leans[at], classes[at]
    which = dice.uniform(len(at), 1, 1, 1)
    left, right = (
        joining(own, leans, classes, torch.full_like(at, side, dtype=torch.bool), dice) for side in (False, True)
    )
    strokes = torch.maximum(left * (which < 0.75), right * (which > 0.3))
    chosen = torch.zeros(len(ink), dtype=torch.bool, device=ink.device).index_fill(0, at, True)
    return ink.index_copy(0, at, torch.maximum(own, strokes)), chosen


def blots(dice, n, _, rows, columns):
    """Patches and strokes that are no letters."""
    field = smooth(dice, n, 1, 5, rows, columns)
    narrow = dice.uniform(n, 1, 1, 1, low=0.1, high=0.6)
    row = (torch.arange(rows, device=dice.device).view(1, 1, -1, 1) / PX) - BASELINE / UNIT
    column = (torch.arange(columns, device=dice.device) / PX) - WIDE / UNIT / 2
    near = (row + dice.uniform(n, 1, 1, 1)) ** 2 + column**2 < dice.uniform(n, 1, 1, 1, low=0.1, high=1.2)
    stroke = (field.abs() < 0.35 * narrow) | (dice.chance(n, 0.4) & (field > 0.4))
    return (stroke & near).float()


def worn(ink, dice):
    """Gaps where the pen skipped, pencil grain, a rule over it or lifted out of it."""
    n, rows, columns = len(ink), ink.shape[2], ink.shape[3]
    row = torch.arange(rows, device=dice.device).view(1, 1, -1, 1)
    column = torch.arange(columns, device=dice.device)
    for _ in range(2):
        r = dice.uniform(n, 1, 1, 1, low=0.04, high=0.11) * PX
        cy = (BASELINE / UNIT - dice.uniform(n, 1, 1, 1, low=-0.6, high=1.6)) * PX
        cx = columns / 2 + dice.uniform(n, 1, 1, 1, low=-0.6, high=0.6) * PX
        hole = ((row - cy) ** 2 + (column - cx) ** 2 < r**2) & dice.chance(n, 0.2)
        ink = ink.masked_fill(hole, 0.0)
    grain = blurred(dice.normal(n, 1, rows, columns), 0.8) * 2
    grain = dice.chance(n, 0.5) * dice.uniform(n, 1, 1, 1, high=0.45) * grain
    ink = ink * (1 - grain.clamp(0, 0.9)) * dice.uniform(n, 1, 1, 1, low=0.65, high=1.15)
    at = (BASELINE / UNIT - torch.where(dice.chance(n, 0.8), dice.normal(n, 1, 1, 1, sd=0.1), 1 + dice.normal(n, 1, 1, 1, sd=0.1))) * PX
    on = ((row - at + 0.04 * (column - columns / 2) * dice.normal(n, 1, 1, 1)).abs() < dice.uniform(n, 1, 1, 1, low=0.02, high=0.06) * PX)
    near = F.max_pool2d(ink, (1, 13), 1, (0, 6)) > 0.3
    added = torch.where(on & near, torch.maximum(ink, dice.uniform(n, 1, 1, 1, low=0.15, high=0.7)), ink)
    lifted = torch.where(on, ink * dice.uniform(n, 1, 1, 1, low=0.2, high=0.9), ink)
    kind = dice.uniform(n, 1, 1, 1)
    return torch.where(kind < 0.18, added, torch.where(kind < 0.33, lifted, ink))


def jpeg(x, dice):
    """What JPEG leaves: 8 x 8 blocks, cosine transform, quantised by the table of ISO/IEC 10918-1,
    annex K, at qualities of 30 to 90."""
    k = torch.arange(8, device=x.device, dtype=x.dtype)
    basis = torch.cos((2 * k + 1) * k.view(-1, 1) * math.pi / 16) * 0.5
    basis[0] = math.sqrt(1 / 8)
    basis = torch.kron(basis, basis)
    n, _, rows, columns = x.shape
    quality = dice.uniform(n, 1, 1, low=30, high=90)
    scale = torch.where(quality < 50, 50 / quality, 2 - quality / 50) / 255
    step = torch.tensor(LUMINANCE, device=x.device, dtype=x.dtype) * scale
    blocks = x.view(n, rows // 8, 8, columns // 8, 8).transpose(2, 3).reshape(n, -1, 64)
    blocks = (torch.round(blocks @ basis.T / step) * step) @ basis
    return blocks.view(n, rows // 8, columns // 8, 8, 8).transpose(2, 3).reshape(n, 1, rows, columns)


LUMINANCE = (
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56,
    14, 17, 22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
)


def photographed(ink, dice):
    """Blur, few pixels, noise and JPEG."""
    n, rows, columns = len(ink), ink.shape[2], ink.shape[3]
    much = dice.uniform(n, 1, 1, 1, high=2.0)
    one, two = blurred(ink, 0.04 * PX), blurred(ink, 0.08 * PX)
    ink = torch.where(much < 1, ink + (one - ink) * much, one + (two - one) * (much - 1))
    for part, of in ((1, 2), (2, 3)):
        few = (rows * part // of, columns * part // of)
        ink = some(ink, dice, 0.25, lambda x, few=few: F.interpolate(
            F.interpolate(x, few, mode="area"), (rows, columns), mode="bilinear"))
    ink = ink + dice.normal(n, 1, rows, columns) * dice.uniform(n, 1, 1, 1, high=0.07)
    return some(ink, dice, 0.4, lambda x: jpeg(x, dice))


def masked(photo, dice):
    """Only what is told apart from the paper is kept, its darkness held against the page's ink."""
    n = len(photo)
    dark = F.avg_pool2d(photo, 3, 1, 1).flatten(1).amax(1).view(n, 1, 1, 1).clamp(min=0.1)
    level = dice.uniform(n, 1, 1, 1, low=0.25, high=0.5)
    kept = torch.where(photo > level * dark, photo, torch.zeros_like(photo))
    return (kept / dark * dice.uniform(n, 1, 1, 1, low=0.6, high=1.15)).clamp(0, 1)


def centred(ink):
    """The crop: the ink's box in the middle, 2 x 2 fine cells to one."""
    first, last = columns_of(ink)
    shift = ((first + last) / 2 + 1 - COLUMNS * FINE / 2).round().long().flatten()
    shift = shift.clamp(0, ink.shape[3] - COLUMNS * FINE)
    at = shift.view(-1, 1) + torch.arange(COLUMNS * FINE, device=ink.device)
    at = at.view(-1, 1, 1, COLUMNS * FINE).expand(-1, 1, ink.shape[2], -1)
    return F.avg_pool2d(ink.gather(3, at), FINE)


def photos(letters, dice, much=1.0, share=0.0):
    """Letters (own ink, neighbours: bytes, n x 128 x 128; classes; leans) -> fine pictures of their
    ink before it is told from the paper, their classes, and which have joining strokes."""
    own, beside, classes, leans = letters
    ink, leans = written(torch.stack((own, beside), 1).float() / 255, leans, dice, much)
    own, beside = some(ink, dice, 0.7, lambda x: stroked(x, dice)).split(1, 1)
    ink, classes = cut(own, beside, leans, classes.long(), dice)
    chosen = torch.zeros_like(classes, dtype=torch.bool)
    if share > 0:
        ink, chosen = joined(ink, own, leans, classes, dice, share)
    return photographed(worn(ink, dice), dice), classes, chosen


def crops(letters, dice, much=1.0, share=0.0):
    """Letters -> crops, n x 1 x 40 x 32 of 0 (paper) to 1 (ink), their classes, and which have joining
    strokes, as a share of the small letters has."""
    photo, classes, chosen = photos(letters, dice, much, share)
    return centred(masked(photo, dice)), classes, chosen
