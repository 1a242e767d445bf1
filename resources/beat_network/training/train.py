"""Make the examples, train the network on them, and write its weights.

    python -m training.train --scores scores.npz --fonts a.sf3 b.sf2 \
        --out weights.npz --examples 7758 --steps 17895

Examples are numbered and each is made from its own seed, so any machine makes the same ones; the
order in which they are shown is seeded too.
"""

from __future__ import annotations

import argparse
import copy
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
import torch._dynamo
from torch.nn import functional

from rehearse.music.analysis.features import BANDS, FPS
from rehearse.music.analysis.network import INTERVALS
from training.examples import FRAMES, MOST_BEATS, Example, example, make_take
from training.model import BeatNetwork
from training.piece import Rng
from training.pool import made
from training.render import Fonts
from training.scores import Score

_SHOWN = 2560


def _make(rng: Rng, scores: Sequence[Score], fonts: Fonts) -> Example:
    return example(make_take(rng, scores, fonts))


class Store:
    """Examples on the training device."""

    def __init__(self, count: int, device: str) -> None:
        self.energies = torch.zeros((count, FRAMES, BANDS), dtype=torch.float16, device=device)
        self.beats = torch.zeros((count, MOST_BEATS), device=device)
        self.places = torch.zeros((count, MOST_BEATS), dtype=torch.int8, device=device)
        self.free = torch.zeros((count, FRAMES), dtype=torch.int8, device=device)

    def put(self, index: int, example: Example) -> None:
        """Keep one example."""
        self.energies[index] = torch.from_numpy(example.energies).to(self.energies.device)
        self.beats[index] = torch.from_numpy(example.beats).to(self.beats.device)
        self.places[index] = torch.from_numpy(example.places).to(self.places.device)
        self.free[index] = torch.from_numpy(example.free).to(self.free.device)


def fill(store: Store, given: argparse.Namespace) -> int:
    """Make examples on all processors, as many as asked for or as the time allows."""
    began = time.monotonic()
    jobs = [(given.seed, k) for k in range(given.examples)]
    count = 0
    for item in made(_make, jobs, given.scores, given.fonts):
        store.put(count, item)
        count += 1
        spent = time.monotonic() - began
        if count % 1000 == 0:
            print(f"{count} examples in {spent:.0f} s", flush=True)
        if spent > given.making:
            break
    print(f"{count} examples", flush=True)
    return count


def stretched(
    store: Store, chosen: torch.Tensor, rng: torch.Generator, vary: bool
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor, torch.Tensor]:
    """Energies, beat times in frames, places and free time, `_SHOWN` frames of each example.

    The time axis is stretched by up to a quarter and levels are changed band by band.
    """
    device, count = store.energies.device, len(chosen)
    speed = torch.ones(count, device=device)
    start = torch.full((count,), (FRAMES - _SHOWN) / 2, device=device)
    if vary:
        loose = torch.rand(count, generator=rng, device=device) < 0.7
        factor = torch.exp(0.44 * torch.rand(count, generator=rng, device=device) - 0.22)
        speed = torch.where(loose, factor, speed)
        start = torch.rand(count, generator=rng, device=device) * (FRAMES - _SHOWN * speed)
        start = torch.clamp(start, min=0.0)
    at = start[:, None] + torch.arange(_SHOWN, device=device) * speed[:, None]
    low = torch.clamp(at.floor().long(), 0, FRAMES - 2)
    part = torch.clamp(at - low, 0, 1)[..., None]
    rows = chosen[:, None]
    energies = (1 - part) * store.energies[rows, low].float()
    energies += part * store.energies[rows, low + 1].float()
    beats = (store.beats[chosen] * FPS - start[:, None]) / speed[:, None]
    if vary:
        energies = _levels(energies, rng)
    return energies, beats, store.places[chosen].long(), store.free[rows, low].float()


def _levels(energies: torch.Tensor, rng: torch.Generator) -> torch.Tensor:
    """Another balance of bands and another noise floor, done to the amplitudes themselves."""
    count, device = len(energies), energies.device
    amplitude = torch.expm1(energies)
    knots = torch.randn((count, 1, 8), generator=rng, device=device) * 4
    curve = functional.interpolate(knots, BANDS, mode="linear", align_corners=True)[:, 0]
    curve = curve + torch.randn((count, 1), generator=rng, device=device) * 3
    amplitude = amplitude * 10 ** (curve[:, None, :] / 20)
    floor = 10 ** (torch.rand((count, 1, 1), generator=rng, device=device) * 3 - 2)
    use = (torch.rand((count, 1, 1), generator=rng, device=device) < 0.3).float()
    noise = torch.rand(energies.shape, generator=rng, device=device) * floor * use
    return torch.log1p(amplitude + noise)


def targets(beats: torch.Tensor, places: torch.Tensor) -> dict[str, torch.Tensor]:
    """Soft targets on `_SHOWN` frames from beats in frames (NaN: none) and their places."""
    grid = torch.arange(_SHOWN, device=beats.device, dtype=torch.float32)
    far = torch.nan_to_num(beats, nan=-1e6)
    near = torch.searchsorted(torch.nan_to_num(beats, nan=1e6), grid.repeat(len(beats), 1))
    near = torch.clamp(near, 1, MOST_BEATS - 1)
    before, after = far.gather(1, near - 1), far.gather(1, near)
    closer = torch.where((grid - before).abs() < (after - grid).abs(), near - 1, near)
    distance = grid - far.gather(1, closer)
    interval = torch.where((before > -1e5) & (after > -1e5), (after - before) / FPS, torch.nan)
    return {
        "beat": torch.exp(-0.5 * (distance / 1.2) ** 2),
        "first": (places.gather(1, closer) == 1).float(),
        "interval": torch.where((interval > 0.2) & (interval < 1.7), interval, torch.nan),
    }


def loss_of(out: torch.Tensor, goal: dict[str, torch.Tensor], free: torch.Tensor) -> torch.Tensor:
    """Sum of the four tasks' losses."""
    entropy = functional.binary_cross_entropy_with_logits
    beat = entropy(out[..., 0], goal["beat"], weight=1 + 3 * goal["beat"])
    at_beats = goal["beat"] * (goal["beat"] > 0.5)
    first = (entropy(out[..., 1], goal["first"], reduction="none") * at_beats).sum()
    first = first / (at_beats.sum() + 1)
    loose = entropy(out[..., 2], free)
    bins = torch.log(torch.as_tensor(INTERVALS, dtype=torch.float32, device=out.device))
    known = ~torch.isnan(goal["interval"])
    apart = (torch.log(torch.nan_to_num(goal["interval"], nan=1.0))[..., None] - bins) / 0.04
    soft = torch.softmax(-0.5 * apart**2, -1)
    tempo = -(soft * torch.log_softmax(out[..., 3:], -1)).sum(-1)
    tempo = (tempo * known).sum() / (known.sum() + 1)
    return 2 * beat + 0.45 * first + 0.3 * loose + 0.1 * tempo


def train(store: Store, count: int, held: int, steps: int, seed: int, budget: float) -> BeatNetwork:
    """Train on all but the first `held` examples, which are reported on; ends at `budget` s."""
    device = str(store.energies.device)
    torch.manual_seed(seed)
    rng = torch.Generator(device=device).manual_seed(seed)
    network = BeatNetwork().to(device)
    sample = store.energies[held : held + 400, ::7].float().reshape(-1, BANDS)
    network.mean.copy_(sample.mean(0))
    network.scale.copy_(1 / (sample.std(0) + 0.1))
    averaged: BeatNetwork = copy.deepcopy(network)
    optimizer = torch.optim.AdamW(network.parameters(), lr=0.0, weight_decay=1e-2)
    fast = _compiled(network, device)
    began = time.monotonic()
    for step in range(steps):
        done = max(step / steps, (time.monotonic() - began) / budget)
        if done >= 1:
            break
        optimizer.param_groups[0]["lr"] = _rate(done)
        chosen = torch.randint(held, count, (48,), generator=rng, device=device)
        energies, beats, places, free = stretched(store, chosen, rng, vary=True)
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            out = fast(energies)
        loss = loss_of(out.float(), targets(beats, places), free)
        optimizer.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        optimizer.step()
        _average(averaged, network, 0.999 if step > 2000 else 0.99)
        if step % 1000 == 999:
            spent = time.monotonic() - began
            held_loss = validate(averaged, store, held, rng)
            print(f"{step + 1} steps {spent:.0f} s: {float(loss):.4f} {held_loss}", flush=True)
    print(f"{step + 1} steps in all: {validate(averaged, store, held, rng)}", flush=True)
    averaged.eval()
    return averaged


def _rate(done: float) -> float:
    """Learning rate when a share `done` of the training is over: up quickly, down as a cosine."""
    if done < 0.08:
        return 0.004 * (done + 0.004) / 0.084
    return float(0.002 * (1 + np.cos(np.pi * (done - 0.08) / 0.92)))


def _compiled(network: BeatNetwork, device: str) -> BeatNetwork:
    if device != "cuda":
        return network
    torch._dynamo.config.suppress_errors = True  # slower, but never worse
    compiled: BeatNetwork = torch.compile(network)
    return compiled


def _average(averaged: BeatNetwork, network: BeatNetwork, keep: float) -> None:
    with torch.no_grad():
        new = network.state_dict()
        for name, value in averaged.state_dict().items():
            if value.dtype.is_floating_point:
                value.lerp_(new[name], 1 - keep)


def validate(network: BeatNetwork, store: Store, held: int, rng: torch.Generator) -> str:
    """Loss and share of right decisions (beat frames, first beats, free time) on held examples."""
    network.eval()
    losses, right = [], []
    with torch.no_grad():
        for first in range(0, held, 50):
            chosen = torch.arange(first, min(first + 50, held), device=store.energies.device)
            energies, beats, places, free = stretched(store, chosen, rng, vary=False)
            out, goal = network(energies), targets(beats, places)
            losses.append(float(loss_of(out, goal, free)))
            sure = goal["beat"] > 0.7
            right.append([float((out[..., 0][sure] > 0).float().mean()),
                          float((out[..., 0][goal["beat"] < 0.05] > 0).float().mean()),
                          float(((out[..., 1] > 0) == goal["first"].bool())[sure].float().mean()),
                          float(((out[..., 2] > 0) == free.bool()).float().mean())])  # fmt: skip
    return f"held {np.mean(losses):.4f} " + " ".join(f"{v:.3f}" for v in np.mean(right, axis=0))


def save(network: BeatNetwork, out: Path, store: Store) -> None:
    """Write weights as float16, and beside them one input with the output torch gives for it."""
    arrays = {k: v.astype(np.float16) for k, v in network.weights().items()}
    np.savez_compressed(out, **arrays)
    with torch.no_grad():
        energies = store.energies[:1, :1500].float()
        result = network(energies)[0, 600:900].cpu().numpy()
    np.savez_compressed(out.with_suffix(".check.npz"), energies=energies[0].half().cpu().numpy(),
                        result=result, start=600)  # fmt: skip


def main() -> None:
    """Command line: see the module's text."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scores", required=True, type=Path)
    parser.add_argument("--fonts", nargs="+", required=True, type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--examples", type=int, default=7758)
    parser.add_argument("--held", type=int, default=300)
    parser.add_argument("--steps", type=int, default=17895)
    parser.add_argument("--making", type=float, default=1e9, help="seconds of making at most")
    parser.add_argument("--budget", type=float, default=1e9, help="seconds of training at most")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    store = Store(given.examples, device)
    count = fill(store, given)
    network = train(store, count, given.held, given.steps, given.seed, given.budget)
    save(network, given.out, store)


if __name__ == "__main__":
    main()
