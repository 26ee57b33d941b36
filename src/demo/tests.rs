//! The evening as a whole: its files, their labels, and that the sound keeps what the truth says.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use approx::assert_abs_diff_eq;

use super::*;
use crate::units::{Db, Dbfs};

const SEED: u64 = 1;

/// The truth of the evening, made once for all tests.
fn truths() -> &'static [Truth] {
    static TRUTHS: LazyLock<Vec<Truth>> = LazyLock::new(|| truth(SEED));
    &TRUTHS
}

fn samples(path: &Path) -> Vec<f64> {
    let mut reader = hound::WavReader::open(path).unwrap();
    let spec = reader.spec();
    assert_eq!((spec.channels, spec.sample_rate, spec.bits_per_sample), (1, 8000, 16));
    reader.samples::<i16>().map(|x| f64::from(x.unwrap()) / 32768.0).collect()
}

fn level(x: &[f64]) -> Dbfs {
    Dbfs::from_mean_square(synth::mean_square(x))
}

fn bytes(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    std::fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| (entry.file_name().into_string().unwrap(), std::fs::read(entry.path()).unwrap()))
        .collect()
}

#[test]
fn the_evening_is_complete_small_unclipped_and_repeatable() {
    let (a, b) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let files = write(a.path(), SEED).unwrap();
    write(b.path(), SEED).unwrap();
    let (first, second) = (bytes(a.path()), bytes(b.path()));
    assert!(first == second, "the same seed must give the same bytes");
    assert_eq!(first.len(), files.len());
    assert_eq!(files.len(), ENTRIES.len() + 1);

    let total: usize = first.values().map(Vec::len).sum();
    assert!((5_000_000..8_000_000).contains(&total), "{total} bytes");

    let truths = truths();
    for (file, truth) in files.iter().zip(truths) {
        assert!(file.ends_with(truth.file));
        let x = samples(file);
        let peak = x.iter().fold(0.0f64, |m, s| m.max(s.abs()));
        assert!(peak < 0.9, "{}: peak {peak}", truth.file);
        assert!(x.len() >= 20 * 8000, "{}", truth.file);
        // All powers in the file, against the parts' sum: parts are independent, so their cross terms stay small;
        // 0.3 dB is some six times the radiometer equation's 0.02 dB and the band's fading of 0.4 dB averaged.
        let all = truth.powers.noise_measured + truth.powers.parts.iter().map(|p| p.measured).sum::<f64>();
        assert_abs_diff_eq!((level(&x) - Dbfs::from_mean_square(all)).0, 0.0, epsilon = 0.3);
    }
    assert!(matches!(write(a.path(), SEED), Err(DemoError::Occupied(_))));
}

/// Shared noise between two takes would make repeats agree better than they may: takes of one length with the same
/// noise would have the same measured power to the last bit.
#[test]
fn every_take_has_a_noise_of_its_own() {
    let mut powers: Vec<f64> = truths().iter().map(|t| t.powers.noise_measured).collect();
    powers.push(render(0, &ENTRIES[0], SEED + 1).truth.noise_measured);
    powers.sort_by(f64::total_cmp);
    assert!(powers.windows(2).all(|w| w[1] - w[0] > 1e-9 * w[0]), "{powers:?}");
}

/// Source for the relation of attenuation and excess: the device's power falls by the choke's insertion loss, the
/// noise stays (check by 10·lg(1 + (10^{1.4} − 1)·10^{−IL/10}), derived; worked by hand): 14, 10.618 and 2.057 dB.
#[test]
fn the_ladder_goes_as_the_story_tells() {
    let truths = truths();
    let of = |device: &str, remedy: Option<&str>| -> Vec<f64> {
        let same = |t: &&Truth| t.device == Some(device) && t.remedy == remedy;
        truths.iter().filter(same).map(|t| t.excess_db).collect()
    };
    for (remedy, excess) in [
        (None, 14.0),
        (Some("ferrite on mains lead"), 10.618),
        (Some("second ferrite on battery lead"), 10.618),
        (Some("porch socket"), 2.057),
    ] {
        let found = of("drill charger", remedy);
        assert_eq!(found.len(), 2, "{remedy:?}");
        found.iter().for_each(|e| assert_abs_diff_eq!(*e, excess, epsilon = 0.001));
    }
    assert_eq!(of("LED strip", None), [0.0, 0.0]);
    of("pond pump", None).iter().for_each(|e| assert_abs_diff_eq!(*e, 4.0, epsilon = 1e-6));
    for truth in truths {
        let clicks = truth.device == Some("pond pump");
        let steady_db = truth.powers.steady_excess().0;
        assert_abs_diff_eq!(steady_db, if clicks { 0.0 } else { truth.excess_db }, epsilon = 1e-9);
    }
    for truth in truths.iter().filter(|t| t.state != State::On) {
        assert_eq!((truth.excess_db, truth.total_excess_db), (0.0, 0.0), "{}", truth.file);
        assert!(truth.lines.is_empty() && truth.kinds.is_empty());
    }
}

/// A line shows in a spectrum averaged over a take when it stands clearly above the noise in one bin. Bins of 3.9
/// Hz under a Hann window gather noise over 1.5 bins (F. J. Harris, 1978: ENBW 1.50).
#[test]
fn some_lines_hide_under_the_charger() {
    let truths = truths();
    let find = |file: &str| truths.iter().find(|t| t.file == file).unwrap();
    let in_a_bin = |truth: &Truth| {
        let density = truth.powers.noise_expected * Db(truth.excess_db).ratio() / truth.powers.noise_bandwidth_hz;
        Dbfs::from_mean_square(density * 1.5 * 8000.0 / 2048.0)
    };
    let (loud, faint, quiet) =
        (find("02-charger-on.wav"), find("10-charger-on-porch-socket.wav"), find("01-off.wav"));
    let strip = find("12-led-strip-on.wav");
    let hidden = strip.lines.iter().filter(|l| (l.level - in_a_bin(loud)).0 < -4.0).count();
    assert!((2..strip.lines.len() - 2).contains(&hidden), "{hidden} hidden");
    assert!(strip.lines.iter().all(|l| (l.level - in_a_bin(quiet)).0 > 3.0));
    assert!(loud.lines.iter().all(|l| (l.level - in_a_bin(loud)).0 < -8.0));
    assert!(faint.lines.iter().all(|l| (l.level - in_a_bin(faint)).0 > 0.0));
}

#[test]
fn levels_are_those_of_a_quiet_band() {
    for truth in truths() {
        let noise = Dbfs::from_mean_square(truth.powers.noise_expected).0;
        let expected = if truth.state == State::Terminated { -62.0 } else { -44.91 };
        assert_abs_diff_eq!(noise, expected, epsilon = 0.01);
        for part in truth.powers.parts.iter().filter(|p| p.role == synth::Role::Station) {
            let snr = Db::from_ratio(part.measured / truth.powers.noise_expected).0;
            assert!((-0.1..10.0).contains(&snr), "{}: {snr}", truth.file);
        }
    }
}

#[test]
fn the_manifest_names_every_file_in_the_contract_s_words() {
    let table: toml::Table = manifest::text().unwrap().parse().unwrap();
    assert_eq!(table["mains_hz"].as_integer(), Some(50));
    let recordings = table["recording"].as_array().unwrap();
    assert_eq!(recordings.len(), ENTRIES.len());
    let known = [
        "file",
        "state",
        "device",
        "remedy",
        "order",
        "ferrites",
        "dial_khz",
        "mode",
        "bandwidth_hz",
        "antenna",
        "gain",
        "started",
        "meter",
        "note",
    ];
    let mut earlier = String::new();
    for (recording, entry) in recordings.iter().zip(&ENTRIES) {
        let fields = recording.as_table().unwrap();
        fields.keys().for_each(|key| assert!(known.contains(&key.as_str()), "{key}"));
        assert_eq!(fields["file"].as_str(), Some(entry.file));
        assert_eq!(fields["state"].as_str() == Some("on"), fields.contains_key("device"));
        let started = fields["started"].as_datetime().unwrap().to_string();
        assert!(started.starts_with("2026-03-14T") && started.ends_with('Z') && started > earlier, "{started}");
        earlier = started;
    }
}

/// Each call that changes the disk fails once, and is once the last.
#[test]
fn a_folder_is_complete_or_absent_whatever_breaks() {
    use crate::disk::fault::{Fault, with};
    let fill = |new: &std::path::Path| {
        let file = new.join("01-off.wav");
        write_wav(&file, &[0.0; 100], 8000, 1)?;
        std::fs::write(new.join("session.toml"), "labels").unwrap();
        Ok(vec![file, new.join("session.toml")])
    };
    for (fault, is_there) in [(Fault::Fail, false), (Fault::Dead, false), (Fault::Fail, true), (Fault::Dead, true)]
    {
        for at in 1.. {
            let root = tempfile::tempdir().unwrap();
            let out = root.path().join("pond");
            if is_there {
                std::fs::create_dir(&out).unwrap();
            }
            let (done, made) = with(fault, at, false, || whole(&out, fill));
            let count = |folder: &std::path::Path| std::fs::read_dir(folder).map_or(0, |entries| entries.count());
            assert!([0, 2].contains(&count(&out)), "{fault:?} at {at}");
            if fault == Fault::Fail && done.is_err() {
                assert_eq!((count(&out), count(root.path())), (0, usize::from(is_there)), "{fault:?} at {at}");
            }
            let again = whole(&out, fill);
            assert!(again.is_ok() || count(&out) == 2, "{fault:?} at {at}: {again:?}");
            assert_eq!((count(&out), count(root.path())), (2, 1), "{fault:?} at {at}: nothing stays beside it");
            if made < at {
                assert_eq!(done.unwrap(), [out.join("01-off.wav"), out.join("session.toml")]);
                break;
            }
        }
    }
}
