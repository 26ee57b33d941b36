//! A night at the shed whose story is known (`demo::night`): what comes and goes is found, and nothing else is. The
//! whole of eight hours is in the night's bench (`tests/night/`, `--truth`).

#[path = "night/truth.rs"]
mod truth;

use noisetally::contrast::Character;
use noisetally::demo::night::{NightSound, NightStory};
use noisetally::report;
use noisetally::report::night::brief::night_lines;
use noisetally::report::night::words::timeline_csv;
use noisetally::warning::Trust;
use truth::{Score, night};

#[test]
fn what_comes_and_goes_is_found_and_nothing_else() {
    let dir = tempfile::tempdir().unwrap();
    let story = NightStory::short();
    let made = night(dir.path(), &story, &[(0.0, 720.0), (721.0, story.seconds)], 1);
    let score = Score::of(&story, &made.report);
    let missed: Vec<_> =
        score.wanted.iter().filter(|(_, episode)| episode.is_none()).map(|(noise, _)| noise).collect();
    assert!(missed.is_empty(), "{missed:?}\n{:?}", night_lines(&made.report));
    // The thermostat that comes while the lamp is on lifts the level by little.
    assert_eq!((score.found(), score.wanted.len()), (4, 4));
    // A car, crashes, fading, a sunrise, two overs of a station: no episode.
    assert!(score.false_ones.is_empty(), "{:?}", night_lines(&made.report));
    for (noise, episode) in &score.wanted {
        let contrast = &episode.unwrap().contrast;
        assert_ne!(contrast.trust, Trust::Void, "{noise:?}");
        // Truth by the story's powers. Tolerance: the band fades by up to half a dB within the half minute
        // compared.
        let excess = contrast.excess_db.unwrap();
        assert!(
            (excess - story.jump_db(noise)).abs() < 1.0,
            "{noise:?}: {excess} dB, made {}",
            story.jump_db(noise)
        );
        let kind = match noise.sound {
            NightSound::Buzz => "buzz",
            NightSound::Hash => "hash",
            NightSound::Carrier { .. } => "carriers",
            NightSound::Comb { .. } => "comb",
            NightSound::Fence { .. } | NightSound::Arcing { .. } => "clicks",
        };
        assert!(
            contrast.character.code() == kind || contrast.trust == Trust::Doubtful,
            "{noise:?}: {}",
            contrast.character.code()
        );
    }
    // The fence lifts no level. Its beat is by construction; its ends are known to some pulses.
    let fence = story.noises.iter().find(|noise| noise.sound.is_clicks()).unwrap();
    let found = made.report.episodes.iter().find(|episode| (episode.start_s - fence.start_s).abs() < 4.0).unwrap();
    assert!((found.end_s - fence.end_s).abs() < 4.0, "{found:?}");
    assert_eq!((found.jump_db, found.contrast.character.code()), (None, "clicks"));
    assert!((found.contrast.pulse_period_s.unwrap() / 1.27 - 1.0).abs() < 0.001, "{found:?}");
    // Truth by the story's powers, over the same quiet.
    let last = story.noises.iter().rfind(|noise| noise.name == "thermostat").unwrap();
    let episode = made.report.episodes.iter().find(|e| (e.end_s - last.end_s).abs() < 3.0).unwrap();
    let truth = story.quiet_excess_db(last, &episode.quiet_s);
    assert!((episode.quiet_excess_db.unwrap() - truth).abs() < 1.0, "{truth}: {episode:?}");
    let thermostat = made.report.sources.iter().find(|source| source.character == Character::Buzz).unwrap();
    assert_eq!((thermostat.episodes.len(), made.report.sources.len()), (3, 4), "{:?}", night_lines(&made.report));
    let sound = score.wanted.iter().filter(|(_, e)| e.unwrap().contrast.trust == Trust::Sound).count();
    assert!(sound >= 3, "{:?}", night_lines(&made.report));
}

#[test]
fn one_thread_and_many_give_the_same_bytes() {
    let dir = tempfile::tempdir().unwrap();
    let story = NightStory { seconds: 300.0, ..NightStory::short() };
    let texts = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let made = pool.install(|| night(dir.path(), &story, &[(0.0, 300.0)], 2));
        (report::json(&made.report), report::markdown(&made.report), timeline_csv(&made.report).unwrap())
    };
    let one = texts(1);
    assert_eq!(one, texts(4));
    assert!(one.0.contains("\"episodes\": [\n    {"), "the thermostat is in it");
    assert!(!one.1.contains(&*dir.path().to_string_lossy()) && !one.0.contains(&*dir.path().to_string_lossy()));
}
