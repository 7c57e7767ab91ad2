"""Trains the recogniser and writes its weights: `train.py FACES OUT [--seconds S] [--batch N]`.

FACES is a folder with the .woff files that families.tsv names (see README.md).
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
WIDTHS = (32, 96, 192)
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

    def batch(self, n, dice, much=1.0):
        at = torch.multinomial(self.weights, n, replacement=True, generator=dice.generator)
        x, y = distort.crops(self.letters(at), dice, much)
        return x, y, at


def follow(slow, fast, keep):
    """Moves the slow net a little toward the fast one."""
    with torch.no_grad():
        for a, b in zip(slow.state_dict().values(), fast.state_dict().values()):
            if a.dtype.is_floating_point:
                a.mul_(keep).add_(b, alpha=1 - keep)
            else:
                a.copy_(b)


def train(trained, bank, device, seconds, size, rate, log):
    """Trains for a given time; gives the mean of the last weights, and how many steps were taken."""
    torch.manual_seed(SEED)
    torch.backends.cudnn.benchmark = True
    torch.backends.cudnn.allow_tf32 = True
    dice = distort.Dice(SEED + (rate != RATE), device)
    slow = copy.deepcopy(trained)
    steps = torch.optim.AdamW(trained.parameters(), lr=rate, weight_decay=0.02)
    start, done = time.time(), 0
    while (gone := (time.time() - start) / seconds) < 1:
        for group in steps.param_groups:
            group["lr"] = rate * min(1, (done + 1) / 300) * 0.5 * (1 + math.cos(math.pi * gone))
        x, y, _ = bank.batch(size, dice)
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            loss = F.cross_entropy(trained(x).float(), y)
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
    args.add_argument("--rate", type=float, default=RATE)
    args.add_argument("--seconds", type=float, default=480)
    args.add_argument("--batch", type=int, default=2048)
    args.add_argument("--turns", type=int, default=6)
    args.add_argument("--judged", type=int, default=40, help="batches that figures come from")
    args.add_argument("--processes", type=int, default=16)
    args = args.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    banks = {part: Bank(args.faces, part, args.turns, device, args.processes) for part in ("train", "tune", "unseen")}
    start = net.Net(WIDTHS)
    if args.start:
        start.load_state_dict(torch.load(args.start, map_location="cpu"))
    with open(os.path.join(args.out, "train.log"), "w", encoding="utf-8") as log:
        trained, done = train(start.to(device), banks["train"], device, args.seconds, args.batch, args.rate, log)
    torch.save(trained.state_dict(), os.path.join(args.out, "trained.pt"))
    temperature = judge.temperature(trained, banks["tune"], args.batch, args.judged // 4)
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
