"""Teach the network: `python -m sample_images.studio.teach --minutes 20 --workers 14 --out FOLDER`.

Workers invent and photograph sculptures all the while; the network learns from a pool of them that
is renewed as it goes. Writes eyes-WIDTHS.pt; `--start FOLDER` goes on from an earlier one;
`sample_images.studio.net` turns one into ONNX. Needs PyTorch, and should have an accelerator.
"""

import argparse
import math
import multiprocessing
import time
from pathlib import Path

import numpy as np
import torch
from torch.nn import functional

from sample_images.studio.lessons import SIDE, lessons
from sample_images.studio.net import CLASSES, WIDTHS, Eyes
from vision.inputs import PLANES

EACH = 200
"""Steps between two lines of news."""
FIRST_SEED = 1_000_000
"""Lessons have seeds from here on; seeds below are for choosing and judging."""


def work(number: int, workers: int, folder: str, first: int, most: int) -> None:
    """Make lessons for ever, in files of the folder; wait while `most` are lying there."""
    import cv2

    cv2.setNumThreads(1)
    seed = first + number
    while True:
        if len(list(Path(folder).glob("*.npz"))) > most:
            time.sleep(0.5)
            continue
        try:
            for k, lesson in enumerate(lessons(seed)):
                name = Path(folder) / f"{seed}-{k}"
                np.savez(
                    name.with_suffix(".part.npz"), planes=lesson.planes, labels=lesson.labels,
                    weights=lesson.weights, things=lesson.things,
                )  # fmt: skip
                name.with_suffix(".part.npz").rename(name.with_suffix(".npz"))
        except Exception as error:  # one odd scene must not stop the class
            print(f"seed {seed}: {error!r}", flush=True)
        seed += workers


class Pool:
    """Lessons in the accelerator's memory; the oldest give way."""

    def __init__(self, size: int, device: str) -> None:
        half = SIDE // 2
        self.planes = torch.zeros(size, PLANES, half, half, dtype=torch.float16, device=device)
        self.labels = torch.zeros(size, SIDE, SIDE, dtype=torch.uint8, device=device)
        self.weights = torch.zeros(size, SIDE, SIDE, dtype=torch.uint8, device=device)
        self.things = torch.zeros(size, half, half, dtype=torch.uint8, device=device)
        self.count, self.size = 0, size

    def take_in(self, folder: Path, most: int = 40) -> None:
        """Read and remove lesson files."""
        for path in [p for p in folder.glob("*.npz") if not p.name.endswith(".part.npz")][:most]:
            with np.load(path) as found:
                at = self.count % self.size
                for name in ("planes", "labels", "weights", "things"):
                    getattr(self, name)[at] = torch.from_numpy(found[name]).to(self.planes.device)
            path.unlink()
            self.count += 1

    def batch(self, n: int, crop: int) -> tuple[torch.Tensor, ...]:
        """`n` lessons at random, or parts of `crop` network cells where something matters most."""
        at = torch.randint(0, min(self.count, self.size), (n,), device=self.planes.device)
        whole = (self.planes[at], self.labels[at], self.weights[at], self.things[at])
        if crop < SIDE // 2:
            parts = [_part(one, crop) for one in zip(*whole, strict=True)]
            whole = tuple(torch.stack(layer) for layer in zip(*parts, strict=True))
        planes, labels, weights, things = whole
        return planes.float(), labels.long(), weights, things.long()


def _part(lesson: tuple[torch.Tensor, ...], crop: int) -> tuple[torch.Tensor, ...]:
    """The weightiest of a few parts of a lesson."""
    planes, labels, weights, things = lesson
    corners = [tuple(int(v) for v in torch.randint(0, SIDE // 2 - crop + 1, (2,))) for _ in range(4)]
    row, col = max(
        corners,
        key=lambda c: int(weights[2 * c[0] : 2 * (c[0] + crop) : 4, 2 * c[1] : 2 * (c[1] + crop) : 4].sum()),
    )
    small = (slice(row, row + crop), slice(col, col + crop))
    large = (slice(2 * row, 2 * (row + crop)), slice(2 * col, 2 * (col + crop)))
    return planes[:, small[0], small[1]], labels[large], weights[large], things[small]


def loss_of(net: torch.nn.Module, batch: tuple[torch.Tensor, ...]) -> tuple[torch.Tensor, torch.Tensor]:
    """The loss of a batch and its share of wrong cells, both weighted."""
    planes, labels, weights, things = batch
    with torch.autocast(planes.device.type, dtype=torch.bfloat16, enabled=planes.is_cuda):
        quarters, on_top = net(planes.to(memory_format=torch.channels_last))
    logits = functional.pixel_shuffle(quarters.float(), 2)
    w = weights.float() / 16
    each = functional.cross_entropy(logits, labels, reduction="none")
    total = (each * w).sum() / w.sum()
    wrong = ((logits.argmax(1) != labels) * w).sum().detach() / w.sum()
    top = functional.cross_entropy(on_top.float(), things)
    return total + 0.25 * top, wrong


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--minutes", type=float, default=20)
    parser.add_argument("--workers", type=int, default=14)
    parser.add_argument("--out", default="out")
    parser.add_argument("--lessons", default="/dev/shm/lessons")
    parser.add_argument("--start")
    parser.add_argument("--pool", type=int, default=9000)
    parser.add_argument("--batch", type=int, default=32)
    parser.add_argument("--crop", type=int, default=SIDE // 2)
    parser.add_argument(
        "--mean", type=float, default=0.998, help="how slowly the mean of the weights follows"
    )
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--settled", action="store_true", help="keep the layers' statistics as they are")
    parser.add_argument("--first", type=int, default=FIRST_SEED)
    parser.add_argument("--widths", default=",".join(map(str, WIDTHS)))
    options = parser.parse_args()
    folder, out = Path(options.lessons), Path(options.out)
    folder.mkdir(parents=True, exist_ok=True)
    out.mkdir(parents=True, exist_ok=True)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    for number in range(options.workers):
        job = (number, options.workers, str(folder), options.first, 1200)
        multiprocessing.get_context("fork").Process(target=work, args=job, daemon=True).start()
    learn(options, folder, out, device)


class Pupil:
    """A network that learns, and the running mean of its weights, which is what is kept."""

    def __init__(self, widths: tuple[int, int, int, int], options: argparse.Namespace, device: str) -> None:
        self.name = "eyes-" + "-".join(map(str, widths))
        self.net = Eyes(widths).to(device, memory_format=torch.channels_last)  # type: ignore[call-overload]
        if options.start:
            self.net.load_state_dict(torch.load(f"{options.start}/{self.name}.pt", map_location=device))
        self.mean = torch.optim.swa_utils.AveragedModel(
            self.net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(options.mean), use_buffers=True
        )
        self.optimiser = torch.optim.AdamW(self.net.parameters(), lr=options.rate, weight_decay=1e-3)
        self.sums = torch.zeros(2, device=device)

    def step(self, batch: tuple[torch.Tensor, ...], rate: float) -> None:
        for group in self.optimiser.param_groups:
            group["lr"] = rate
        loss, wrong = loss_of(self.net, batch)
        self.optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.net.parameters(), 1.0)
        self.optimiser.step()
        self.mean.update_parameters(self.net)
        self.sums += torch.stack([loss.detach(), wrong])

    def save(self, out: Path) -> None:
        torch.save(self.mean.module.state_dict(), out / f"{self.name}.pt")


def learn(options: argparse.Namespace, folder: Path, out: Path, device: str) -> None:
    """Learn until the time is up: the rate rises quickly and falls as a cosine."""
    pupils = [
        Pupil(tuple(int(v) for v in one.split(",")), options, device)  # type: ignore[arg-type]
        for one in options.widths.split(";")
    ]
    for pupil in pupils if options.settled else ():
        pupil.net.eval()
    pool = Pool(options.pool, device)
    while pool.count < min(12 * options.batch, options.pool):
        pool.take_in(folder)
        time.sleep(0.2)
    start, span, step = time.monotonic(), options.minutes * 60, 0
    while (gone := (time.monotonic() - start) / span) < 1:
        rate = options.rate * min(1.0, (step + 1) / 300) * (0.5 + 0.5 * math.cos(math.pi * gone)) + 1e-6
        batch = pool.batch(options.batch, options.crop)
        for pupil in pupils:
            pupil.step(batch, rate)
        step += 1
        if step % 10 == 0:
            pool.take_in(folder)
        if step % EACH == 0:
            told = [f"{p.name}: loss {p.sums[0] / EACH:.4f} wrong {p.sums[1] / EACH:.4f}" for p in pupils]
            print(f"{time.monotonic() - start:5.0f} s, step {step}, lessons {pool.count}", *told, flush=True)
            for pupil in pupils:
                pupil.sums.zero_()
        if step % EACH == 0:
            for pupil in pupils:
                pupil.save(out)
    for pupil in pupils:
        pupil.save(out)
    print(f"{CLASSES} classes, {step} steps, {pool.count} lessons")


if __name__ == "__main__":
    main()
