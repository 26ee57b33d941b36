//! File names as people write them, each with what must be read from it.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::*;
use crate::labels::fields::{Mode, State};

/// What a name was read as, in one line: state, then every field that was found.
fn told(file: &str) -> String {
    let n = read(file);
    let mut out = match n.state {
        Ok(state) => state.word().to_owned(),
        Err(Unclear::NoWord) => "?".into(),
        Err(Unclear::Both) => "both".into(),
        Err(Unclear::Perhaps(word)) => format!("perhaps {}", word.language),
        Err(Unclear::Linked) => "linked".into(),
    };
    let mut add = |name: &str, value: Option<String>| {
        if let Some(value) = value {
            out.push_str(&format!(" {name}={value}"));
        }
    };
    add("dev", n.fields.device);
    add("rem", n.fields.remedy);
    add("n", n.fields.order.map(|v| v.to_string()));
    add("fer", n.fields.ferrites.map(|v| v.to_string()));
    add("turns", n.fields.turns.map(|v| v.to_string()));
    add("dial", n.fields.dial_khz.map(|v| v.to_string()));
    add("band", n.fields.band);
    add("mode", n.fields.mode.map(|v: Mode| v.to_string()));
    add("bw", n.fields.bandwidth_hz.map(|v| v.to_string()));
    add("at", n.fields.started.map(|s| s.to_toml()));
    add("meter", n.fields.meter);
    add("note", n.fields.note);
    add("unread", (!n.unread.is_empty()).then(|| n.unread.join(",")));
    out
}

macro_rules! name_cases {
    ($($name:ident: $file:literal => $told:literal,)+) => {
        $(#[test] fn $name() { assert_eq!(told($file), $told, "{}", $file); })+
    };
}

name_cases! {
    state_after_number: "01-off.flac" => "off n=1",
    device_and_remedy: "03-lamp-on-ferrite.wav" => "on dev=lamp rem=ferrite n=3",
    dial_and_mode: "lamp_off_14100kHz_USB.wav" => "off dev=lamp dial=14100 mode=USB",
    date_and_time: "20260314_190200_lamp_on.wav" => "on dev=lamp at=2026-03-14T19:02:00",
    utc_mark: "20260314T190200Z lamp on.wav" => "on dev=lamp at=2026-03-14T19:02:00Z",
    written_date: "2026-03-14 19.02.05 lamp off.wav" => "off dev=lamp at=2026-03-14T19:02:05",
    date_without_seconds: "lamp-on-2026-03-14_1902.wav" => "on dev=lamp at=2026-03-14T19:02:00",
    date_alone: "2026-03-14-02-lamp-on.wav" => "on dev=lamp n=2",
    impossible_date: "lamp on 20261399.wav" => "on dev=lamp",
    date_then_dial: "20260314_7100kHz_lamp_on.wav" => "on dev=lamp dial=7100",
    capitals: "LAMP-ON.WAV" => "on dev=LAMP",
    spaces: "3 aquarium lamp on linear supply.wav" => "on dev=aquarium lamp rem=linear supply n=3",
    brackets: "[03] lamp (on) {ferrite}.wav" => "on dev=lamp rem=ferrite n=3",
    dots: "03.lamp.on.wav" => "on dev=lamp n=3",
    camel_case: "LampOnFerrite.wav" => "on dev=Lamp rem=Ferrite",
    camel_case_with_dial: "heaterOff7100kHz.wav" => "off dev=heater dial=7100",
    all_off: "all-off.wav" => "off",
    all_off_in_one: "00_alloff_14.1MHz.wav" => "off n=0 dial=14100",
    everything_off: "everything off.wav" => "off",
    ambient: "ambient.wav" => "off",
    ambient_off: "01 ambient off.wav" => "off n=1",
    unplugged: "lamp unplugged.wav" => "off dev=lamp",
    switched: "lamp is switched on.wav" => "on dev=lamp",
    on_in_london: "london.wav" => "?",
    on_in_demonstration: "demonstration lamp off.wav" => "off dev=demonstration lamp",
    on_in_station: "station lamp on.wav" => "on dev=station lamp",
    off_in_office: "office printer on.wav" => "on dev=office printer",
    coffee: "coffee machine.wav" => "?",
    both_states: "lamp-on-heater-off.wav" => "both",
    on_off: "on-off.wav" => "both",
    repeat_on: "lamp-on2.wav" => "on dev=lamp",
    repeat_off: "off-2.wav" => "off",
    repeat_take: "lamp on take 3.wav" => "on dev=lamp",
    repeat_take_in_one: "lamp on take3.wav" => "on dev=lamp",
    repeat_bracket: "lamp on (2).wav" => "on dev=lamp",
    repeat_bracket_remedy: "lamp on ferrite (2).wav" => "on dev=lamp rem=ferrite",
    repeat_again: "off again.wav" => "off",
    repeat_noted_first: "nochmals aus.wav" => "off",
    repeat_in_three_words: "lader uit nog een keer.wav" => "off dev=lader",
    repeat_behind_remedy: "lamp on ferrite second time.wav" => "on dev=lamp rem=ferrite",
    repeat_second: "lamp on second.wav" => "on dev=lamp",
    repeat_second_time: "lamp on 2nd time.wav" => "on dev=lamp",
    repeat_version: "lamp on v2.wav" => "on dev=lamp",
    repeat_take_around_off: "second off take.wav" => "off",
    second_lamp_is_a_lamp: "second lamp on.wav" => "on dev=second lamp",
    second_ferrite_is_a_remedy: "lamp on second ferrite.wav" => "on dev=lamp rem=second ferrite",
    version_before_the_state_is_a_name: "router v2 on.wav" => "on dev=router v2",
    take_is_a_device_where_no_other_is: "take on.wav" => "on dev=take",
    all_off_of_a_room: "shed all off.wav" => "off",
    all_of_a_room_off: "shed everything switched off.wav" => "off",
    all_lamps_off: "all lamps off.wav" => "off dev=all lamps",
    remedy_number_is_kept: "lamp-on-ferrite-2.wav" => "on dev=lamp rem=ferrite 2",
    ferrites_counted: "lamp-on-ferrites3.wav" => "on dev=lamp rem=ferrites3 fer=3",
    ferrites_times: "lamp on 3x ferrite.wav" => "on dev=lamp rem=3x ferrite fer=3",
    ferrites_spelled: "lamp on 3 ferrites.wav" => "on dev=lamp rem=3 ferrites fer=3",
    ferrite_x: "lamp on ferrite x3.wav" => "on dev=lamp rem=ferrite x3 fer=3",
    ferrite_turns: "lamp on 2 ferrites 5 turns.wav" => "on dev=lamp rem=2 ferrites 5 turns fer=2 turns=5",
    clip_on: "lamp-on-clip-on-ferrite.wav" => "on dev=lamp rem=clip on ferrite",
    clip_on_while_off: "lamp-off-clip-on-ferrite.wav" => "off dev=lamp rem=clip on ferrite",
    remedy_before_state: "lamp-ferrite-on.wav" => "on dev=lamp rem=ferrite",
    remedy_with: "lamp on with linear supply.wav" => "on dev=lamp rem=linear supply",
    remedy_moved: "lamp on moved lead.wav" => "on dev=lamp rem=moved lead",
    remedy_length: "lamp on moved 10m away.wav" => "on dev=lamp rem=moved 10m away",
    no_remedy_said: "lamp on no ferrite.wav" => "on dev=lamp",
    no_remedy_before: "lamp on before.wav" => "on dev=lamp",
    state_first: "on-lamp-ferrite.wav" => "on dev=lamp rem=ferrite",
    state_first_off: "off lamp.wav" => "off dev=lamp",
    state_only: "on.wav" => "on",
    off_with_remedy_without_device: "off-ferrite.wav" => "off note=ferrite",
    terminated: "05-terminated.wav" => "terminated n=5",
    dummy_load: "dummy load 7100 kHz.wav" => "terminated dial=7100",
    mhz_in_two_pieces: "lamp on 14.1 MHz.wav" => "on dev=lamp dial=14100",
    mhz_comma: "lamp on 7,055MHz.wav" => "on dev=lamp dial=7055",
    hertz: "lamp_on_14100000Hz.wav" => "on dev=lamp dial=14100",
    bare_khz: "lamp-on-14100.wav" => "on dev=lamp dial=14100",
    bare_khz_first: "14100_lamp_off.wav" => "off dev=lamp dial=14100",
    bare_mhz: "lamp-on-7.055.wav" => "on dev=lamp dial=7055",
    bare_khz_four: "lamp-on-3650.wav" => "on dev=lamp dial=3650",
    time_is_no_dial: "lamp on 1902.wav" => "on dev=lamp unread=1902",
    hour_and_minute_are_no_dial: "lamp on 14.05.wav" => "on dev=lamp unread=14.05",
    early_time_is_no_dial: "0730 lamp on.wav" => "on dev=lamp n=730",
    day_first: "14.03.2026 14.05 lamp on.wav" => "on dev=lamp",
    month_first: "lamp off 3-14-2026.wav" => "off dev=lamp",
    bare_mhz_in_band: "lamp off 7.1.wav" => "off dev=lamp dial=7100",
    year_is_no_dial: "lamp on 2026.wav" => "on dev=lamp",
    two_dials: "lamp on 7100kHz 14100kHz.wav" => "on dev=lamp unread=7100 kHz,14100 kHz",
    band: "lamp-on-40m.wav" => "on dev=lamp band=40m",
    mode_cw: "cw lamp off.wav" => "off dev=lamp mode=CW",
    mode_am: "lamp off 6055kHz am.wav" => "off dev=lamp dial=6055 mode=AM",
    usb_charger: "usb charger on.wav" => "on dev=usb charger",
    usb_mode_before_words: "7100kHz USB lamp on.wav" => "on dev=lamp dial=7100 mode=USB",
    nine_am: "lamp on 9 am.wav" => "on dev=lamp",
    ssb_is_either: "lamp on ssb.wav" => "on dev=lamp unread=ssb",
    bandwidth: "lamp_on_7100kHz_LSB_2.4kHz.wav" => "on dev=lamp dial=7100 mode=LSB bw=2400",
    bandwidth_said: "lamp_on_bw500.wav" => "on dev=lamp bw=500",
    tone_is_no_bandwidth: "lamp on 400Hz.wav" => "on dev=lamp unread=400 Hz",
    meter: "lamp-on-S7.wav" => "on dev=lamp meter=S7",
    off_centre: "off-centre dipole lamp on.wav" => "on dev=off centre dipole lamp",
    quotes_and_pipes: "03 | \"neighbour's lamp\" | on.wav" => "on dev=neighbour's lamp n=3",
    non_latin: "03-лампа-on-феррит.wav" => "on dev=лампа rem=феррит n=3",
    ideographs: "電灯_off_7100kHz.wav" => "off dev=電灯 dial=7100",
    combining_marks: "lampe\u{301} on.wav" => "on dev=lampe\u{301}",
    control_characters: "lamp\u{1b}[2J on.wav" => "on dev=lamp 2J",
    two_devices: "lamp + heater on.wav" => "on dev=lamp + heater",
    numbered_device: "lamp 2 on.wav" => "on dev=lamp 2",
    number_before_state: "lamp-03-on.wav" => "on dev=lamp n=3",
    recorder_counter: "rec03 lamp on.wav" => "on dev=lamp n=3",
    folder_tells_nothing: "off/lamp on.wav" => "on dev=lamp",
    nothing: "" => "?",
    converted: "on.mp3.wav" => "on",
    hour_in_one: "10pm lamp on.wav" => "on dev=lamp",
    two_states_in_capitals: "LampOnHeaterOff.wav" => "both",
}

#[test]
fn names_without_a_state_get_a_name_to_use() {
    assert_eq!(
        Unclear::NoWord.reason("sub/kitchen.FLAC"),
        "its name does not say whether the device was off or on; rename it, for example to `kitchen-on.FLAC` or \
         `kitchen-off.FLAC`, or give it a `state` in session.toml"
    );
}

#[test]
fn counted_recordings_of_one_device_are_one_device() {
    let read = |files: &[&str]| {
        let names = read_all(files.iter().copied());
        names.into_iter().map(|n| (n.fields.device.unwrap_or_default(), n.fields.order)).collect::<Vec<_>>()
    };
    let one = read(&["lamp_1_off.wav", "lamp_2_on.wav", "lamp_3_on_ferrite.wav"]);
    assert_eq!(one, [("lamp".into(), Some(1.0)), ("lamp".into(), Some(2.0)), ("lamp".into(), Some(3.0))]);
    let two = read(&["lamp 1 off.wav", "lamp 1 on.wav", "lamp 2 off.wav", "lamp 2 on.wav"]);
    assert_eq!(two.iter().map(|(d, _)| d.as_str()).collect::<Vec<_>>(), ["lamp 1", "lamp 1", "lamp 2", "lamp 2"]);
}

#[test]
fn words_behind_off_are_a_device_only_if_it_is_on_somewhere() {
    let names = read_all(["off-start.wav", "lamp-on.wav", "off-lamp.wav"].into_iter());
    assert_eq!((names[0].fields.device.as_deref(), names[0].fields.note.as_deref()), (None, Some("start")));
    assert_eq!((names[2].fields.device.as_deref(), names[2].fields.note.as_deref()), (Some("lamp"), None));
}

/// What is taken off a name before "off" is a device where another name has it on.
#[test]
fn words_set_aside_before_off_are_a_device_only_if_it_is_on_somewhere() {
    let device = |files: &[&str]| read_all(files.iter().copied()).remove(0).fields.device;
    assert_eq!(device(&["shed all off.wav", "lamp on.wav"]), None);
    assert_eq!(device(&["shed all off.wav", "shed on.wav", "lamp on.wav"]).as_deref(), Some("shed"));
    assert_eq!(device(&["shed all off.wav", "shed all on.wav", "shed on.wav"]).as_deref(), Some("shed all"));
    assert_eq!(device(&["second off.wav", "lamp on.wav"]), None);
    assert_eq!(device(&["second off.wav", "second on.wav", "lamp on.wav"]).as_deref(), Some("second"));
}

/// No name makes the parser panic, and what it tells holds no control character.
#[test]
fn no_name_panics() {
    let pieces = [
        "on",
        "off",
        "On",
        "Off",
        "lamp",
        "3x",
        "ferrite",
        "ferrites",
        "usb",
        "am",
        "khz",
        "MHz",
        "Hz",
        "20260314",
        "190200",
        "2026-03-14",
        "T",
        "Z",
        "14.1",
        "7,055",
        "0",
        "007",
        "99999999999999999999",
        "take",
        "(",
        ")",
        "[",
        "]",
        "-",
        "_",
        " ",
        ".",
        ",",
        "+",
        "'",
        "é",
        "İ",
        "ß",
        "ﬀ",
        "電",
        "\u{301}",
        "\u{202e}",
        "\u{1b}",
        "\0",
        "½",
        "٣",
        "40m",
        "s9",
        "bw",
        "alloff",
        "dummy",
        "load",
        "/",
        "\\",
        "\"",
        "x",
        "no",
        "with",
        "２",
        "\u{10ffff}",
    ];
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    for _ in 0..20_000 {
        let length = rng.random_range(0..12);
        let name: String = (0..length)
            .map(|_| match rng.random_range(0..8) {
                0 => char::from_u32(rng.random_range(0..0x11_0000)).unwrap_or('?').to_string(),
                _ => pieces[rng.random_range(0..pieces.len())].to_owned(),
            })
            .collect();
        for file in [name.clone(), format!("{name}.wav")] {
            let told = read(&file);
            let words =
                [told.fields.device, told.fields.remedy, told.fields.note, told.fields.meter, told.fields.band];
            for word in words.iter().flatten() {
                assert!(!word.chars().any(crate::labels::printable::is_harmful), "{file:?} gave {word:?}");
                assert_eq!(word.trim(), word, "{file:?}");
            }
            let _ = Unclear::NoWord.reason(&file);
        }
    }
}

/// Every state the JSON knows can be written into a name.
#[test]
fn every_state_has_a_name() {
    for state in State::ALL {
        assert_eq!(read(&format!("01-{state}.wav")).state, Ok(state));
    }
}
