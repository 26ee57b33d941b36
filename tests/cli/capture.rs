//! `sheet` and `capture` as users run them: sound on standard input, keys on a terminal or a command that switches;
//! stopped, killed, out of disk, unplugged. None of it may lose more than the take in progress.

use std::io::Write;
use std::process::{Child, Stdio};
use std::thread;
use std::time::Duration;

use crate::bench::{Bench, RATE_HZ, off, on};

/// Four seconds of each state as raw samples.
fn sound(states: &[bool]) -> Vec<u8> {
    let scene = |(k, &is_on): (usize, &bool)| if is_on { on(k as u64) } else { off(k as u64) };
    let samples = states.iter().enumerate().flat_map(|one| scene(one).render(4.0).samples);
    samples.flat_map(|x| ((x * 32_768.0) as i16).to_le_bytes()).collect()
}

const PLAN: [&str; 6] = ["--device", "aquarium lamp", "--no-dummy-load", "--seconds", "4", "--rounds"];

/// `capture shed` with this plan of one or two rounds, and more arguments.
fn capture(bench: &Bench, rounds: &str, more: &[&str]) -> std::process::Command {
    let mut command = bench.command();
    command.args(["capture", "shed"]).args(PLAN).arg(rounds).args(["--rate", &RATE_HZ.to_string()]).args(more);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// Feeds the sound, a block at a time, `pause` between them, until it ends or nobody reads any more.
fn feed(child: &mut Child, sound: Vec<u8>, pause: Duration) -> thread::JoinHandle<()> {
    let mut pipe = child.stdin.take().unwrap();
    thread::spawn(move || {
        for block in sound.chunks(1600) {
            if pipe.write_all(block).is_err() {
                return;
            }
            thread::sleep(pause);
        }
    })
}

fn wavs(bench: &Bench) -> Vec<String> {
    bench.contents().into_keys().filter(|name| name.ends_with(".wav")).collect()
}

const FAST: [&str; 3] = ["--at-speed", "--settle", "0"];

#[test]
fn a_file_at_speed_becomes_takes_a_manifest_and_a_report() {
    let bench = Bench::new();
    let mut child = capture(&bench, "2", &FAST).spawn().unwrap();
    let feeder = feed(&mut child, sound(&[false, true, false, true, false]), Duration::ZERO);
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    let report = bench.json("reports/shed/report.json");
    let excess = report["contrasts"][0]["excess_db"].as_f64().unwrap();
    // The lamp of these tests adds 10 dB; four seconds of it are known to half a decibel.
    assert!((excess - crate::bench::LAMP_DB).abs() < 0.5, "{excess}");
    assert_eq!(wavs(&bench).len(), 5);
}

/// Off and on mixed up, a level that jumped between two off takes, tops cut off: each is said at once, with what to
/// do.
#[test]
fn what_spoils_a_session_is_said_take_by_take() {
    let said = |sound: Vec<u8>| {
        let bench = Bench::new();
        let mut child = capture(&bench, "1", &FAST).arg("--no-report").spawn().unwrap();
        feed(&mut child, sound, Duration::ZERO);
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(1));
        String::from_utf8(output.stderr).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let mixed_up = said(sound(&[true, false, true]));
    assert!(mixed_up.contains("dB quieter than off. Were off and on mixed up"), "{mixed_up}");
    let jumped = said(sound(&[false, true, true]));
    assert!(jumped.contains("off differs by +") && jumped.contains("record it again"), "{jumped}");
    let louder = |bytes: &[u8; 2]| (i32::from(i16::from_le_bytes(*bytes)) * 300).clamp(-32_768, 32_767) as i16;
    let quiet = sound(&[false, true, false]);
    let clipped = said(quiet.as_chunks::<2>().0.iter().flat_map(|b| louder(b).to_le_bytes()).collect());
    assert!(clipped.contains("the tops are cut off"), "{clipped}");
}

/// The source is unplugged in the middle of a take, then comes back: the same command goes on.
#[test]
fn a_stream_that_ends_keeps_what_came_and_the_same_command_goes_on() {
    let bench = Bench::new();
    let whole = sound(&[false, true, false]);
    let mut child = capture(&bench, "1", &FAST).spawn().unwrap();
    feed(&mut child, whole[..whole.len() / 2].to_vec(), Duration::ZERO);
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("the stream on standard input ended; 2.0 s were kept"), "{said}");
    let text = bench.read("shed/session.toml");
    assert!(
        text.contains("02-aquarium-lamp-on-part-1.wav") && text.contains("part of a take: 2.0 s of 4 s"),
        "{text}"
    );
    assert!(!bench.path("reports").exists());
    let mut child = capture(&bench, "1", &FAST).spawn().unwrap();
    feed(&mut child, sound(&[true, false]), Duration::ZERO);
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.contains("going on with take 2"), "{said}");
    assert!(!bench.read("shed/session.toml").contains("part"), "a whole take replaces the part");
    assert!(bench.path("shed/set-aside/02-aquarium-lamp-on-part-1-take-1.wav").is_file());
}

#[test]
fn what_can_not_be_done_is_refused_before_anything_is_written() {
    let bench = Bench::new();
    let run = |more: &[&str], input: Vec<u8>| {
        let mut child = capture(&bench, "1", more).spawn().unwrap();
        feed(&mut child, input, Duration::ZERO);
        let output = child.wait_with_output().unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    let (code, said) = run(&["--switch-command", "relay {power}", "--at-speed"], Vec::new());
    assert!(code == Some(2) && said.contains("{state}"), "{said}");
    assert!(!bench.path("shed").exists());
    let (code, said) = run(&FAST, Vec::new());
    assert!(code == Some(2) && said.contains("ended before any sound"), "{said}");
    let (code, said) = run(&["--switch-command", "no-such-program-here", "--at-speed"], sound(&[false]));
    assert!(code == Some(2) && said.contains("can't be started"), "{said}");
    let (code, said) = run(&FAST, vec![0; 80_000]);
    assert!(said.contains("only silence came"), "{said}");
    assert_eq!(code, Some(1));
    assert_eq!(wavs(&bench), Vec::<String>::new());
}

/// A switch command is told each state, started without a shell, and everything is off in the end.
#[cfg(unix)]
#[test]
fn a_command_switches_and_all_is_off_in_the_end() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new().file("relay", b"#!/bin/sh\necho \"$1/$2\" >> log\n");
    std::fs::set_permissions(bench.path("relay"), std::fs::Permissions::from_mode(0o755)).unwrap();
    let command = ["--switch-command", "./relay {state} {device}", "--at-speed", "--settle", "0", "--no-report"];
    let mut child = capture(&bench, "1", &command).spawn().unwrap();
    feed(&mut child, sound(&[false, true]), Duration::ZERO);
    assert_eq!(child.wait_with_output().unwrap().status.code(), Some(1));
    assert_eq!(bench.read("log"), "off/\non/aquarium lamp\noff/\noff/\n");
}

/// Killed without warning, again and again, at moments that differ: every take that was announced as kept is whole
/// and listed, nothing lies in the folder that is neither, and in the end the session is complete.
#[cfg(unix)]
#[test]
fn a_kill_at_any_moment_loses_the_take_in_progress_at_most() {
    let bench = Bench::new();
    let mut kept = 0;
    for round in 0..12u64 {
        let more = ["--settle", "0", "--no-report", "--at-speed"];
        let mut child = capture(&bench, "2", &more).spawn().unwrap();
        feed(&mut child, sound(&[false, true, false, true, false]), Duration::from_millis(3));
        thread::sleep(Duration::from_millis(90 + 67 * round));
        let _ = child.kill();
        let output = child.wait_with_output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        let manifest =
            if bench.path("shed/session.toml").exists() { bench.read("shed/session.toml") } else { continue };
        let parsed: toml::Table = manifest.parse().unwrap_or_else(|e| panic!("{e}: {manifest}"));
        let listed = parsed.get("recording").and_then(|r| r.as_array()).map_or(0, Vec::len);
        assert!(listed >= kept, "round {round}: {manifest}");
        kept = listed;
        for line in said.lines().filter(|line| line.starts_with("  0") && line.ends_with(".wav")) {
            assert!(manifest.contains(line.trim()), "round {round}: {line} was said to be kept: {manifest}");
        }
        for entry in parsed.get("recording").and_then(|r| r.as_array()).into_iter().flatten() {
            let file = format!("shed/{}", entry["file"].as_str().unwrap());
            assert_eq!(bench.contents()[&file].len(), 44 + 4 * 2 * RATE_HZ as usize, "{file}");
        }
    }
    let mut child = capture(&bench, "2", &FAST).spawn().unwrap();
    feed(&mut child, sound(&[false, true, false, true, false]), Duration::ZERO);
    let output = child.wait_with_output().unwrap();
    assert_ne!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(bench.json("reports/shed/report.json")["recordings"].as_array().unwrap().len(), 5);
}

/// What lies in the folder of a capture that was killed: takes with their lengths, what is listed, what is hidden.
#[cfg(unix)]
fn left_on_disk(bench: &Bench) -> String {
    let contents = bench.contents();
    let seconds = |bytes: usize| bytes.saturating_sub(44) as f64 / f64::from(2 * RATE_HZ);
    let mut told = Vec::new();
    for (name, bytes) in contents.iter().filter(|(name, _)| name.starts_with("shed/")) {
        match name.trim_start_matches("shed/") {
            file if file.starts_with("set-aside/") && file.ends_with(".wav") => {
                told.push(format!("aside {} of {:.1} s", &file[10..12], seconds(bytes.len())));
            }
            file if file.ends_with(".wav") => told.push(format!("{} of {:.1} s", &file[..2], seconds(bytes.len()))),
            file if file.ends_with(".part") => {
                told.push(format!("hidden {} of {:.1} s", &file[1..3], seconds(bytes.len())))
            }
            _ => {}
        }
    }
    let manifest = contents.get("shed/session.toml").map(|bytes| String::from_utf8_lossy(bytes).into_owned());
    told.push(match manifest {
        None => "no manifest".to_owned(),
        Some(text) => format!("{} listed", text.matches("[[recording]]").count()),
    });
    told.join(", ")
}

/// Kills at random moments: what was left, and that the next start completes the session from it. With
/// `--nocapture` it prints a table of them.
#[cfg(unix)]
#[test]
#[allow(clippy::print_stdout)]
fn after_a_kill_the_next_start_completes_the_session() {
    println!("| Killed after | Left on disk | The next start |\n| --: | --- | --- |");
    let mut state = 20_260_314u64;
    for _ in 0..12 {
        let bench = Bench::new();
        let more = ["--settle", "0", "--no-report", "--at-speed"];
        let mut child = capture(&bench, "2", &more).spawn().unwrap();
        feed(&mut child, sound(&[false, true, false, true, false]), Duration::from_millis(10));
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let moment = Duration::from_millis(20 + (state >> 33) % 2200);
        thread::sleep(moment);
        let _ = child.kill();
        child.wait().unwrap();
        let left = left_on_disk(&bench);
        let mut child = capture(&bench, "2", &more).spawn().unwrap();
        feed(&mut child, sound(&[false, true, false, true, false]), Duration::ZERO);
        let output = child.wait_with_output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        let said: Vec<&str> = said.lines().map(str::trim).collect();
        let first = said.iter().position(|line| line.starts_with("Take ")).unwrap_or(said.len());
        let is_told =
            |line: &&&str| !line.is_empty() && !line.contains("waiting for sound") && !line.contains("samples a");
        let did: Vec<&str> = said[..first].iter().filter(is_told).copied().collect();
        let did = if did.is_empty() { "began with take 1".to_owned() } else { did.join(" ") };
        let did = ["-aquarium-lamp-on", "-off", ".wav"].iter().fold(did, |did, part| did.replace(part, ""));
        println!("| {:.2} s | {left} | {did}; then {} |", moment.as_secs_f64(), left_on_disk(&bench));
        let whole = 44 + 4 * 2 * RATE_HZ as usize;
        let takes = wavs(&bench).into_iter().filter(|name| !name.contains("set-aside")).collect::<Vec<_>>();
        assert_eq!(takes.len(), 5, "killed after {moment:?}, {left}");
        for file in takes {
            assert_eq!(bench.contents()[&file].len(), whole, "killed after {moment:?}: {file}");
        }
        assert_eq!(bench.read("shed/session.toml").matches("[[recording]]").count(), 5, "killed after {moment:?}");
    }
}

/// Two captures in one folder: the second one is told, and the first goes on.
#[test]
fn a_folder_that_is_being_recorded_into_is_refused() {
    let bench = Bench::new();
    let mut first = capture(&bench, "1", &FAST).arg("--no-report").spawn().unwrap();
    let mut pipe = first.stdin.take().unwrap();
    pipe.write_all(&sound(&[false])[..16_000]).unwrap();
    let listed = || bench.path("shed/session.toml").exists();
    (0..400).take_while(|_| !listed()).for_each(|_| thread::sleep(Duration::from_millis(25)));
    let mut second = capture(&bench, "1", &FAST).spawn().unwrap();
    feed(&mut second, sound(&[false]), Duration::ZERO);
    let output = second.wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("another capture records into this folder"), "{said}");
    pipe.write_all(&sound(&[false, true, false])[16_000..]).unwrap();
    drop(pipe);
    assert_eq!(first.wait_with_output().unwrap().status.code(), Some(0));
    assert_eq!(wavs(&bench).len(), 3);
}

/// Under `nohup` a closed terminal is ignored; Ctrl-C is heard all the same, and keeps the part.
#[cfg(target_os = "linux")]
#[test]
fn an_interrupt_is_heard_under_nohup() {
    let bench = Bench::new();
    let program = env!("CARGO_BIN_EXE_noisetally");
    // `env` gives SIGINT its usual meaning back, whatever whoever runs the tests did with it.
    let mut child = std::process::Command::new("env")
        .args(["--default-signal=INT", "--ignore-signal=HUP", program, "capture", "shed"])
        .args(PLAN)
        .args(["1", "--rate", &RATE_HZ.to_string(), "--settle", "0"])
        .current_dir(bench.path(""))
        .stdin(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // In real time: 1600 bytes are 100 ms.
    let feeder = feed(&mut child, sound(&[false, true, false]), Duration::from_millis(100));
    let part = bench.path("shed/.01-off.wav.part");
    (0..400).take_while(|_| !part.exists()).for_each(|_| thread::sleep(Duration::from_millis(25)));
    thread::sleep(Duration::from_millis(1000));
    let sent = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(130), "{said}");
    assert!(said.contains("stopped by hand"), "{said}");
    assert!(bench.path("shed/01-off-part-1.wav").is_file());
    feeder.join().unwrap();
}

/// A disk that takes no more: the limit on the size of files stands for it, which a shell can set without rights.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said_and_earlier_takes_are_safe() {
    let bench = Bench::new();
    let mut first = capture(&bench, "1", &FAST).spawn().unwrap();
    feed(&mut first, sound(&[false]), Duration::ZERO);
    first.wait_with_output().unwrap();
    let before = bench.contents();
    // 48 blocks of 512 bytes are less than half of a take. The signal of the limit is ignored, so that writing
    // fails.
    let line = format!(
        "trap '' XFSZ; ulimit -f 48; exec '{}' capture shed --rate {RATE_HZ} --at-speed --settle 0",
        env!("CARGO_BIN_EXE_noisetally")
    );
    let mut child = std::process::Command::new("sh")
        .args(["-c", &line])
        .current_dir(bench.path(""))
        .stdin(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    feed(&mut child, sound(&[true, false]), Duration::ZERO);
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("make room on the disk"), "{said}");
    assert_eq!(bench.contents(), before, "the take that failed is gone, all else is as it was");
}

/// The talk at a terminal made by `script` (util-linux): keys typed during a take answer nothing; a note and a
/// meter reading go into the manifest; Ctrl-C keeps the part. Whether whoever runs the tests has SIGINT, SIGHUP or
/// SIGTERM ignored (as `nohup` and jobs in the background have), which children inherit: the program leaves them
/// all alone then, and Ctrl-C is no polite request any more.
#[cfg(target_os = "linux")]
fn interrupts_are_ignored() -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok())
        .is_some_and(|mask| mask & (1 | 1 << 1 | 1 << 14) != 0)
}

#[cfg(target_os = "linux")]
#[test]
fn the_dialogue_on_a_terminal() {
    if interrupts_are_ignored() {
        #[allow(clippy::print_stderr)] // A test that skips says so.
        {
            eprintln!("skipped: Ctrl-C is ignored where these tests run");
        }
        return;
    }
    let bench = Bench::new().file("sound.raw", &sound(&[false, true, false, true, false]));
    let program = env!("CARGO_BIN_EXE_noisetally");
    let line = format!(
        "stty cols 80; '{program}' capture shed {} 'aquarium lamp' --no-dummy-load --seconds 4 --rounds 1 --rate {RATE_HZ} \
         --at-speed < slow",
        PLAN[0]
    );
    // A named pipe fed in real time, so that there is time to press keys within a take.
    let made = std::process::Command::new("mkfifo").arg(bench.path("slow")).status().unwrap();
    assert!(made.success());
    let (raw, pipe) = (std::fs::read(bench.path("sound.raw")).unwrap(), bench.path("slow"));
    thread::spawn(move || {
        let mut pipe = std::fs::OpenOptions::new().write(true).open(pipe).unwrap();
        for block in raw.chunks(3200) {
            thread::sleep(Duration::from_millis(200));
            if pipe.write_all(block).is_err() {
                return;
            }
        }
    });
    let mut child = std::process::Command::new("script")
        .args(["-qec", &line, "/dev/null"])
        .current_dir(bench.path(""))
        .env("TERM", "xterm")
        .stdin(Stdio::piped())
        .stdout(std::fs::File::create(bench.path("shown")).unwrap())
        .spawn()
        .unwrap();
    let mut keys = child.stdin.take().unwrap();
    let mut seen = 0;
    // Waits for words that were not there when it waited before.
    let mut wait_for = |words: &str| {
        for _ in 0..400 {
            let shown = String::from_utf8_lossy(&std::fs::read(bench.path("shown")).unwrap()).into_owned();
            if let Some(at) = shown.get(seen..).and_then(|new| new.find(words)) {
                seen += at + words.len();
                return;
            }
            thread::sleep(Duration::from_millis(50));
        }
        panic!(
            "{words:?} was never shown: {}",
            String::from_utf8_lossy(&std::fs::read(bench.path("shown")).unwrap())
        );
    };
    let mut press = |typed: &str| {
        keys.write_all(typed.as_bytes()).unwrap();
        keys.flush().unwrap();
    };
    wait_for("q stop > ");
    press("\n");
    wait_for("2 s, level");
    press("q\n");
    wait_for("q stop > ");
    press("m S5\n");
    wait_for("q stop > ");
    press("n a dog barked\n");
    wait_for("q stop > ");
    press("\n");
    wait_for("Switch on: aquarium lamp");
    wait_for("q stop > ");
    press("\n");
    wait_for("2 s, level");
    press("\u{3}");
    wait_for("Stopped.");
    assert_eq!(child.wait().unwrap().code(), Some(130));
    let manifest = bench.read("shed/session.toml");
    assert!(manifest.contains("meter = \"S5\"") && manifest.contains("note = \"a dog barked\""), "{manifest}");
    assert!(
        manifest.contains("stopped by hand") && manifest.contains("02-aquarium-lamp-on-part-1.wav"),
        "{manifest}"
    );
}

#[test]
fn a_sheet_is_printed_or_put_beside_its_plan() {
    let bench = Bench::new();
    let printed = bench.run(["sheet", "--device", "lamp: ferrite", "--minutes", "20", "--plain"]);
    printed.exit(0).stderr("").no_files();
    assert!(printed.stdout.contains("02-lamp-on.wav") && printed.stdout.lines().all(|l| l.chars().count() <= 80));
    let written = bench.run(["sheet", "shed", "--device", "lamp: ferrite"]);
    written.exit(0).stdout("").files(&["+ shed/", "+ shed/plan.toml", "+ shed/sheet.md", "+ shed/sheet.txt"]);
    bench.run(["sheet", "shed", "--device", "heater"]).exit(2).no_files();
    let ran = bench.run(["sheet"]);
    ran.exit(2).stdout("").no_files();
    assert!(ran.stderr.contains("--device"), "{ran:#?}");
}

#[test]
fn shells_and_man_are_told_every_command() {
    let bench = Bench::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let ran = bench.run(["completions", shell]);
        ran.exit(0).stderr("").no_files();
        assert!(ran.stdout.contains("capture") && ran.stdout.contains("switch-command"), "{shell}");
    }
    let manual = bench.run(["manual"]);
    manual.exit(0).stderr("").no_files();
    for words in [".TH noisetally 1", "NOISETALLY CAPTURE", "NOISETALLY SHEET", "switch\\-command"] {
        assert!(manual.stdout.contains(words), "{words}: {}", manual.stdout);
    }
    let version = bench.run(["--version"]);
    assert!(version.stdout.contains("target: ") && version.stdout.contains("features: "), "{version:#?}");
    bench.run(["-V"]).stdout(&format!("noisetally {}\n", env!("CARGO_PKG_VERSION")));
}
