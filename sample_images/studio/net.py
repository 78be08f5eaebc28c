"""The network that sees: a small U-shaped one, under a million weights, for OpenCV's dnn module.

`python -m sample_images.studio.net eyes-32-48-80-112.pt vision/eyes.onnx` turns learnt weights into
the file that is shipped. Needs PyTorch and onnx.

Notation: N pictures, h, w cells of 0.4 mm.
"""

import sys
from pathlib import Path
from typing import Any

import torch
from torch import nn

from vision.inputs import PLANES, SLOTS

CLASSES = SLOTS + 1
THINGS = 6
WIDTHS = (32, 48, 80, 112)


def _conv(a: int, b: int, stride: int = 1, dilation: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(a, b, 3, stride, dilation, dilation, bias=False), nn.BatchNorm2d(b), nn.ReLU(inplace=True)
    )


class _Same(nn.Module):
    """A convolution added to what it saw."""

    def __init__(self, width: int, dilation: int = 1) -> None:
        super().__init__()
        self.conv = _conv(width, width, dilation=dilation)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return x + self.conv(x)


class Eyes(nn.Module):
    """(N, PLANES, h, w) -> labels (N, 4 CLASSES, h, w) as quarters of a cell, things (N, THINGS, h, w)."""

    def __init__(self, widths: tuple[int, int, int, int] = WIDTHS) -> None:
        super().__init__()
        a, b, c, d = widths
        self.first = nn.Sequential(_conv(PLANES, a), _Same(a))
        self.down1 = nn.Sequential(_conv(a, b, 2), _Same(b), _Same(b))
        self.down2 = nn.Sequential(_conv(b, c, 2), _Same(c), _Same(c))
        self.down3 = nn.Sequential(_conv(c, d, 2), _Same(d), _Same(d, 2), _Same(d, 4), _Same(d))
        self.up3 = nn.Conv2d(d, c, 1)
        self.join2 = nn.Sequential(_Same(c), _Same(c))
        self.up2 = nn.Conv2d(c, b, 1)
        self.join1 = nn.Sequential(_Same(b), _Same(b))
        self.up1 = nn.Conv2d(b, a, 1)
        self.join0 = nn.Sequential(_Same(a), _Same(a))
        self.labels = nn.Conv2d(a, 4 * CLASSES, 3, 1, 1)
        self.things = nn.Conv2d(a, THINGS, 1)

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        e0 = self.first(x)
        e1 = self.down1(e0)
        e2 = self.down2(e1)
        e3 = self.down3(e2)
        d2 = self.join2(e2 + _twice(self.up3(e3)))
        d1 = self.join1(e1 + _twice(self.up2(d2)))
        d0 = self.join0(e0 + _twice(self.up1(d1)))
        return self.labels(d0), self.things(d0)


def _twice(x: torch.Tensor) -> torch.Tensor:
    return nn.functional.interpolate(x, scale_factor=2, mode="nearest")


def export(net: Eyes, path: str) -> None:
    """Write the network as ONNX with 16-bit weights, which OpenCV's dnn module reads."""
    import numpy as np
    import onnx
    from onnx import numpy_helper

    net = net.float().cpu().eval()
    shown = torch.zeros(1, PLANES, 64, 64)
    axes: dict[str, Any] = {name: {2: "h", 3: "w"} for name in ("planes", "labels", "things")}
    torch.onnx.export(
        net, (shown,), path, input_names=["planes"], output_names=["labels", "things"],
        dynamic_axes=axes, opset_version=13, dynamo=False,
    )  # fmt: skip
    model = onnx.load(path)
    for weight in list(model.graph.initializer):
        values = numpy_helper.to_array(weight)
        if values.dtype == np.float32 and values.size > 256:
            small = numpy_helper.from_array(values.astype(np.float16), weight.name + "_half")
            model.graph.initializer.remove(weight)
            model.graph.initializer.append(small)
            model.graph.node.insert(
                0, onnx.helper.make_node("Cast", [small.name], [weight.name], to=onnx.TensorProto.FLOAT)
            )
    onnx.save(model, path)


def main(learnt: str, path: str) -> None:
    widths = tuple(int(v) for v in Path(learnt).stem.split("-")[1:])
    net = Eyes(widths)  # type: ignore[arg-type]
    net.load_state_dict(torch.load(learnt, map_location="cpu"))
    export(net, path)


if __name__ == "__main__":
    main(*sys.argv[1:])
