//! Fences and a thermostat that arcs, in nights of thunder, other noises and stations: what was found of them.

use noisetally::contrast::Character;
use noisetally::demo::night::{NightNoise, NightSound, NightStory};
use noisetally::night::result::Episode;

use crate::results::Printed;
use crate::truth;

/// A start or an end is right within this: a few pulses.
const RIGHT_S: f64 = 6.0;
/// A device is found where episodes of clicks have this share of its time and do not reach beyond its ends. Where
/// another noise is on, its pulses are no 15 dB over the level: that time counts for nothing.
const FOUND_SHARE: f64 = 0.8;
/// Fences that were on for as long with nothing else that lifts the level are to be found.
const WANTED_S: f64 = 600.0;
/// A beat is right within this share.
const RIGHT_BEAT: f64 = 0.01;

/// Of some nights.
#[derive(Default, Clone, Copy)]
struct Counts {
    fences: usize,
    fences_found: usize,
    beats_right: usize,
    /// Both ends within a few seconds, or where they are told to be hidden.
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

/// The parts of a noise's time in which nothing else lifts the level.
fn clear(story: &NightStory, noise: &NightNoise) -> Vec<(f64, f64)> {
    let mut clear = vec![(noise.start_s, noise.end_s)];
    for other in story.noises.iter().filter(|other| other.sound.lifts_noise()) {
        clear = clear
            .into_iter()
            .flat_map(|(from, to)| [(from, to.min(other.start_s)), (from.max(other.end_s), to)])
            .filter(|(from, to)| to > from)
            .collect();
    }
    clear
}

/// Whether the truth lies within what is told of the ends.
fn has_its_ends(noise: &NightNoise, episode: &Episode) -> bool {
    let early_s = episode.start_s - noise.start_s;
    let late_s = noise.end_s - episode.end_s;
    let within =
        |off_s: f64, unsure_s: Option<f64>| (-RIGHT_S..=RIGHT_S + unsure_s.unwrap_or(0.0)).contains(&off_s);
    within(early_s, episode.start_unsure_s) && within(late_s, episode.end_unsure_s)
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
        let clear = clear(story, noise);
        let clear_s: f64 = clear.iter().map(|span| span.1 - span.0).sum();
        let within = |episode: &&Episode| {
            let inside = episode.start_s >= noise.start_s - RIGHT_S && episode.end_s <= noise.end_s + RIGHT_S;
            has_clicks(episode) && inside
        };
        let common = |episode: &Episode| -> f64 {
            clear.iter().map(|span| (span.1.min(episode.end_s) - span.0.max(episode.start_s)).max(0.0)).sum()
        };
        let covered_s: f64 = episodes.iter().filter(within).map(common).sum();
        let longest = episodes.iter().filter(within).max_by(|a, b| common(a).total_cmp(&common(b)));
        let found = longest.filter(|_| covered_s >= FOUND_SHARE * clear_s);
        let said = found.map_or_else(
            || "not found".to_owned(),
            |e| {
                format!(
                    "off by {:.1} and {:.1} s (hidden: {:?} and {:?}), {:?}",
                    e.start_s - noise.start_s,
                    e.end_s - noise.end_s,
                    e.start_unsure_s,
                    e.end_unsure_s,
                    e.contrast.trust
                )
            },
        );
        println!("  {:<8}{:>8.1} to {:>8.1} s, {:?}: {said}", noise.name, noise.start_s, noise.end_s, noise.sound);
        match noise.sound {
            NightSound::Fence { .. } if clear_s < WANTED_S => {}
            NightSound::Fence { period_s } => {
                counts.fences += 1;
                counts.fences_found += usize::from(found.is_some());
                counts.ends_right += usize::from(found.is_some_and(|episode| has_its_ends(noise, episode)));
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
