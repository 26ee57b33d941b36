//! What is asked across the comparisons of a session: settings, devices, recordings, whether the gain is known. A
//! view of what a report holds, so that the words of a finding need no report. Not here: what is asked of one
//! (`questions`).

use std::collections::BTreeSet;

use super::comparison::ContrastResult;
use super::questions::is_gain_known;
use crate::labels::{Mode, Setting};
use crate::signal::recording_result::RecordingResult;
use crate::text::{label, number};

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

    /// A setting in words: its dial or band, and what else parts it from the others; see [`Setting::name_among`].
    pub fn setting_name(&self, id: &str) -> String {
        setting_name(self.settings, id)
    }

    /// The setting that most devices were recorded at, the first of equals: told once, above all that holds there.
    pub fn main_setting(&self) -> Option<&'a Setting> {
        let devices = |setting: &&Setting| {
            let here = self.contrasts.iter().filter(|c| c.setting == setting.id);
            here.map(|c| c.device.as_str()).collect::<BTreeSet<_>>().len()
        };
        self.settings.iter().rev().max_by_key(devices)
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

/// The setting of this id in words; see [`Setting::name_among`].
pub fn setting_name(settings: &[Setting], id: &str) -> String {
    settings.iter().find(|setting| setting.id == id).map_or_else(|| label(id), |own| own.name_among(settings))
}

impl Setting {
    /// What the labels tell of a setting, in words; `None` where they tell nothing.
    pub fn facts(&self) -> Option<String> {
        let known: Vec<String> = [
            self.dial_khz.map(|khz| format!("{} kHz", number(khz, 3).trim_end_matches('0').trim_end_matches('.'))),
            self.band.as_deref().filter(|_| self.dial_khz.is_none()).map(label),
            self.mode.map(|mode| mode.to_string()),
            self.bandwidth_hz.map(|hz| format!("{} Hz wide", number(hz, 0))),
            self.antenna.as_deref().map(label),
            self.gain.as_deref().map(label),
        ]
        .into_iter()
        .flatten()
        .collect();
        (!known.is_empty()).then(|| known.join(", "))
    }

    /// In words, without markup: "7.1 MHz", as fine as it takes to part the dials, and of mode, filter, antenna and
    /// gain what parts it from others of that dial; its id only where no label does.
    pub fn name_among(&self, all: &[Setting]) -> String {
        let dials: Vec<f64> = all.iter().filter_map(|s| s.dial_khz).collect();
        let place = |s: &Setting| s.dial_khz.map(|khz| mhz(khz, &dials)).or_else(|| s.band.as_deref().map(label));
        let more: [fn(&Setting) -> Option<String>; 4] = [
            |s| s.mode.map(|mode| mode.to_string()),
            |s| s.bandwidth_hz.map(|hz| format!("{} Hz wide", number(hz, 0))),
            |s| s.antenna.as_deref().map(label),
            |s| s.gain.as_deref().map(label),
        ];
        let mut words: Vec<String> = place(self).into_iter().collect();
        let mut alike: Vec<&Setting> = all.iter().filter(|s| s.id != self.id && place(s) == place(self)).collect();
        for of in more {
            if alike.iter().any(|s| of(s) != of(self)) {
                alike.retain(|s| of(s) == of(self));
                words.extend(of(self));
            }
        }
        if words.is_empty() { label(&self.id) } else { words.join(", ") }
    }

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

/// "7.1 MHz", to 100 kHz or as fine as it takes to part it from the other dials.
fn mhz(khz: f64, dials: &[f64]) -> String {
    let text = |khz: f64, decimals| number(khz / 1000.0, decimals);
    let parts = |decimals: &usize| dials.iter().all(|&d| d == khz || text(d, *decimals) != text(khz, *decimals));
    let decimals = (1..FINEST_DECIMALS).find(parts).unwrap_or(FINEST_DECIMALS);
    format!("{} MHz", text(khz, decimals))
}

/// To the hertz: finer no dial is.
const FINEST_DECIMALS: usize = 6;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_setting_is_named_by_what_parts_it_from_the_others() {
        let setting = |id: &str, dial_khz, antenna: &str, gain: Option<&str>| Setting {
            id: id.into(),
            dial_khz,
            band: None,
            mode: Some(Mode::Usb),
            bandwidth_hz: None,
            antenna: Some(antenna.into()),
            gain: gain.map(Into::into),
        };
        let all = [
            setting("s1", Some(7100.0), "wire", None),
            setting("s2", Some(14100.5), "wire", Some("RF gain 60")),
            setting("s3", Some(14100.5), "loop", None),
            setting("s4", Some(14100.5), "wire", None),
            setting("s5", None, "wire", None),
        ];
        let named = all.each_ref().map(|s| s.name_among(&all));
        assert_eq!(named, ["7.1 MHz", "14.1 MHz, wire, RF gain 60", "14.1 MHz, loop", "14.1 MHz, wire", "s5"]);
        let near = [setting("s1", Some(14100.0), "wire", None), setting("s2", Some(14100.5), "wire", None)];
        assert_eq!(near.each_ref().map(|s| s.name_among(&near)), ["14.100 MHz", "14.101 MHz"]);
        assert_eq!(setting_name(&all, "s1"), "7.1 MHz");
        assert_eq!(setting_name(&all, "s9"), "s9");
    }

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
