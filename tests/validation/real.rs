//! Real bands as backgrounds: a recording off the air cut in two, its first half the off state, its second half
//! with a device's noise of known power the on state; and the halves as they are.
//!
//! What is true of them comes from an estimate of the band's noise of its own (`BandNoise`), which shares nothing
//! with the tool's. Recordings are looked for in `../shared/real-audio` beside the checkout and are no part of the
//! project.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use realfft::RealFftPlanner;

use super::cases::Case;
use super::judge::Judged;
use super::random::Dice;
use super::share::{quantile, share};
use noisetally::demo::synth::{Buzz, Carriers, Clicks, Device, Hash, Receiver, Scene, Take, TakeTruth};
use noisetally::units::Dbfs;
use noisetally::warning::Trust;

/// Kinds and excesses that are mixed in.
const KINDS: [&str; 5] = ["hash", "buzz", "clicks", "carriers", "comb"];
const EXCESSES_DB: [f64; 4] = [1.0, 3.0, 6.0, 12.0];
/// Row of these cases.
pub const ROW: &str = "real band";
/// Background of those whose halves differ by one change over all of the passband, and of the others.
const ALIKE: &str = "one change";
const UNLIKE: &str = "no one change";

/// The recordings that are there, each as one channel.
pub struct Bands(Vec<Band>);

struct Band {
    name: String,
    rate_hz: u32,
    samples: Vec<f32>,
}

impl Bands {
    /// Looks for them; empty where the folder is absent. Recordings under 10 s are left.
    pub fn find() -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/real-audio");
        let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let mut paths: Vec<PathBuf> =
            entries.map(|entry| entry.path()).filter(|path| path.extension().is_some_and(|e| e == "wav")).collect();
        paths.sort();
        Self(paths.iter().filter_map(|path| Band::read(path)).collect())
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Every case once: each band with nothing added, in either order of its halves, and with every kind and
    /// excess.
    pub fn cases(&self) -> u64 {
        (self.len() * (2 + KINDS.len() * EXCESSES_DB.len())) as u64
    }

    /// Case `index` of [`cases`](Self::cases).
    pub fn case(&self, seed: u64, index: u64) -> Case {
        let mut dice = Dice::new(seed, index, "real band");
        let band = &self.0[index as usize % self.len()];
        let variant = index as usize / self.len();
        let (first, second) = band.samples.split_at(band.samples.len() / 2);
        let (off, on) = if variant == 1 { (second, first) } else { (first, second) };
        let noise = [off, on].map(|half| BandNoise::of(half, f64::from(band.rate_hz)));
        let (before_db, agreed) = noise[1].over(&noise[0]);
        let background = if agreed { ALIKE } else { UNLIKE };
        if variant < 2 {
            let told = format!("{} #{index}: halves as they are, {before_db:+.2} dB by themselves", band.name);
            return case("none", told, 0.0, background, band, &noise, before_db, off.to_vec(), on.to_vec());
        }
        let kind = KINDS[(variant - 2) % KINDS.len()];
        let excess_db = EXCESSES_DB[(variant - 2) / KINDS.len()];
        let wanted = noise[1].power() * (10f64.powf(excess_db / 10.0) - 1.0);
        let device = noise[1].device(kind, wanted, band.rate_hz, on.len(), &mut dice);
        let noisy: Vec<f32> = on.iter().zip(device).map(|(&x, d)| x + d as f32).collect();
        let told = format!("{} #{index}: {kind} {excess_db} dB, {before_db:+.2} dB by itself", band.name);
        // Lines have no part in the noise's excess.
        let added = if matches!(kind, "carriers" | "comb") { 0.0 } else { excess_db };
        case(kind, told, excess_db, background, band, &noise, before_db + added, off.to_vec(), noisy)
    }
}

#[allow(clippy::too_many_arguments)] // They are what a case consists of.
fn case(
    kind: &'static str,
    told: String,
    excess_db: f64,
    background: &'static str,
    band: &Band,
    noise: &[BandNoise; 2],
    true_excess_db: f64,
    off: Vec<f32>,
    on: Vec<f32>,
) -> Case {
    let take = |samples, noise: &BandNoise| Take {
        samples,
        rate_hz: band.rate_hz,
        truth: TakeTruth {
            noise_expected: noise.power(),
            noise_measured: noise.power(),
            noise_bandwidth_hz: f64::from(band.rate_hz) / 2.0,
            parts: Vec::new(),
        },
    };
    let (off, on) = (take(off, &noise[0]), take(on, &noise[1]));
    Case { true_excess_db, ..Case::new(kind, ROW, told, excess_db, background, 50.0, off, on) }
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
        let samples: Vec<f32> = all.into_iter().step_by(usize::from(spec.channels.max(1))).collect();
        let name = path.file_stem()?.to_string_lossy().into_owned();
        (samples.len() >= 10 * spec.sample_rate as usize).then_some(Self {
            name,
            rate_hz: spec.sample_rate,
            samples,
        })
    }
}

/// Frame of the estimate and width of a strip of it.
const FRAME: usize = 1024;
const STRIP_HZ: f64 = 200.0;
/// A strip this far below the loud ones is outside the passband.
const OUTSIDE: f64 = 0.1;
/// Strips whose changes' quartiles lie further apart than this have no one change, dB.
const ALIKE_DB: f64 = 1.5;

/// The band's noise between its stations, strip by strip of frequency.
struct BandNoise {
    /// Mean square in each strip.
    strips: Vec<f64>,
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
        let means: Vec<f64> = bins.into_iter().map(|bin| quantile(bin, 0.5) / std::f64::consts::LN_2).collect();
        let width = (STRIP_HZ / rate_hz * FRAME as f64).round() as usize;
        let typical = |strip: &[f64]| width as f64 * quantile(strip.iter().copied(), 0.25);
        Self { strips: means.chunks(width).map(typical).collect() }
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

    /// How much louder it is than another, dB, by the strip in the middle; and whether the strips agree.
    fn over(&self, other: &Self) -> (f64, bool) {
        let changes = |share: f64| {
            quantile(self.open().iter().map(|&i| 10.0 * (self.strips[i] / other.strips[i]).log10()), share)
        };
        (changes(0.5), changes(0.75) - changes(0.25) < ALIKE_DB)
    }

    /// Amplitude response that gives white noise this noise's spectrum.
    fn response(&self, freq_hz: f64) -> f64 {
        let place = (freq_hz / STRIP_HZ - 0.5).clamp(0.0, (self.strips.len() - 1) as f64);
        let (low, share) = (place as usize, place.fract());
        let high = (low + 1).min(self.strips.len() - 1);
        (self.strips[low].sqrt() * (1.0 - share) + self.strips[high].sqrt() * share).max(0.0)
    }

    /// A device's noise of this mean square, through the filter that gave the band's noise its shape: so it adds
    /// the same excess at every frequency, wherever the passband's edges are. Lines stand where the band is loud.
    fn device(&self, kind: &str, power: f64, rate_hz: u32, len: usize, dice: &mut Dice) -> Vec<f64> {
        let open = self.open();
        let edge = |strip: Option<&usize>| strip.map_or(0.0, |&i| (i as f64 + 0.5) * STRIP_HZ);
        let (low, high) = (edge(open.first()), edge(open.last()));
        let device: Device = match kind {
            "hash" => Hash::flat().into(),
            "buzz" => Buzz::gated(100.0, dice.between(0.1, 0.6)).jittered(0.01).into(),
            "clicks" => Clicks::poisson(dice.log_between(3.0, 30.0)).spread(2.0).into(),
            "comb" => {
                let spacing_hz = dice.log_between(60.0, (high - low) / 5.0);
                Carriers::comb(spacing_hz, low + dice.share() * spacing_hz / 2.0, 0..5).into()
            }
            _ => Carriers::comb(1.0, dice.between(low, high), [0]).into(),
        };
        let half_rate = f64::from(rate_hz) / 2.0;
        let wide = Receiver::with_edges(rate_hz, 20.0, half_rate - 20.0, 10.0);
        let seconds = len as f64 / f64::from(rate_hz);
        let take = Scene::new(wide).device_level(device, Dbfs(-20.0)).seed(dice.seed()).render(seconds);
        let mut wave: Vec<f64> = take.samples.iter().map(|&x| f64::from(x)).collect();
        if !matches!(kind, "carriers" | "comb") {
            wave = self.shaped(wave, f64::from(rate_hz));
        }
        let found = wave.iter().map(|x| x * x).sum::<f64>() / len as f64;
        wave.iter_mut().for_each(|x| *x *= (power / found).sqrt());
        wave.resize(len, 0.0);
        wave
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

/// Right, wrong, missed; errors; false alarms.
pub fn table(judged: &[Judged], bands: usize) -> String {
    let mut text = String::new();
    if bands == 0 {
        text.push_str("\nreal bands: the folder ../shared/real-audio is not there; nothing was mixed into it\n");
        return text;
    }
    let _ = writeln!(
        text,
        "\nreal bands ({bands} recordings, halves against each other; outside the targets): right / wrong / called none"
    );
    let _ = write!(text, "{:16}", "kind");
    EXCESSES_DB.iter().for_each(|excess| {
        let _ = write!(text, "{excess:>13}");
    });
    text.push('\n');
    for kind in KINDS {
        let _ = write!(text, "{kind:16}");
        for excess in EXCESSES_DB {
            let of: Vec<&Judged> = judged.iter().filter(|j| j.kind == kind && j.excess_db == excess).collect();
            let right = of.iter().filter(|j| j.is_right()).count();
            let none = of.iter().filter(|j| j.called == "none").count();
            let _ = write!(text, "{:>13}", format!("{right}/{}/{none}", of.len() - right - none));
        }
        text.push('\n');
    }
    let added: Vec<&Judged> = judged.iter().filter(|j| j.kind != "none").collect();
    let line = |what: &str, told: String, text: &mut String| {
        let _ = writeln!(text, "{what:44} {told}");
    };
    let of = |keep: &dyn Fn(&&&Judged) -> bool| added.iter().filter(keep).count();
    line(
        "right at 3 dB or more",
        share(of(&|j| j.excess_db >= 3.0 && j.is_right()), of(&|j| j.excess_db >= 3.0)),
        &mut text,
    );
    let nothing: Vec<&Judged> = judged.iter().filter(|j| j.kind == "none").collect();
    line(
        "nothing added: called none",
        share(nothing.iter().filter(|j| j.is_right()).count(), nothing.len()),
        &mut text,
    );
    let sure = |j: &&Judged| !j.is_right() && j.called != "none" && j.confidence > 0.9 && j.trust == Trust::Sound;
    line(
        "sound, wrong kind and more than 0.9 sure",
        share(judged.iter().filter(sure).count(), judged.len()),
        &mut text,
    );
    let sound = judged.iter().filter(|j| j.trust == Trust::Sound);
    line("trust is sound", share(sound.clone().count(), judged.len()), &mut text);
    let agreed: Vec<&&Judged> = nothing.iter().filter(|j| j.background == ALIKE).collect();
    let natural = quantile(agreed.iter().map(|j| j.true_excess_db.abs()), 0.5);
    let widest = agreed.iter().map(|j| j.true_excess_db.abs()).fold(0.0, f64::max);
    line(
        "halves with one change over the passband",
        format!("{} of {}, by {natural:.2} dB (median), {widest:.2} dB (most)", agreed.len(), nothing.len()),
        &mut text,
    );
    let _ =
        writeln!(text, "excess of those against the bench's own           n   median err   95 % within   covered");
    for (what, kinds) in [("nothing added", &["none"] as &[&str]), ("hash or buzz", &["hash", "buzz"])] {
        for (told, only_sound) in [("", false), (", trust sound", true)] {
            let errors: Vec<(f64, bool)> = judged
                .iter()
                .filter(|j| {
                    j.background == ALIKE && kinds.contains(&j.kind) && (!only_sound || j.trust == Trust::Sound)
                })
                .filter_map(|j| j.excess)
                .collect();
            let covered = errors.iter().filter(|e| e.1).count();
            let _ = writeln!(
                text,
                "  {:36} {:>11} {:>+12.3} {:>13.3}   {}",
                format!("{what}{told}"),
                errors.len(),
                quantile(errors.iter().map(|e| e.0), 0.5),
                quantile(errors.iter().map(|e| e.0.abs()), 0.95),
                share(covered, errors.len())
            );
        }
    }
    text
}
