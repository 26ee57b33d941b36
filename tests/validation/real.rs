//! Recordings off the air in which nothing was switched: two parts of one, or successive ones of one receiver, as
//! off and on; as they are, and with a device's noise of known kind and size added to on. Judged as two files.
//!
//! The band itself changes from part to part, which the tool shows as well. So that its figures can be held against
//! something, the bench has an estimate of the noise of its own (`BandNoise`), which shares nothing with the
//! tool's. Recordings are looked for in `../shared/real-audio` beside the checkout and are no part of the project.

use std::fmt::Write;
use std::ops::Range;
use std::path::{Path, PathBuf};

use realfft::RealFftPlanner;

use super::cases::Case;
use super::judge::Judged;
use super::random::Dice;
use super::share::{quantile, share};
use super::signals::{FENCE_JITTER, cluster};
use super::targets::{Bound, Targets};
use noisetally::demo::synth::{Buzz, Carrier, Clicks, Device, Hash, Receiver, Scene, Take, TakeTruth};
use noisetally::units::Dbfs;

/// What is added, at which sizes: dB of excess, of a carrier dB-Hz, of a fence the peaks over the noise, dB. All
/// over the louder of the two parts: what drowns in the band's own change is no device to be named.
const ADDED: [(&str, &[f64]); 5] = [
    ("hash", &[3.0, 6.0, 10.0, 20.0]),
    ("buzz", &[3.0, 6.0, 10.0, 20.0]),
    ("carrier", &[20.0, 25.0, 30.0, 40.0]),
    ("cluster", &[6.0, 10.0, 20.0]),
    ("fence", &[20.0]),
];
const NOTHING: &str = "nothing";
/// Where a recording is cut in two, as a share of it.
const CUTS: [f64; 3] = [0.35, 0.5, 0.65];
/// The start of a recording that may hold the receiver's settling, s; each part is at least this long, s.
const SETTLING_S: f64 = 0.8;
const LEAST_S: f64 = 4.0;
/// Recordings up to this number are those that rules are found on, the others those they are proved on.
const FOUND_UP_TO: u32 = 13;
/// Successive takes of one receiver, by their numbers.
const SUCCESSIVE: [(u32, u32); 17] = [
    (1, 2),
    (2, 3),
    (3, 4),
    (4, 5),
    (6, 7),
    (7, 8),
    (8, 9),
    (9, 10),
    (10, 11),
    (11, 12),
    (12, 13),
    (19, 20),
    (20, 21),
    (21, 22),
    (19, 22),
    (23, 24),
    (24, 25),
];
/// The two halves of the recordings, as they stand in the table.
const HALVES: [&str; 2] = ["hf-01 to 13", "hf-14 to 26"];

/// The recordings that are there, each as one channel, and what is made of them.
pub struct Bands {
    bands: Vec<Band>,
    cases: Vec<Planned>,
}

struct Band {
    number: u32,
    rate_hz: u32,
    /// Without the digital silence at its end.
    samples: Vec<f32>,
}

/// Part of a recording, by its place in the list.
type Piece = (usize, Range<usize>);

struct Planned {
    off: Piece,
    on: Piece,
    added: &'static str,
    size_db: f64,
}

impl Bands {
    /// Looks for them and plans the cases, of one half of the recordings where it is asked for; empty where the
    /// folder is absent.
    pub fn find(half: Option<&str>) -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/real-audio");
        let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let mut paths: Vec<PathBuf> =
            entries.map(|entry| entry.path()).filter(|path| path.extension().is_some_and(|e| e == "wav")).collect();
        paths.sort();
        let mut bands: Vec<Band> = paths.iter().filter_map(|path| Band::read(path)).collect();
        bands.retain(|band| match half {
            Some("first") => band.number <= FOUND_UP_TO,
            Some("second") => band.number > FOUND_UP_TO,
            _ => true,
        });
        let cases = plan(&bands);
        Self { bands, cases }
    }

    /// How many cases.
    pub fn cases(&self) -> u64 {
        self.cases.len() as u64
    }

    /// Case `index` of [`cases`](Self::cases); none where no place in the band is free for a carrier.
    pub fn case(&self, seed: u64, index: u64) -> Option<Case> {
        let Planned { off, on, added, size_db } = &self.cases[index as usize];
        let mut dice = Dice::new(seed, index, "real band");
        let rate_hz = self.bands[on.0].rate_hz;
        let samples = |(band, range): &Piece| self.bands[*band].samples[range.clone()].to_vec();
        let (off_samples, mut on_samples) = (samples(off), samples(on));
        let noise = [&off_samples, &on_samples].map(|part| BandNoise::of(part, f64::from(rate_hz)));
        let before_db = noise[1].over(&noise[0]);
        let period_s = (*added == "fence").then(|| dice.between(0.7, 1.6));
        let mut added_db = 0.0;
        if *added != NOTHING {
            let wave = device(added, *size_db, period_s, &noise, rate_hz, on_samples.len(), &mut dice)?;
            let power = wave.iter().map(|x| x * x).sum::<f64>() / wave.len() as f64;
            added_db = 10.0 * (1.0 + power / noise[1].power()).log10();
            on_samples.iter_mut().zip(wave).for_each(|(x, d)| *x += d as f32);
        }
        let take = |samples, noise: &BandNoise| Take {
            samples,
            rate_hz,
            truth: TakeTruth {
                noise_expected: noise.power(),
                noise_measured: noise.power(),
                noise_bandwidth_hz: f64::from(rate_hz) / 2.0,
                parts: Vec::new(),
            },
        };
        let told = |(band, range): &Piece| {
            let at_s = |sample: usize| sample as f64 / f64::from(rate_hz);
            format!("hf-{:02} {:.1}-{:.1} s", self.bands[*band].number, at_s(range.start), at_s(range.end))
        };
        let told =
            format!("#{index} {}, {}: {added} {size_db} dB, {before_db:+.2} dB by itself", told(off), told(on));
        let (kind, fair): (_, &[&str]) = match *added {
            "hash" => ("hash", &["hash"]),
            "buzz" => ("buzz", &["buzz"]),
            "fence" => ("clicks", &["clicks"]),
            NOTHING => ("none", &["none", "unclear"]),
            _ => ("carriers", &["carriers"]),
        };
        // Lines and a few pulses have no part in the noise's excess.
        let true_excess_db = before_db + if matches!(kind, "hash" | "buzz") { added_db } else { 0.0 };
        let half = HALVES[usize::from(self.bands[on.0].number > FOUND_UP_TO)];
        let (off, on) = (take(off_samples, &noise[0]), take(on_samples, &noise[1]));
        let made = Case::new(kind, added, told, *size_db, half, 50.0, off, on);
        Some(Case { fair, period_s, true_excess_db, ..made })
    }
}

/// Every pair of parts as it is; those cut in the middle and successive takes with every device as well; fences in
/// either order.
fn plan(bands: &[Band]) -> Vec<Planned> {
    let mut pairs: Vec<(Piece, Piece, bool)> = Vec::new();
    for (i, band) in bands.iter().enumerate() {
        let (start, end) = ((SETTLING_S * f64::from(band.rate_hz)) as usize, band.samples.len());
        for cut in CUTS {
            let middle = start + (cut * end.saturating_sub(start) as f64) as usize;
            let shortest = (middle - start).min(end.saturating_sub(middle));
            if shortest as f64 >= LEAST_S * f64::from(band.rate_hz) {
                pairs.push(((i, start..middle), (i, middle..end), cut == 0.5));
            }
        }
    }
    let place = |number: u32| bands.iter().position(|band| band.number == number);
    for (first, second) in SUCCESSIVE {
        if let (Some(a), Some(b)) = (place(first), place(second))
            && bands[a].rate_hz == bands[b].rate_hz
        {
            pairs.push(((a, 0..bands[a].samples.len()), (b, 0..bands[b].samples.len()), true));
        }
    }
    let mut cases = Vec::new();
    for (first, second, with_devices) in pairs {
        let mut add = |added, size_db, swapped: bool| {
            let (off, on) = if swapped { (second.clone(), first.clone()) } else { (first.clone(), second.clone()) };
            cases.push(Planned { off, on, added, size_db });
        };
        add(NOTHING, 0.0, false);
        add(NOTHING, 0.0, true);
        for (added, sizes) in ADDED.into_iter().filter(|_| with_devices) {
            for &size_db in sizes {
                add(added, size_db, false);
            }
            if added == "fence" {
                add(added, sizes[0], true);
            }
        }
    }
    cases
}

impl Band {
    fn read(path: &Path) -> Option<Self> {
        let mut reader = hound::WavReader::open(path).ok()?;
        let spec = reader.spec();
        let scale = 2f32.powi(i32::from(spec.bits_per_sample) - 1);
        let all: Vec<f32> = match spec.sample_format {
            hound::SampleFormat::Int => {
                reader.samples::<i32>().map_while(|x| Some(x.ok()? as f32 / scale)).collect()
            }
            hound::SampleFormat::Float => reader.samples::<f32>().map_while(Result::ok).collect(),
        };
        let mut samples: Vec<f32> = all.into_iter().step_by(usize::from(spec.channels.max(1))).collect();
        samples.truncate(samples.iter().rposition(|x| *x != 0.0).map_or(0, |last| last + 1));
        let number = path.file_stem()?.to_string_lossy().strip_prefix("hf-")?.parse().ok()?;
        Some(Self { number, rate_hz: spec.sample_rate, samples })
    }
}

/// Frame of the estimate and width of a strip of it.
const FRAME: usize = 1024;
const STRIP_HZ: f64 = 200.0;
/// A strip this far below the loud ones is outside the passband.
const OUTSIDE: f64 = 0.1;
/// No station covers a place whose bins, so far to either side, stand on average at most so far over its strip.
/// Chosen: a carrier's own width in frames of this length, twice; and what chance makes of a mean over 5 s.
const FREE_HZ: f64 = 60.0;
const FREE: f64 = 1.6;

/// The band's noise between its stations, strip by strip of frequency.
struct BandNoise {
    /// Mean square in each strip.
    strips: Vec<f64>,
    /// Mean square in each bin, stations and all.
    bins: Vec<f64>,
    bin_hz: f64,
}

impl BandNoise {
    /// Periodograms of Hann-windowed frames, half overlapped (P. D. Welch, 1967). The power of a bin of Gaussian
    /// noise is exponentially distributed, so its mean is its median over ln 2, whatever single frames hold; and of
    /// the bins of a strip the lower quartile counts, so that stations in up to half of them are passed over. Its
    /// bias, some 0.3 dB, is that of both halves.
    fn of(samples: &[f32], rate_hz: f64) -> Self {
        let forward = RealFftPlanner::<f64>::new().plan_fft_forward(FRAME);
        let window: Vec<f64> =
            (0..FRAME).map(|n| 0.5 - 0.5 * (std::f64::consts::TAU * n as f64 / FRAME as f64).cos()).collect();
        let energy: f64 = window.iter().map(|w| w * w).sum();
        let mut bins: Vec<Vec<f64>> = vec![Vec::new(); FRAME / 2];
        let mut spectrum = forward.make_output_vec();
        for start in (0..samples.len().saturating_sub(FRAME - 1)).step_by(FRAME / 2) {
            let mut frame: Vec<f64> =
                samples[start..start + FRAME].iter().zip(&window).map(|(&x, w)| f64::from(x) * w).collect();
            let done = forward.process(&mut frame, &mut spectrum).is_ok();
            assert!(done, "lengths come from the plan itself");
            // One-sided, as a mean square: twice the power, over the window's energy and the frame's bins.
            bins.iter_mut()
                .zip(&spectrum)
                .for_each(|(bin, x)| bin.push(2.0 * x.norm_sqr() / energy / FRAME as f64));
        }
        let all = bins.iter().map(|bin| bin.iter().sum::<f64>() / bin.len().max(1) as f64).collect();
        let means: Vec<f64> = bins.into_iter().map(|bin| quantile(bin, 0.5) / std::f64::consts::LN_2).collect();
        let width = (STRIP_HZ / rate_hz * FRAME as f64).round() as usize;
        let typical = |strip: &[f64]| width as f64 * quantile(strip.iter().copied(), 0.25);
        Self { strips: means.chunks(width).map(typical).collect(), bins: all, bin_hz: rate_hz / FRAME as f64 }
    }

    /// The strips within the passband.
    fn open(&self) -> Vec<usize> {
        let loud = quantile(self.strips.iter().copied(), 0.8);
        (0..self.strips.len()).filter(|&i| self.strips[i] > OUTSIDE * loud).collect()
    }

    /// Mean square of all of it.
    fn power(&self) -> f64 {
        self.strips.iter().sum()
    }

    /// How much louder it is than another, dB, by the strip in the middle.
    fn over(&self, other: &Self) -> f64 {
        quantile(self.open().iter().map(|&i| 10.0 * (self.strips[i] / other.strips[i]).log10()), 0.5)
    }

    /// Amplitude response that gives white noise this noise's spectrum.
    fn response(&self, freq_hz: f64) -> f64 {
        let place = (freq_hz / STRIP_HZ - 0.5).clamp(0.0, (self.strips.len() - 1) as f64);
        let (low, share) = (place as usize, place.fract());
        let high = (low + 1).min(self.strips.len() - 1);
        (self.strips[low].sqrt() * (1.0 - share) + self.strips[high].sqrt() * share).max(0.0)
    }

    /// Where the passband begins and ends, Hz.
    fn edges_hz(&self) -> (f64, f64) {
        let open = self.open();
        let edge = |strip: Option<&usize>| strip.map_or(0.0, |&i| (i as f64 + 0.5) * STRIP_HZ);
        (edge(open.first()), edge(open.last()))
    }

    /// Mean square per Hz of the noise there.
    fn density(&self, freq_hz: f64) -> f64 {
        self.response(freq_hz).powi(2) / STRIP_HZ
    }

    fn is_free(&self, freq_hz: f64) -> bool {
        let floor = self.density(freq_hz) * self.bin_hz;
        let near = |bin: usize| (bin as f64 * self.bin_hz - freq_hz).abs() <= FREE_HZ;
        (0..self.bins.len()).filter(|&bin| near(bin)).all(|bin| self.bins[bin] <= FREE * floor)
    }

    fn shaped(&self, mut wave: Vec<f64>, rate_hz: f64) -> Vec<f64> {
        let n = wave.len();
        let mut planner = RealFftPlanner::<f64>::new();
        let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
        let mut spectrum = forward.make_output_vec();
        let mut done = forward.process(&mut wave, &mut spectrum).is_ok();
        for (k, bin) in spectrum.iter_mut().enumerate() {
            *bin *= self.response(k as f64 * rate_hz / n as f64) / n as f64;
        }
        done &= inverse.process(&mut spectrum, &mut wave).is_ok();
        assert!(done, "lengths come from the plans themselves; the ends of the spectrum are real");
        wave
    }
}

/// A device's wave at the size asked for. Noise goes through the filter that gave the band's noise its shape: so it
/// adds the same excess at every frequency, wherever the passband's edges are. A carrier stands where no station
/// covers it; none where there is no such place.
fn device(
    added: &str,
    size_db: f64,
    period_s: Option<f64>,
    noise: &[BandNoise; 2],
    rate_hz: u32,
    len: usize,
    dice: &mut Dice,
) -> Option<Vec<f64>> {
    let on = &noise[1];
    let (low, high) = on.edges_hz();
    let floor = noise[0].power().max(on.power());
    let ratio = 10f64.powf(size_db / 10.0);
    let (device, power): (Device, f64) = match added {
        "hash" => (Hash::flat().into(), floor * (ratio - 1.0)),
        "buzz" => (Buzz::gated(100.0, dice.between(0.1, 0.6)).jittered(0.01).into(), floor * (ratio - 1.0)),
        "cluster" => {
            let reach_hz = dice.between(100.0, 400.0);
            let middle_hz = dice.between(low + reach_hz, (high - reach_hz).max(low + reach_hz + 1.0));
            (cluster(middle_hz, reach_hz, dice).into(), floor * (ratio - 1.0))
        }
        "carrier" => {
            let free: Vec<f64> = (low as usize..high as usize)
                .step_by(10)
                .map(|hz| hz as f64)
                .filter(|&hz| noise.iter().all(|one| one.is_free(hz)))
                .collect();
            if free.is_empty() {
                return None;
            }
            let freq_hz = dice.pick(&free) + dice.share();
            (Carrier::at(freq_hz).into(), noise[0].density(freq_hz).max(on.density(freq_hz)) * ratio)
        }
        _ => (Clicks::regular(period_s?.recip(), FENCE_JITTER).into(), 0.0),
    };
    let half_rate = f64::from(rate_hz) / 2.0;
    let wide = Receiver::with_edges(rate_hz, 20.0, half_rate - 20.0, 10.0);
    let seconds = len as f64 / f64::from(rate_hz);
    let take = Scene::new(wide).device_level(device, Dbfs(-20.0)).seed(dice.seed()).render(seconds);
    let mut wave: Vec<f64> = take.samples.iter().map(|&x| f64::from(x)).collect();
    if !matches!(added, "carrier" | "cluster") {
        wave = on.shaped(wave, f64::from(rate_hz));
    }
    let gain = if period_s.is_some() {
        (floor * ratio).sqrt() / wave.iter().fold(0.0, |peak: f64, x| peak.max(x.abs()))
    } else {
        (power * wave.len() as f64 / wave.iter().map(|x| x * x).sum::<f64>()).sqrt()
    };
    wave.iter_mut().for_each(|x| *x *= gain);
    wave.resize(len, 0.0);
    Some(wave)
}

/// Excess at this distance from the bench's own counts as right, dB.
const WITHIN_DB: f64 = 1.5;

/// Half by half of the recordings: right, wrong, called none; and against the targets.
pub fn table(judged: &[Judged], targets: &mut Targets) -> String {
    if judged.is_empty() {
        return "\nreal bands: there is no ../shared/real-audio, so nothing was compared\n".to_owned();
    }
    let mut text = format!("\nreal bands, right / wrong / called none\n{:20}", "added, dB");
    HALVES.iter().for_each(|half| {
        let _ = write!(text, "{half:>20}");
    });
    text.push('\n');
    let rows = [(NOTHING, &[0.0][..])].into_iter().chain(ADDED);
    for (added, size_db) in rows.flat_map(|(added, sizes)| sizes.iter().map(move |size| (added, *size))) {
        let _ = write!(text, "{:20}", format!("{added} {size_db}"));
        for half in HALVES {
            let of = judged.iter().filter(|j| j.background == half && j.row == added && j.excess_db == size_db);
            let (mut right, mut none, mut wrong) = (0, 0, 0);
            for one in of {
                match one.called {
                    _ if one.is_right() => right += 1,
                    "none" => none += 1,
                    _ => wrong += 1,
                }
            }
            let _ = write!(text, "{:>20}", format!("{right}/{wrong}/{none}"));
        }
        text.push('\n');
    }
    for half in HALVES {
        let of: Vec<&Judged> = judged.iter().filter(|j| j.background == half).collect();
        let moved = |part| quantile(of.iter().filter(|j| j.row == NOTHING).map(|j| j.true_excess_db.abs()), part);
        let _ = writeln!(
            text,
            "{half}: trust stands in {}; by itself the noise changes by {:.2} dB (median), {:.2} dB (90 %)",
            share(of.iter().filter(|j| j.stands()).count(), of.len()).trim(),
            moved(0.5),
            moved(0.9)
        );
        asked(&of, half, targets);
    }
    text
}

fn asked(of: &[&Judged], half: &str, targets: &mut Targets) {
    let told = |what: &str| format!("{half}, {what}");
    let nothing = |j: &&Judged| j.row == NOTHING;
    let claims = |j: &&Judged| !j.is_right() && j.confidence > 0.7;
    let plain = |j: &&Judged| match j.row {
        "hash" | "buzz" => j.excess_db >= 6.0,
        "carrier" => j.excess_db >= 25.0,
        _ => false,
    };
    // At 3 dB and below 25 dB-Hz the band's own change may leave nothing: there "none" is no wrong claim.
    let claimed = |j: &&Judged| j.is_sure_and_wrong() && (j.called != "none" || plain(j) || j.row == "fence");
    let near = |j: &&Judged| j.excess.is_some_and(|(error_db, _)| error_db.abs() <= WITHIN_DB);
    let standing = |j: &&Judged| j.stands() && matches!(j.row, "hash" | "buzz");
    let right = |j: &&Judged| j.is_right();
    targets.share_of(&told("nothing added: none or unclear"), of, nothing, right, Bound::Least(95.0));
    targets.share_of(&told("nothing added: a claim over 0.7 sure"), of, nothing, claims, Bound::Most(2.0));
    targets.share_of(&told("sure and wrong"), of, |_| true, claimed, Bound::Most(0.0));
    targets.share_of(&told("hash, buzz >= 6 dB, carriers >= 25 dB-Hz"), of, plain, right, Bound::Least(92.0));
    targets.share_of(&told("excess within 1.5 dB where trust stands"), of, standing, near, Bound::Least(90.0));
    targets.share_of(
        &told("fences: clicks, period within 1 %"),
        of,
        |j| j.row == "fence",
        right,
        Bound::Least(88.7),
    );
}
