//! What bytes mean as samples: integers, floats and the two laws of telephony, each to f32 with full scale 1.
//! Not here: where in a file the bytes lie (`header`), reading them (`raw`).

use crate::wide::wide;

/// One way to write a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Coding {
    U8,
    S8,
    S16,
    S24,
    S32,
    F32,
    F64,
    MuLaw,
    ALaw,
}

/// Which end of a sample comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Order {
    Little,
    Big,
}

impl Coding {
    /// Bytes a sample.
    pub fn width(self) -> usize {
        match self {
            Self::U8 | Self::S8 | Self::MuLaw | Self::ALaw => 1,
            Self::S16 => 2,
            Self::S24 => 3,
            Self::S32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    /// The name reports use: ffmpeg's, which is common practice.
    pub fn name(self, order: Order) -> String {
        let stem = match self {
            Self::U8 => return "pcm_u8".into(),
            Self::S8 => return "pcm_s8".into(),
            Self::MuLaw => return "pcm_mulaw".into(),
            Self::ALaw => return "pcm_alaw".into(),
            Self::S16 => "s16",
            Self::S24 => "s24",
            Self::S32 => "s32",
            Self::F32 => "f32",
            Self::F64 => "f64",
        };
        format!("pcm_{stem}{}", if order == Order::Little { "le" } else { "be" })
    }

    /// Appends the samples in `bytes`; a rest shorter than a sample is left out.
    pub fn decode(self, order: Order, bytes: &[u8], out: &mut Vec<f32>) {
        match (self, order) {
            (Self::U8, _) => out.extend(bytes.iter().map(|&b| (f32::from(b) - 128.0) / 128.0)),
            (Self::S8, _) => out.extend(bytes.iter().map(|&b| f32::from(b.cast_signed()) / 128.0)),
            (Self::MuLaw, _) => out.extend(bytes.iter().map(|&b| mu_law(b))),
            (Self::ALaw, _) => out.extend(bytes.iter().map(|&b| a_law(b))),
            (Self::S16, Order::Little) => each(bytes, out, |b| f32::from(i16::from_le_bytes(b)) / 32_768.0),
            (Self::S16, Order::Big) => each(bytes, out, |b| f32::from(i16::from_be_bytes(b)) / 32_768.0),
            (Self::S24, Order::Little) => each(bytes, out, |[a, b, c]| of_i32(i32::from_le_bytes([0, a, b, c]))),
            (Self::S24, Order::Big) => each(bytes, out, |[a, b, c]| of_i32(i32::from_be_bytes([a, b, c, 0]))),
            (Self::S32, Order::Little) => each(bytes, out, |b| of_i32(i32::from_le_bytes(b))),
            (Self::S32, Order::Big) => each(bytes, out, |b| of_i32(i32::from_be_bytes(b))),
            (Self::F32, Order::Little) => each(bytes, out, f32::from_le_bytes),
            (Self::F32, Order::Big) => each(bytes, out, f32::from_be_bytes),
            (Self::F64, Order::Little) => each(bytes, out, |b| f64::from_le_bytes(b) as f32),
            (Self::F64, Order::Big) => each(bytes, out, |b| f64::from_be_bytes(b) as f32),
        }
    }
}

fn each<const N: usize>(bytes: &[u8], out: &mut Vec<f32>, sample: impl Fn([u8; N]) -> f32) {
    wide(|| out.extend(bytes.as_chunks::<N>().0.iter().map(|&b| sample(b))));
}

/// Full scale 2³¹. An f32 holds 24 bits: 24-bit samples are exact, 32-bit ones are rounded 144 dB down.
fn of_i32(x: i32) -> f32 {
    x as f32 / 2_147_483_648.0
}

/// ITU-T G.711 (11/88), table 2: µ-law, with the 14-bit value at the top of 16 bits.
fn mu_law(byte: u8) -> f32 {
    let bits = !byte;
    let magnitude = ((i32::from(bits & 0x0f) << 3) + 0x84) << ((bits >> 4) & 7);
    let value = magnitude - 0x84;
    (if bits & 0x80 != 0 { -value } else { value }) as f32 / 32_768.0
}

/// ITU-T G.711 (11/88), table 1: A-law, with the 13-bit value at the top of 16 bits.
fn a_law(byte: u8) -> f32 {
    let bits = byte ^ 0x55;
    let mantissa = i32::from(bits & 0x0f) << 4;
    let value = match (bits >> 4) & 7 {
        0 => mantissa + 8,
        exponent => (mantissa + 0x108) << (exponent - 1),
    };
    (if bits & 0x80 == 0 { -value } else { value }) as f32 / 32_768.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(coding: Coding, order: Order, bytes: &[u8]) -> f32 {
        let mut out = Vec::new();
        coding.decode(order, bytes, &mut out);
        assert_eq!(out.len(), 1, "{coding:?}");
        out[0]
    }

    /// Half of full scale below zero, written by hand in every coding that can hold it.
    #[test]
    fn minus_a_half_in_every_coding() {
        for (coding, little) in [
            (Coding::U8, &[0x40][..]),
            (Coding::S8, &[0xc0]),
            (Coding::S16, &[0x00, 0xc0]),
            (Coding::S24, &[0x00, 0x00, 0xc0]),
            (Coding::S32, &[0x00, 0x00, 0x00, 0xc0]),
            (Coding::F32, &[0x00, 0x00, 0x00, 0xbf]),
            (Coding::F64, &[0, 0, 0, 0, 0, 0, 0xe0, 0xbf]),
        ] {
            assert_eq!(one(coding, Order::Little, little), -0.5, "{coding:?}");
            let big: Vec<u8> = little.iter().rev().copied().collect();
            assert_eq!(one(coding, Order::Big, &big), -0.5, "{coding:?}");
            assert_eq!(coding.width(), little.len());
        }
    }

    /// Source: ITU-T G.711 (11/88): tables 1a and 2a: the largest values are 4032 of 4096 (A-law) and 8031 of 8192
    /// (µ-law); the smallest A-law step decodes to ±1, the smallest µ-law step to 0 (at the scale of those tables).
    #[test]
    fn the_laws_follow_g711() {
        let law = |coding, byte| one(coding, Order::Little, &[byte]);
        assert_eq!(law(Coding::ALaw, 0xff ^ 0x55), 4032.0 / 4096.0);
        assert_eq!(law(Coding::ALaw, 0x7f ^ 0x55), -4032.0 / 4096.0);
        assert_eq!(law(Coding::MuLaw, 0x80), 8031.0 / 8192.0);
        assert_eq!(law(Coding::MuLaw, 0x00), -8031.0 / 8192.0);
        assert_eq!(law(Coding::MuLaw, 0xff), 0.0);
        assert_eq!(law(Coding::ALaw, 0xd5), 1.0 / 4096.0);
    }
}
