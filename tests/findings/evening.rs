//! A simulated session on disk: takes of known truth with labels, judged by the whole tool as a user's would be.

use std::fmt::Write as _;
use std::path::Path;

use noisetally::audio::write_wav;
use noisetally::demo::synth::{Receiver, Scene, Take};
use noisetally::labels::Session;
use noisetally::report::contract::Report;
use noisetally::run::{SessionRun, Wishes};
use noisetally::units::Dbfs;

/// Samples a second.
pub const RATE_HZ: u32 = 8000;
/// Length of every take.
pub const SECONDS: f64 = 10.0;
/// Noise of the band.
pub const BAND: Dbfs = Dbfs(-45.0);
/// Width of the passband.
pub const WIDTH_HZ: f64 = 2400.0;

/// The band with nothing on.
pub fn band() -> Scene {
    Scene::new(Receiver::ssb(RATE_HZ)).band_noise(BAND)
}

/// A folder of takes.
pub struct Evening {
    dir: tempfile::TempDir,
    manifest: String,
    takes: usize,
}

impl Evening {
    /// With `offs` off recordings.
    pub fn new(offs: usize, mut seed: impl FnMut() -> u64) -> Self {
        let dir = tempfile::tempdir().expect("a folder for the takes");
        let manifest = "title = \"Bench\"\nmains_hz = 50\n".to_owned();
        let mut evening = Self { dir, manifest, takes: 0 };
        for _ in 0..offs {
            evening.add(band().seed(seed()), "state = \"off\"");
        }
        evening
    }

    /// A take and its labels, as lines of the manifest.
    pub fn add(&mut self, scene: Scene, labels: &str) -> Take {
        let take = scene.render(SECONDS);
        self.takes += 1;
        let file = format!("{:02}.wav", self.takes);
        write_wav(&self.path().join(&file), &take.samples, RATE_HZ, 1).expect("a take can be written");
        writeln!(self.manifest, "\n[[recording]]\nfile = \"{file}\"\ngain = \"AGC off\"\n{labels}")
            .expect("a string takes what is written");
        take
    }

    fn path(&self) -> &Path {
        self.dir.path()
    }

    /// The tool's whole answer.
    pub fn report(&self) -> Report {
        std::fs::write(self.path().join("session.toml"), &self.manifest).expect("the manifest can be written");
        let session = Session::read(self.path()).expect("the manifest is sound");
        SessionRun::of(session, &Wishes::default(), &()).report
    }
}

/// Quantile of values, by order.
pub fn at(values: &mut [f64], q: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let last = values.len().saturating_sub(1);
    values.get((q * last as f64).round() as usize).copied().unwrap_or(f64::NAN)
}

/// Share in percent; NaN of nothing.
pub fn share(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of as f64
}
