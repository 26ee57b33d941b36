//! A sound card as a stream of bytes, for `Pump`: which cards there are, how one can be opened, and what it says
//! when it is unplugged or loses samples. Built with the feature `capture-card` only. Not here: takes (`take`),
//! what the bytes mean (`source`).

use std::io::{self, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, TrySendError, channel, sync_channel};
use std::thread;

use anyhow::{Context, anyhow, bail};
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{Device, ErrorKind, SampleFormat, StreamConfig, SupportedStreamConfigRange};

use super::source::StreamFormat;
use crate::audio::pcm::Coding;
use crate::audio::{HIGHEST_RATE_HZ, LOWEST_RATE_HZ};

/// Blocks of the card that may wait for the reading thread, which has nothing else to do (chosen: some seconds).
const WAITING_BLOCKS: usize = 512;
/// Formats that can be recorded, the usual one of receivers' audio first.
const FORMATS: [(SampleFormat, Coding); 4] = [
    (SampleFormat::I16, Coding::S16),
    (SampleFormat::I32, Coding::S32),
    (SampleFormat::F32, Coding::F32),
    (SampleFormat::U8, Coding::U8),
];

/// A card that can record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CardFacts {
    /// What `--card` takes.
    pub name: String,
    /// What the system calls it.
    pub words: String,
}

/// The cards of this computer that can record, in the system's order.
///
/// # Errors
/// When the system can't be asked.
pub fn cards() -> anyhow::Result<Vec<CardFacts>> {
    let devices = cpal::default_host().input_devices().context("the sound system can't be asked for its cards")?;
    let facts = |device: Device| {
        let id = device.id().ok()?;
        // Some systems describe a card in several lines.
        let words = device.to_string().split_whitespace().collect::<Vec<_>>().join(" ");
        Some(CardFacts { name: id.id().to_owned(), words })
    };
    Ok(devices.filter_map(facts).collect())
}

/// Sound of a card.
pub struct CardStream {
    blocks: Receiver<Result<Vec<u8>, String>>,
    block: Vec<u8>,
    at: usize,
    /// Ends the thread that holds the card when it is dropped.
    _stop: Sender<()>,
}

impl Read for CardStream {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.at == self.block.len() {
            match self.blocks.recv() {
                Ok(Ok(block)) => (self.block, self.at) = (block, 0),
                Ok(Err(why)) => return Err(io::Error::other(why)),
                Err(_) => return Ok(0),
            }
        }
        let count = buffer.len().min(self.block.len() - self.at);
        buffer[..count].copy_from_slice(&self.block[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}

/// Opens a card and lets it run. `name`: as [`cards`] has it, or a part of its description; `None`: the system's
/// usual one. Returns its sound, how the samples come, and a count of the times it lost some.
///
/// # Errors
/// When there is no such card, it can't record so, or it is in use; each says what to do.
pub fn open_card(
    name: Option<&str>,
    rate_hz: Option<u32>,
    channels: u16,
) -> anyhow::Result<(CardStream, StreamFormat, Arc<AtomicU64>)> {
    let device = find(name)?;
    let ranges: Vec<_> = device.supported_input_configs().map_err(|e| unavailable(&e))?.collect();
    let usual_hz = device.default_input_config().map(|config| config.sample_rate()).ok();
    let (rate_hz, format, coding) = choose(&ranges, rate_hz, usual_hz, channels)?;
    let config = StreamConfig { channels, sample_rate: rate_hz, buffer_size: cpal::BufferSize::Default };
    let (sender, blocks) = sync_channel(WAITING_BLOCKS);
    let lost = Arc::new(AtomicU64::new(0));
    let (stop, stopped) = channel::<()>();
    let (opened, outcome) = channel();
    let theirs = Arc::clone(&lost);
    // On some systems a running card may not leave its thread.
    thread::spawn(move || {
        let stream = start(&device, config, format, sender, theirs);
        let running = stream.as_ref().map(|_| ()).map_err(unavailable);
        let is_running = running.is_ok();
        if opened.send(running).is_ok() && is_running {
            // Nothing is ever sent: it ends when the other side goes.
            let _ = stopped.recv();
        }
        drop(stream);
    });
    outcome.recv().map_err(|_| anyhow!("the sound card can't be opened"))??;
    let stream = CardStream { blocks, block: Vec::new(), at: 0, _stop: stop };
    Ok((stream, StreamFormat { rate_hz, channels, coding, bytes: None }, lost))
}

fn find(name: Option<&str>) -> anyhow::Result<Device> {
    let host = cpal::default_host();
    let Some(name) = name else {
        return host.default_input_device().context("no sound card can record here\n  try: --list-cards");
    };
    let devices: Vec<Device> =
        host.input_devices().context("the sound system can't be asked for its cards")?.collect();
    let is_named = |device: &&Device| device.id().is_ok_and(|id| id.id() == name);
    if let Some(at) = devices.iter().position(|device| is_named(&device)) {
        return devices.into_iter().nth(at).context("no card");
    }
    let is_described = |device: &Device| device.to_string().to_lowercase().contains(&name.to_lowercase());
    let mut described = devices.into_iter().filter(is_described);
    match (described.next(), described.next()) {
        (Some(only), None) => Ok(only),
        (Some(_), Some(_)) => bail!("several sound cards are called `{name}`\n  try: a name of --list-cards"),
        _ => bail!("there is no sound card `{name}` that can record\n  try: a name of --list-cards"),
    }
}

/// Rate, format and coding that the card has and that can be recorded.
fn choose(
    ranges: &[SupportedStreamConfigRange],
    asked_hz: Option<u32>,
    usual_hz: Option<u32>,
    channels: u16,
) -> anyhow::Result<(u32, SampleFormat, Coding)> {
    let has = |rate_hz: u32| {
        let fits = |range: &&SupportedStreamConfigRange, format: SampleFormat| {
            range.channels() == channels
                && range.sample_format() == format
                && (range.min_sample_rate()..=range.max_sample_rate()).contains(&rate_hz)
        };
        FORMATS.into_iter().find(|(format, _)| ranges.iter().any(|range| fits(&range, *format)))
    };
    let wanted = asked_hz.map_or_else(|| usual_hz.into_iter().chain([48_000, 44_100]).collect(), |hz| vec![hz]);
    let recordable = |hz: &u32| (LOWEST_RATE_HZ..=HIGHEST_RATE_HZ).contains(hz);
    let found = wanted.into_iter().filter(recordable).find_map(|hz| Some((hz, has(hz)?)));
    let Some((rate_hz, (format, coding))) = found else {
        let mut known: Vec<String> = ranges.iter().map(shown).collect();
        known.sort();
        known.dedup();
        let rate = asked_hz.map_or_else(|| "its usual rate".to_owned(), |hz| format!("{hz} samples a second"));
        bail!(
            "the sound card can't record {channels} channel(s) at {rate}\n  try: --rate and --channels as it has \
             them: {}",
            if known.is_empty() { "none that can be recorded".to_owned() } else { known.join("; ") }
        );
    };
    Ok((rate_hz, format, coding))
}

fn shown(range: &SupportedStreamConfigRange) -> String {
    let (low, high) = (range.min_sample_rate(), range.max_sample_rate());
    let rates = if low == high { low.to_string() } else { format!("{low} to {high}") };
    format!("{} channel(s) at {rates}", range.channels())
}

fn start(
    device: &Device,
    config: StreamConfig,
    format: SampleFormat,
    sender: SyncSender<Result<Vec<u8>, String>>,
    lost: Arc<AtomicU64>,
) -> Result<cpal::Stream, cpal::Error> {
    let (data, theirs) = (sender.clone(), Arc::clone(&lost));
    let stream = device.build_input_stream_raw(
        config,
        format,
        move |block, _| {
            // Memory is only asked for here; waiting would make the card itself lose samples.
            if let Err(TrySendError::Full(_)) = data.try_send(Ok(little_endian(block.bytes(), format))) {
                theirs.fetch_add(1, Ordering::SeqCst);
            }
        },
        move |error| match ended_by(&error) {
            Some(why) => {
                // Whoever reads drains it, so there is room in the end; if nobody reads, nobody need know.
                let _ = sender.send(Err(why));
            }
            None if error.kind() == ErrorKind::Xrun => {
                lost.fetch_add(1, Ordering::SeqCst);
            }
            None => {}
        },
        None,
    )?;
    stream.play()?;
    Ok(stream)
}

/// The card's samples have the byte order of the machine.
fn little_endian(bytes: &[u8], format: SampleFormat) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    if cfg!(target_endian = "big") {
        bytes.chunks_exact_mut(format.sample_size()).for_each(<[u8]>::reverse);
    }
    bytes
}

/// Why the sound is over; `None` where the card goes on.
fn ended_by(error: &cpal::Error) -> Option<String> {
    match error.kind() {
        ErrorKind::Xrun | ErrorKind::RealtimeDenied => None,
        ErrorKind::DeviceNotAvailable => Some("it is gone; was it unplugged?".to_owned()),
        ErrorKind::DeviceChanged => Some("the system changed over to another card".to_owned()),
        ErrorKind::StreamInvalidated => Some("the system changed its settings".to_owned()),
        _ => Some(error.to_string()),
    }
}

fn unavailable(error: &cpal::Error) -> anyhow::Error {
    let advice = match error.kind() {
        ErrorKind::DeviceBusy => "end the other program that records from it",
        ErrorKind::PermissionDenied => "allow this program to record (on Linux: the group `audio`)",
        ErrorKind::UnsupportedConfig => "another --rate or --channels",
        _ => "another one of --list-cards",
    };
    anyhow!("the sound card can't be opened: {error}\n  try: {advice}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use cpal::SupportedBufferSize;

    fn range(channels: u16, rates: (u32, u32), format: SampleFormat) -> SupportedStreamConfigRange {
        SupportedStreamConfigRange::new(channels, rates.0, rates.1, SupportedBufferSize::Unknown, format)
    }

    #[test]
    fn a_mode_of_the_card_is_chosen_or_all_are_told() {
        let ranges = [
            range(2, (44_100, 48_000), SampleFormat::I32),
            range(2, (44_100, 48_000), SampleFormat::I16),
            range(1, (8_000, 8_000), SampleFormat::U8),
        ];
        let chosen = |asked, usual, channels| choose(&ranges, asked, usual, channels);
        assert_eq!(chosen(None, Some(44_100), 2).unwrap(), (44_100, SampleFormat::I16, Coding::S16));
        assert_eq!(chosen(None, None, 2).unwrap().0, 48_000);
        assert_eq!(chosen(Some(8_000), Some(48_000), 1).unwrap(), (8_000, SampleFormat::U8, Coding::U8));
        let refused = chosen(Some(96_000), Some(48_000), 2).unwrap_err().to_string();
        assert!(refused.contains("96000") && refused.contains("2 channel(s) at 44100 to 48000"), "{refused}");
        assert!(chosen(None, Some(48_000), 1).is_err());
    }

    #[test]
    fn a_card_that_is_gone_ends_the_sound_and_one_that_stumbled_does_not() {
        let of = |kind: ErrorKind| ended_by(&kind.into());
        assert_eq!(of(ErrorKind::Xrun), None);
        assert!(of(ErrorKind::DeviceNotAvailable).unwrap().contains("unplugged"));
        let (sender, blocks) = sync_channel(4);
        let (stop, _stopped) = channel();
        sender.send(Ok(vec![1, 2, 3])).unwrap();
        sender.send(Err("it is gone".to_owned())).unwrap();
        let mut stream = CardStream { blocks, block: Vec::new(), at: 0, _stop: stop };
        let mut buffer = [0; 2];
        assert_eq!((stream.read(&mut buffer).unwrap(), buffer), (2, [1, 2]));
        assert_eq!(stream.read(&mut buffer).unwrap(), 1);
        assert!(stream.read(&mut buffer).unwrap_err().to_string().contains("gone"));
    }
}
