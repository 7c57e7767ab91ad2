"""The recogniser: a small convolutional net, and how its weights are written down."""

import copy

import numpy as np
import torch
from torch import nn

NUMBER = 63  # the classes of faces.CLASSES, and one for what is no letter


def layer(inside, outside, kernel, stride=1, each=False):
    """Convolution, its output normalised and cut off at 0; `each`: every channel by itself."""
    groups = inside if each else 1
    return nn.Sequential(
        nn.Conv2d(inside, outside, kernel, stride, kernel // 2, groups=groups, bias=False),
        nn.BatchNorm2d(outside),
        nn.ReLU(inplace=True),
    )


class Net(nn.Module):
    """Crops, n x 1 x 40 x 32 of 0 to 1 -> logits, n x 63. `widths`: channels at a half, a quarter
    and an eighth of the crop's size."""

    def __init__(self, widths):
        super().__init__()
        a, b, c = widths
        self.body = nn.Sequential(
            layer(1, a, 5, 2),
            layer(a, a, 3, 2, each=True), layer(a, b, 1),
            layer(b, b, 3, 1, each=True), layer(b, b, 1),
            layer(b, b, 3, 2, each=True), layer(b, c, 1),
            layer(c, c, 3, 1, each=True), layer(c, c, 1),
        )
        self.drop = nn.Dropout(0.1)
        self.last = nn.Linear(20 * c, NUMBER)

    def forward(self, x):
        x = self.body(x).permute(0, 2, 3, 1).flatten(1)  # by place, then channel
        return self.last(self.drop(x))


def folded(net):
    """Weights and biases layer by layer with the normalisation worked in, outputs first."""
    out = []
    for conv, norm, _ in net.body:
        gain = norm.weight / torch.sqrt(norm.running_var + norm.eps)
        out.append((conv.weight * gain.view(-1, 1, 1, 1), norm.bias - norm.running_mean * gain))
    out.append((net.last.weight, net.last.bias))
    return [(w.detach(), b.detach()) for w, b in out]


def quantised(net, temperature=1.0):
    """Per layer: whole numbers of 8 bits, the step of each output, its bias. The last layer's logits
    are divided by the temperature."""
    out = []
    layers = folded(net)
    for k, (w, b) in enumerate(layers):
        if k == len(layers) - 1:
            w, b = w / temperature, b / temperature
        step = (w.flatten(1).abs().amax(1) / 127).clamp(min=1e-12)
        whole = torch.round(w / step.view(-1, *[1] * (w.dim() - 1))).clamp(-127, 127)
        out.append((whole, step, b))
    return out


def restored(net, layers):
    """A net that computes with the quantised weights."""
    net = copy.deepcopy(net).eval()
    for block, (whole, step, b) in zip(net.body, layers):
        conv, norm, _ = block
        conv.weight.data = whole * step.view(-1, 1, 1, 1)
        norm.weight.data.fill_(1.0)
        norm.running_var.data.fill_(1.0 - norm.eps)
        norm.running_mean.data.zero_()
        norm.bias.data = b.clone()
    whole, step, b = layers[-1]
    net.last.weight.data, net.last.bias.data = whole * step.view(-1, 1), b.clone()
    return net


def write(path, layers):
    """The weights file: for each layer its weights (tap, input, output; a byte each), the steps and
    then the biases of its outputs (little-endian 32-bit floats). Nothing else."""
    with open(path, "wb") as file:
        for whole, step, b in layers:
            w = whole.cpu().numpy().astype(np.int8)
            w = w.transpose(2, 3, 1, 0) if w.ndim == 4 else w.transpose()
            file.write(w.tobytes())
            for floats in (step, b):
                file.write(floats.cpu().numpy().astype("<f4").tobytes())


def read(path, net):
    """A net with the weights of a file."""
    shapes = [w.shape for w, _ in folded(net)]
    layers = []
    with open(path, "rb") as file:
        for shape in shapes:
            turned = (*shape[2:], shape[1], shape[0]) if len(shape) == 4 else (shape[1], shape[0])
            w = np.frombuffer(file.read(int(np.prod(turned))), np.int8).reshape(turned)
            w = w.transpose(3, 2, 0, 1) if len(shape) == 4 else w.transpose()
            step, b = (torch.from_numpy(np.frombuffer(file.read(4 * shape[0]), "<f4").copy()) for _ in range(2))
            layers.append((torch.from_numpy(w.astype(np.float32)), step, b))
    return restored(net, layers)
