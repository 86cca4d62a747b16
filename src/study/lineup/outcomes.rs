//! Which trials a kit survived, packed to bits.

use crate::study::compare::Pair;

/// Survival of each trial, in order.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Outcomes {
    words: Vec<u64>,
    trials: u64,
}

impl Outcomes {
    /// Packs a list.
    #[must_use]
    pub fn of(survival: &[bool]) -> Outcomes {
        let word = |chunk: &[bool]| chunk.iter().enumerate().fold(0, |word, (k, &s)| word | u64::from(s) << k);
        Outcomes { words: survival.chunks(64).map(word).collect(), trials: survival.len() as u64 }
    }

    /// Trials.
    #[must_use]
    pub fn trials(&self) -> u64 {
        self.trials
    }

    /// Trials survived.
    #[must_use]
    pub fn survived(&self) -> u64 {
        self.words.iter().map(|word| u64::from(word.count_ones())).sum()
    }

    /// Compares two kits on the trials that both met.
    #[must_use]
    pub fn pair(&self, other: &Outcomes) -> Pair {
        let trials = self.trials.min(other.trials);
        let (mut only_first, mut only_second) = (0, 0);
        for (k, (a, b)) in self.words.iter().zip(&other.words).enumerate() {
            let left = trials.saturating_sub(64 * k as u64);
            let mask = if left >= 64 { u64::MAX } else { (1 << left) - 1 };
            only_first += u64::from((a & !b & mask).count_ones());
            only_second += u64::from((!a & b & mask).count_ones());
        }
        Pair::from_counts(only_first, only_second, trials)
    }

    /// As text: the bits of 4 trials a digit, the earliest trial lowest.
    #[must_use]
    pub fn to_hex(&self) -> String {
        (0..self.trials.div_ceil(4))
            .filter_map(|k| char::from_digit((self.words[k as usize / 16] >> (4 * (k % 16)) & 15) as u32, 16))
            .collect()
    }

    /// From text; `None` where it does not hold `trials` trials.
    #[must_use]
    pub fn from_hex(text: &str, trials: u64) -> Option<Outcomes> {
        if text.len() as u64 != trials.div_ceil(4) {
            return None;
        }
        let mut words = vec![0; trials.div_ceil(64) as usize];
        for (k, digit) in text.chars().enumerate() {
            words[k / 16] |= u64::from(digit.to_digit(16)?) << (4 * (k % 16));
        }
        let beyond = trials % 64;
        let clean = beyond == 0 || words.last().is_none_or(|last| last >> beyond == 0);
        clean.then_some(Outcomes { words, trials })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, Stream};
    use crate::trials::Tally;

    fn some(seed: u64, n: usize) -> Vec<bool> {
        let mut rng = Stream::new(seed, 0, Purpose::Outage);
        (0..n).map(|_| rng.uniform() < 0.7).collect()
    }

    #[test]
    fn bits_give_the_same_pairs_as_the_lists_they_come_from() {
        for (n, m) in [(1000, 1000), (1000, 250), (63, 64), (1, 130), (128, 127)] {
            let (a, b) = (some(1, n), some(2, m));
            let tally = |s: &[bool]| Tally { survival: s.to_vec(), trials: s.len() as u64, ..Tally::default() };
            assert_eq!(Outcomes::of(&a).pair(&Outcomes::of(&b)), Pair::of(&tally(&a), &tally(&b)), "{n} and {m}");
        }
    }

    #[test]
    fn text_and_back() {
        for n in [0, 1, 4, 5, 63, 64, 65, 1000] {
            let outcomes = Outcomes::of(&some(3, n));
            let text = outcomes.to_hex();
            assert_eq!(Outcomes::from_hex(&text, n as u64), Some(outcomes.clone()), "{n}: {text}");
            assert_eq!(Outcomes::from_hex(&text, n as u64 + 5), None);
            assert_eq!(outcomes.survived(), some(3, n).iter().filter(|&&s| s).count() as u64);
        }
        assert_eq!(Outcomes::from_hex("x", 4), None);
        assert_eq!(Outcomes::from_hex("4", 2), None, "a bit beyond the last trial");
    }
}
