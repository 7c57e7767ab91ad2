"""Trains the recogniser and writes its weights: `train.py FACES OUT [--teacher WEIGHTS] [--seconds S]`.

FACES is a folder with the .woff files that families.tsv names (see README.md). A teacher is a wider net,
trained by this script without one; what it says of each crop is learned beside what the crop shows
(knowledge distillation, Hinton, Vinyals and Dean 2015).
"""

import argparse
import copy
import json
import math
import os
import time

import torch
import torch.nn.functional as F

import distort
import faces
import judge
import net

SEED = 20261125
SHARES = (0.62, 0.22, 0.16)
KINDS = (0.3, 0.6, 0.25, 0.15)  # of faces.GROUPS, in training
JUDGED = (1.0, 1.0, 1.0, 0.5)  # and in judging, where figures are of the first three
WIDTHS = (24, 64, 128)
TEACHER = (32, 96, 192)  # the teacher's widths
SOFT = 2.0  # both nets' logits are divided by this where one learns from the other
# How much of the loss the teacher is; it never saw joining strokes drawn as here, so less where they are.
TAUGHT, TAUGHT_JOINED = 0.7, 0.2
RATE = 4e-3


def weights(classes, groups, family, kinds):
    """How often each letter is drawn: small letters, capitals and digits by SHARES, kinds of faces
    by `kinds`, and within those every family as often as another."""
    def look_up(numbers, at):
        return torch.tensor(numbers, device=classes.device)[at]

    kind = torch.bucketize(classes, torch.tensor([26, 52], device=classes.device), right=True)
    share = look_up(SHARES, kind) / look_up((26, 26, 10), kind) * look_up(kinds, groups)
    key = (groups * 64 + classes) * 512 + family
    of_family, at, letters = key.unique(return_inverse=True, return_counts=True)
    _, group, families = (of_family // 512).unique(return_inverse=True, return_counts=True)
    return share / letters[at] / families[group][at]


class Bank:
    """The letters of one part, on the device, drawn by weight."""

    def __init__(self, folder, part, turns, device, processes):
        drawn = faces.bank(folder, part, turns, processes)
        self.own, self.beside, self.classes, self.leans, self.groups, self.family = (
            torch.from_numpy(a).to(device) for a in drawn
        )
        self.weights = weights(self.classes, self.groups, self.family, KINDS if part == "train" else JUDGED)

    def letters(self, at):
        return self.own[at], self.beside[at], self.classes[at], self.leans[at]

    def batch(self, n, dice, much=1.0, share=0.0):
        """Crops, their classes, where they are in the bank, and which have joining strokes."""
        at = torch.multinomial(self.weights, n, replacement=True, generator=dice.generator)
        x, y, joined = distort.crops(self.letters(at), dice, much, share)
        return x, y, at, joined


def follow(slow, fast, keep):
    """Moves the slow net a little toward the fast one."""
    with torch.no_grad():
        for a, b in zip(slow.state_dict().values(), fast.state_dict().values()):
            if a.dtype.is_floating_point:
                a.mul_(keep).add_(b, alpha=1 - keep)
            else:
                a.copy_(b)


def surprise(z, y, taught, joined):
    """The mean loss: how little the classes were expected and, with a teacher's logits, how far the net
    is from what the teacher says."""
    missed = F.cross_entropy(z, y, reduction="none")
    if taught is None:
        return missed.mean()
    soft, softly = F.log_softmax(taught / SOFT, 1), F.log_softmax(z / SOFT, 1)
    apart = F.kl_div(softly, soft, reduction="none", log_target=True).sum(1) * SOFT**2
    much = torch.where(joined, TAUGHT_JOINED, TAUGHT)
    return ((1 - much) * missed + much * apart).mean()


def train(trained, teacher, bank, device, seconds, size, rate, share, log):
    """Trains for a given time; gives the mean of the last weights, and how many steps were taken."""
    torch.backends.cudnn.benchmark = True
    torch.backends.cudnn.allow_tf32 = True
    dice = distort.Dice(SEED + (rate != RATE), device)
    slow = copy.deepcopy(trained)
    steps = torch.optim.AdamW(trained.parameters(), lr=rate, weight_decay=0.02)
    start, done = time.time(), 0
    while (gone := (time.time() - start) / seconds) < 1:
        for group in steps.param_groups:
            group["lr"] = rate * min(1, (done + 1) / 300) * 0.5 * (1 + math.cos(math.pi * gone))
        x, y, _, joined = bank.batch(size, dice, share=share)
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            with torch.no_grad():
                taught = teacher and teacher(x).float()
            loss = surprise(trained(x).float(), y, taught, joined)
        steps.zero_grad(set_to_none=True)
        loss.backward()
        steps.step()
        follow(slow, trained, min(0.999, (done + 1) / (done + 20)))
        if done % 500 == 0:
            print(f"{done:6d}  loss {loss.item():.4f}  {time.time() - start:.0f} s", file=log, flush=True)
        done += 1
    print(done, "steps of", size, "crops", file=log, flush=True)
    return slow.eval(), done


def main():
    args = argparse.ArgumentParser()
    args.add_argument("faces")
    args.add_argument("out")
    args.add_argument("--start", help="weights to go on from (trained.pt of an earlier sitting)")
    args.add_argument("--teacher", help="letters.weights of a net of the teacher's widths to learn from")
    args.add_argument("--widths", type=lambda text: tuple(map(int, text.split(","))), default=WIDTHS)
    args.add_argument("--joined", type=float, default=distort.JOINED, help="share of small letters with joining strokes")
    args.add_argument("--rate", type=float, default=RATE)
    args.add_argument("--seconds", type=float, default=480)
    args.add_argument("--batch", type=int, default=2048)
    args.add_argument("--turns", type=int, default=6)
    args.add_argument("--judged", type=int, default=40, help="batches that figures come from")
    args.add_argument("--processes", type=int, default=16)
    args = args.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    banks = {part: Bank(args.faces, part, args.turns, device, args.processes) for part in ("train", "tune", "unseen")}
    torch.manual_seed(SEED)
    start = net.Net(args.widths)
    if args.start:
        start.load_state_dict(torch.load(args.start, map_location="cpu"))
    teacher = net.read(args.teacher, net.Net(TEACHER)).to(device) if args.teacher else None
    with open(os.path.join(args.out, "train.log"), "w", encoding="utf-8") as log:
        trained, done = train(start.to(device), teacher, banks["train"], device, args.seconds, args.batch, args.rate, args.joined, log)
    torch.save(trained.state_dict(), os.path.join(args.out, "trained.pt"))
    temperature = judge.temperature(trained, banks["tune"], args.batch, args.judged // 4, args.joined)
    layers = net.quantised(trained, temperature)
    net.write(os.path.join(args.out, "letters.weights"), layers)
    trained = net.restored(trained, layers)
    figures = {"seed": SEED, "steps": done, "batch": args.batch, "temperature": temperature}
    figures |= judge.figures(trained, banks, args.batch, args.judged)
    judge.show(figures)
    with open(os.path.join(args.out, "figures.json"), "w", encoding="utf-8") as file:
        json.dump(figures, file, indent=1)
    judge.sheet(banks["unseen"], args.out)
    judge.sample(banks["unseen"], trained, args.out)


if __name__ == "__main__":
    main()
