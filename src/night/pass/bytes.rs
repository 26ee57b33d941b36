//! Numbers and words as bytes and back, low byte first; for the cache. Reading gives `None` where there is too little.

/// Bytes that grow.
#[derive(Default)]
pub(crate) struct Writer {
    pub bytes: Vec<u8>,
}

impl Writer {
    pub fn u32(&mut self, value: u32) {
        self.bytes.extend_from_slice(&value.to_le_bytes());
    }

    pub fn u64(&mut self, value: u64) {
        self.bytes.extend_from_slice(&value.to_le_bytes());
    }

    pub fn f64(&mut self, value: f64) {
        self.bytes.extend_from_slice(&value.to_le_bytes());
    }

    pub fn length(&mut self, value: usize) {
        self.u64(value as u64);
    }

    /// Without their count.
    pub fn floats(&mut self, values: &[f32]) {
        values.iter().for_each(|value| self.bytes.extend_from_slice(&value.to_le_bytes()));
    }

    pub fn words(&mut self, words: Option<&str>) {
        self.length(words.map_or(0, |words| words.len() + 1));
        self.bytes.extend_from_slice(words.unwrap_or_default().as_bytes());
    }
}

/// Bytes that are used up.
pub(crate) struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes }
    }

    fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.rest.split_at_checked(count)?;
        self.rest = rest;
        Some(taken)
    }

    pub fn u32(&mut self) -> Option<u32> {
        Some(u32::from_le_bytes(self.take(4)?.try_into().ok()?))
    }

    pub fn u64(&mut self) -> Option<u64> {
        Some(u64::from_le_bytes(self.take(8)?.try_into().ok()?))
    }

    pub fn f64(&mut self) -> Option<f64> {
        Some(f64::from_le_bytes(self.take(8)?.try_into().ok()?))
    }

    pub fn length(&mut self) -> Option<usize> {
        usize::try_from(self.u64()?).ok()
    }

    pub fn floats(&mut self, count: usize) -> Option<Vec<f32>> {
        let bytes = self.take(count.checked_mul(4)?)?;
        Some(bytes.as_chunks::<4>().0.iter().map(|&four| f32::from_le_bytes(four)).collect())
    }

    /// The outer `None`: too little; the inner one: none were written.
    #[allow(clippy::option_option)]
    pub fn words(&mut self) -> Option<Option<String>> {
        let Some(length) = self.length()?.checked_sub(1) else { return Some(None) };
        Some(Some(String::from_utf8(self.take(length)?.to_vec()).ok()?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_written_is_read_and_no_more() {
        let mut out = Writer::default();
        out.u32(7);
        out.floats(&[1.5, f32::MIN_POSITIVE]);
        out.words(None);
        out.words(Some(""));
        out.words(Some("mean of both"));
        let mut bytes = Reader::new(&out.bytes);
        assert_eq!((bytes.u32(), bytes.floats(2)), (Some(7), Some(vec![1.5, f32::MIN_POSITIVE])));
        assert_eq!(bytes.words(), Some(None));
        assert_eq!(bytes.words(), Some(Some(String::new())));
        assert_eq!(bytes.words(), Some(Some("mean of both".to_owned())));
        assert_eq!(bytes.u32(), None);
        assert_eq!(Reader::new(&[255; 16]).floats(usize::MAX), None);
    }
}
