//! What is done with an input, and what must hold: it ends, within bounds of time and memory, with samples that are
//! numbers or with an error that names the file. Panics are counted by their place, also those that are caught.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, OnceLock};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use noisetally::audio::{ChannelChoice, Mono};
use noisetally::findings::known_noise::folder::KnownNoises;
use noisetally::labels::Session;
use noisetally::night::recurrence::switch_log;

use crate::mutator::{Chance, Seed, mutated, recordings};

/// An input that takes longer is a fault. Chosen: the longest seed takes milliseconds; machines are busy at times.
const LONGEST: Duration = Duration::from_secs(20);
/// More seconds of sound than this are not read from one input: a lying header may promise hours of silence (chosen).
const MOST_SAMPLES: usize = 1 << 24;
/// Peak memory of the whole process. Chosen: the most one recording may ask for, and room for the tests' own.
const MOST_MIB: u64 = 512;

/// What came of many inputs.
#[derive(Debug, Default)]
pub struct Outcome {
    pub inputs: usize,
    /// Recordings that gave samples, of all by the ending of their names.
    pub decoded: BTreeMap<String, (usize, usize)>,
    /// Panics that were caught, by place.
    pub caught: BTreeMap<String, usize>,
    /// What must not be: the input's number, and what came.
    pub faults: Vec<String>,
}

static PANICS: OnceLock<Mutex<BTreeMap<String, usize>>> = OnceLock::new();

fn panics() -> &'static Mutex<BTreeMap<String, usize>> {
    PANICS.get_or_init(Mutex::default)
}

/// Counts panics by place from now on. The door of the decoders sets its own hook once, at the first file: so after
/// one.
fn count_panics(seed: &Seed, folder: &Path) {
    let path = folder.join(&seed.name);
    fs::write(&path, &seed.bytes).unwrap();
    let _ = Mono::open(&path, ChannelChoice::Auto);
    std::panic::set_hook(Box::new(|panic| {
        let place = panic.location().map_or_else(String::new, |at| format!("{}:{}", at.file(), at.line()));
        *panics().lock().unwrap().entry(place).or_default() += 1;
    }));
}

/// Goes on until `enough` says so of the number of inputs. `seed` makes the same inputs again.
pub fn run(seed: u64, enough: impl Fn(usize) -> bool) -> Outcome {
    let folder = tempfile::tempdir().unwrap();
    let seeds = recordings();
    count_panics(&seeds[0], folder.path());
    let texts = texts();
    let mut outcome = Outcome::default();
    let doing = Arc::new(AtomicU64::new(0));
    watch(seed, Arc::clone(&doing));
    let mut chance = Chance::new(seed);
    while !enough(outcome.inputs) {
        outcome.inputs += 1;
        doing.store(outcome.inputs as u64, Ordering::SeqCst);
        let before: usize = panics().lock().unwrap().values().sum();
        let (what, result) = if outcome.inputs % 5 == 0 {
            let text = &texts[chance.below(texts.len())];
            let bytes = mutated(text, &texts, &mut chance);
            (text.name.clone(), std::panic::catch_unwind(|| read_text(&text.name, &bytes, folder.path())))
        } else {
            let recording = &seeds[chance.below(seeds.len())];
            let bytes = mutated(recording, &seeds, &mut chance);
            let path = folder.path().join(&recording.name);
            fs::write(&path, bytes).unwrap();
            let read = std::panic::catch_unwind(|| read_recording(&path));
            let ending = recording.name.rsplit('.').next().unwrap_or_default().to_owned();
            let share = outcome.decoded.entry(ending).or_default();
            share.1 += 1;
            share.0 += usize::from(matches!(read, Ok(Ok(true))));
            (recording.name.clone(), read.map(|read| read.map(drop)))
        };
        let said = match result {
            Ok(Ok(())) => None,
            Ok(Err(why)) => Some(why),
            Err(_) => Some("a panic that nothing caught".to_owned()),
        };
        let after: usize = panics().lock().unwrap().values().sum();
        if let Some(said) = said {
            let places = if after > before { format!(" {:?}", panics().lock().unwrap()) } else { String::new() };
            outcome.faults.push(format!("seed {seed}, input {}, {what}: {said}{places}", outcome.inputs));
        }
    }
    doing.store(u64::MAX, Ordering::SeqCst);
    if let Some(peak) = peak_mib().filter(|&peak| peak > MOST_MIB) {
        outcome.faults.push(format!("seed {seed}: {peak} MiB at the peak"));
    }
    outcome.caught = panics().lock().unwrap().clone();
    outcome
}

/// Ends the process where one input goes on for ever: nothing else could.
fn watch(seed: u64, doing: Arc<AtomicU64>) {
    std::thread::spawn(move || {
        let (mut last, mut since) = (0, Instant::now());
        loop {
            std::thread::sleep(Duration::from_millis(200));
            let now = doing.load(Ordering::SeqCst);
            if now == u64::MAX {
                return;
            }
            if now != last {
                (last, since) = (now, Instant::now());
            } else if since.elapsed() > LONGEST {
                eprintln!("seed {seed}, input {now}: still at work after {LONGEST:?}");
                std::process::exit(1);
            }
        }
    });
}

/// Peak memory, where the system tells it (Linux, proc(5): VmHWM).
fn peak_mib() -> Option<u64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.trim().strip_suffix(" kB")?.trim().parse::<u64>().ok()? / 1024)
}

/// Whether it gave samples.
fn read_recording(path: &Path) -> Result<bool, String> {
    let named = |error: noisetally::audio::AudioError| {
        let is_named = error.to_string().starts_with(&error.file);
        if is_named { Ok(false) } else { Err(format!("an error without its file: {error}")) }
    };
    let mut mono = match Mono::open(path, ChannelChoice::Auto) {
        Ok(mono) => mono,
        Err(error) => return named(error),
    };
    let mut samples = Vec::new();
    let mut count = 0;
    loop {
        samples.clear();
        match mono.read_block(&mut samples) {
            Ok(true) if count > MOST_SAMPLES => return Ok(true),
            Ok(true) => count += samples.len(),
            Ok(false) => return Ok(count > 0),
            Err(error) => return named(error),
        }
        if samples.iter().any(|x| !x.is_finite()) {
            return Err("a sample that is no number".to_owned());
        }
    }
}

/// The texts that are read: the manifest of an evening, a log, a known noise, the name of a file.
fn texts() -> Vec<Seed> {
    let manifest =
        fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/pond-evening/session.toml")).unwrap();
    let log = "time, device, state\n# the shed\n2026-03-14 21:40, pump, on\n14.03.2026 22:10:00, lamp, off\n01:30, \
               \"fridge, old\", on\n2026-03-14T20:40:00Z, z, 1\n";
    let known = "format = 1\nname = \"pump\"\n[[heard]]\nkind = \"buzz\"\ntotal_excess_db = 12.0\nnoise_share = 0.9\n\
                 clicks_share = 0.1\ncarriers_share = 0.0\nshape = [{ hz = 300.0, relative = 1.0, sd = 0.1 }]\npulsing \
                 = [{ hz = 100.0, depth = 0.8, sd = 0.05 }]\ncarriers = []\n";
    let seed = |name: &str, bytes: Vec<u8>| Seed { name: name.to_owned(), bytes };
    vec![
        seed("session.toml", manifest),
        seed("log.csv", log.as_bytes().to_vec()),
        seed("known.toml", known.as_bytes().to_vec()),
        seed(NAME, b"2026-03-14_213000Z pump on + 2 ferrites, 14100 kHz USB - 3rd take".to_vec()),
    ]
}

/// Not a text in a file but the name of one.
const NAME: &str = "name";

/// A recording of this name alone in a folder; what the system has no such name for is passed over.
fn read_name(name: &[u8], folder: &Path) -> Result<Option<String>, String> {
    let folder = folder.join(NAME);
    fs::create_dir_all(&folder).map_err(|error| error.to_string())?;
    let name: Vec<u8> =
        name.iter().copied().filter(|&byte| byte != b'/' && byte != 0).take(200).chain(*b".wav").collect();
    #[cfg(unix)]
    let name: std::ffi::OsString = std::os::unix::ffi::OsStringExt::from_vec(name);
    #[cfg(not(unix))]
    let name = String::from_utf8_lossy(&name).into_owned();
    let path = folder.join(name);
    if fs::write(&path, b"").is_err() {
        return Ok(None);
    }
    let said = [Session::read(&folder).err(), noisetally::labels::dated_files(std::slice::from_ref(&folder)).err()];
    fs::remove_file(path).map_err(|error| error.to_string())?;
    Ok(said.into_iter().flatten().next().map(|error| error.to_string()))
}

fn read_text(name: &str, bytes: &[u8], folder: &Path) -> Result<(), String> {
    let steers = |said: &str| said.chars().any(|c| c.is_control() && c != '\n' && c != '\t');
    let said = match name {
        "log.csv" => {
            let text = String::from_utf8_lossy(bytes);
            switch_log::read(&text, Timestamp::UNIX_EPOCH, 0.0).err().map(|error| error.to_string())
        }
        NAME => read_name(bytes, folder)?,
        _ => {
            let folder = folder.join(name.trim_end_matches(".toml"));
            fs::create_dir_all(&folder).map_err(|error| error.to_string())?;
            fs::write(folder.join(name), bytes).map_err(|error| error.to_string())?;
            if name == "known.toml" {
                KnownNoises::read(&folder).err().map(|error| error.to_string())
            } else {
                fs::write(folder.join("01-off.wav"), b"").map_err(|error| error.to_string())?;
                Session::read(&folder).err().map(|error| error.to_string())
            }
        }
    };
    match said.filter(|said| steers(said)) {
        Some(said) => Err(format!("a message that steers a terminal: {said:?}")),
        None => Ok(()),
    }
}
