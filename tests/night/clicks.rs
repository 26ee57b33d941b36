//! Fences and a thermostat that arcs, in nights of thunder, other noises and stations: what was found of them.

use noisetally::contrast::Character;
use noisetally::demo::night::{NightNoise, NightSound, NightStory};
use noisetally::night::result::Episode;

use crate::results::Printed;
use crate::truth;

/// A start or an end is right within this: a few pulses.
const RIGHT_S: f64 = 6.0;
/// A device is found where one episode of clicks has this share of its time, and does not reach beyond its ends: what
/// is louder may hide an end.
const FOUND_SHARE: f64 = 0.5;
/// A beat is right within this share.
const RIGHT_BEAT: f64 = 0.01;

/// Of some nights.
#[derive(Default, Clone, Copy)]
struct Counts {
    fences: usize,
    fences_found: usize,
    beats_right: usize,
    /// Both ends within a few seconds.
    ends_right: usize,
    arcing: usize,
    arcing_found: usize,
    /// Episodes told by clicks that are no noise of the story.
    false_clicks: usize,
    /// Episodes of any other kind that are none.
    false_others: usize,
}

/// Goes through a night of each seed, and one with thunder alone.
pub fn against_truth(out: &mut Printed, hours: f64, seeds: &str) {
    let mut rows = Vec::new();
    for seed in seeds.split(',').filter_map(|seed| seed.trim().parse::<u64>().ok()) {
        for (name, story) in
            [("fences", NightStory::clicking(hours, seed)), ("thunder", NightStory::thundering(hours, seed))]
        {
            let dir = tempfile::tempdir().expect("a folder for the night");
            let half = story.seconds / 2.0;
            let night = truth::night(dir.path(), &story, &[(0.0, half - 1.0), (half, story.seconds)], seed);
            println!("{name}, seed {seed}");
            rows.push((format!("{seed} {name}"), counts(&story, &night.report.episodes)));
        }
    }
    let sum = |name: &str| {
        let some = rows.iter().filter(|row| row.0.ends_with(name)).map(|row| row.1);
        (format!("all {name}"), some.fold(Counts::default(), Counts::plus))
    };
    let together = ["fences", "thunder"].map(sum);
    rows.extend(together);
    out.line(&format!("{hours} h each       fences   ends right  beat right      arcing  false clicks  other episodes that are none"));
    for (name, c) in rows {
        let of = |found: usize, wanted: usize| format!("{found} of {wanted}");
        let (fences, arcing) = (of(c.fences_found, c.fences), of(c.arcing_found, c.arcing));
        let (ends, beats, none) = (c.ends_right, c.beats_right, c.false_clicks);
        out.line(&format!(
            "{name:<12}{fences:>12}{ends:>13}{beats:>12}{arcing:>12}{none:>14}{:>10}",
            c.false_others
        ));
    }
}

impl Counts {
    fn plus(self, other: Self) -> Self {
        Self {
            fences: self.fences + other.fences,
            fences_found: self.fences_found + other.fences_found,
            beats_right: self.beats_right + other.beats_right,
            ends_right: self.ends_right + other.ends_right,
            arcing: self.arcing + other.arcing,
            arcing_found: self.arcing_found + other.arcing_found,
            false_clicks: self.false_clicks + other.false_clicks,
            false_others: self.false_others + other.false_others,
        }
    }
}

fn has_clicks(episode: &Episode) -> bool {
    episode.contrast.parts.iter().any(|part| part.character == Character::Clicks)
}

fn counts(story: &NightStory, episodes: &[Episode]) -> Counts {
    let mut counts = Counts::default();
    let fits = |noise: &NightNoise, episode: &Episode, within_s: f64| {
        (episode.start_s - noise.start_s).abs() <= within_s && (episode.end_s - noise.end_s).abs() <= within_s
    };
    for noise in story.noises.iter().filter(|noise| noise.sound.is_clicks()) {
        let within = |episode: &&Episode| {
            let inside = episode.start_s >= noise.start_s - RIGHT_S && episode.end_s <= noise.end_s + RIGHT_S;
            let share = (episode.end_s - episode.start_s) / (noise.end_s - noise.start_s);
            has_clicks(episode) && inside && share >= FOUND_SHARE
        };
        let found = episodes.iter().find(within);
        let said = found.map_or_else(
            || "not found".to_owned(),
            |e| {
                format!(
                    "off by {:.1} and {:.1} s, {:?}",
                    e.start_s - noise.start_s,
                    e.end_s - noise.end_s,
                    e.contrast.trust
                )
            },
        );
        println!("  {:<8}{:>8.1} to {:>8.1} s, {:?}: {said}", noise.name, noise.start_s, noise.end_s, noise.sound);
        match noise.sound {
            NightSound::Fence { period_s } => {
                counts.fences += 1;
                counts.fences_found += usize::from(found.is_some());
                counts.ends_right += usize::from(found.is_some_and(|episode| fits(noise, episode, RIGHT_S)));
                let told = found.and_then(|episode| episode.contrast.pulse_period_s);
                counts.beats_right +=
                    usize::from(told.is_some_and(|told| (told / period_s - 1.0).abs() <= RIGHT_BEAT));
            }
            _ => {
                counts.arcing += 1;
                counts.arcing_found += usize::from(found.is_some());
            }
        }
    }
    let is_of = |noise: &NightNoise, episode: &Episode| {
        let inside = episode.start_s >= noise.start_s - RIGHT_S && episode.end_s <= noise.end_s + RIGHT_S;
        fits(noise, episode, RIGHT_S) || (noise.sound.is_clicks() && inside && has_clicks(episode))
    };
    for episode in episodes.iter().filter(|e| !story.noises.iter().any(|noise| is_of(noise, e))) {
        let by_clicks = episode.jump_db.is_none() && has_clicks(episode);
        counts.false_clicks += usize::from(by_clicks);
        counts.false_others += usize::from(!by_clicks);
        println!(
            "  none of them: {:.1} to {:.1} s, jump {:?}, {}, period {:?}, rate {:?}",
            episode.start_s,
            episode.end_s,
            episode.jump_db,
            episode.contrast.character.code(),
            episode.contrast.pulse_period_s,
            episode.contrast.pulse_rate_hz
        );
    }
    counts
}
