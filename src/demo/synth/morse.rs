//! Text to Morse: when the key is down.

use super::gauss::Gauss;

/// International Morse code of letters, figures and the marks our texts use. Source: Recommendation ITU-R M.1677-1
/// (10/2009), International Morse code (from memory).
const CODE: [(char, &str); 41] = [
    ('A', ".-"),
    ('B', "-..."),
    ('C', "-.-."),
    ('D', "-.."),
    ('E', "."),
    ('F', "..-."),
    ('G', "--."),
    ('H', "...."),
    ('I', ".."),
    ('J', ".---"),
    ('K', "-.-"),
    ('L', ".-.."),
    ('M', "--"),
    ('N', "-."),
    ('O', "---"),
    ('P', ".--."),
    ('Q', "--.-"),
    ('R', ".-."),
    ('S', "..."),
    ('T', "-"),
    ('U', "..-"),
    ('V', "...-"),
    ('W', ".--"),
    ('X', "-..-"),
    ('Y', "-.--"),
    ('Z', "--.."),
    ('0', "-----"),
    ('1', ".----"),
    ('2', "..---"),
    ('3', "...--"),
    ('4', "....-"),
    ('5', "....."),
    ('6', "-...."),
    ('7', "--..."),
    ('8', "---.."),
    ('9', "----."),
    ('.', ".-.-.-"),
    (',', "--..--"),
    ('?', "..--.."),
    ('/', "-..-."),
    ('=', "-...-"),
];

/// The key, one entry a dot's length, down or up: dash 3, gap within a sign 1, between signs 3, between words 7
/// (M.1677-1). Characters without a code are passed over. Ends with a gap between words; empty text gives nothing.
pub fn keying(text: &str) -> Vec<bool> {
    let mut key = Vec::new();
    for word in text.split_whitespace() {
        let before = key.len();
        for sign in word.chars().filter_map(code) {
            for mark in sign.chars() {
                key.extend(std::iter::repeat_n(true, if mark == '-' { 3 } else { 1 }));
                key.push(false);
            }
            key.extend([false; 2]);
        }
        if key.len() > before {
            key.extend([false; 4]);
        }
    }
    key
}

fn code(c: char) -> Option<&'static str> {
    let upper = c.to_ascii_uppercase();
    CODE.iter().find(|(letter, _)| *letter == upper).map(|(_, code)| *code)
}

/// Words of random letters, enough for `dots` dot lengths.
pub fn random_keying(dots: usize, gauss: &mut Gauss) -> Vec<bool> {
    let mut key = Vec::new();
    while key.len() < dots {
        let letters = 3 + (gauss.uniform() * 4.0) as usize;
        let word: String = (0..letters).map(|_| CODE[(gauss.uniform() * 26.0) as usize].0).collect();
        key.extend(keying(&word));
    }
    key
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the standard word PARIS is 50 dots long with the gap after it (common practice; the definition of
    /// words a minute).
    #[test]
    fn paris_is_fifty_dots() {
        assert_eq!(keying("PARIS").len(), 50);
        assert_eq!(keying("paris paris").len(), 100);
    }

    #[test]
    fn signs_are_spelt_right() {
        let spelt: String = keying("SO").iter().map(|&down| if down { '#' } else { ' ' }).collect();
        assert_eq!(spelt, "# # #   ### ### ###       ");
    }

    #[test]
    fn odd_text_is_no_accident() {
        assert!(keying("").is_empty());
        assert!(keying("  §  ").is_empty());
        assert!(random_keying(500, &mut Gauss::new(1, "key")).len() >= 500);
    }

    #[test]
    fn every_code_is_its_own() {
        for (i, (letter, code)) in CODE.iter().enumerate() {
            assert!(CODE[i + 1..].iter().all(|(l, c)| l != letter && c != code), "{letter}");
        }
    }
}
