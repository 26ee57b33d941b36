//! What was found in a night whose story is known, against that story.

use std::path::Path;

use noisetally::demo::night::{NightNoise, NightStory, write_night};
use noisetally::labels::dated_files;
use noisetally::night::result::Episode;
use noisetally::report::contract::Report;
use noisetally::run::{Night, NightWishes};

/// A start or an end is right within this.
pub const RIGHT_S: f64 = 2.0;
/// Noises that lift the level by this are to be found.
pub const WANTED_DB: f64 = 3.0;

/// Writes a night and goes through it.
pub fn night(dir: &Path, story: &NightStory, spans: &[(f64, f64)], seed: u64) -> Night {
    write_night(dir, story, spans, seed, &|| false).expect("the night is written");
    let files = dated_files(&[dir.to_owned()]).expect("its files");
    Night::of(&files, "night", &NightWishes::default(), &()).expect("a night")
}

/// The noises of the story beside what was found of them.
pub struct Score<'a> {
    /// Those that lift the level enough to be wanted, each with its episode.
    pub wanted: Vec<(&'a NightNoise, Option<&'a Episode>)>,
    /// Episodes that are none of the story's noises, however weak.
    pub false_ones: Vec<&'a Episode>,
}

impl<'a> Score<'a> {
    pub fn of(story: &'a NightStory, report: &'a Report) -> Self {
        let fits = |noise: &NightNoise, episode: &Episode, within_s: f64| {
            (episode.start_s - noise.start_s).abs() <= within_s && (episode.end_s - noise.end_s).abs() <= within_s
        };
        let wanted = story.noises.iter().filter(|noise| story.jump_db(noise) >= WANTED_DB);
        Self {
            wanted: wanted
                .map(|noise| (noise, report.episodes.iter().find(|episode| fits(noise, episode, RIGHT_S))))
                .collect(),
            false_ones: report
                .episodes
                .iter()
                .filter(|episode| !story.noises.iter().any(|noise| fits(noise, episode, 3.0 * RIGHT_S)))
                .collect(),
        }
    }

    #[allow(dead_code)] // Used by the bench.
    pub fn found(&self) -> usize {
        self.wanted.iter().filter(|(_, episode)| episode.is_some()).count()
    }
}
