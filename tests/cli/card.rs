//! Sound cards, without a card: ALSA's file plugin over its null device plays a file as if it were one, as fast as
//! it is asked. A build without the feature `capture-card` has none, and says how to get them.

use crate::bench::Bench;

#[cfg(not(feature = "capture-card"))]
#[test]
fn a_build_without_cards_says_how_to_get_them() {
    let bench = Bench::new();
    for arguments in
        [&["capture", "shed", "--device", "lamp", "--settle", "0", "--card"][..], &["capture", "--list-cards"]]
    {
        let output = bench.command().args(arguments).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains("--features capture-card") && said.contains("libasound2-dev"), "{said}");
    }
    assert!(bench.contents().is_empty());
}

#[cfg(all(feature = "capture-card", target_os = "linux"))]
mod of_alsa {
    use std::process::Command;

    use super::Bench;
    use crate::bench::{RATE_HZ, off};

    /// A bench with the one card "bench", described as "Bench card", that hears a minute of band noise.
    fn with_card() -> Bench {
        let samples = off(1).render(60.0).samples;
        let bytes: Vec<u8> = samples.iter().flat_map(|x| ((x * 32_768.0) as i16).to_le_bytes()).collect();
        let bench = Bench::new().file("sound.raw", &bytes);
        let sound = bench.path("sound.raw");
        let config = format!(
            "pcm.bench {{\n  type file\n  slave {{ pcm {{ type null }} }}\n  file \"/dev/null\"\n  infile \"{}\"\n  \
             format \"raw\"\n  hint {{ show on description \"Bench card\" }}\n}}\n",
            sound.display()
        );
        bench.file("asound.conf", config.as_bytes())
    }

    fn command(bench: &Bench, arguments: &[&str]) -> Command {
        let mut command = bench.command();
        command.env("ALSA_CONFIG_PATH", bench.path("asound.conf")).args(arguments);
        command
    }

    #[test]
    fn cards_are_listed_and_recorded_from() {
        let bench = with_card();
        let output = command(&bench, &["capture", "--list-cards"]).output().unwrap();
        assert_eq!(String::from_utf8(output.stdout).unwrap(), "bench\n    Bench card\n");
        for name in ["bench", "bench card"] {
            let folder = name.replace(' ', "-");
            let plan = ["--device", "lamp", "--seconds", "4", "--rounds", "1", "--no-dummy-load"];
            let rate = RATE_HZ.to_string();
            let more = ["--settle", "0", "--no-report", "--rate", &rate, "--card", name];
            let output =
                command(&bench, &[&["capture", folder.as_str()], &plan[..], &more[..]].concat()).output().unwrap();
            let said = String::from_utf8(output.stderr).unwrap();
            // Faster than time, so samples are lost, and that is said of every take.
            assert_eq!(output.status.code(), Some(1), "{said}");
            assert!(said.contains("overrun: the sound card lost samples"), "{said}");
            let mut wav = hound::WavReader::open(bench.path(&format!("{folder}/01-off.wav"))).unwrap();
            assert_eq!((wav.spec().sample_rate, wav.spec().channels, wav.duration()), (RATE_HZ, 1, 4 * RATE_HZ));
            let squares: f64 = wav.samples::<i16>().map(|x| (f64::from(x.unwrap()) / 32_768.0).powi(2)).sum();
            let level_dbfs = 10.0 * (2.0 * squares / f64::from(4 * RATE_HZ)).log10();
            // Band noise of -45 dBFS and the receiver's own of -62: together -44.9; chance moves 4 s by 0.05 dB.
            assert!((level_dbfs + 44.9).abs() < 0.4, "{level_dbfs}");
        }
    }

    #[test]
    fn a_card_that_is_not_there_is_refused_with_advice() {
        let bench = with_card();
        let start = ["capture", "shed", "--device", "lamp", "--settle", "0", "--card"];
        let output = command(&bench, &[&start[..], &["attic"]].concat()).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains("no sound card `attic`") && said.contains("--list-cards"), "{said}");
        // No usual card in this configuration.
        let output = command(&bench, &start).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.code() == Some(2) && said.contains("can't be opened"), "{said}");
    }
}
