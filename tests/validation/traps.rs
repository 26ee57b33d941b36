//! Traps: recordings spoilt in a known way. Each must be cried by its code, and where the trap spoils the excess the
//! trust must not stay sound.

use std::fmt::Write;

use noisetally::contrast::{ContrastSettings, contrast};
use noisetally::demo::synth::{Agc, Fading, Hash, Hum, Receiver, Scene, Station, Take, Trap};
use noisetally::health::{Code, Trust};
use noisetally::units::{Db, Dbfs};

use super::judge::{Judged, codes, measured};
use super::random::Dice;

/// Traps, the code that names each, and whether it spoils the excess.
const TRAPS: [(&str, &[Code], bool); 14] = [
    ("agc", &[Code::GainMoving, Code::GainChanged], true),
    ("agc, reference carrier", &[Code::GainMoving, Code::GainChanged], false),
    ("volume down", &[Code::GainChanged], true),
    ("volume, reference carrier", &[Code::GainChanged], false),
    ("clipping", &[Code::Clipped], true),
    ("dropouts", &[Code::Dropouts], true),
    ("silence", &[Code::Silent], true),
    ("dc offset", &[Code::DcOffset], false),
    ("hum in both", &[Code::MainsHum], false),
    ("hum in one", &[Code::MainsHum], false),
    ("swapped", &[Code::GainChanged], true),
    ("off differ", &[Code::OffNotRepeatable], true),
    ("fading", &[Code::GainMoving], true),
    ("too short", &[Code::TooShort], true),
];

/// What became of a trap.
pub struct Trapped {
    name: &'static str,
    cried: Vec<Code>,
    expected: &'static [Code],
    spoils: bool,
    trust: Trust,
    /// With a reference carrier: error of the excess, dB.
    error_db: Option<f64>,
}

impl Trapped {
    /// Whether the right code was cried and the trust is not left sound where the excess is spoilt.
    pub fn is_caught(&self) -> bool {
        self.cried.iter().any(|code| self.expected.contains(code)) && (!self.spoils || self.trust != Trust::Sound)
    }

    /// Whether nothing in the sound tells of it: an AGC over steady noise keeps its gain as steady as the noise is.
    pub fn is_beyond_physics(&self) -> bool {
        self.name == "agc"
    }

    /// One line for the list of failures.
    pub fn told(&self) -> String {
        format!("trap {:28} cried {:?}, trust {:?}, error {:?}", self.name, self.cried, self.trust, self.error_db)
    }
}

/// Trap `index` of a run.
pub fn trapped(seed: u64, index: u64) -> Trapped {
    let mut dice = Dice::new(seed, index, "trap");
    let (name, expected, spoils) = TRAPS[(index % TRAPS.len() as u64) as usize];
    let excess = dice.pick(&[3.0, 6.0, 12.0]);
    let scene = Scene::new(Receiver::ssb(dice.pick(&[8000, 12_000, 48_000]))).band_noise(Dbfs(-40.0));
    let reference =
        scene.clone().station(Station::carrier(dice.between(500.0, 2500.0)), Db(dice.between(-6.0, 6.0)));
    let noisy = |scene: &Scene| scene.clone().device(Hash::flat(), Db(excess));
    let agc = |scene: Scene, dice: &mut Dice| {
        let agc = if dice.chance(0.5) { Agc::fast(0.05) } else { Agc::slow(0.05) };
        scene.trap(Trap::Agc(agc))
    };
    let seconds = 10.0;
    let volume = dice.pick(&[-10.0, -6.0, -3.0, 3.0, 6.0]);
    let mut offs: Vec<(Scene, f64)> = vec![(scene.clone(), seconds)];
    let mut on = (noisy(&scene), seconds);
    match name {
        "agc" => {
            let fast = dice.chance(0.5);
            let gain = |s: Scene| s.trap(Trap::Agc(if fast { Agc::fast(0.05) } else { Agc::slow(0.05) }));
            offs = vec![(gain(scene.clone()), seconds)];
            on.0 = gain(on.0);
        }
        "agc, reference carrier" => {
            offs = vec![(agc(reference.clone(), &mut dice), seconds)];
            on.0 = agc(noisy(&reference), &mut dice);
        }
        "volume down" => on.0 = on.0.trap(Trap::Volume { at_s: 0.0, db: -excess - dice.between(2.0, 6.0) }),
        "volume, reference carrier" => {
            offs = vec![(reference.clone(), seconds)];
            on.0 = noisy(&reference).trap(Trap::Volume { at_s: 0.0, db: volume });
        }
        "clipping" => {
            on.0 = on.0.trap(Trap::Clip { limit: 0.01 * 10f64.powf(excess / 20.0) * dice.between(1.0, 2.0) })
        }
        "dropouts" => on.0 = on.0.trap(Trap::Dropouts { rate_hz: 1.0, hole_s: dice.between(0.01, 0.1) }),
        "silence" => on = (Scene::new(Receiver::ssb(8000)), seconds),
        "dc offset" => on.0 = on.0.trap(Trap::DcOffset(dice.between(0.01, 0.1))),
        "hum in both" => {
            let hum = || Trap::Hum(Hum::new(50.0, &[Dbfs(-45.0), Dbfs(-50.0), Dbfs(-55.0)]));
            offs = vec![(scene.clone().trap(hum()), seconds)];
            on.0 = on.0.trap(hum());
        }
        "hum in one" => on.0 = on.0.trap(Trap::Hum(Hum::new(50.0, &[Dbfs(-45.0), Dbfs(-50.0)]))),
        "swapped" => {
            offs = vec![(noisy(&scene), seconds)];
            on.0 = scene.clone();
        }
        "off differ" => {
            let other = scene.clone().trap(Trap::Volume { at_s: 0.0, db: dice.pick(&[-4.0, -3.0, 3.0, 4.0]) });
            offs.push((other, seconds));
        }
        "fading" => {
            let fading = Fading::new(3.0, dice.between(6.0, 15.0));
            offs = vec![(scene.clone().band_fading(fading), seconds)];
            on.0 = scene.clone().band_fading(fading).device(Hash::flat(), Db(1.0));
        }
        _ => on.1 = dice.between(0.8, 2.8),
    }
    let render =
        |(scene, seconds): &(Scene, f64), dice: &mut Dice| scene.clone().seed(dice.seed()).render(*seconds);
    let offs: Vec<Take> = offs.iter().map(|off| render(off, &mut dice)).collect();
    let on = render(&on, &mut dice);
    let off_sound: Vec<_> = offs.iter().map(|take| measured(&quantised(take), 50.0)).collect();
    let on_sound = measured(&quantised(&on), 50.0);
    let result = contrast(&off_sound.iter().collect::<Vec<_>>(), &[&on_sound], &ContrastSettings::default());
    let mut cried = codes(&result, &off_sound[0], &on_sound);
    cried.extend(off_sound[1..].iter().flat_map(|m| m.warnings.iter().map(|w| w.code)));
    let error_db =
        name.contains("reference").then(|| result.figures.as_ref().map(|f| f.excess_db().value - excess)).flatten();
    Trapped { name, cried, expected, spoils, trust: result.trust, error_db }
}

/// As a 16-bit recorder would have it.
fn quantised(take: &Take) -> Take {
    let mut take = take.clone();
    take.samples.iter_mut().for_each(|x| *x = (*x * 32768.0).round().clamp(-32768.0, 32767.0) / 32768.0);
    take
}

/// Traps caught, and codes cried without reason on clean pairs.
pub fn table(trapped: &[Trapped], judged: &[Judged]) -> String {
    let mut text = String::from("\ntraps                         caught        right code    trust not sound\n");
    for (name, _, spoils) in TRAPS {
        let of: Vec<&Trapped> = trapped.iter().filter(|t| t.name == name).collect();
        let caught = of.iter().filter(|t| t.is_caught()).count();
        let coded = of.iter().filter(|t| t.cried.iter().any(|code| t.expected.contains(code))).count();
        let unsound = of.iter().filter(|t| t.trust != Trust::Sound).count();
        let _ = write!(
            text,
            "{name:28} {caught:>4} of {:<4} {coded:>11} {:>15}",
            of.len(),
            if spoils { unsound.to_string() } else { "-".to_owned() }
        );
        let mut errors: Vec<f64> = of.iter().filter_map(|t| t.error_db).map(f64::abs).collect();
        errors.sort_by(f64::total_cmp);
        if let Some(worst) = errors.last() {
            let within = errors.iter().filter(|e| **e <= 1.0).count();
            let _ = write!(text, "   excess within 1 dB: {within} of {}, worst {worst:.2} dB", errors.len());
        }
        text.push('\n');
    }
    let caught = trapped.iter().filter(|t| t.is_caught()).count();
    let _ = writeln!(
        text,
        "all traps (95 %): {:.1} % of {}",
        100.0 * caught as f64 / trapped.len().max(1) as f64,
        trapped.len()
    );
    let within_physics: Vec<&Trapped> = trapped.iter().filter(|t| !t.is_beyond_physics()).collect();
    let caught = within_physics.iter().filter(|t| t.is_caught()).count();
    let _ = writeln!(
        text,
        "  but for an AGC over steady noise without a carrier: {:.1} % of {}",
        100.0 * caught as f64 / within_physics.len().max(1) as f64,
        within_physics.len()
    );
    let clean: Vec<&Judged> = judged.iter().filter(|j| j.background == "plain").collect();
    let crying = clean.iter().filter(|j| !j.codes.is_empty()).count();
    let _ = writeln!(
        text,
        "false cries on clean pairs (under 2 %): {:.1} % of {}",
        100.0 * crying as f64 / clean.len().max(1) as f64,
        clean.len()
    );
    let mut by_code: Vec<(Code, usize)> = Vec::new();
    for code in clean.iter().flat_map(|j| &j.codes) {
        match by_code.iter_mut().find(|(known, _)| known == code) {
            Some((_, count)) => *count += 1,
            None => by_code.push((*code, 1)),
        }
    }
    let _ = writeln!(text, "  {by_code:?}");
    text
}
