#!/bin/sh
# Makes the recordings in this folder again; README.md says what they are. Needs python3, ffmpeg, sox and flac.
set -eu
cd "$(dirname "$0")"
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT

python3 - "$work" <<'PY'
import math, struct, sys
work = sys.argv[1]
# Noise by the linear congruence of ISO C's example `rand`, the top bits: tests/decode/ makes the same.
def noise(count, bits, seed=1):
    x = seed
    for _ in range(count):
        x = (x * 1103515245 + 12345) % 2**31
        yield (x >> (31 - bits)) - 2**(bits - 1)
def write(name, values):
    with open(f"{work}/{name}", "wb") as f:
        f.write(b"".join(struct.pack("<i", v) for v in values))
for bits in (8, 16, 24):
    write(f"noise{bits}", [v << (32 - bits) for v in noise(500, bits)])
left, right = list(noise(500, 16)), list(noise(500, 16, 2))
write("stereo", [v << 16 for pair in zip(left, right) for v in pair])
for rate in (12000, 48000):
    write(f"tones{rate}", [round((0.3 * math.sin(2 * math.pi * 1000 * n / rate)
                                + 0.2 * math.sin(2 * math.pi * 2345 * n / rate)) * 32768) << 16
                           for n in range(rate * 2 // 5)])
open(f"{work}/bytes", "wb").write(bytes(range(256)))
PY

quiet() { ffmpeg -nostdin -v error -y "$@"; }
exact="-fflags +bitexact -flags:a +bitexact"
unpadded="-c:a flac -metadata_header_padding 0"
noise() { bits=$1; shift; quiet -f s32le -ar 12000 -ac 1 -i "$work/noise$bits" $exact "$@"; }
stereo() { quiet -f s32le -ar 12000 -ac 2 -i "$work/stereo" $exact "$@"; }
tones() { quiet -f s32le -ar 48000 -ac 1 -i "$work/tones48000" $exact "$@"; }

# The same samples in every coding without loss.
noise 8 -c:a pcm_u8 noise8-u8.wav
noise 8 -c:a pcm_s8 noise8-s8.aiff
noise 8 -c:a pcm_s8 noise8-s8.au
noise 16 -c:a pcm_s16le noise16-s16.wav
sox -D -t s32 -r 12000 -c 1 "$work/noise16" -b 16 noise16-by-sox.wav
noise 16 -c:a pcm_s16le -rf64 always noise16-rf64.wav
noise 16 -c:a pcm_s16le noise16-s16.w64
noise 16 -c:a pcm_s16be noise16-s16.au
noise 16 -c:a pcm_s16be noise16-s16.aiff
noise 16 -c:a pcm_s16be noise16-s16.caf
noise 16 $unpadded noise16.flac
flac -s -f --no-padding -b 64 --endian=little --sign=signed --channels=1 --bps=16 --sample-rate=12000 -o noise16-by-flac.flac \
    --force-raw-format "$(sox -D -t s32 -r 12000 -c 1 "$work/noise16" -t s16 "$work/noise16.raw" && echo "$work/noise16.raw")"
noise 16 -c:a alac -sample_fmt s16p noise16-alac.m4a
noise 16 $unpadded -f ogg noise16-flac.ogg
noise 24 -c:a pcm_s24le noise24-s24.wav
noise 24 -af "pan=stereo|c0=c0|c1=c0" -c:a pcm_s24le noise24-extensible.wav
noise 24 -c:a pcm_s32le noise24-s32.wav
noise 24 -c:a pcm_f32le noise24-f32.wav
noise 24 -c:a pcm_f64le noise24-f64.wav
noise 24 -c:a pcm_f32be noise24-f32.au
noise 24 -c:a pcm_s24be noise24-s24.aiff
noise 24 -c:a pcm_f32be -f aiff noise24-f32.aifc
noise 16 -c:a pcm_s16le -f aiff noise16-sowt.aifc
noise 24 $unpadded -sample_fmt s32 -bits_per_raw_sample 24 noise24.flac
noise 24 -c:a alac -sample_fmt s32p noise24-alac.m4a
stereo -c:a pcm_s16le stereo-s16.wav
stereo $unpadded stereo.flac

# What writers leave when they cannot go back: a pipe.
noise 16 -c:a pcm_s16le -f wav - | cat > noise16-piped-by-ffmpeg.wav
cat "$work/noise16" | sox -D -t s32 -r 12000 -c 1 - -b 16 -t wav - 2>/dev/null | cat > noise16-piped-by-sox.wav
noise 16 $unpadded -f flac - | cat > noise16-piped.flac
noise 16 -c:a pcm_s16be -f au - | cat > noise16-piped.au

# Dates.
noise 16 -c:a pcm_s16le -write_bext 1 -metadata origination_date=2026-03-14 -metadata origination_time=19:02:00 dated-bext.wav
quiet -f s32le -ar 12000 -ac 1 -i "$work/noise16" -c:a pcm_s16le -metadata date="2026-03-14 19:02:00" dated-icrd.wav
quiet -f s32le -ar 12000 -ac 1 -i "$work/noise16" $unpadded -metadata date="2026-03-14T19:02:00Z" dated.flac

# Every byte of the two laws, and what ffmpeg makes of them.
for law in alaw mulaw; do
    quiet -f $law -ar 8000 -ac 1 -i "$work/bytes" -c:a pcm_$law $law.wav
    quiet -f $law -ar 8000 -ac 1 -i "$work/bytes" -c:a pcm_s16le -f s16le $law.s16
done
quiet -f alaw -ar 8000 -ac 1 -i "$work/bytes" -c:a pcm_alaw alaw.au

# Two tones in the lossy codings.
tones -ar 12000 -c:a adpcm_ms tones-adpcm-ms.wav
tones -ar 12000 -c:a adpcm_ima_wav tones-adpcm-ima.wav
sox -D -t s32 -r 12000 -c 1 "$work/tones12000" -e ms-adpcm tones-adpcm-ms-by-sox.wav
tones -ar 12000 -c:a adpcm_ms -f wav - | cat > tones-adpcm-ms-piped.wav
tones -c:a libmp3lame -b:a 96k tones.mp3
tones -c:a libmp3lame -b:a 96k -write_xing 0 tones-no-header.mp3
# Four times the tones, long enough that a place in it is found by halving.
quiet -stream_loop 3 -f s32le -ar 48000 -ac 1 -i "$work/tones48000" $exact $unpadded -sample_fmt s16 -frame_size 576 tones-long.flac
tones -c:a aac -b:a 96k -f adts tones.aac
tones -c:a aac -b:a 96k tones.m4a
tones -c:a libvorbis -q:a 4 -page_duration 100000 tones-vorbis.ogg
tones -c:a libopus -b:a 64k -page_duration 100000 tones-opus.ogg
tones -c:a libopus -b:a 64k tones-opus.webm
tones -c:a libopus -b:a 64k -f mp4 tones-opus.mp4
tones -ar 12000 -c:a libopus -b:a 12k -application voip tones-opus-silk.ogg
tones -af "pan=stereo|c0=c0|c1=c0" -c:a libopus -b:a 64k tones-opus-stereo.ogg
ls -l | awk '{ sum += $5 } END { print sum " bytes" }'
