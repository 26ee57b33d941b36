//! The recordings of the bench: a band, and devices that come and go in it, cut from a few minutes made before.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use noisetally::audio::write_wav;
use noisetally::demo::synth::{Buzz, Carrier, Carriers, Hash, Receiver, Scene, Station};
use noisetally::units::{Db, Dbfs};

use super::files::header;

/// Seconds made before they are repeated.
const MADE_S: f64 = 120.0;
/// Episodes of a night of eight hours begin so far apart and last so long, in pieces of what was made: 24 and 10
/// minutes.
const APART: usize = 12;
const LASTS: std::ops::Range<usize> = 4..9;
/// Takes are cut so far from each other that no two are alike.
const STEP_S: f64 = 0.37;

fn band(rate_hz: u32) -> Scene {
    Scene::new(Receiver::ssb(rate_hz))
        .band_noise(Dbfs(-30.0))
        .receiver_noise(Dbfs(-60.0))
        .carriers(Carriers::new([Carrier::at(1234.5)]), Dbfs(-45.0))
}

/// A 16-bit mono WAV of so many hours in which a buzz comes for ten minutes every 24, beside a voice.
pub fn night(dir: &Path, rate_hz: u32, hours: f64) -> PathBuf {
    let path = dir.join(format!("busy-{rate_hz}-{hours}.wav"));
    let scene = || band(rate_hz).station(Station::voice(140.0), Db(3.0));
    let quiet = bytes(&scene().seed(1).render(MADE_S).samples);
    let noisy = bytes(&scene().device(Buzz::gated(100.0, 0.3), Db(4.0)).seed(2).render(MADE_S).samples);
    let pieces = (hours * 3600.0 / MADE_S).round() as usize;
    let mut file = BufWriter::new(File::create(&path).expect("a file"));
    file.write_all(&header(rate_hz, (pieces * quiet.len()) as u64)).expect("space on the disk");
    for piece in 0..pieces {
        let sound = if LASTS.contains(&(piece % APART)) { &noisy } else { &quiet };
        file.write_all(sound).expect("space on the disk");
    }
    file.flush().expect("space on the disk");
    path
}

fn bytes(samples: &[f32]) -> Vec<u8> {
    let whole = |x: &f32| ((x * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16).to_le_bytes();
    samples.iter().flat_map(whole).collect()
}

/// A folder of an off and an on take of each of so many devices, with its manifest, and how many they are: a third
/// buzz, a third hiss, a third stand in carriers.
pub fn session(dir: &Path, devices: usize, seconds: f64, rate_hz: u32) -> (usize, PathBuf) {
    let folder = dir.join(format!("session-{devices}-{seconds}-{rate_hz}"));
    fs::create_dir_all(&folder).expect("a folder");
    let made_s = seconds + STEP_S * devices as f64;
    let made = [
        band(rate_hz).seed(1),
        band(rate_hz).device(Buzz::gated(100.0, 0.3), Db(5.0)).seed(2),
        band(rate_hz).device(Hash::flat(), Db(3.0)).seed(3),
        band(rate_hz).carriers(Carriers::new([Carrier::at(811.0), Carrier::at(1702.0)]), Dbfs(-40.0)).seed(4),
    ]
    .map(|scene| scene.render(made_s).samples);
    let cut = |sound: &[f32], device: usize| {
        let from = (STEP_S * device as f64 * f64::from(rate_hz)) as usize;
        sound[from..from + (seconds * f64::from(rate_hz)) as usize].to_vec()
    };
    let mut manifest = "title = 'Bench'\nmains_hz = 50\n".to_owned();
    for device in 0..devices {
        for (state, sound) in [("off", &made[0]), ("on", &made[1 + device % 3])] {
            let file = format!("{state}-{device:03}.wav");
            write_wav(&folder.join(&file), &cut(sound, device), rate_hz, 1).expect("space on the disk");
            manifest += &format!(
                "[[recording]]\nfile = '{file}'\nstate = '{state}'\ndevice = 'device {device:03}'\nmode = 'USB'\n\
                 band = '20m'\nantenna = 'wire'\ngain = 'AGC off'\n"
            );
        }
    }
    fs::write(folder.join("session.toml"), manifest).expect("space on the disk");
    (devices, folder)
}
