//! One recording, read once in blocks, becomes a [`Measurement`] that holds all that later stages need.
//!
//! The first half minute is held back: passband and lines are found in it, so that the envelope can be made of the
//! noise between the lines while the rest streams by. Memory stays bounded whatever the recording's length.

use std::sync::Arc;

use crate::signal::envelope::{AtOnce, Envelope, EnvelopeBuilder, EnvelopeSource};
use crate::signal::excerpt::Excerpt;
use crate::signal::health::{GainMotion, Hum, SampleWatch, SilentEnds};
use crate::signal::shelf::Shelf;
use crate::signal::spectrum::statistics::{median, quantile};
use crate::signal::spectrum::{
    FramePlan, GUARD_BINS, Line, LineSearch, Looked, MixedDown, Motion, Passband, Pitch, Seen, Slices,
    SlicesBuilder, Standing, Stft, WarblingSearch, find_passband, frequency_floor, is_keyed, kurtosis_sd,
    median_over_slices, refine_tone, spectral_kurtosis, standing, stands_apart,
};
use crate::units::{Db, Dbfs, DbfsPerHz};
use crate::warning::{Code, Warning};

/// How much of the beginning is held back. Chosen: long enough for weak lines, and at most some 6 MB at 48 kHz.
const HEAD_S: f64 = 32.0;
/// And no more samples than this, 10 MB: of 192 kHz fourteen seconds. Chosen so: receiver audio needs no such rate.
const MOST_HEAD: usize = 5 << 19;
/// A recording with a larger share of digital silence than this is no recording of a receiver. Chosen: half.
const MOSTLY_SILENT: f64 = 0.5;
/// A passband narrower than this leaves few independent values a second. Chosen: below the usual filters for Morse
/// (common practice: 500 Hz), above the narrowest.
const NARROW_HZ: f64 = 350.0;
/// Signals weaker than this share of the noise are not told from its own uncertainty. Chosen: 0.2 dB, about a
/// level's own interval in 10 s.
const LEAST_SIGNAL: f64 = 0.05;
/// Share of a line's power that must be coherent over the head for its phase to tell the frequency. Chosen: below,
/// the phase slips by whole turns.
const COHERENT_SHARE: f64 = 0.4;
/// A line that has another one within this, of this share of its power or more, beats with it; families from 60 Hz
/// up are filtered apart. Chosen: within the filter that a line is looked at in (64 Hz); a tenth of the power beats
/// by a third of the amplitude.
const COMPANY_HZ: f64 = 48.0;
const COMPANY_POWER: f64 = 0.1;
/// A line whose places stray so far is looked at for tones that take turns, and its pitch looked for so far beside
/// these places, Hz. Chosen: a bin and more, which noise alone does not move a line by; half a main lobe of the
/// `pitch` windows, and less than a neighbour's distance.
const STRAYS_HZ: f64 = 8.0;
const BESIDE_HZ: f64 = 12.0;
/// Least part of the passband, in 64ths, that must be left for the noise. Chosen: a third of the passband; with
/// less, stations that drop out leave nothing to compare.
const LEAST_FREE_OF_64: usize = 20;
/// A line that keeps within this is left out of the noise even then. Chosen: what drifts through more would leave
/// out too much.
const NARROW_LINE_HZ: f64 = 60.0;
/// Share of the bins between the lines that stations hold now and then from which there is a voice. Of the
/// validation bench's voices nineteen in twenty take more, of its keying stations, crashes and clicks nineteen in
/// twenty less than half.
const VOICE_SHARE: f64 = 0.1;
/// A bin this far above the floor (ratio) holds a station more often than not. Chosen: 2 dB; bins averaged over 10
/// s scatter by less. Held by the validation bench.
const OCCUPIED: f64 = 1.6;
/// One whose spectral kurtosis stands so many standard deviations above that of its neighbours (which clicks lift
/// all together) holds one now and then. Chosen: of a thousand bins none by chance; kurtosis has a longer tail than
/// a normal distribution.
const INTERMITTENT_SIGMAS: f64 = 6.0;

/// How far beyond the passband's upper edge what is kept of a recording reaches. Chosen: as far as pictures show.
pub(crate) const BEYOND: f64 = 1.2;
/// Up to here it reaches at least: hum is looked for so high (`health::hum`). Chosen: twice that.
const LEAST_KEPT_HZ: f64 = 1000.0;
/// How far the medians are kept, by which one recording is seen to lack what another has. Common practice: no
/// receiver's speech or broadcast audio goes higher.
const MEDIANS_TO_HZ: f64 = 8000.0;

/// What the user can set.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasureSettings {
    /// Passband, where it is not to be found from the sound.
    pub passband: Option<Passband>,
    /// Mains frequency.
    pub mains_hz: f64,
}

impl Default for MeasureSettings {
    fn default() -> Self {
        Self { passband: None, mains_hz: 50.0 }
    }
}

/// All that is known of one recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// Length.
    pub duration_s: f64,
    /// Level of everything, `None` for silence.
    pub level: Option<Dbfs>,
    /// The receiver's passband; `None` where there is nothing to find it from.
    pub passband: Option<Passband>,
    /// Power density slice by slice.
    pub slices: Slices,
    /// Noise floor per bin, FS²/Hz, robust in time and, within the passband, in frequency.
    pub floor: Vec<f64>,
    /// Median over slices per bin, FS²/Hz: robust in time only. They may reach higher than all else.
    pub medians: Vec<f64>,
    /// Spectral kurtosis per bin: 1 for Gaussian noise. Empty for a very short recording.
    pub kurtosis: Vec<f64>,
    /// Whether a station holds the bin, most of the time or now and then.
    pub occupied: Vec<bool>,
    /// Lines within the passband, strongest first, hum left out.
    pub lines: Vec<Line>,
    /// Hum of the audio cabling.
    pub hum: Option<Hum>,
    /// Envelope of the noise between the lines.
    pub envelope: Option<Envelope>,
    /// Mains rates at which the noise pulses, and whether it does so in all parts of the passband at once.
    pub at_once: Vec<AtOnce>,
    /// A few seconds in short steps, to be looked at; `None` for a recording too short or silent.
    pub excerpt: Option<Excerpt>,
    /// How the gain moved.
    pub gain_motion: Option<GainMotion>,
    /// What speaks against the recording.
    pub warnings: Vec<Warning>,
}

impl Measurement {
    /// Measures a recording. `next` appends samples (mono, −1..1) and returns false at the end.
    ///
    /// # Errors
    /// Those of `next`.
    pub fn stream<E>(
        sample_rate_hz: u32,
        settings: &MeasureSettings,
        mut next: impl FnMut(&mut Vec<f32>) -> Result<bool, E>,
    ) -> Result<Self, E> {
        let plan = FramePlan::for_rate(sample_rate_hz);
        let mut watch = SampleWatch::new(sample_rate_hz);
        let mut ends = SilentEnds::new(sample_rate_hz);
        let mut next = |out: &mut Vec<f32>| ends.cut(out, &mut next);
        let most = ((HEAD_S * sample_rate_hz as f64) as usize).min(MOST_HEAD);
        let mut head: Vec<f32> = Vec::with_capacity(most + sample_rate_hz as usize);
        let mut more = true;
        while more && head.len() < most {
            more = next(&mut head)?;
        }
        watch.push(&head);
        let mut stft = Stft::new(&plan);
        let mut slices = SlicesBuilder::new(&plan);
        stft.push(&head, |spectrum| slices.add(spectrum));
        let mut overview = Some(Overview::of(slices.clone().finish(), settings));
        let mut envelope = overview.as_ref().and_then(|of_head| of_head.envelope(&plan));
        if more {
            overview = None;
        }
        if let Some(envelope) = &mut envelope {
            Stft::new(&plan).push(&head, |spectrum| envelope.add(spectrum));
        }
        let mut block = Vec::new();
        while more {
            block.clear();
            more = next(&mut block)?;
            watch.push(&block);
            stft.push(&block, |spectrum| {
                slices.add(spectrum);
                if let Some(envelope) = &mut envelope {
                    envelope.add(spectrum);
                }
            });
        }
        let envelope = envelope.and_then(EnvelopeBuilder::finish);
        // A recording that ended within its head was looked over already.
        let overview = overview.unwrap_or_else(|| Overview::of(slices.finish(), settings));
        let mut measurement = Self::assemble(settings, watch, overview, envelope, &head);
        measurement.warnings.extend(ends.warning());
        Ok(measurement)
    }

    /// Measures samples that are in memory.
    pub fn of_samples(sample_rate_hz: u32, samples: &[f32], settings: &MeasureSettings) -> Self {
        let mut rest = Some(samples);
        let measured = Self::stream::<std::convert::Infallible>(sample_rate_hz, settings, |out| {
            out.extend_from_slice(rest.take().unwrap_or_default());
            Ok(false)
        });
        match measured {
            Ok(measurement) => measurement,
            Err(never) => match never {},
        }
    }

    fn assemble(
        settings: &MeasureSettings,
        watch: SampleWatch,
        Overview { slices, analysed }: Overview,
        envelope: Option<Envelope>,
        head: &[f32],
    ) -> Self {
        let silent = watch.is_silent();
        let analysed = analysed.filter(|_| !silent);
        let duration_s = watch.seconds();
        let level = (!silent).then(|| Dbfs::from_mean_square(watch.mean_square()));
        let passband = analysed.as_ref().map(|analysed| analysed.passband);
        let occupied = analysed.as_ref().map_or_else(Vec::new, |analysed| analysed.occupied(&slices));
        let (medians, floor, kurtosis, lines) =
            analysed.map(|a| (a.medians, a.floor, a.kurtosis, a.lines)).unwrap_or_default();
        let mut measurement = Self {
            sample_rate_hz: (slices.bin_hz * (2 * (slices.bins - 1)) as f64).round() as u32,
            duration_s,
            level,
            passband,
            kurtosis,
            occupied,
            medians,
            floor,
            lines,
            hum: Hum::find(&slices, settings.mains_hz).filter(|_| !silent),
            envelope: envelope.filter(|_| !silent),
            at_once: Vec::new(),
            excerpt: None,
            gain_motion: None,
            warnings: watch.warnings(),
            slices,
        };
        measurement.drop_hum_lines();
        measurement.look_closer(head);
        measurement.find_warbling(head);
        measurement.take_excerpt(head);
        measurement.look_over_the_passband(head);
        measurement.gain_motion =
            GainMotion::of(&measurement.slices, &measurement.mostly_clean_bins(), &measurement.pulsed_slices());
        measurement.judge_sound();
        measurement
    }

    /// Puts what comparisons and pictures alone need on a shelf.
    pub fn put_on(&mut self, shelf: &Arc<Shelf>) {
        self.slices.put_on(shelf);
        if let Some(excerpt) = &mut self.excerpt {
            excerpt.density.put_on(shelf);
        }
    }

    /// Lets go of what no later stage looks at: all far above the passband.
    pub fn slim(&mut self) {
        let top_hz = (BEYOND * self.passband.map_or(0.0, |passband| passband.high_hz)).max(LEAST_KEPT_HZ);
        let (bins, medians) = (self.slices.bin_of(top_hz) + 1, self.slices.bin_of(top_hz.max(MEDIANS_TO_HZ)) + 1);
        self.slices.keep(bins);
        for (values, kept) in [(&mut self.floor, bins), (&mut self.kurtosis, bins), (&mut self.medians, medians)] {
            values.truncate(kept);
            values.shrink_to_fit();
        }
        self.occupied.truncate(bins);
        self.occupied.shrink_to_fit();
    }

    fn drop_hum_lines(&mut self) {
        if let Some(hum) = &self.hum {
            self.lines.retain(|line| !hum.explains(line.freq_hz));
        }
    }

    fn take_excerpt(&mut self, head: &[f32]) {
        if let (Some(passband), Some(envelope)) = (&self.passband, &self.envelope) {
            let top_hz = BEYOND * passband.high_hz;
            self.excerpt = Excerpt::of(head, self.sample_rate_hz, &envelope.pulses.kept, top_hz);
        }
    }

    fn look_over_the_passband(&mut self, head: &[f32]) {
        let modulation = self.envelope.as_ref().and_then(|envelope| envelope.modulation.as_ref());
        if let (Some(passband), Some(modulation)) = (&self.passband, modulation) {
            self.at_once = AtOnce::of(head, f64::from(self.sample_rate_hz), passband, modulation);
        }
    }

    /// Looks closer at even lines over the head: one counts as steady only where it is shown, or may be taken, to
    /// stand; of these the frequency comes from their phase, where that is coherent.
    fn look_closer(&mut self, head: &[f32]) {
        let rate_hz = self.sample_rate_hz as f64;
        let head_s = head.len() as f64 / rate_hz;
        let to_middle_s = self.duration_s / 2.0 - head_s / 2.0;
        let all: Vec<(f64, f64)> = self.lines.iter().map(|line| (line.freq_hz, line.power)).collect();
        let bin_hz = self.slices.bin_hz;
        let over: Vec<(f64, f64)> = self
            .passband
            .map_or(0..0, |passband| passband.bins(bin_hz, self.slices.bins))
            .map(|k| (k as f64 * bin_hz, (self.slices.mean[k] - self.floor[k]) * bin_hz))
            .collect();
        for line in self.lines.iter_mut().filter(|line| line.steady) {
            let expected_hz = line.freq_hz - line.drift_hz_per_s * to_middle_s;
            let mixed = |base_hz| MixedDown::of(head, rate_hz, base_hz, expected_hz, line.drift_hz_per_s);
            let strays_hz = line.span_hz.1 - line.span_hz.0 - line.drift_hz_per_s.abs() * self.duration_s;
            let near = |&&(hz, power): &&(f64, f64)| {
                (hz - line.freq_hz).abs() < COMPANY_HZ && power > COMPANY_POWER * line.power
            };
            // What stands further off and gets through the filter all the same.
            let lobe_hz = GUARD_BINS * bin_hz;
            let strange: f64 = over
                .iter()
                .filter(|(hz, _)| *hz < line.span_hz.0 - lobe_hz || *hz > line.span_hz.1 + lobe_hz)
                .map(|(hz, power)| {
                    power.max(0.0) * MixedDown::lets_through(MixedDown::NARROW_HZ, hz - line.freq_hz)
                })
                .sum();
            let has_company = all.iter().filter(near).count() > 1 || strange > COMPANY_POWER * line.power;
            let wide = mixed(MixedDown::WIDE_HZ);
            let seen = Seen { line: &wide, floor: line.floor, strays_hz, has_company };
            let stands = standing(&seen);
            line.steady = stands != Standing::No;
            if !line.steady {
                continue;
            }
            let narrow = mixed(MixedDown::NARROW_HZ);
            let keyed = is_keyed(&Looked { line: &narrow, cnr_hz: line.power / line.floor, strays_hz });
            let reach_hz = strays_hz / 2.0 + BESIDE_HZ;
            let leaps =
                strays_hz > STRAYS_HZ && Pitch::of(&wide, reach_hz, line.floor).motion() == Some(Motion::Leaps);
            if (keyed == Some(true) || leaps) && !(has_company && stands_apart(&seen)) {
                line.steady = false;
                continue;
            }
            // With its neighbour it rises and falls, or may do so, and apart from it it stays: two carriers, or a
            // station that keys evenly.
            line.beats = has_company && keyed != Some(false);
            line.shown = stands == Standing::Shown;
            if line.drift_hz_per_s.abs() < 3.0
                && let Some(tone) = refine_tone(&narrow)
                && tone.power > COHERENT_SHARE * line.power
            {
                line.freq_hz = tone.freq_hz + tone.drift_hz_per_s * to_middle_s;
                line.drift_hz_per_s = tone.drift_hz_per_s;
            }
        }
    }

    /// What of a carrier that warbles was taken for lines of its own goes.
    fn find_warbling(&mut self, head: &[f32]) {
        let Some(passband) = self.passband else { return };
        let search = WarblingSearch {
            slices: &self.slices,
            floor: &self.floor,
            bins: passband.bins(self.slices.bin_hz, self.slices.bins),
            head,
            rate_hz: f64::from(self.sample_rate_hz),
        };
        let found = search.find(&self.lines);
        let within = |line: &Line| {
            found.iter().any(|other| line.span_hz.1 > other.span_hz.0 && line.span_hz.0 < other.span_hz.1)
        };
        self.lines.retain(|line| !within(line));
        self.lines.extend(found);
        self.lines.sort_by(|a, b| b.power.total_cmp(&a.power));
    }

    fn judge_sound(&mut self) {
        if let Some(hum) = &self.hum {
            let level = Dbfs::from_mean_square(hum.power());
            self.warnings.push(Warning::new(
                Code::MainsHum,
                format!(
                    "hum at {:.0} Hz and multiples ({level}) comes from the audio lead or a supply, not from the \
                     air; it is kept out of the figures. Try an isolating transformer, or the recorder on its \
                     battery.",
                    hum.mains_hz
                ),
            ));
        }
        if let Some(passband) = &self.passband
            && passband.width_hz() < NARROW_HZ
        {
            self.warnings.push(Warning::new(
                Code::NarrowPassband,
                format!(
                    "the passband is only {:.0} Hz wide, so the figures scatter more and the kind of noise is \
                     hard to tell. Use a wider filter (2.4 kHz or more) where you can.",
                    passband.width_hz()
                ),
            ));
        }
        if let Some(motion) = self.gain_motion.filter(GainMotion::matters) {
            self.warnings.push(Warning::new(
                Code::GainMoving,
                format!(
                    "the level moves by ±{:.1} dB over the whole passband at once: AGC at work, fading, a voice, \
                     or a noise that itself comes and goes. Switch AGC off (or fix the RF gain) and record longer.",
                    motion.common_db
                ),
            ));
        }
    }

    /// Which slices a pulse touches: its own and, as frames overlap, the ones beside it.
    fn pulsed_slices(&self) -> Vec<bool> {
        let mut pulsed = vec![false; self.slices.len()];
        for pulse in self.envelope.iter().flat_map(|envelope| &envelope.pulses.kept) {
            let slice = (pulse.at_s / self.slices.slice_s) as usize;
            let last = pulsed.len().min(slice + 2);
            pulsed[slice.saturating_sub(1).min(last)..last].fill(true);
        }
        pulsed
    }

    /// Bins of the passband that hold neither a line nor a station.
    pub fn clean_bins(&self) -> Vec<usize> {
        self.free_bins(|k| self.occupied[k])
    }

    /// The same, but with those that a station holds now and then: a voice that lifts them moves all else a little.
    fn mostly_clean_bins(&self) -> Vec<usize> {
        self.free_bins(|k| is_mostly_held(self.medians[k], self.floor[k]))
    }

    fn free_bins(&self, is_held: impl Fn(usize) -> bool) -> Vec<usize> {
        let Some(passband) = &self.passband else { return Vec::new() };
        let taken = self.line_guards();
        passband
            .bins(self.slices.bin_hz, self.slices.bins)
            .filter(|&k| {
                let freq_hz = k as f64 * self.slices.bin_hz;
                !is_held(k) && !taken.iter().any(|&(low, high)| (low..=high).contains(&freq_hz))
            })
            .collect()
    }

    /// Whether silence before or after the sound was left out.
    pub fn has_silent_ends(&self) -> bool {
        self.warnings.iter().any(|warning| warning.code == Code::SilentEnds)
    }

    /// Whether a station holds one of the bins of a passband, most of the time or now and then.
    pub fn has_station(&self, passband: &Passband) -> bool {
        passband.bins(self.slices.bin_hz, self.slices.bins).any(|k| self.occupied.get(k).is_some_and(|held| *held))
    }

    /// Whether a voice is heard: much of the passband comes and goes. Keying takes a few bins, crashes lift all
    /// alike.
    pub fn has_voice(&self) -> bool {
        let between = self.free_bins(|_| false);
        let held = between.iter().filter(|&&k| self.occupied[k]).count();
        held as f64 > VOICE_SHARE * between.len() as f64
    }

    /// Median spectral kurtosis of the noise between lines and stations: 1 for Gaussian noise, more for noise that
    /// comes and goes. `None` where there is too little to tell.
    pub fn noise_kurtosis(&self) -> Option<f64> {
        let mut clean: Vec<f64> = self.clean_bins().iter().filter_map(|&k| self.kurtosis.get(k).copied()).collect();
        (!clean.is_empty()).then(|| median(&mut clean)).filter(|value| value.is_finite())
    }

    /// Stretches of frequency (low, high) that lines and hum touch.
    pub fn line_guards(&self) -> Vec<(f64, f64)> {
        let Some(passband) = &self.passband else { return Vec::new() };
        let mut taken = guards(&self.lines, passband, self.slices.bin_hz);
        let guard = GUARD_BINS * self.slices.bin_hz;
        taken.extend(self.hum.iter().flat_map(|hum| &hum.lines).map(|line| (line.0 - guard, line.0 + guard)));
        taken
    }

    /// Noise power in the passband by the robust floor, FS².
    pub fn noise_power(&self) -> Option<f64> {
        let range = self.passband?.bins(self.slices.bin_hz, self.slices.bins);
        Some(self.floor[range].iter().sum::<f64>() * self.slices.bin_hz)
    }

    /// Median noise floor in the passband.
    pub fn floor_level(&self) -> Option<DbfsPerHz> {
        let passband = self.passband?;
        Some(DbfsPerHz::from_density(self.noise_power()? / passband.width_hz().max(self.slices.bin_hz)))
    }

    /// Wanted signals (voice, keying, carriers) over the noise in the passband; `None` where there are none.
    pub fn snr(&self) -> Option<Db> {
        let noise = self.noise_power()?;
        let range = self.passband?.bins(self.slices.bin_hz, self.slices.bins);
        let total = self.slices.mean[range].iter().sum::<f64>() * self.slices.bin_hz;
        let hum: f64 =
            self.hum.iter().flat_map(|hum| &hum.lines).filter(|l| self.in_passband(l.0)).map(|l| l.1).sum();
        let pulses = self.envelope.as_ref().map_or(0.0, |envelope| envelope.pulses.power());
        let lines: f64 = self.lines.iter().map(|line| line.power * line.presence).sum();
        let signal = (total - noise - hum - pulses).max(lines);
        (signal > LEAST_SIGNAL * noise || !self.lines.is_empty()).then(|| Db::from_ratio(signal / noise))
    }

    fn in_passband(&self, freq_hz: f64) -> bool {
        self.passband.is_some_and(|passband| passband.contains(freq_hz))
    }
}

/// Stretches of frequency that lines touch, drift included; but where drifting lines would sweep over most of the
/// passband, only the narrow ones: noise must be measured somewhere.
fn guards(lines: &[Line], passband: &Passband, bin_hz: f64) -> Vec<(f64, f64)> {
    let guard = GUARD_BINS * bin_hz;
    let all: Vec<(f64, f64)> = lines.iter().map(|line| (line.span_hz.0 - guard, line.span_hz.1 + guard)).collect();
    let free = (0..64).filter(|&step| {
        let freq_hz = passband.low_hz + (f64::from(step) + 0.5) / 64.0 * passband.width_hz();
        !all.iter().any(|&(low, high)| (low..=high).contains(&freq_hz))
    });
    if free.count() >= LEAST_FREE_OF_64 {
        return all;
    }
    all.into_iter().filter(|&(low, high)| high - low < NARROW_LINE_HZ).collect()
}

/// Whether a station holds a bin most of the time.
fn is_mostly_held(median: f64, floor: f64) -> bool {
    median > OCCUPIED * floor
}

/// Slices, and what they tell.
struct Overview {
    slices: Slices,
    analysed: Option<Analysed>,
}

impl Overview {
    fn of(slices: Slices, settings: &MeasureSettings) -> Self {
        Self { analysed: Analysed::of(&slices, settings), slices }
    }

    /// What gathers the envelope of the noise between the lines that were found.
    fn envelope(&self, plan: &FramePlan) -> Option<EnvelopeBuilder> {
        let Analysed { passband, medians, lines, .. } = self.analysed.as_ref()?;
        let lines_hz = guards(lines, passband, plan.bin_hz());
        Some(EnvelopeBuilder::new(
            EnvelopeSource::new(plan, passband, &lines_hz),
            EnvelopeSource::between_stations(plan, passband, medians),
        ))
    }
}

/// Passband, floor and lines of some slices.
struct Analysed {
    passband: Passband,
    medians: Vec<f64>,
    floor: Vec<f64>,
    kurtosis: Vec<f64>,
    lines: Vec<Line>,
}

impl Analysed {
    fn of(slices: &Slices, settings: &MeasureSettings) -> Option<Self> {
        if slices.is_empty() || slices.silent_share > MOSTLY_SILENT {
            return None;
        }
        let medians = median_over_slices(slices);
        let passband = settings.passband.or_else(|| find_passband(&medians, slices.bin_hz))?;
        let floor = frequency_floor(&medians, slices, &passband);
        // A floor of nothing (digital silence in between) gives no lines and no ratios.
        let range = passband.bins(slices.bin_hz, slices.bins);
        if floor[range].iter().any(|&density| density <= 0.0) {
            return None;
        }
        let lines =
            LineSearch { slices, floor: &floor, medians: &medians, passband, mains_hz: settings.mains_hz }.find();
        let kurtosis = spectral_kurtosis(slices);
        Some(Self { passband, medians, floor, kurtosis, lines })
    }

    /// Per bin: a station holds it most of the time, as its median tells, or now and then, as its kurtosis does.
    fn occupied(&self, slices: &Slices) -> Vec<bool> {
        let mut occupied: Vec<bool> =
            self.medians.iter().zip(&self.floor).map(|(&median, &floor)| is_mostly_held(median, floor)).collect();
        let range = self.passband.bins(slices.bin_hz, slices.bins);
        let mut sorted: Vec<f64> = self.kurtosis.get(range.clone()).unwrap_or_default().to_vec();
        if sorted.iter().any(|value| !value.is_finite()) {
            return occupied;
        }
        let middle = quantile(&mut sorted, 0.5);
        let spread = middle - quantile(&mut sorted, 0.16);
        let sigma = spread.max(kurtosis_sd(slices.len() as f64, slices.averages_per_slice()));
        for k in range.filter(|_| !sorted.is_empty()) {
            occupied[k] |= self.kurtosis[k] > middle + INTERMITTENT_SIGMAS * sigma;
        }
        occupied
    }
}
