//! Where no spacing explains the carriers: would one, had a recording been made in the other sideband than its
//! label says? Only a hint to look the labels up; no figure is taken from it. What stands beside a family that was
//! found is told by the family itself (`findings::switching_comb::Family::other_sideband`).

use crate::findings::switching_comb::heard::Heard;
use crate::findings::switching_comb::words::khz;
use crate::findings::switching_comb::{Answer, CALLED_BELOW, Carrier, Family, find};
use crate::labels::Mode;

impl Heard<'_> {
    /// The hint. Tried are all settings of one sideband, all of both, and every setting alone.
    pub(crate) fn other_sideband(&self) -> Option<String> {
        let labelled = |wanted: &[Mode]| -> Vec<usize> {
            (0..self.modes.len()).filter(|&setting| wanted.contains(&self.modes[setting])).collect()
        };
        let both = labelled(&[Mode::Usb, Mode::Lsb]);
        let mut tries = vec![labelled(&[Mode::Usb]), labelled(&[Mode::Lsb]), both.clone()];
        tries.extend(both.iter().map(|&setting| vec![setting]));
        tries.retain(|turned| !turned.is_empty());
        let most = CALLED_BELOW / tries.len() as f64;
        let (turned, family) = tries.into_iter().find_map(|turned| {
            let family = self.turned(&turned).families.into_iter().next()?;
            let all_fit = turned.iter().all(|&setting| self.fits(&family, setting));
            (family.chance < most && all_fit).then_some((turned, family))
        })?;
        Some(format!(
            "Had {} been made in the other sideband than labelled, the carriers would be a family every {} kHz: \
             look the mode up",
            self.which(turned, &family),
            khz(family.spacing_hz, 3)
        ))
    }

    /// What the carriers would tell had these settings been in the other sideband.
    fn turned(&self, settings: &[usize]) -> Answer {
        let mut listenings = self.listenings.clone();
        for &setting in settings {
            let dial_hz = listenings[setting].dial_hz;
            for heard in &mut listenings[setting].heard_hz {
                *heard = (2.0 * dial_hz - heard.1, 2.0 * dial_hz - heard.0);
            }
        }
        let turned = |carrier: &Carrier| {
            let mirrored_hz = carrier.mirrored_hz.filter(|_| settings.contains(&carrier.listening))?;
            let back_hz = carrier.places_hz.first().copied();
            Some(Carrier { listening: carrier.listening, places_hz: vec![mirrored_hz], mirrored_hz: back_hz })
        };
        let carriers: Vec<Carrier> =
            self.carriers.iter().map(|carrier| turned(carrier).unwrap_or_else(|| carrier.clone())).collect();
        find(&carriers, &listenings)
    }

    /// Whether a carrier of this setting belongs to the family, if it has any.
    fn fits(&self, family: &Family, setting: usize) -> bool {
        let of_setting = |carrier: &usize| self.carriers[*carrier].listening == setting;
        (0..self.carriers.len()).all(|carrier| !of_setting(&carrier))
            || family.members.iter().any(|member| of_setting(&member.carrier))
    }

    /// The recordings that were turned, and those that would then fit if they were turned too.
    fn which(&self, mut turned: Vec<usize>, family: &Family) -> String {
        turned.extend(family.other_sideband.iter().map(|hint| self.carriers[hint.0].listening));
        turned.sort_unstable();
        turned.dedup();
        let dials: Vec<String> = turned.iter().map(|&i| khz(self.listenings[i].dial_hz, 2)).collect();
        match dials.as_slice() {
            [only] => format!("the recording at {only} kHz"),
            dials => format!("the recordings at {} kHz", dials.join(", ")),
        }
    }
}
