"""What `night` measures, as one would write it with SciPy: the yardstick of the benchmark beside it.

Reads a 16-bit mono WAV in blocks of five minutes, shared among so many processes (the second argument), and takes of each: Welch's mean density, the 10, 50 and
90 % quantiles of the spectrogram's power per minute, spectra of ten seconds, and the spectrum of the passband's power envelope.
Prints its wall time in seconds, Python's start and its imports left out.
"""

import sys
import time
import wave
from multiprocessing import Pool

import numpy as np
from scipy import signal

FRAME_HZ = 6.0
LOW_HZ, HIGH_HZ = 300.0, 2700.0
BLOCK_S = 300


def frame_of(rate):
    return 1 << int(np.ceil(np.log2(rate / FRAME_HZ)))


def block(job):
    path, rate, start, count = job
    with wave.open(path) as file:
        file.setpos(start)
        x = np.frombuffer(file.readframes(count), "<i2").astype(np.float32) / 32768
    n = frame_of(rate)
    freq, mean = signal.welch(x, rate, nperseg=n)
    freq, at, power = signal.spectrogram(x, rate, window="hann", nperseg=n, noverlap=n // 2)
    band = (freq >= LOW_HZ) & (freq <= HIGH_HZ)
    level = power[band].sum(axis=0) * (freq[1] - freq[0])
    minutes = [np.percentile(level[(at // 60) == m], [10, 50, 90]) for m in np.unique(at // 60)]
    rows = [power[:, (at // 10) == r].mean(axis=1) for r in np.unique(at // 10)]
    filtered = signal.sosfilt(signal.butter(4, [LOW_HZ, HIGH_HZ], "band", fs=rate, output="sos"), x)
    step = rate // 1000
    squares = filtered[: len(filtered) // step * step] ** 2
    envelope = squares.reshape(-1, step).mean(axis=1)
    swing = signal.welch(envelope, rate / step, nperseg=2048)[1]
    return mean, minutes, rows, swing


def main():
    start = time.perf_counter()
    path, processes = sys.argv[1], int(sys.argv[2])
    with wave.open(path) as file:
        rate, frames = file.getframerate(), file.getnframes()
    size = BLOCK_S * rate
    jobs = [(path, rate, at, min(size, frames - at)) for at in range(0, frames, size)]
    if processes == 1:
        blocks = [block(job) for job in jobs]
    else:
        with Pool(processes) as pool:
            blocks = pool.map(block, jobs, chunksize=1)
    assert len(blocks) == len(jobs)
    print(f"{time.perf_counter() - start:.3f}")


if __name__ == "__main__":
    main()
