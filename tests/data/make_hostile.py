"""Makes the files in hostile/ again from the recordings beside this script: headers that lie, files cut at odd places.

Run after make.sh. No randomness but a fixed linear congruence, so the files come out the same.
"""
import pathlib
import struct

here = pathlib.Path(__file__).parent
out = here / "hostile"
out.mkdir(exist_ok=True)


def source(name):
    return bytearray((here / name).read_bytes())


def write(name, data):
    (out / name).write_bytes(bytes(data))


def put(data, at, fmt, *values):
    struct.pack_into(fmt, data, at, *values)
    return data


def noise(count, seed):
    x, made = seed, bytearray()
    for _ in range(count):
        x = (x * 1103515245 + 12345) % 2**31
        made.append(x >> 23)
    return made


def flipped(data, seed, count=6):
    """Some bits turned over, most of them in the header."""
    x = seed
    for _ in range(count):
        x = (x * 1103515245 + 12345) % 2**31
        data[(x >> 8) % min(len(data), 120)] ^= 1 << (x >> 27) % 8
    return data


def chunk(name, data):
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def wav(*chunks):
    body = b"WAVE" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def fmt(tag=1, channels=1, rate=12000, block=2, bits=16, more=b""):
    return chunk(b"fmt ", struct.pack("<HHIIHH", tag, channels, rate, rate * block, block, bits) + more)


sound = noise(64, 3)
data = chunk(b"data", sound)
extensible = struct.pack("<HHI", 22, 16, 4) + struct.pack("<H", 0x7777) + b"\0" * 14

write("empty.wav", b"")
write("text.wav", b"Monday: antenna moved to the shed, noise S5.\n" * 5)
write("noise.wav", noise(900, 4))
write("noise.mp3", noise(2000, 5))
write("zeros.flac", b"\0" * 1000)
write("one-byte.wav", b"R")
write("riff-only.wav", b"RIFF\x24\0\0\0WAVE")
write("no-format.wav", wav(data))
write("samples-before-format.wav", wav(data, fmt()))
write("no-data.wav", wav(fmt()))
write("no-samples.wav", wav(fmt(), chunk(b"data", b"")))
write("no-samples-but-a-list.wav", wav(fmt(), chunk(b"data", b""), chunk(b"LIST", b"INFOISFT\4\0\0\0abc\0")))
write("one-sample.wav", wav(fmt(), chunk(b"data", sound[:2])))
write("half-a-sample.wav", wav(fmt(), chunk(b"data", sound[:1])))
write("odd-bytes.wav", wav(fmt(channels=2, block=4), chunk(b"data", sound[:63])))
write("format-of-4-bytes.wav", wav(chunk(b"fmt ", b"\1\0\1\0"), data))
write("no-channels.wav", wav(fmt(channels=0, block=0), data))
write("65535-channels.wav", wav(fmt(channels=65535, block=65534), data))
write("rate-0.wav", wav(fmt(rate=0), data))
write("rate-4-ghz.wav", wav(fmt(rate=4_000_000_000, block=1), data))
write("bits-0.wav", wav(fmt(bits=0, block=0), data))
write("bits-64.wav", wav(fmt(bits=64, block=8), data))
write("block-0.wav", wav(fmt(block=0), data))
write("unknown-coding.wav", wav(fmt(tag=0xFFFE, more=extensible), data))
write("mp3-inside.wav", wav(fmt(tag=0x55), data))
write("adpcm-block-0.wav", wav(fmt(tag=2, block=0, bits=4), data))
write("adpcm-noise.wav", wav(fmt(tag=2, block=32, bits=4), chunk(b"data", noise(320, 6))))
write("adpcm-5-channels.wav", wav(fmt(tag=0x11, channels=5, block=40, bits=4), data))
write("endless-chunk.wav", wav(fmt(), b"JUNK\xff\xff\xff\xff", data))
write("thousands-of-chunks.wav", wav(fmt(), *([chunk(b"junk", b"")] * 1100), data))
write("not-a-number.wav", wav(fmt(tag=3, block=4, bits=32), chunk(b"data", struct.pack(
    "<6f", 0.5, float("nan"), float("inf"), -float("inf"), 3e38, -0.5))))
write("cut-in-header.wav", source("noise16-s16.wav")[:30])
write("ds64-of-zeros.wav", put(source("noise16-rf64.wav"), 20, "<QQQ", 0, 0, 0))
write("ds64-of-ones.wav", put(source("noise16-rf64.wav"), 20, "<QQQ", 2**64 - 1, 2**64 - 1, 2**64 - 1))
write("size-of-ones.w64", put(source("noise16-s16.w64"), 96, "<Q", 2**64 - 1))
write("size-1.w64", put(source("noise16-s16.w64"), 96, "<Q", 1))
write("offset-past-end.au", put(source("noise16-s16.au"), 4, ">I", 2**32 - 1))
write("4-billion-channels.au", put(source("noise16-s16.au"), 20, ">I", 2**32 - 1))
# CAF: the description follows the file's head (8) and its own (12): rate, id, flags, bytes, frames, channels, bits.
write("huge-packets.caf", put(source("noise16-s16.caf"), 36, ">II", 2**32 - 1, 2**32 - 1))
write("packets-of-0.caf", put(source("noise16-s16.caf"), 36, ">II", 0, 0))
write("4-billion-channels.caf", put(source("noise16-s16.caf"), 44, ">I", 2**32 - 1))
write("flipped.caf", flipped(source("noise16-s16.caf"), 7))
write("flipped.aiff", flipped(source("noise16-s16.aiff"), 8))
write("frames-of-ones.aiff", put(source("noise16-s16.aiff"), 22, ">I", 2**32 - 1))
write("cut-in-header.flac", source("noise16.flac")[:30])
write("cut.flac", source("noise16-by-flac.flac")[:700])
write("flipped.flac", flipped(source("noise16-by-flac.flac"), 9))
write("cut-at-the-front.mp3", source("tones.mp3")[1000:3000])
write("flipped.mp3", flipped(source("tones.mp3")[:3000], 10))
write("cut.m4a", source("tones.m4a")[:3000])
write("flipped.m4a", flipped(source("noise16-alac.m4a"), 11))
write("255-streams.webm", source("tones-opus.webm").replace(
    b"OpusHead\1\1", b"OpusHead\1\xff")[:2000])
write("cut.ogg", source("tones-opus.ogg")[:2500])
write("cut-vorbis.ogg", source("tones-vorbis.ogg")[:4500])
write("cut.aiff", source("noise16-s16.aiff")[:700])
write("never-finished.aiff", put(put(put(source("noise16-s16.aiff"), 4, ">I", 0), 22, ">I", 0), 42, ">I", 0))
write("cut.caf", source("noise16-s16.caf")[:700])
write("flipped.webm", flipped(source("tones-opus.webm")[:3000], 12))
write("flipped.aac", flipped(source("tones.aac")[:2000], 13))
