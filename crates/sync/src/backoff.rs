//! When to try again to meet a device that was not there.

use std::time::Duration;

/// Waits between tries: a minute, then twice as long each time, half an hour at most, each
/// shortened a little by chance so that devices do not all try at once.
///
/// It holds no clock and no chance: whoever waits has both.
///
/// ```
/// # use std::time::Duration;
/// # use sync::Backoff;
/// let mut backoff = Backoff::default();
/// assert_eq!(backoff.failed(0.0), Duration::from_secs(60));
/// assert_eq!(backoff.failed(1.0), Duration::from_secs(90));
/// assert_eq!(backoff.failed(0.5), Duration::from_secs(210));
/// backoff.reset();
/// assert_eq!(backoff.failed(0.0), Duration::from_secs(60));
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Backoff {
    /// Tries in a row that failed.
    failures: u32,
}

impl Backoff {
    /// The first wait.
    pub const FIRST: Duration = Duration::from_secs(60);
    /// The longest wait.
    pub const LONGEST: Duration = Duration::from_secs(30 * 60);

    /// Notes that a try failed, and gives how long to wait before the next. `chance` is
    /// between 0 and 1 and shortens the wait by up to a quarter; anything else is as 0.
    pub fn failed(&mut self, chance: f64) -> Duration {
        let doublings = 1u32.checked_shl(self.failures).unwrap_or(u32::MAX);
        self.failures = self.failures.saturating_add(1);
        let wait = Self::FIRST.saturating_mul(doublings).min(Self::LONGEST);
        let chance = if (0.0..=1.0).contains(&chance) {
            chance
        } else {
            0.0
        };
        wait.mul_f64(1.0 - chance / 4.0)
    }

    /// Starts again from the first wait: the device was met, or it, or this one, has a new
    /// address.
    pub fn reset(&mut self) {
        self.failures = 0;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn waits_double_from_one_minute_to_half_an_hour() {
        let mut backoff = Backoff::default();
        let minutes: Vec<_> = (0..8).map(|_| backoff.failed(0.0).as_secs() / 60).collect();
        assert_eq!(minutes, [1, 2, 4, 8, 16, 30, 30, 30]);
        backoff.reset();
        assert_eq!(backoff.failed(0.0), Backoff::FIRST);
    }

    proptest! {
        #[test]
        fn no_wait_is_shorter_or_longer_than_said(failures: u32, chance: f64) {
            let wait = Backoff { failures }.failed(chance);
            prop_assert!(wait >= Backoff::FIRST.mul_f64(0.75) && wait <= Backoff::LONGEST);
        }
    }
}
