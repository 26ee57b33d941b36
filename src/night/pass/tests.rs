use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use approx::assert_abs_diff_eq;

use super::clock;
use crate::audio::write_wav;
use crate::demo::synth::{Carrier, Carriers, Clicks, Hash, Receiver, Scene, Station};
use crate::labels::{Dated, dated_files};
use crate::night::{Clock, Join, NightError, NightSettings, Row, StartFrom, Step, Timeline, read_timeline};
use crate::units::{Db, Dbfs};
use crate::watch::{Stopped, Watch};

const RATE_HZ: u32 = 12_000;

fn quiet(seed: u64) -> Scene {
    Scene::new(Receiver::ssb(RATE_HZ)).band_noise(Dbfs(-30.0)).seed(seed)
}

fn write(dir: &Path, name: &str, samples: &[f32]) -> PathBuf {
    let path = dir.join(name);
    write_wav(&path, samples, RATE_HZ, 1).unwrap();
    path
}

fn of(paths: &[PathBuf]) -> Timeline {
    let files = dated_files(paths).unwrap();
    read_timeline(&files, &NightSettings::default(), &()).unwrap_or_else(|error| panic!("{error}"))
}

fn of_scene(scene: &Scene, seconds: f64) -> Timeline {
    let dir = tempfile::tempdir().unwrap();
    of(&[write(dir.path(), "shed 2026-03-14 21-00-00Z.wav", &scene.render(seconds).samples)])
}

fn level_db(power: f64) -> f64 {
    Dbfs::from_mean_square(power).0
}

/// Truth: the synthetic band's level. Tolerance: a minute of 2.4 kHz of noise scatters by 0.01 dB (radiometer
/// equation); the passband found is narrower than the filter's skirts reach, which hold 0.1 dB of the power.
#[test]
fn the_noise_level_of_plain_noise_is_its_own() {
    let night = of_scene(&quiet(1), 130.0);
    let minutes = night.minutes();
    assert_eq!(minutes.len(), 3);
    for minute in &minutes[..2] {
        assert_abs_diff_eq!(level_db(minute.noise[1]), -30.0, epsilon = 0.15);
        let spread_db = level_db(minute.noise[2]) - level_db(minute.noise[0]);
        // One step: 1/√(2400 Hz · 0.94 s) is 0.09 dB, the low quantile scatters somewhat more; ±1.28 of it.
        assert!((0.15..0.6).contains(&spread_db), "{spread_db}");
        assert_eq!((minute.busy_share, minute.clipped, minute.hole_s), (0.0, 0, 0.0));
    }
}

/// Truth: the synthetic band's level, in other passbands and at other rates. Tolerance: the passband found leaves
/// out more of the skirts of a narrow filter, which hold up to 0.3 dB of its power.
#[test]
fn the_noise_level_is_right_in_any_passband() {
    for (name, receiver) in [
        ("cw", Receiver::cw(8000)),
        ("am", Receiver::am(48_000)),
        ("ssb", Receiver::ssb(44_100)),
        ("tilted", Receiver::ssb(12_000).tilted(10.0)),
    ] {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("shed.wav");
        let take = Scene::new(receiver).band_noise(Dbfs(-30.0)).seed(20).render(62.0);
        write_wav(&path, &take.samples, take.rate_hz, 1).unwrap();
        let off_db = level_db(of(&[path]).minutes()[0].noise[1]) + 30.0;
        assert!(off_db.abs() < 0.4, "{name}: {off_db:.2} dB off");
    }
}

/// Truth: the band's level, whatever stands in it. Tolerance: half a decibel for a voice over all of the passband
/// in its loud half of the time, by the median over the minute.
#[test]
fn lines_stations_and_clicks_are_kept_out_of_the_noise() {
    let carriers = Carriers::comb(120.0, 7.0, 3..22);
    for (name, scene, busy) in [
        ("carrier", quiet(2).carriers(Carriers::new([Carrier::at(1234.5)]), Dbfs(-20.0)), true),
        ("comb", quiet(3).carriers(carriers, Dbfs(-40.0)), true),
        ("keying", quiet(4).station(Station::random_cw(20.0, 700.0), Db(6.0)), true),
        ("voice", quiet(5).station(Station::voice(120.0), Db(3.0)), true),
        ("clicks", quiet(6).device(Clicks::poisson(2.0), Db(3.0)), false),
    ] {
        let minute = of_scene(&scene, 62.0).minutes()[0];
        let off_db = level_db(minute.noise[1]) + 30.0;
        assert!(off_db.abs() < 0.5, "{name}: {off_db:.2} dB off");
        assert!(!busy || minute.busy_share > 0.4, "{name}: busy {}", minute.busy_share);
    }
}

/// Truth: hash of another shape than the band's lifts the noise by what was mixed in. Tolerance: half a decibel,
/// for the low quantile takes a slope within 300 Hz for less than its mean.
#[test]
fn a_device_lifts_the_noise_by_its_excess() {
    let dir = tempfile::tempdir().unwrap();
    let mut samples = quiet(7).render(120.0).samples;
    samples.extend(quiet(8).device(Hash::flat(), Db(6.0)).render(60.0).samples);
    let night = of(&[write(dir.path(), "shed.wav", &samples)]);
    let minutes = night.minutes();
    let median = |n: usize| level_db(minutes[n].noise[1]);
    assert_abs_diff_eq!(median(2) - median(0), 6.0, epsilon = 0.3);
    assert_abs_diff_eq!(median(1), median(0), epsilon = 0.1);
}

#[test]
fn faults_stand_in_their_second() {
    let mut samples = quiet(13).render(100.0).samples;
    let at = |seconds: f64| (seconds * f64::from(RATE_HZ)) as usize;
    samples[at(80.2)..at(80.25)].fill(0.0);
    samples[at(20.1)..at(20.1) + 7].fill(1.0);
    let dir = tempfile::tempdir().unwrap();
    let night = of(&[write(dir.path(), "shed.wav", &samples)]);
    let passage = &night.passages[0];
    let steps: Vec<(f64, &Step)> = passage.timed_steps().collect();
    let found = |fault: fn(&Step) -> u32| -> Vec<(f64, u32)> {
        steps.iter().filter(|(_, step)| fault(step) > 0).map(|&(at_s, step)| (at_s, fault(step))).collect()
    };
    let [(hole_at, hole)] = found(|step| step.hole)[..] else { panic!() };
    assert!((hole_at..hole_at + passage.grid.step_s()).contains(&80.2) && (600..605).contains(&hole), "{hole}");
    let [(clip_at, clipped)] = found(|step| step.clipped)[..] else { panic!() };
    assert!((clip_at..clip_at + passage.grid.step_s()).contains(&20.1) && clipped == 7);
    // A mean square over the whole is that of the steps.
    let all = samples.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / samples.len() as f64;
    let mean = steps.iter().map(|(_, s)| f64::from(s.level)).sum::<f64>() / steps.len() as f64;
    assert_abs_diff_eq!(level_db(mean), level_db(all), epsilon = 0.05);
}

/// Rows, steps and losses, to the last bit.
fn fingerprint(night: &Timeline) -> String {
    let passages: Vec<_> =
        night.passages.iter().map(|p| (&p.steps, &p.rows, p.duration_s, &p.account, p.passband)).collect();
    format!("{passages:?}")
}

#[test]
fn any_number_of_threads_gives_the_same_bits() {
    let dir = tempfile::tempdir().unwrap();
    let samples = quiet(14).station(Station::voice(120.0), Db(3.0)).render(200.0).samples;
    let path = [write(dir.path(), "shed.wav", &samples)];
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| fingerprint(&of(&path)))
    };
    let one = on(1);
    assert_eq!(one, on(2));
    assert_eq!(one, on(5));
}

/// Sharing a file out changes nothing: the rows are those of one thread that reads from the start.
#[test]
fn a_file_shared_out_is_a_file_read_through() {
    let dir = tempfile::tempdir().unwrap();
    let path = write(dir.path(), "shed.wav", &quiet(15).render(170.0).samples);
    let files = dated_files(&[path]).unwrap();
    let shared = read_timeline(&files, &NightSettings::default(), &()).unwrap();
    let through = super::timeline_read_through(&files, &NightSettings::default()).unwrap();
    let (shared, through) = (&shared.passages[0], &through.passages[0]);
    assert_eq!(shared.steps, through.steps);
    assert_eq!(shared.rows, through.rows);
    assert_eq!(shared.account, through.account);
    assert_eq!(shared.duration_s, 170.0);
}

#[test]
fn a_night_of_files_is_put_in_order_and_its_gaps_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let samples = quiet(16).render(30.0).samples;
    for name in ["b 2026-03-14 21-00-00.wav", "a 2026-03-14 21-00-30.wav", "c 2026-03-14 21-05-00.wav"] {
        write(dir.path(), name, &samples);
    }
    write(dir.path(), "d 2026-03-14 21-05-20.wav", &samples);
    std::fs::write(dir.path().join("e 2026-03-14 21-06-00.wav"), b"RIFF no sound").unwrap();
    write(dir.path(), "f 2026-03-14 21-07-00.wav", &[0.0; 60_000]);
    let night = of(&[dir.path().to_owned()]);
    let names: Vec<&str> = night.passages.iter().map(|p| &p.file[..1]).collect();
    assert_eq!(names, ["b", "a", "c", "d"]);
    assert_eq!(night.passages.iter().map(|p| p.start_s).collect::<Vec<_>>(), [0.0, 30.0, 300.0, 320.0]);
    assert_eq!(night.clock, Clock::Local);
    let joins: Vec<String> = night.joins.iter().map(Join::to_string).collect();
    assert_eq!(
        joins,
        [
            "nothing was recorded for 4 min before c 2026-03-14 21-05-00.wav",
            "the recording ahead of d 2026-03-14 21-05-20.wav ends 10 s after it begins"
        ]
    );
    let left_out: Vec<(&str, &str)> = night.left_out.iter().map(|o| (&o.file[..1], o.reason.as_str())).collect();
    assert_eq!(left_out.len(), 2, "{left_out:?}");
    assert_eq!(left_out[1], ("f", "there is nothing to hear in it, or it is too short to have a spectrum"));
    let minutes: Vec<f64> = night.minutes().iter().map(|minute| minute.at_s).collect();
    assert_eq!(minutes, [0.0, 300.0], "none in the gap");
}

#[test]
fn nothing_usable_is_an_error_that_says_why() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("a.wav"), b"").unwrap();
    let files = dated_files(&[dir.path().to_owned()]).unwrap();
    let error = read_timeline(&files, &NightSettings::default(), &()).unwrap_err();
    assert!(error.to_string().contains("a.wav: is empty"), "{error}");
}

#[test]
fn a_file_cut_short_says_so_and_gives_what_is_there() {
    let dir = tempfile::tempdir().unwrap();
    let path = write(dir.path(), "shed.wav", &quiet(17).render(100.0).samples);
    let bytes = std::fs::read(&path).unwrap();
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    let passage = &of(&[path]).passages[0];
    assert_abs_diff_eq!(passage.duration_s, 50.0, epsilon = 0.01);
    let words = passage.account.cut_short.as_deref().unwrap_or_default();
    assert!(words.contains("50.0 s of the 100.0 s"), "{words}");
}

#[test]
fn what_tells_the_start_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/dated-bext.wav");
    let dated =
        |file: &str, path| Dated { file: file.into(), path, start: None, channel: None, gain: None, station: None };
    let tagged = dated("x.wav", data);
    let (start, from) = clock::start(&tagged, Some("2026-03-14T19:02:00"), 1.0).unwrap();
    assert_eq!(
        (start.at.to_string().as_str(), start.zoned, from),
        ("2026-03-14T19:02:00Z", false, StartFrom::Container)
    );
    let path = write(dir.path(), "shed.wav", &[0.1; 1000]);
    let changed = std::time::SystemTime::UNIX_EPOCH + std::time::Duration::from_secs(1_773_500_000);
    std::fs::File::options().write(true).open(&path).unwrap().set_modified(changed).unwrap();
    let untold = dated("shed.wav", path);
    let (start, from) = clock::start(&untold, None, 3600.0).unwrap();
    assert_eq!((start.at.as_second(), from), (1_773_500_000 - 3600, StartFrom::FileTime));
}

/// Merging keeps means: the mean spectrum, the frames and the pulses of all rows are the same, in fewer rows.
#[test]
fn rows_are_merged_within_their_bound() {
    let dir = tempfile::tempdir().unwrap();
    let samples = quiet(18).device(Clicks::poisson(2.0), Db(6.0)).render(180.0).samples;
    let files = dated_files(&[write(dir.path(), "shed.wav", &samples)]).unwrap();
    let whole = super::timeline_within(&files, 18 << 20).unwrap();
    let merged = super::timeline_within(&files, 20_000).unwrap();
    let (whole, merged) = (&whole.passages[0], &merged.passages[0]);
    assert_eq!(whole.steps, merged.steps);
    assert_eq!(whole.rows.len(), 20);
    assert!((3..=7).contains(&merged.rows.len()), "{}", merged.rows.len());
    // One after another, none left out.
    let frames_per_row = merged.grid.frames_per_row() as u32;
    let ends = merged.rows.iter().scan(0, |frames, row| {
        *frames += row.frames;
        Some(*frames / frames_per_row)
    });
    let places: Vec<u32> = merged.rows.iter().skip(1).map(|row| row.first).collect();
    assert_eq!(places, ends.take(merged.rows.len() - 1).collect::<Vec<_>>());
    assert_eq!(frames_and_mean(&whole.rows).0, frames_and_mean(&merged.rows).0);
    for (x, y) in frames_and_mean(&whole.rows).1.iter().zip(frames_and_mean(&merged.rows).1) {
        assert!((x - y).abs() <= 1e-5 * x.abs(), "{x} {y}");
    }
}

/// The same of short recordings that follow each other; where one is missing, none is merged with the next.
#[test]
fn rows_are_merged_across_recordings_that_follow_each_other() {
    let dir = tempfile::tempdir().unwrap();
    let samples = quiet(19).render(20.0).samples;
    let starts = ["213000", "213020", "213040", "213140", "213200"];
    let paths = starts.map(|start| write(dir.path(), &format!("shed-20260314_{start}.wav"), &samples));
    let files = dated_files(&paths).unwrap();
    let whole = super::timeline_within(&files, 18 << 20).unwrap();
    let merged = super::timeline_within(&files, 3000).unwrap();
    let rows = |night: &Timeline| -> Vec<Row> { night.passages.iter().flat_map(|one| one.rows.clone()).collect() };
    let held: Vec<usize> = merged.passages.iter().map(|one| one.rows.len()).collect();
    // The last one keeps its own until another begins.
    assert_eq!(held, [1, 0, 0, 1, 1]);
    assert_eq!(frames_and_mean(&rows(&whole)).0, frames_and_mean(&rows(&merged)).0);
    for (x, y) in frames_and_mean(&rows(&whole)).1.iter().zip(frames_and_mean(&rows(&merged)).1) {
        assert!((x - y).abs() <= 1e-5 * x.abs(), "{x} {y}");
    }
}

/// All frames of some rows, and their mean density.
fn frames_and_mean(rows: &[Row]) -> (u32, Vec<f64>) {
    let frames = rows.iter().map(|row| row.sounding).sum();
    let mean = |bin: usize| {
        rows.iter().map(|row| f64::from(row.sounding) * f64::from(row.density[bin])).sum::<f64>()
            / f64::from(frames)
    };
    (frames, (0..rows[0].density.len()).map(mean).collect())
}

/// The defining sum: a row's mean square by its spectrum is that of its samples (Parseval), and a carrier stands in
/// its bin with its power. Tolerance: the window's weight over the row's ends.
#[test]
fn a_rows_spectrum_holds_its_power() {
    let night = of_scene(&quiet(19).carriers(Carriers::new([Carrier::at(1500.0)]), Dbfs(-20.0)), 60.0);
    let passage = &night.passages[0];
    for row in &passage.rows[..5] {
        let power = row.density.iter().map(|&d| f64::from(d)).sum::<f64>() * passage.bin_hz;
        let steps = &passage.steps[row.first as usize * 10..][..10];
        let by_samples = steps.iter().map(|s| f64::from(s.level)).sum::<f64>() / 10.0;
        assert_abs_diff_eq!(level_db(power), level_db(by_samples), epsilon = 0.02);
        let bin = (1500.0 / passage.bin_hz).round() as usize;
        let line: f64 = row.density[bin - 3..=bin + 3].iter().map(|&d| f64::from(d)).sum::<f64>() * passage.bin_hz;
        assert_abs_diff_eq!(level_db(line), -20.0, epsilon = 0.1);
    }
}

/// Whoever watches may end it: what was read by then is there without a hole, the rest is counted.
#[test]
fn stopped_it_keeps_what_was_read() {
    let dir = tempfile::tempdir().unwrap();
    let third = quiet(22).render(60.0).samples.repeat(20);
    let names = ["shed 2026-03-14 21-00-00Z.wav", "shed 2026-03-14 21-20-00Z.wav"];
    let files = dated_files(&names.map(|name| write(dir.path(), name, &third))).unwrap();
    let settings = NightSettings::default();
    assert_eq!(
        read_timeline(&files, &settings, &StopAfter(0.0, AtomicBool::new(true))).unwrap_err(),
        NightError::Stopped(Stopped)
    );
    for seconds in [1.0, 300.0] {
        let stopped = StopAfter(seconds, AtomicBool::new(false));
        let Ok(night) = read_timeline(&files, &settings, &stopped) else { continue };
        let read_s: f64 = night.passages.iter().map(|passage| passage.duration_s).sum();
        assert!(read_s > 0.0 && read_s < 2400.0, "{read_s}");
        assert_abs_diff_eq!(read_s + night.unread_s, 2400.0, epsilon = 0.01);
        for passage in &night.passages {
            assert!(passage.steps.iter().all(|step| step.level > 0.0));
            assert_eq!(passage.account.cut_short, None);
        }
    }
    let stopped = read_timeline(&files, &settings, &StopAfter(1300.0, AtomicBool::new(false))).unwrap();
    assert_eq!(stopped.passages.len(), 2);
}

/// Wants an end once so many seconds were gone through.
struct StopAfter(f64, AtomicBool);

impl Watch for StopAfter {
    fn begin(&self, _doing: &'static str, _count: usize) {}

    fn done(&self, _file: &str) {}

    fn heard(&self, done_s: f64, _all_s: f64, _file: &str) {
        if done_s >= self.0 {
            self.1.store(true, Ordering::SeqCst);
        }
    }

    fn is_stopped(&self) -> bool {
        self.1.load(Ordering::SeqCst)
    }
}
