#!/usr/bin/env python3
"""Makes scipy.json, the numbers that tests/scipy.rs compares against. Needs numpy and scipy.

The signal is made from a formula, so that both sides have the same samples without sharing a file: noise by xorshift64*
(S. Vigna, ACM TOMS 42(4), 2016) and Box-Muller, seed 1, plus two sines; 65 536 samples at 12 kHz.
"""
import json
import math
import pathlib

import numpy as np
import scipy
from scipy import signal, stats

FS, N, FRAME = 12000.0, 65536, 2048
MASK = (1 << 64) - 1


def gauss(seed, count):
    x, out = seed, []

    def draw():
        nonlocal x
        x ^= x >> 12
        x ^= (x << 25) & MASK
        x ^= x >> 27
        return (x * 0x2545F4914F6CDD1D) & MASK

    while len(out) < count:
        u1 = ((draw() >> 11) + 1) * 2.0**-53
        u2 = (draw() >> 11) * 2.0**-53
        radius = math.sqrt(-2 * math.log(u1))
        out += [radius * math.cos(2 * math.pi * u2), radius * math.sin(2 * math.pi * u2)]
    return np.array(out[:count])


n = np.arange(N)
x = 0.05 * gauss(1, N) + 0.02 * np.sin(2 * np.pi * 1000.1 * n / FS + 0.3) + 0.004 * np.sin(2 * np.pi * 1734.5 * n / FS + 1.1)
x = x.astype(np.float32).astype(np.float64)
call = dict(fs=FS, window="hann", nperseg=FRAME, noverlap=FRAME // 2, detrend=False)
_, density = signal.welch(x, scaling="density", **call)
_, power = signal.welch(x, scaling="spectrum", **call)
_, _, frames = signal.spectrogram(x, mode="psd", scaling="density", **call)
# Slices of three frames, as the program has them at this rate; a last one that is less than half full is left out.
count = frames.shape[1] // 3
rest = frames.shape[1] - 3 * count
rows = [frames[:, 3 * i : 3 * i + 3].mean(axis=1) for i in range(count)]
if rest == 2:
    rows.append(frames[:, 3 * count :].mean(axis=1))
# Overlap-corrected degrees of freedom of three half-overlapped Hann frames: 36 K^2 / (19 K - 1).
dof = 36 * 9 / (19 * 3 - 1)
bias = stats.gamma.ppf(0.5, dof / 2) / (dof / 2)
median = np.median(np.array(rows), axis=0) / bias
bins = list(range(3, 1021, 7)) + [170, 171, 172, 296]
out = {
    "made_with": {"scipy": scipy.__version__, "numpy": np.__version__},
    "first_samples": x[:8].tolist(),
    "rows": len(rows),
    "window_first_9_of_16": signal.get_window("hann", 16)[:9].tolist(),
    "bins": bins,
    "density": density[bins].tolist(),
    "power": power[bins].tolist(),
    "median_over_slices": median[bins].tolist(),
}
(pathlib.Path(__file__).parent / "scipy.json").write_text(json.dumps(out, indent=1) + "\n")
