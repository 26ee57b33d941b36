use std::io::Read;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use super::*;
use crate::capture::{DeviceWords, Facts, Ledger, Origin, Plan, PlanWords, RawFormat, SET_ASIDE, open};
use crate::labels::Session;

/// Whole numbers that look like noise, and can be told apart.
fn noise(n: usize, size: i32) -> Vec<i16> {
    let mut state = 7u32;
    let next = |state: &mut u32| {
        *state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        ((*state >> 16) as i32 % size) as i16
    };
    (0..n).map(|_| next(&mut state)).collect()
}

fn bytes(samples: &[i16]) -> Vec<u8> {
    samples.iter().flat_map(|x| x.to_le_bytes()).collect()
}

fn pump(stream: impl Read + Send + 'static, channels: u16, at_speed: bool) -> Pump {
    pump_of(stream, "s16", channels, at_speed)
}

fn pump_of(stream: impl Read + Send + 'static, coding: &str, channels: u16, at_speed: bool) -> Pump {
    let raw = RawFormat { rate_hz: Some(8000), coding: coding.into(), channels };
    let mut stream = stream;
    let (format, first) = open(&mut stream, &raw).unwrap();
    Pump::start(stream, format, first, at_speed, Origin::standard_input())
}

fn plan() -> Plan {
    let lamp = DeviceWords { name: "lamp".into(), remedies: vec!["ferrite".into()] };
    Plan::of(PlanWords { devices: vec![lamp], seconds: Some(3.0), ..PlanWords::default() }).unwrap()
}

fn take(pump: &mut Pump, dir: &Path, seconds: f64) -> Recorded {
    record(pump, dir, "01-off.wav", seconds, None, || false, |_| {}).unwrap()
}

/// Takes read one after the other from a file hold its samples, every one of them, in their order.
#[test]
fn no_sample_is_lost_or_changed_at_speed() {
    let dir = tempfile::tempdir().unwrap();
    let samples = noise(2 * 8000 * 3, 9000);
    let mut pump = pump(std::io::Cursor::new(bytes(&samples)), 2, true);
    let mut read = Vec::new();
    for seconds in [1.0, 0.5, 1.25, 0.25] {
        let recorded = take(&mut pump, dir.path(), seconds);
        assert_eq!((recorded.ended, recorded.seconds, recorded.started), (Ended::Whole, seconds, None));
        let mut wav = hound::WavReader::open(&recorded.path).unwrap();
        assert_eq!(wav.spec().channels, 2);
        read.extend(wav.samples::<i16>().map(Result::unwrap));
    }
    assert_eq!(read, samples);
    let ended = take(&mut pump, dir.path(), 1.0);
    assert!(matches!(ended.ended, Ended::NoMore(_)) && ended.live.is_none(), "{ended:?}");
}

/// A stream that gives as much as it is asked for, for ever, as fast as a receiver does or `faster`. The value of
/// each sample is its place in the stream.
struct Receiver {
    faster: f64,
    begun: Instant,
    given: Arc<AtomicU64>,
}

/// Places in the stream for each unit of amplitude: exact in f32, and no place of a test comes near full scale.
const PLACES: f32 = 16_777_216.0;

impl Read for Receiver {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let given = self.given.load(Ordering::SeqCst);
        let due = given as f64 / (8000.0 * self.faster);
        std::thread::sleep(Duration::from_secs_f64((due - self.begun.elapsed().as_secs_f64()).max(0.0)));
        let frames = buffer.len().div_euclid(4).min(400);
        for (bytes, place) in buffer.chunks_exact_mut(4).take(frames).zip(given..) {
            bytes.copy_from_slice(&(place as f32 / PLACES).to_le_bytes());
        }
        self.given.fetch_add(frames as u64, Ordering::SeqCst);
        Ok(4 * frames)
    }
}

fn receiver(faster: f64) -> Receiver {
    Receiver { faster, begun: Instant::now(), given: Arc::default() }
}

/// What came between takes is not in the next one: it begins with the sound of now.
#[test]
fn a_running_receiver_is_kept_flowing_between_takes() {
    let dir = tempfile::tempdir().unwrap();
    let receiver = receiver(1.0);
    let given = Arc::clone(&receiver.given);
    let mut pump = pump_of(receiver, "f32", 1, false);
    let first = take(&mut pump, dir.path(), 0.5);
    std::thread::sleep(Duration::from_millis(600));
    // What is read just now may still be on its way to the take.
    let now = given.load(Ordering::SeqCst) - 400;
    let second = take(&mut pump, dir.path(), 0.5);
    let place = hound::WavReader::open(&second.path).unwrap().samples::<f32>().next().unwrap().unwrap() * PLACES;
    assert!(now > 4000 && place >= now as f32, "{place} of {now}");
    let between = second.started.unwrap().duration_since(first.started.unwrap()).as_secs_f64();
    assert!(between >= 0.6, "{between}");
}

#[test]
fn sound_at_another_rate_than_said_is_noticed() {
    let told = |came_hz: f64| {
        ArrivalClock { first: None, frames: (came_hz * 12.0) as usize, seconds: 12.0 }.remark(48_000)
    };
    assert_eq!(told(48_000.0), None);
    assert_eq!(told(47_000.0), None);
    assert!(told(44_100.0).unwrap().contains("44.1 thousand"));
    assert!(told(96_000.0).unwrap().contains("--channels"));
}

#[test]
fn silence_ends_a_take_and_a_stop_keeps_the_part() {
    let dir = tempfile::tempdir().unwrap();
    let mut silent = pump(std::io::repeat(0), 1, true);
    let recorded = take(&mut silent, dir.path(), 60.0);
    assert_eq!(recorded.ended, Ended::Silent);
    assert!(recorded.seconds < 4.0);
    let mut pump = pump_of(receiver(4.0), "f32", 1, false);
    let shown = std::cell::Cell::new(0.0);
    let (stop, show) = (|| shown.get() >= 0.5, |_: &Live| shown.set(shown.get() + SLICE_S));
    let part = record(&mut pump, dir.path(), "01-off.wav", 60.0, None, stop, show).unwrap();
    assert_eq!(part.ended, Ended::Stopped);
    assert!((0.5..0.6).contains(&part.seconds), "{}", part.seconds);
    assert_eq!(hound::WavReader::open(&part.path).unwrap().duration(), (part.seconds * 8000.0) as u32);
}

/// Gives sound for half a second, then nothing, without an end.
struct Stalled(Receiver);

impl Read for Stalled {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        if self.0.given.load(Ordering::SeqCst) >= 4000 {
            loop {
                std::thread::park();
            }
        }
        self.0.read(buffer)
    }
}

#[test]
fn a_source_that_stops_sending_ends_the_take_with_what_came() {
    let dir = tempfile::tempdir().unwrap();
    let mut pump = pump_of(Stalled(receiver(1.0)), "f32", 1, false);
    let part = take(&mut pump, dir.path(), 60.0);
    assert!(matches!(&part.ended, Ended::NoMore(why) if why.contains("no sound has come for 5 s")), "{part:?}");
    // 4000 samples, and the two that were looked at for a header; the last block may wait in the pump.
    assert!((0.25..=4002.0 / 8000.0).contains(&part.seconds), "{part:?}");
    assert_eq!(hound::WavReader::open(&part.path).unwrap().duration(), (part.seconds * 8000.0) as u32);
}

/// Noise without end as fast as it is taken, and the bytes it gave.
#[derive(Default)]
struct Flood {
    state: u32,
    given: Arc<AtomicU64>,
}

impl Read for Flood {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        for byte in buffer.iter_mut() {
            self.state = self.state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *byte = (self.state >> 24) as u8;
        }
        self.given.fetch_add(buffer.len() as u64, Ordering::SeqCst);
        Ok(buffer.len())
    }
}

/// A disk that can't follow: whoever shows the figures waits in its place, until more came than can wait.
#[test]
fn an_overrun_is_said_and_the_take_stays_whole() {
    let dir = tempfile::tempdir().unwrap();
    let flood = Flood::default();
    let given = Arc::clone(&flood.given);
    let mut pump = pump(flood, 1, false);
    let slow = |_: &Live| {
        while given.load(Ordering::SeqCst) < 16 << 20 {
            std::thread::sleep(Duration::from_millis(5));
        }
    };
    let taken = record(&mut pump, dir.path(), "01-off.wav", 3.0, None, || false, slow).unwrap();
    assert_eq!((&taken.ended, taken.seconds), (&Ended::Whole, 3.0));
    assert!(taken.remarks.iter().any(|remark| remark.starts_with("overrun: ")), "{taken:?}");
}

/// A card that stumbles says so itself; only what it lost within the take counts.
#[test]
fn losses_the_source_tells_of_are_said() {
    let dir = tempfile::tempdir().unwrap();
    let mut source = Flood::default();
    let raw = RawFormat { rate_hz: Some(8000), coding: "s16".into(), channels: 1 };
    let (format, first) = open(&mut source, &raw).unwrap();
    let origin = Origin { name: "the sound card", losses: Arc::default() };
    let losses = Arc::clone(&origin.losses);
    let lose = |times| losses.fetch_add(times, Ordering::SeqCst);
    lose(3);
    let mut pump = Pump::start(source, format, first, true, origin);
    let mut remarks = |times| {
        let show = |_: &Live| {
            lose(times);
        };
        record(&mut pump, dir.path(), "01-off.wav", 0.25, None, || false, show).unwrap().remarks
    };
    assert_eq!(remarks(0), Vec::<String>::new());
    assert!(remarks(1)[0].starts_with("overrun: the sound card lost samples, once."));
}

/// Source: AES17-2015, 3.12: a full-scale sine is 0 dBFS; one of half the amplitude lies 6.02 dB below, its
/// head-room is as much. Tolerance: a tenth of the last digit printed.
#[test]
fn live_figures_follow_aes17() {
    let sine = |k: usize| (0.5 * (k as f64 * std::f64::consts::TAU * 1000.0 / 8000.0 + 0.4).sin()) as f32;
    let mut meter = Meter::new(8000, 2, Some(Dbfs(-20.0)));
    // The louder of two channels counts.
    let samples: Vec<f32> = (0..16_000).flat_map(|k| [0.01 * sine(k), sine(k)]).collect();
    assert!(meter.push(&samples));
    let live = meter.live(10.0).unwrap();
    assert!((live.level.0 + 6.021).abs() < 0.01 && (live.noise.0 + 6.021).abs() < 0.01, "{live:?}");
    assert!((live.over_off.unwrap().0 - 13.979).abs() < 0.01, "{live:?}");
    // The highest sample of a sine taken at eight points a period lies up to 0.69 dB below its top.
    assert!((6.02..6.72).contains(&live.head_room.0), "{live:?}");
    assert_eq!((live.left_s, live.is_clipped), (8.0, false));
    meter.push(&[1.0; 8]);
    assert!(meter.live(10.0).unwrap().is_clipped);
}

fn wav(path: &Path) {
    let samples: Vec<f32> = noise(8000, 3000).iter().map(|&x| f32::from(x) / 32_768.0).collect();
    crate::audio::write_wav(path, &samples, 8000, 1).unwrap();
}

/// The manifest has every take, in the user's words, and is read back as planned; replaced takes leave it, not the
/// disk.
#[test]
fn the_ledger_loses_nothing_and_is_read_back() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let plan = plan();
    let (ledger, found) = Ledger::open(dir, &plan).unwrap();
    assert!(found.is_empty());
    let put = |number: usize, facts: &Facts| {
        let take = &plan.takes[number];
        let hidden = dir.join(hidden_name(&take.file));
        wav(&hidden);
        ledger.keep(take, &hidden, facts).unwrap()
    };
    let meter = Facts { meter: Some("S5".into()), note: Some("a \"dog\" barked".into()), ..Facts::default() };
    put(0, &meter);
    let part = put(1, &Facts { part: Some("part of a take: 1.0 s of 3 s".into()), ..Facts::default() });
    assert_eq!(part, "02-lamp-on-part-1.wav");
    assert!(!ledger.is_done(&plan.takes[1]).unwrap());
    // The user's own words in the manifest stay.
    let manifest = dir.join(crate::labels::MANIFEST);
    let text = std::fs::read_to_string(&manifest).unwrap();
    std::fs::write(&manifest, text.replace("title = \"lamp\"", "title = \"Kitchen\" # mine")).unwrap();
    for number in [1, 2, 5, 2] {
        put(number, &Facts::default());
        assert!(ledger.is_done(&plan.takes[number]).unwrap());
    }
    let text = std::fs::read_to_string(&manifest).unwrap();
    assert!(text.starts_with("title = \"Kitchen\" # mine\n"), "{text}");
    let session = Session::read(dir).unwrap();
    let labels: Vec<_> = session
        .recordings
        .iter()
        .map(|l| (l.file.as_str(), l.state, l.remedy.as_deref(), l.meter.as_deref()))
        .collect();
    assert_eq!(
        labels,
        [
            ("01-off.wav", crate::labels::State::Off, None, Some("S5")),
            ("02-lamp-on.wav", crate::labels::State::On, None, None),
            ("06-lamp-on-ferrite.wav", crate::labels::State::On, Some("ferrite"), None),
            ("03-off.wav", crate::labels::State::Off, None, None),
        ]
    );
    let mut aside: Vec<String> = std::fs::read_dir(dir.join(SET_ASIDE))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    aside.sort();
    assert_eq!(aside, ["02-lamp-on-part-1-take-1.wav", "03-off-take-1.wav"]);
}

/// Killed between two steps: a take that has its name but no labels yet gets them; one that has no name yet is kept
/// aside.
#[test]
fn what_a_kill_left_is_taken_in() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let plan = plan();
    Ledger::open(dir, &plan).unwrap();
    wav(&dir.join("01-off.wav"));
    wav(&dir.join(".02-lamp-on.wav.part"));
    let (ledger, found) = Ledger::open(dir, &plan).unwrap();
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(ledger.is_done(&plan.takes[0]).unwrap() && !ledger.is_done(&plan.takes[1]).unwrap());
    assert!(dir.join(SET_ASIDE).join("02-lamp-on-take-1.wav").is_file());
    assert_eq!(Session::read(dir).unwrap().recordings.len(), 1);
    assert!(Ledger::open(dir, &plan).unwrap().1.is_empty());
}

/// Each call that changes the disk fails once, and is once the last: both takes are still there under some name, and
/// the manifest is whole with the user's words.
#[test]
fn neither_take_nor_manifest_is_lost_whatever_breaks() {
    use crate::disk::fault::{Fault, with};
    let plan = plan();
    let count = |dir: &Path| {
        let wavs = |dir: &Path| {
            let names = std::fs::read_dir(dir).into_iter().flatten().flatten().map(|entry| entry.file_name());
            names.filter(|name| name.to_string_lossy().contains(".wav")).count()
        };
        wavs(dir) + wavs(&dir.join(SET_ASIDE))
    };
    for fault in [Fault::Fail, Fault::Dead] {
        for at in 1.. {
            let dir = tempfile::tempdir().unwrap();
            let dir = dir.path();
            let (ledger, _) = Ledger::open(dir, &plan).unwrap();
            let take = &plan.takes[0];
            let hidden = dir.join(hidden_name(&take.file));
            wav(&hidden);
            ledger.keep(take, &hidden, &Facts::default()).unwrap();
            let manifest = dir.join(crate::labels::MANIFEST);
            let text = std::fs::read_to_string(&manifest).unwrap();
            std::fs::write(&manifest, text.replace("title = \"lamp\"", "title = \"Kitchen\" # mine")).unwrap();
            wav(&hidden);
            let (kept, made) = with(fault, at, false, || ledger.keep(take, &hidden, &Facts::default()));
            assert_eq!(count(dir), 2, "{fault:?} at {at}");
            let text = std::fs::read_to_string(&manifest).unwrap();
            assert!(text.starts_with("title = \"Kitchen\" # mine\n"), "{fault:?} at {at}: {text}");
            let (again, _) = Ledger::open(dir, &plan).unwrap();
            again.label(take, &take.file, &Facts::default()).unwrap();
            assert_eq!(count(dir), 2, "{fault:?} at {at}");
            let left = std::fs::read_dir(dir).unwrap().flatten();
            let left: Vec<_> =
                left.filter(|entry| entry.file_name().to_string_lossy().starts_with(".noi")).collect();
            assert!(left.is_empty(), "{fault:?} at {at}: {left:?}");
            if made < at {
                assert!(kept.is_ok());
                break;
            }
        }
    }
}
