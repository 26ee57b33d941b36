//! Where the bulk of a measurement waits until it is compared: in memory while there is little of it, and beyond
//! that in a file without a name, which the system takes away whatever happens to the program. Not here: what it
//! is.

use std::borrow::Cow;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Bytes held in memory. Chosen: the slices of a usual session, some thirty takes of 20 s, never leave it.
const MOST_HELD: usize = 6 << 20;

/// The shelf of a session.
#[derive(Debug, Default)]
pub struct Shelf(Mutex<State>);

#[derive(Debug, Default)]
struct State {
    held: usize,
    file: Option<File>,
    /// Bytes in the file.
    end: u64,
    /// It can't be written, or there is none: all else is held.
    is_full: bool,
    trouble: Option<String>,
}

/// Values in memory or on a shelf.
#[derive(Debug, Clone)]
pub struct Values(Place);

#[derive(Debug, Clone)]
enum Place {
    Held(Vec<f32>),
    Away { shelf: Arc<Shelf>, at: u64, len: usize },
}

impl Shelf {
    /// Why what was put on it could not be read back: then nothing that was made of it holds.
    pub fn trouble(&self) -> Option<String> {
        self.state().trouble.clone()
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn read(&self, at: u64, values: &mut [f32]) {
        let mut state = self.state();
        let mut bytes = vec![0; size_of_val(values)];
        let read = match &mut state.file {
            Some(file) => file.seek(SeekFrom::Start(at)).and_then(|_| file.read_exact(&mut bytes)),
            None => Err(io::ErrorKind::NotFound.into()),
        };
        match read {
            Ok(()) => {
                let all = bytes.as_chunks().0;
                values.iter_mut().zip(all).for_each(|(value, bytes)| *value = f32::from_ne_bytes(*bytes));
            }
            Err(error) => {
                values.fill(f32::NAN);
                state.trouble.get_or_insert_with(|| error.to_string());
            }
        }
    }
}

impl State {
    /// Where the values stand in the file; `None` where it can't be written.
    fn write(&mut self, values: &[f32]) -> Option<u64> {
        if self.is_full {
            return None;
        }
        if self.file.is_none() {
            self.file = crate::disk::without_name().ok();
        }
        let at = self.end;
        let bytes: Vec<u8> = values.iter().flat_map(|value| value.to_ne_bytes()).collect();
        let written = self.file.as_mut().is_some_and(|file| {
            file.seek(SeekFrom::Start(at)).and_then(|_| crate::disk::fill(file, &bytes)).is_ok()
        });
        self.is_full = !written;
        self.end += bytes.len() as u64;
        written.then_some(at)
    }
}

impl Values {
    /// How many there are.
    pub fn len(&self) -> usize {
        match &self.0 {
            Place::Held(values) => values.len(),
            Place::Away { len, .. } => *len,
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The values, read back where they are away; no numbers where that fails ([`Shelf::trouble`]).
    pub fn read(&self) -> Cow<'_, [f32]> {
        match &self.0 {
            Place::Held(values) => Cow::Borrowed(values),
            Place::Away { shelf, at, len } => {
                let mut values = vec![0.0; *len];
                shelf.read(*at, &mut values);
                Cow::Owned(values)
            }
        }
    }

    /// Puts them on a shelf, if there is as much on it already as is to be held.
    pub fn put_on(&mut self, shelf: &Arc<Shelf>) {
        let Place::Held(values) = &mut self.0 else { return };
        values.shrink_to_fit();
        let mut state = shelf.state();
        state.held += values.len() * size_of::<f32>();
        if state.held <= MOST_HELD {
            return;
        }
        if let Some(at) = state.write(values) {
            let len = values.len();
            state.held -= len * size_of::<f32>();
            self.0 = Place::Away { shelf: shelf.clone(), at, len };
        }
    }
}

impl From<Vec<f32>> for Values {
    fn from(values: Vec<f32>) -> Self {
        Self(Place::Held(values))
    }
}

impl PartialEq for Values {
    fn eq(&self, other: &Self) -> bool {
        self.read() == other.read()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_put_away_comes_back() {
        let shelf = Arc::new(Shelf::default());
        let each = MOST_HELD / size_of::<f32>() / 3;
        let mut all: Vec<Values> =
            (0..5).map(|n| (0..each + n).map(|k| (k * (n + 1)) as f32).collect::<Vec<_>>().into()).collect();
        let before = all.clone();
        all.iter_mut().for_each(|values| values.put_on(&shelf));
        let away = all.iter().filter(|values| matches!(values.0, Place::Away { .. })).count();
        assert_eq!(away, 3, "held: {}", shelf.state().held);
        assert!(before == all);
        assert_eq!(all[4].len(), each + 4);
        assert_eq!(shelf.trouble(), None);
    }

    #[test]
    fn what_can_not_be_read_back_is_no_number_and_told() {
        let shelf = Arc::new(Shelf::default());
        let lost = Values(Place::Away { shelf: shelf.clone(), at: 8, len: 2 });
        assert!(lost.read().iter().all(|value| value.is_nan()));
        assert!(shelf.trouble().is_some());
    }
}
