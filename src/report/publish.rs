//! What leaves the house: figures rounded to what they are worth, absolute paths cut to the name at their end.
//! Not here: how figures look in text (`words`).

pub mod listening;
pub mod night;

use crate::contrast::comparison::{AddedLine, BandExcess, ContrastResult};
use crate::findings::known_noise::Compared;
use crate::findings::ladder::result::Ladder;
use crate::findings::receiver_check::result::ReceiverCheckResult;
use crate::findings::switching_comb::result::{RefusedComb, SwitchingComb};
use crate::report::contract::Report;
use crate::signal::recording_result::{LineResult, RecordingResult};
use crate::text::one_line;
use crate::warning::Warning;

/// Places after the point; `None` keeps every digit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Digits {
    /// Levels, times and audio frequencies.
    level: Option<i32>,
    /// Shares, presence, confidence; also frequencies known to a millihertz (spacings, drift).
    fine: Option<i32>,
}

impl Digits {
    /// 0.01 dB, 0.01 Hz, 0.01 s, shares 0.001.
    const PUBLISHED: Self = Self { level: Some(2), fine: Some(3) };
    /// For writers that round for themselves: rounded twice, 10.546 would become 10.55 and then 10.6.
    const ALL: Self = Self { level: None, fine: None };
}

impl Report {
    /// The figures as JSON and CSV have them: [`Self::rounded`], and no absolute path in any text.
    #[must_use]
    pub fn published(&self) -> Self {
        let mut report = self.rounded();
        report.cut_paths();
        report
    }

    /// The report for texts, which round each figure where they print it: every digit kept, what is no finite number
    /// gone as in [`Self::rounded`], and no absolute path in any text.
    #[must_use]
    pub fn readable(&self) -> Self {
        let mut report = self.with(Digits::ALL);
        report.cut_paths();
        report
    }

    /// Every figure rounded to what it is worth: 0.01 dB, 0.01 Hz, 0.01 s, shares 0.001; never −0.
    ///
    /// A figure that is no finite number becomes null; a line or band that has one is left out.
    #[must_use]
    pub fn rounded(&self) -> Self {
        self.with(Digits::PUBLISHED)
    }

    fn with(&self, digits: Digits) -> Self {
        let mut report = self.clone();
        report.session.mains_hz = round(report.session.mains_hz, digits.level);
        for setting in &mut report.settings {
            round_option(&mut setting.dial_khz, digits.fine);
            round_option(&mut setting.bandwidth_hz, digits.level);
        }
        report.recordings.iter_mut().for_each(|r| round_recording(r, digits));
        report.contrasts.iter_mut().for_each(|c| round_contrast(c, digits));
        report.ladders.iter_mut().for_each(|l| round_ladder(l, digits));
        listening::round_listening(&mut report.listening, digits);
        report.receiver_check.iter_mut().for_each(|check| round_receiver_check(check, digits));
        round_budget(&mut report, digits);
        report.switching_combs.iter_mut().for_each(|c| round_switching_comb(c, digits));
        report.switching_combs_refused.iter_mut().for_each(|c| round_refused_comb(c, digits));
        night::round_night(&mut report, digits);
        report
    }

    /// Cuts absolute paths to their last name in every text that is not a code of our own.
    fn cut_paths(&mut self) {
        cut(&mut self.session.title);
        cut_option(&mut self.session.station);
        for recording in &mut self.recordings {
            cut_file(&mut recording.file);
            cut_option(&mut recording.note);
            cut_warnings(&mut recording.warnings);
        }
        let episodes = self.episodes.iter_mut().map(|e| &mut e.contrast);
        for contrast in self.contrasts.iter_mut().chain(episodes) {
            contrast.evidence.iter_mut().for_each(cut);
            cut_warnings(&mut contrast.warnings);
        }
        night::cut_paths(self);
        for left_out in &mut self.left_out {
            cut_file(&mut left_out.file);
            cut(&mut left_out.reason);
        }
        for figure in &mut self.figures {
            cut_file(&mut figure.file);
            cut(&mut figure.caption);
        }
        cut_warnings(&mut self.warnings);
    }
}

/// Rounds to `places` decimals, if any are told; −0 becomes 0; what is not finite stays as it is.
fn round(value: f64, places: Option<i32>) -> f64 {
    let Some(places) = places else { return value + 0.0 };
    let scale = 10f64.powi(places);
    let rounded = (value * scale).round() / scale;
    // Adding 0 turns −0 into 0 and leaves every other number alone. Values too large to scale keep their own digits.
    if rounded.is_finite() { rounded + 0.0 } else { value }
}

fn round_option(value: &mut Option<f64>, places: Option<i32>) {
    *value = value.filter(|v| v.is_finite()).map(|v| round(v, places));
}

fn round_pair(pair: &mut Option<[f64; 2]>, places: Option<i32>) {
    *pair = pair.filter(|p| p.iter().all(|v| v.is_finite())).map(|p| p.map(|v| round(v, places)));
}

fn round_receiver_check(check: &mut ReceiverCheckResult, digits: Digits) {
    check.attenuator_db = round(check.attenuator_db, digits.level);
    for figure in [
        &mut check.step_db,
        &mut check.dummy_load_drop_db,
        &mut check.expected_step_db,
        &mut check.own_noise_below_db,
        &mut check.own_noise_below_at_least_db,
    ] {
        round_option(figure, digits.level);
    }
    round_pair(&mut check.step_ci_db, digits.level);
    round_pair(&mut check.dummy_load_drop_ci_db, digits.level);
    round_pair(&mut check.seen_dbfs, digits.level);
    round_option(&mut check.slope, digits.fine);
    round_pair(&mut check.slope_ci, digits.fine);
}

fn round_recording(recording: &mut RecordingResult, digits: Digits) {
    recording.duration_s = round(recording.duration_s, digits.level);
    round_pair(&mut recording.passband_hz, digits.level);
    for figure in [
        &mut recording.level_db,
        &mut recording.level_dbm,
        &mut recording.floor_db_per_hz,
        &mut recording.snr_db,
        &mut recording.snr_2500_db,
        &mut recording.envelope_kurtosis,
        &mut recording.envelope_mean_over_median,
        &mut recording.spectral_kurtosis,
    ] {
        round_option(figure, digits.level);
    }
    recording.lines.retain(|l| {
        [l.freq_hz, l.level_db, l.cnr_db_hz, l.snr_2500_db, l.presence, l.drift_hz_per_s]
            .iter()
            .all(|v| v.is_finite())
    });
    recording.lines.iter_mut().for_each(|l| round_line(l, digits));
}

fn round_line(line: &mut LineResult, digits: Digits) {
    line.freq_hz = round(line.freq_hz, digits.level);
    line.level_db = round(line.level_db, digits.level);
    line.cnr_db_hz = round(line.cnr_db_hz, digits.level);
    line.snr_2500_db = round(line.snr_2500_db, digits.level);
    line.presence = round(line.presence, digits.fine);
    line.drift_hz_per_s = round(line.drift_hz_per_s, digits.fine);
}

fn round_added(lines: &mut Vec<AddedLine>, digits: Digits) {
    lines.retain(|l| {
        [l.freq_hz, l.level_db, l.cnr_db_hz, l.presence, l.drift_hz_per_s].iter().all(|v| v.is_finite())
    });
    for line in lines {
        line.freq_hz = round(line.freq_hz, digits.level);
        line.level_db = round(line.level_db, digits.level);
        line.cnr_db_hz = round(line.cnr_db_hz, digits.level);
        line.presence = round(line.presence, digits.fine);
        line.drift_hz_per_s = round(line.drift_hz_per_s, digits.fine);
    }
}

fn round_contrast(contrast: &mut ContrastResult, digits: Digits) {
    round_pair(&mut contrast.excess_ci_db, digits.level);
    round_pair(&mut contrast.passband_hz, digits.level);
    round_pair(&mut contrast.receiver_margin_ci_db, digits.level);
    round_pair(&mut contrast.excess_corrected_ci_db, digits.level);
    for figure in [
        &mut contrast.receiver_margin_db,
        &mut contrast.excess_corrected_db,
        &mut contrast.excess_db,
        &mut contrast.total_excess_db,
        &mut contrast.detection_limit_db,
        &mut contrast.added_level_db,
        &mut contrast.mains_rate_hz,
        &mut contrast.pulse_rate_hz,
        &mut contrast.snr_loss_db,
    ] {
        round_option(figure, digits.level);
    }
    // A confidence that is no number is none at all.
    contrast.confidence =
        if contrast.confidence.is_finite() { round(contrast.confidence, digits.fine) } else { 0.0 };
    contrast.parts.retain(|p| p.share.is_finite());
    contrast.parts.iter_mut().for_each(|p| p.share = round(p.share, digits.fine));
    contrast.impulsive =
        contrast.impulsive.take().filter(|i| i.time_share.is_finite() && i.power_share.is_finite());
    if let Some(impulsive) = &mut contrast.impulsive {
        // Single clicks hold less than a thousandth of the time.
        impulsive.time_share = round(impulsive.time_share, digits.fine.map(|places| places + 2));
        impulsive.power_share = round(impulsive.power_share, digits.fine);
    }
    round_added(&mut contrast.added_lines, digits);
    round_added(&mut contrast.lost_lines, digits);
    contrast.gain_reference =
        contrast.gain_reference.take().filter(|g| g.freq_hz.is_finite() && g.shift_db.is_finite());
    if let Some(reference) = &mut contrast.gain_reference {
        reference.freq_hz = round(reference.freq_hz, digits.level);
        reference.shift_db = round(reference.shift_db, digits.level);
    }
    contrast.comb = contrast.comb.take().filter(|c| c.spacing_hz.is_finite() && c.offset_hz.is_finite());
    if let Some(comb) = &mut contrast.comb {
        comb.spacing_hz = round(comb.spacing_hz, digits.fine);
        comb.offset_hz = round(comb.offset_hz, digits.level);
    }
    round_bands(&mut contrast.bands, digits);
    for candidate in contrast.known_noise.iter_mut().flat_map(|known| &mut known.candidates) {
        candidate.resemblance = round(candidate.resemblance, digits.fine);
        candidate.compared.iter_mut().for_each(|what| round_compared(what, digits));
    }
}

fn round_compared(what: &mut Compared, digits: Digits) {
    match what {
        Compared::Shape { differ_db } => *differ_db = round(*differ_db, digits.level),
        Compared::Pulsing { differ } => *differ = round(*differ, digits.fine),
        Compared::Carriers { shared } => *shared = round(*shared, digits.fine),
        Compared::Clicks { per_s, known_per_s } => {
            (*per_s, *known_per_s) = (round(*per_s, digits.level), round(*known_per_s, digits.level));
        }
        Compared::Spacing { hz, known_hz } => {
            (*hz, *known_hz) = (round(*hz, digits.fine), round(*known_hz, digits.fine));
        }
    }
}

fn round_bands(bands: &mut Vec<BandExcess>, digits: Digits) {
    bands.retain(|b| [b.freq_hz, b.excess_db, b.excess_ci_db[0], b.excess_ci_db[1]].iter().all(|v| v.is_finite()));
    for band in bands {
        band.freq_hz = round(band.freq_hz, digits.level);
        band.excess_db = round(band.excess_db, digits.level);
        band.excess_ci_db = band.excess_ci_db.map(|v| round(v, digits.level));
    }
}

fn round_ladder(ladder: &mut Ladder, digits: Digits) {
    for step in &mut ladder.steps {
        round_option(&mut step.excess_db, digits.level);
        round_pair(&mut step.excess_ci_db, digits.level);
        step.lines.retain(|l| l.freq_hz.is_finite() && l.level_db.is_finite());
        for line in &mut step.lines {
            line.freq_hz = round(line.freq_hz, digits.level);
            line.level_db = round(line.level_db, digits.level);
        }
    }
    round_steps(ladder, digits);
}

fn round_steps(ladder: &mut Ladder, digits: Digits) {
    for step in &mut ladder.steps {
        let figures = [&mut step.bought_db, &mut step.attenuation_db, &mut step.attenuation_at_least_db];
        figures.into_iter().for_each(|v| round_option(v, digits.level));
        round_pair(&mut step.bought_ci_db, digits.level);
        round_pair(&mut step.attenuation_ci_db, digits.level);
    }
    for carrier in &mut ladder.carriers {
        carrier.freq_hz = round(carrier.freq_hz, digits.level);
        for step in &mut carrier.steps {
            let figures = [&mut step.freq_hz, &mut step.level_db, &mut step.bought_db, &mut step.needed_db];
            figures.into_iter().for_each(|v| round_option(v, digits.level));
            round_pair(&mut step.bought_ci_db, digits.level);
        }
    }
    for appeared in &mut ladder.unmasked {
        let figures = [&mut appeared.freq_hz, &mut appeared.level_db, &mut appeared.needed_db];
        figures.into_iter().for_each(|v| round_option(v, digits.level));
    }
    if let Some(fit) = &mut ladder.choke_fit {
        round_option(&mut fit.ratio, digits.fine);
        fit.ratio_ci =
            fit.ratio_ci.map(|(low, high)| (round(low, digits.fine), high.map(|h| round(h, digits.fine))));
        fit.chi2 = round(fit.chi2, digits.level);
        round_option(&mut fit.bypass_share, digits.fine);
        round_pair(&mut fit.bypass_ci, digits.fine);
        for forecast in &mut fit.forecasts {
            forecast.attenuation_db = round(forecast.attenuation_db, digits.level);
            forecast.attenuation_range_db = forecast.attenuation_range_db.map(|v| round(v, digits.level));
            forecast.excess_db = round(forecast.excess_db, digits.level);
            forecast.excess_range_db = forecast.excess_range_db.map(|v| round(v, digits.level));
        }
    }
}

fn round_budget(report: &mut Report, digits: Digits) {
    for entry in &mut report.budget {
        entry.share = round(entry.share, digits.fine);
        entry.excess_db = round(entry.excess_db, digits.level);
        round_pair(&mut entry.share_ci, digits.fine);
        round_pair(&mut entry.excess_ci_db, digits.level);
        round_option(&mut entry.without_db, digits.level);
        round_pair(&mut entry.without_ci_db, digits.level);
    }
    report.budget.retain(|e| e.share.is_finite() && e.excess_db.is_finite());
    for joint in &mut report.joint {
        for value in [&mut joint.sum_db, &mut joint.joint_db, &mut joint.difference_db] {
            *value = round(*value, digits.level);
        }
        for pair in [&mut joint.sum_ci_db, &mut joint.joint_ci_db, &mut joint.difference_ci_db] {
            *pair = pair.map(|v| round(v, digits.level));
        }
    }
    report.joint.retain(|j| j.difference_db.is_finite() && j.difference_ci_db.iter().all(|v| v.is_finite()));
}

fn round_switching_comb(comb: &mut SwitchingComb, digits: Digits) {
    comb.spacing_hz = round(comb.spacing_hz, digits.fine);
    comb.spacing_ci_hz = comb.spacing_ci_hz.map(|v| round(v, digits.fine));
    comb.offset_hz = round(comb.offset_hz, digits.level);
    round_option(&mut comb.offset_half_hz, digits.level);
    comb.residual_hz = round(comb.residual_hz, digits.level);
    comb.chance = round(comb.chance, digits.fine);
    for member in &mut comb.members {
        member.rf_hz = round(member.rf_hz, digits.level);
        member.residual_hz = round(member.residual_hz, digits.level);
    }
    comb.outsiders.iter_mut().for_each(|hz| *hz = round(*hz, digits.level));
    for place in comb.other_sideband.iter_mut().chain(&mut comb.missing) {
        place.rf_hz = round(place.rf_hz, digits.level);
    }
    for place in &mut comb.predicted {
        place.rf_hz = round(place.rf_hz, digits.level);
        place.within_hz = round(place.within_hz, digits.level);
    }
}

fn round_refused_comb(comb: &mut RefusedComb, digits: Digits) {
    for candidate in &mut comb.candidates {
        candidate.spacing_hz = round(candidate.spacing_hz, digits.fine);
        candidate.share = round(candidate.share, digits.fine);
    }
    if let Some(place) = &mut comb.listen_at {
        place.rf_hz = round(place.rf_hz, digits.level);
        place.within_hz = round(place.within_hz, digits.level);
        place.carrier_means_hz = round(place.carrier_means_hz, digits.fine);
        place.silence_means_hz = round(place.silence_means_hz, digits.fine);
    }
}

fn cut_option(text: &mut Option<String>) {
    if let Some(text) = text {
        cut(text);
    }
}

fn cut_warnings(warnings: &mut [Warning]) {
    warnings.iter_mut().for_each(|w| cut(&mut w.message));
}

/// A file name that should be relative already.
fn cut_file(file: &mut String) {
    if is_absolute(file) {
        *file = last_name(file).to_owned();
    }
}

/// Cuts each word that is an absolute path to its last name. A path with blanks loses its head, where user and
/// folders of the machine stand, so that what is left tells nothing of them.
fn cut(text: &mut String) {
    if text.split(is_edge).any(is_absolute) {
        let words = one_line(text);
        *text = words
            .split_inclusive(is_edge)
            .map(|piece| {
                let word = piece.trim_end_matches(is_edge);
                if is_absolute(word) {
                    format!("{}{}", last_name(word), &piece[word.len()..])
                } else {
                    piece.to_owned()
                }
            })
            .collect();
    }
}

/// What stands around a path in a message.
fn is_edge(c: char) -> bool {
    c.is_whitespace()
        || matches!(c, '"' | '\'' | '`' | '(' | ')' | ',' | ';' | '“' | '”' | '‘' | '’' | '<' | '>' | '=')
}

/// `/two/names` or more, `C:\…`, `\\server\…`, `file:///…`; a lone `/or` is a word.
fn is_absolute(word: &str) -> bool {
    let drive = |w: &str| {
        let b = w.as_bytes();
        b.len() > 3 && b[0].is_ascii_alphabetic() && b[1] == b':' && (b[2] == b'\\' || b[2] == b'/')
    };
    let rooted = |w: &str| w.starts_with('/') && w[1..].contains('/');
    rooted(word)
        || drive(word)
        || word.starts_with("\\\\")
        || word.starts_with("~/")
        || word.starts_with("file:///")
}

fn last_name(path: &str) -> &str {
    let trimmed = path.trim_end_matches(['/', '\\']);
    trimmed.rsplit(['/', '\\']).next().unwrap_or(trimmed)
}

#[cfg(test)]
mod tests {
    use super::super::sample::sample_report;
    use super::*;

    #[test]
    fn rounding_keeps_what_a_figure_is_worth() {
        assert_eq!(round(14.236_7, Some(2)), 14.24);
        assert!(round(-0.001, Some(2)).is_sign_positive());
        assert_eq!(round(1e300, Some(2)), 1e300);
        assert!(round(f64::NAN, Some(2)).is_nan());
        assert_eq!(round(14.236_7, None), 14.236_7);
    }

    #[test]
    fn what_is_no_number_becomes_null_or_is_left_out() {
        let mut report = sample_report();
        report.contrasts[0].excess_db = Some(f64::NAN);
        report.contrasts[0].excess_ci_db = Some([f64::NEG_INFINITY, 1.0]);
        report.contrasts[0].bands[0].excess_db = f64::INFINITY;
        report.recordings[0].level_db = Some(f64::NEG_INFINITY);
        let bands = report.contrasts[0].bands.len();
        let rounded = report.rounded();
        assert_eq!(rounded.contrasts[0].excess_db, None);
        assert_eq!(rounded.contrasts[0].excess_ci_db, None);
        assert_eq!(rounded.contrasts[0].bands.len(), bands - 1);
        assert_eq!(rounded.recordings[0].level_db, None);
    }

    /// Rounded to 10.55 first it would print as 10.6, above its own interval and unlike the pictures.
    #[test]
    fn texts_round_once() {
        let mut report = sample_report();
        let c = &mut report.contrasts[0];
        (c.excess_db, c.excess_ci_db) = (Some(10.546), Some([10.449, 10.551]));
        report.ladders[0].steps[0].excess_db = Some(10.546);
        report.ladders[0].steps[0].excess_ci_db = Some([10.449, 10.551]);
        let said = "10.5 (10.4 to 10.6)";
        assert_eq!(
            crate::report::markdown(&report).matches(said).count(),
            2,
            "the ladder's row and the comparison's"
        );
        assert!(crate::report::post(&report).contains(&format!("+{said}")));
        assert!(crate::report::headline(&report.contrasts[0]).contains("+10.5 dB"));
        assert_eq!(report.published().contrasts[0].excess_db, Some(10.55));
    }

    #[test]
    fn paths_are_cut_to_the_name_at_their_end() {
        for (said, published) in [
            (
                "could not read /home/someone/radio/01-off.wav: no such file",
                "could not read 01-off.wav: no such file",
            ),
            (r"C:\Users\Someone\radio\on.wav is empty", "on.wav is empty"),
            ("'/srv/a/b.flac', and/or 50/60 Hz", "'b.flac', and/or 50/60 Hz"),
            ("off /on", "off /on"),
            ("keeps  its\nlines without a path", "keeps  its\nlines without a path"),
        ] {
            let mut text = said.to_owned();
            cut(&mut text);
            assert_eq!(text, published);
        }
    }
}
