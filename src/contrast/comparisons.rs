//! What is asked across the comparisons of a session: settings, devices, recordings, whether the gain is known. A
//! view of what a report holds, so that the words of a finding need no report. Not here: what is asked of one
//! (`questions`).

use super::comparison::ContrastResult;
use super::questions::is_gain_known;
use crate::labels::{Mode, Setting};
use crate::signal::recording_result::RecordingResult;

/// The comparisons of a session with what they refer to.
#[derive(Debug, Clone, Copy)]
pub struct Comparisons<'a> {
    /// What was equal between the recordings that were compared.
    pub settings: &'a [Setting],
    /// The recordings.
    pub recordings: &'a [RecordingResult],
    /// The comparisons, in the order of the report.
    pub contrasts: &'a [ContrastResult],
}

impl<'a> Comparisons<'a> {
    /// The setting of this id.
    pub fn setting(&self, id: &str) -> Option<&'a Setting> {
        self.settings.iter().find(|setting| setting.id == id)
    }

    /// The dial frequency of the setting of this id, where it is known.
    pub fn dial_khz(&self, id: &str) -> Option<f64> {
        self.setting(id)?.dial_khz
    }

    /// The comparison of this id.
    pub fn contrast(&self, id: &str) -> Option<&'a ContrastResult> {
        self.contrasts.iter().find(|contrast| contrast.id == id)
    }

    /// Whether there are comparisons of more than one setting.
    pub fn are_of_several_settings(&self) -> bool {
        self.contrasts.iter().any(|c| c.setting != self.contrasts[0].setting)
    }

    /// Those of one device, in order.
    pub fn of_device(self, device: &'a str) -> impl Iterator<Item = &'a ContrastResult> + Clone {
        self.contrasts.iter().filter(move |c| c.device == device)
    }

    /// The recordings that a comparison rests on.
    pub fn recordings_of(self, contrast: &'a ContrastResult) -> impl Iterator<Item = &'a RecordingResult> {
        self.recordings.iter().filter(move |r| contrast.off.contains(&r.id) || contrast.on.contains(&r.id))
    }

    /// Where an audio frequency stands on the air in the setting of this id, kHz.
    pub fn on_air_khz(&self, setting: &str, freq_hz: f64) -> Option<f64> {
        self.setting(setting)?.on_air_khz(freq_hz)
    }

    /// Whether a label or a steady carrier tells what the gain did.
    pub fn is_gain_known(&self, contrast: &ContrastResult) -> bool {
        let label = self.setting(&contrast.setting).and_then(|setting| setting.gain.as_deref());
        is_gain_known(contrast.gain_reference.is_some(), label)
    }
}

impl Setting {
    /// Where an audio frequency stands on the air, kHz; only for the sidebands, where nothing else must be known.
    pub fn on_air_khz(&self, freq_hz: f64) -> Option<f64> {
        let dial_khz = self.dial_khz?;
        match self.mode? {
            Mode::Usb => Some(dial_khz + freq_hz / 1000.0),
            Mode::Lsb => Some(dial_khz - freq_hz / 1000.0),
            Mode::Cw | Mode::Am | Mode::Fm => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the definition of the modes: the upper sideband keeps the order of frequencies, the lower one turns it
    /// round.
    #[test]
    fn a_line_stands_on_the_air_above_or_below_the_dial() {
        let setting = |mode| Setting {
            id: "s1".into(),
            dial_khz: Some(14100.0),
            band: None,
            mode: Some(mode),
            bandwidth_hz: None,
            antenna: None,
            gain: None,
        };
        let settings = [setting(Mode::Usb)];
        let view = Comparisons { settings: &settings, recordings: &[], contrasts: &[] };
        assert_eq!(view.on_air_khz("s1", 1000.0), Some(14101.0));
        assert_eq!(view.on_air_khz("s2", 1000.0), None);
        assert_eq!(setting(Mode::Lsb).on_air_khz(1000.0), Some(14099.0));
        assert_eq!(setting(Mode::Cw).on_air_khz(1000.0), None, "the pitch is not known");
    }
}
